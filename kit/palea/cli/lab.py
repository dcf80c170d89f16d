"""`palea lab`."""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note

# JupyterLab asks about news, and its extension manager asks a package index; here nothing needs the network.
QUIET = {
    "disabledExtensions": {
        "@jupyterlab/apputils-extension:announcements": True,
        "@jupyterlab/extensionmanager-extension:plugin": True,
    }
}
OPEN_FIRST = "--LabApp.default_url=/lab/tree/00_start.ipynb"  # the notebook that is open at first
NO_UPDATES = "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate"


@app.command()
@answers
def lab(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")] = Path("palea-demo/journey"),
    copy_only: Annotated[bool, typer.Option("--copy-only", help="Lay the notebooks beside the package and stop.")] = False,
):
    """Open JupyterLab on a start page, with copies of the notebooks beside a package, as in `palea lab palea-demo/journey`."""
    import palea
    from palea.bench.desk import lay_out

    place = lay_out(palea.open_package(package))
    note(f"The notebooks lie in {place}.")
    if copy_only:
        return
    with tempfile.TemporaryDirectory(prefix="palea-lab-") as settings:
        page_config = Path(settings) / "labconfig" / "page_config.json"
        page_config.parent.mkdir()
        page_config.write_text(json.dumps(QUIET), encoding="utf-8")
        environment = os.environ | {"JUPYTER_CONFIG_PATH": settings}
        done = subprocess.run(  # noqa: S603 - our own interpreter, and a folder that was just written
            [sys.executable, "-m", "jupyterlab", NO_UPDATES, OPEN_FIRST, f"--ServerApp.root_dir={place}"],
            env=environment, check=False,
        )
    raise typer.Exit(2 if done.returncode else 0)
