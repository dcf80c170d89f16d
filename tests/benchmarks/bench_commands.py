"""`palea check` as a whole process, from the first line of Python to the last finding, beside `frictionless validate`."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import packages
from timing import best_of

ROWS, SMALL, TIMES, SOON_S = 1_000_000, 240, 15, 1.0
KIT = Path(__file__).parents[2] / "kit"


def run():
    env = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, (str(KIT), os.environ.get("PYTHONPATH"))))}

    def command(*arguments):
        return subprocess.run(
            [sys.executable, "-m", *map(str, arguments)], env=env, capture_output=True, text=True, check=False
        )

    with tempfile.TemporaryDirectory() as place:
        large, small = Path(place) / "large", Path(place) / "small"
        packages.trial(large, ROWS)
        packages.trial(small, SMALL)
        told = [command("palea", "check", folder) for folder in (large, small)]
        ours_s = best_of(lambda: command("palea", "check", large), runs=2)
        small_s = best_of(lambda: command("palea", "check", small), runs=5)
        peer_small_s = best_of(lambda: command("frictionless", "validate", small / "datapackage.json"), runs=2)
        peer_s = best_of(lambda: command("frictionless", "validate", large / "datapackage.json"), runs=1)
    done = all(t.returncode in (0, 1) and "errors" in t.stdout for t in told)
    return [
        {
            "name": f"palea check of {ROWS} counts, a process", "ours_s": ours_s, "peer_s": peer_s, "ratio": peer_s / ours_s,
            "wanted": f"at least {TIMES} times as fast", "met": bool(done and peer_s >= TIMES * ours_s),
            "note": "peer: frictionless validate, which knows no rule of the trade",
        },
        {
            "name": f"palea check of {SMALL} counts, a process", "ours_s": small_s, "peer_s": peer_small_s,
            "ratio": peer_small_s / small_s, "wanted": f"under {SOON_S:g} s", "met": bool(done and small_s < SOON_S),
        },
    ]  # fmt: skip
