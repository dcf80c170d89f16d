"""Write the shipped demo packages anew: `python -m palea.demo [NAME ...]`, in a checkout."""

import shutil
import sys

from palea.demo import outsourced, published_cohorts, published_plots
from palea.demo.broken.write import write as write_broken
from palea.demo.published import write_crowder
from palea.demo.write import write
from palea.shipped import folder
from palea.tables.kept import FOLDER

WRITERS = {
    "journey": write,
    "outsourced": outsourced.write,
    "broken": write_broken,
    "published/root-extracts": write_crowder,
    "published/seed-treatment-plots": published_plots.write,
    "published/rain-cohorts": published_cohorts.write,
}

if __name__ == "__main__":
    for name in sys.argv[1:] or WRITERS:
        place = folder("datapackages_demo") / name
        shutil.rmtree(place, ignore_errors=True)
        WRITERS[name](place)
        shutil.rmtree(place / FOLDER, ignore_errors=True)  # what saving keeps for itself does not travel
        sys.stderr.write(f"{place}\n")
