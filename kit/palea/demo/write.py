"""The invented demo as a package on disk."""

from palea.demo.book import Book
from palea.demo.cleaning import clean
from palea.demo.coating import coat
from palea.demo.contractor import contracted
from palea.demo.costs import priced
from palea.demo.drawings import cut_pellets, pod
from palea.demo.field import sow_and_follow
from palea.demo.germination import germination_trials
from palea.demo.harsh import tried
from palea.demo.instruments import calibrated, logged
from palea.demo.keeping import kept_back, put_into_stores, stored
from palea.demo.lots import receive
from palea.demo.protocols import written
from palea.demo.seeder import run_through
from palea.demo.setting import setting
from palea.demo.soaking import soak
from palea.demo.trial import arms, held
from palea.demo.truth import arms_of, truth
from palea.errors import PackageError
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

ALL = tuple(truth()["species"])
DRAWINGS = {"F-CC-T09": cut_pellets, "F-AV-pod": pod}
WAYS = {"coat": coat, "soak": soak, "contractor": contracted}


def write(folder, species=ALL):
    """Write the invented journey of these species into a new folder and open it as a Package.

    folder : must not exist, or be empty.  species : taxon ids, any of those in truth.json, in any order.
    Rows of one species are the same whichever others are written with it. Every call gives the same bytes: the seed of
    chance is the one in truth.json, and the moment is the one at which the invented workshop closed its trial.
    Raises PackageError where the folder holds something already, or for a species that the demo does not have.
    """
    unknown = sorted(set(species) - set(ALL))
    if unknown:
        msg = f"The demo has no species “{unknown[0]}”. It has {', '.join(ALL)}."
        raise PackageError(msg)
    about = setting("package")
    stamp = Stamp(**about["stamp"])
    package = new_package(
        folder, about["title"], stamp, licence=about["licence"], description=about["description"],
        keywords=about["keywords"], invented=True,
    )
    book = entered(species, truth()["seed"]["value"])
    for table, rows in book.rows.items():
        package = package.having(table, rows)
    package = package.describing(contributors=about["contributors"])
    return saving.save(package, stamp, about["reason"], words=about["words"], files=book.files)


def entered(species, seed):
    """The Book of these species, as it would be entered from the bag to the last count."""
    taxa = [taxon for taxon in ALL if taxon in set(species)]
    book = Book(seed)
    for table in ("people", "materials", "equipment"):
        for row in setting(table):
            book.add(table, **row)
    for material_id, part, amount, unit in setting("material_parts"):
        book.add("material_parts", material_id=material_id, part_material_id=part, amount=amount, unit=unit,
                 basis="in all")
    calibrated(book)
    written(book)
    for taxon in taxa:
        _seed(book, taxon)
    for trial in germination_trials():
        held(book, trial, taxa)
    run_through(book, taxa)
    logged(book)
    sow_and_follow(book, taxa)
    _attach(book, taxa)
    book.rows["movements"].sort(key=lambda row: row["moved_at"])
    stored(book)
    return book


def _seed(book, taxon):
    """All that happens to the seed of one species before it is sown."""
    receive(book, taxon)
    clean(book, taxon)
    tried(book, taxon)
    arms(book, taxon)
    for name in arms_of(taxon):
        for way, do in WAYS.items():
            if name in setting("made_by")[way]:
                do(book, taxon, name)
    kept_back(book, taxon)
    put_into_stores(book, taxon)
    priced(book, taxon)


def _attach(book, taxa):
    """Drawings, each with the species that it is of."""
    for attachment_id, draw in DRAWINGS.items():
        if attachment_id.split("-")[1] in taxa:
            row = dict(setting("drawings")[attachment_id])
            book.attach(attachment_id, row.pop("path"), draw(), **row)
