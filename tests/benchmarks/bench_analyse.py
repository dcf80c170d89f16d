"""`palea analyse` on the whole demo journey, every question answered, told and drawn, by two processes beside one.

Both must keep the same bytes. Half the time cannot be had: planning, opening and saving are done once, by one of them.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

KIT = Path(__file__).parents[2] / "kit"
WANTED_S, MANY = 20, 2
STAMP = ("--who", "thrift", "--now", "2026-05-06T08:00:00+00:00")


def kept(folder):
    """{path: bytes} of a package."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def run():
    import shutil

    from palea.shipped import folder as shipped

    env = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, (str(KIT), os.environ.get("PYTHONPATH"))))}
    took, files, told = {}, {}, ""
    with tempfile.TemporaryDirectory() as place:
        for many in (1, MANY):
            folder = Path(place) / str(many) / "journey"
            shutil.copytree(shipped("datapackages_demo") / "journey", folder)
            start = time.perf_counter()
            done = subprocess.run(
                [sys.executable, "-m", "palea", "analyse", str(folder), "--processes", str(many), *STAMP], env=env,
                capture_output=True, text=True, check=True,
            )  # fmt: skip
            took[many], files[many], told = time.perf_counter() - start, kept(folder), done.stderr
    same, answers = files[1] == files[MANY], told.count("[")
    return {
        "name": f"palea analyse of the demo, {answers} answers", "ours_s": took[MANY], "peer_s": took[1],
        "ratio": took[MANY] / took[1], "wanted": f"under {WANTED_S} s with {MANY} cores",
        "met": bool(same and took[MANY] < WANTED_S),
        "note": f"peer: one process. {'the same bytes' if same else 'NOT the same bytes'}; load "
        f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "",
    }  # fmt: skip
