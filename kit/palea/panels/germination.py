"""The germination stage on screen: count the dishes of a trial."""

from palea.panels import dishes
from palea.panels.counting import Counting, Kind

AT_HAND = (
    "The paper sheet of the day, with its date and who counted.",
    "At the last visit: what cutting or staining showed of every seed that did not germinate.",
)
TEACHING = """\
This stage keeps what was seen in each dish at each visit. From the counts come the share that germinated, of sown, \
of filled and of viable seed, how fast it came, and whether a treatment changed it.
An example: at a visit you find 4 normal seedlings in a dish and no abnormal one. Type 4, Tab, 0, and Tab goes on to \
the next dish. A box left blank was not looked at; 0 means looked, and none seen.
This package has no dishes yet. They come with a trial: species, lots, treatments, environment and layout."""
DISHES = Kind(
    "germination", "Germination: count the dishes", AT_HAND, TEACHING, dishes.lay_out, dishes.trials_of, "germination.curve",
    "dishes",
)  # fmt: skip


def germination(package, trial=None, who=None):
    """Count the dishes of a trial: choose or begin a visit, type, see mistakes beside their line, save, see the curve.

    package : Package.  trial : its id; may be left out where the first one is meant.  who : the name for the journal.
    Returns a widget. Whatever is typed is on disk as a draft at once; `panel.package` is the package as last saved.
    Raises EntryError for a trial that has no dishes.
    """
    return Counting(package, DISHES, trial, who)
