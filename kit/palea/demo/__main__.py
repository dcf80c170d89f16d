"""Write the shipped demo packages anew: `python -m palea.demo`, in a checkout."""

import shutil
import sys

from palea.demo.published import write_crowder
from palea.demo.write import write
from palea.shipped import folder

WRITERS = {"journey": write, "published/root-extracts": write_crowder}

if __name__ == "__main__":
    for name, writer in WRITERS.items():
        place = folder("datapackages_demo") / name
        shutil.rmtree(place, ignore_errors=True)
        package = writer(place)
        sys.stderr.write(f"{package.title}: {place}\n")
