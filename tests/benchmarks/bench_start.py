"""`palea --help` against a bare start of the interpreter: at most twelve times as long."""

import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

from timing import best_of

WANTED = 12
KIT = Path(__file__).parents[2] / "kit"


def run():
    env = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, (str(KIT), os.environ.get("PYTHONPATH"))))}
    name = "Start of palea --help"
    if find_spec("palea.cli.__main__") is None:
        return {"name": name, "skipped": "palea.cli cannot be run as a program here."}

    def start(*arguments):
        return subprocess.run([sys.executable, *arguments], env=env, check=True, capture_output=True, text=True).stdout

    told = start("-m", "palea.cli", "--help")
    ours_s = best_of(lambda: start("-m", "palea.cli", "--help"), runs=11)
    bare_s = best_of(lambda: start("-c", "pass"), runs=11)
    ratio = ours_s / bare_s
    return {
        "name": name, "ours_s": ours_s, "peer_s": bare_s, "ratio": ratio, "wanted": f"at most {WANTED} bare starts",
        "met": bool(ratio <= WANTED and "Usage" in told),
    }
