"""A save that is cut off at any step leaves the old state or the new one, never a mixture."""

import json
import subprocess
import sys
import threading
import time
from collections import Counter
from pathlib import Path

import filelock
import pytest

from palea.errors import PackageError, UnsafePackage
from palea.tables import journal, kept, manifest, transaction, validate
from palea.tables.opening import open_package


def contents(folder):
    """All that a reader sees, by path."""
    return {path: (folder / path).read_bytes() for path in manifest.files(folder)}


def hidden(folder):
    return {path.name for path in folder.iterdir() if path.name.startswith(".")}


@pytest.fixture(scope="module")
def cuts(built, tmp_path_factory):
    """Old state, new state, and the folders left by a cut at each step."""
    (built / "old.txt").write_text("old", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("cutting.py")), str(built), str(tmp_path_factory.mktemp("cuts"))],
        check=True,
        capture_output=True,
        text=True,
    )
    *cut, whole = json.loads(done.stdout)
    old = contents(built)
    (built / "old.txt").unlink()
    return old, whole, cut


def test_a_cut_at_any_step_leaves_old_or_new(cuts):
    old, whole, cut = cuts
    assert whole["code"] == 0
    new = contents(Path(whole["folder"]))
    assert "old.txt" not in new
    assert "analyses/a/figure.svg" in new
    left = []
    for one in cut:
        folder = Path(one["folder"])
        package = open_package(folder)
        found = contents(folder)
        assert found in (old, new), f"{folder} is a mixture"
        assert validate.structure(package) == []
        assert journal.verify(folder) == []
        assert not hidden(folder) & {transaction.STAGING, transaction.GATHERING}
        left.append(found == new)
    written = 7  # counts, taxa, equipment, figure, journal, descriptor, and the commit record itself
    assert Counter(one["step"] for one in cut) == {
        "staging made": 1, "half written": written, "written": written, "flushed": written, "committed": 1,
        "placed": written - 1, "removed": 1, "record gone": 1, "swept": 1,
    }  # 32 steps: each is the last one once
    assert left == sorted(left), "once new, always new"
    assert any(left)
    assert not all(left)


def test_nothing_hidden_is_left_behind(cuts):
    folder = Path(cuts[1]["folder"])
    assert hidden(folder) == {kept.FOLDER}
    assert sorted(p.name for p in (folder / kept.FOLDER).iterdir() if p.suffix == ".part") == []


def test_a_recovery_that_is_cut_off_itself_is_finished_by_the_next(small, monkeypatch):
    old = contents(small.folder)
    monkeypatch.setattr(
        transaction, "reached", lambda step: (_ for _ in ()).throw(KeyboardInterrupt) if step == "placed" else None
    )
    new = {f"a/{n}.txt": b"new" for n in range(5)}
    for _ in range(3):  # the commit, then two recoveries, each cut after one more file
        begun = (small.folder / transaction.STAGING).exists()
        with pytest.raises(KeyboardInterrupt):
            transaction.recover(small.folder) if begun else transaction.commit(small.folder, new)
    monkeypatch.undo()
    open_package(small.folder)
    assert contents(small.folder) == old | new


def test_who_waits_for_the_lock_gets_it_and_two_never_hold_it(tmp_path):
    inside, most = [], []

    def work(n):
        with transaction.locked(tmp_path):
            inside.append(n)
            most.append(len(inside))
            time.sleep(0.01)
            inside.remove(n)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert most == [1] * 8


def test_a_package_that_is_being_saved_says_so(small, monkeypatch):
    monkeypatch.setattr(transaction, "PATIENCE", 0.05)
    held = filelock.FileLock(small.folder / transaction.LOCK)
    says = r"Another program has been saving .* Nothing was written"
    with held, pytest.raises(PackageError, match=says), transaction.locked(small.folder):
        pass


def test_a_full_disk_leaves_the_old_state(small, monkeypatch):
    old = contents(small.folder)

    def full(step):
        if step == "half written":
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(transaction, "reached", full)
    with pytest.raises(PackageError, match=r"No space left on device.*Nothing was changed"):
        transaction.commit(small.folder, {"data/taxa.csv": b"new"})
    assert contents(small.folder) == old


@pytest.mark.parametrize(
    "record",
    [
        b"",
        b"[]",
        b'{"files": [{"path": "../x", "new": "0", "sha256": ""}], "removed": []}',
        b'{"files": [{"path": "a", "new": "../../etc/passwd", "sha256": ""}], "removed": []}',
        b'{"files": [], "removed": ["../x"]}',
    ],
)
def test_a_forged_commit_record_does_nothing(small, record):
    """Somebody may send a package with a record in it."""
    staging = small.folder / transaction.STAGING
    staging.mkdir()
    (staging / transaction.RECORD).write_bytes(record)
    (staging / "0").write_bytes(b"x")
    (small.folder.parent / "x").write_bytes(b"keep")
    with pytest.raises(PackageError):
        open_package(small.folder)
    assert (small.folder.parent / "x").read_bytes() == b"keep"


def test_a_half_saved_file_that_was_changed_since_is_not_placed(small, monkeypatch):
    def cut(step):
        if step == "committed":
            raise KeyboardInterrupt

    monkeypatch.setattr(transaction, "reached", cut)
    with pytest.raises(KeyboardInterrupt):
        transaction.commit(small.folder, {"a/1.txt": b"new"})
    monkeypatch.undo()
    (small.folder / transaction.STAGING / "0").write_bytes(b"else")
    with pytest.raises(PackageError, match="was changed by something else"):
        open_package(small.folder)
    assert not (small.folder / "a").exists()


@pytest.mark.parametrize("name", [transaction.STAGING, transaction.GATHERING])
def test_a_staging_folder_that_is_a_link_is_refused(small, tmp_path, name):
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "keep").write_text("keep", encoding="utf-8")
    (small.folder / name).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(UnsafePackage, match="is a link"):
        open_package(small.folder)
    assert (tmp_path / "elsewhere" / "keep").exists()


def test_a_save_that_is_killed_at_any_moment_leaves_old_or_new(built, tmp_path):
    """Not only at our own steps: the process is killed from outside, at moments spread over a whole save."""
    import shutil

    script = Path(__file__).with_name("cutting.py")
    command = "import sys; sys.path[:0] = sys.argv[1:2]; import cutting, pathlib as p; input(); cutting.save(p.Path(sys.argv[2]))"
    states, places = [], {transaction.STAGING, transaction.GATHERING}
    for n in range(8):
        folder = shutil.copytree(built, tmp_path / f"k{n}")
        (folder / "old.txt").write_text("old", encoding="utf-8")
        old = contents(folder)
        child = subprocess.Popen(
            [sys.executable, "-c", f"{command}", str(script.parent), str(folder)], stdin=subprocess.PIPE
        )
        child.stdin.write(b"go\n")
        child.stdin.flush()
        begun = time.monotonic()
        while child.poll() is None and not (hidden(folder) & places) and time.monotonic() - begun < 20:
            pass
        time.sleep(n * 0.001)
        child.kill()
        child.wait()
        package = open_package(folder)
        found = contents(folder)
        states.append(found != old)
        assert found == old or (package["counts"]["count"].iloc[0] == 13 and len(package["taxa"]) == 3)
        assert (folder / "old.txt").exists() is (found == old)
        assert journal.verify(folder) == []
    assert len(states) == 8
