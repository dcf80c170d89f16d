"""Peers that are no dependency of ours: each in an environment of its own, asked as a program of its own."""

import json
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent


class PeerError(Exception):
    """A peer cannot be installed here; the message is a sentence."""


def cache():
    """Where peers live: the option, else the user's cache folder."""
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return Path(os.environ.get("PALEA_BENCHMARK_CACHE") or home / "palea-benchmarks")


def python_with(requirement):
    """Python of an environment that holds one requirement, made on demand."""
    folder = cache() / requirement.replace("==", "-")
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    done = folder / "installed"
    if not done.exists():
        try:
            _quietly([sys.executable, "-m", "venv", "--clear", str(folder)])
            _quietly([str(python), "-m", "pip", "install", "--quiet", requirement])
        except (OSError, subprocess.SubprocessError) as fault:
            msg = f"{requirement} could not be installed into {folder} ({type(fault).__name__})."
            raise PeerError(msg) from fault
        done.touch()
    return python


def _quietly(command):
    subprocess.run(command, check=True, capture_output=True, timeout=900)


def ask(python, script, question):
    """Hand `question` to a script of this folder as JSON, get its answer."""
    clean = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}  # the peer must not see our packages
    ran = subprocess.run(
        [str(python), str(HERE / script)], input=json.dumps(question), capture_output=True, text=True, check=True,
        timeout=900, env=clean,
    )
    return json.loads(ran.stdout.splitlines()[-1])
