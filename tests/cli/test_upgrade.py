"""`palea upgrade` as a person and as a program meet it."""

import json
import subprocess
import sys
from pathlib import Path

OLDER = Path(__file__).parent.parent / "tables" / "older" / "0.2.0.zip"


def palea(*arguments):
    return subprocess.run([sys.executable, "-m", "palea", *map(str, arguments)], capture_output=True, text=True, check=False)


def test_upgrade_tells_every_change_and_where_the_copy_lies(tmp_path):
    done = palea("upgrade", OLDER, "--to", tmp_path / "now", "--who", "thrift", "--now", "2026-11-25T21:00:00+00:00")
    assert done.returncode == 0, done.stderr
    assert "results: 1 cell of quantity: “survival” is called “surviving” now." in done.stdout.splitlines()
    assert f"The copy lies in {tmp_path / 'now'}; {OLDER} is as it was. The check of the copy: 0 errors" in done.stderr
    again = palea("upgrade", tmp_path / "now", "--to", tmp_path / "more")
    assert (again.returncode, again.stdout) == (2, "")
    assert "there is nothing to upgrade" in again.stderr
    assert not (tmp_path / "more").exists()


def test_upgrade_prints_one_document(tmp_path):
    done = palea("upgrade", OLDER, "--to", tmp_path / "now", "--json", "--now", "2026-11-25T21:00:00+00:00")
    told = json.loads(done.stdout)
    assert set(told) == {"package", "was", "now", "changes", "errors", "warnings", "gaps"}
    assert (told["was"], told["errors"]) == ("0.2.0", 0)
    assert told["changes"]["trial_outcomes"][0] == "1 cell of outcome: “survival” is called “surviving” now."
