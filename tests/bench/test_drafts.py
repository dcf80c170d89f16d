"""Nothing typed is lost: a draft is on disk after every edit, whole or not at all."""

import re

import pytest

from palea.bench import drafts
from palea.errors import EntryError, PackageError


def test_a_draft_reads_back_as_it_was_written(small):
    typed = {"counts": [["G1-AV-T01-1-1", "normal", "4 "]], "visit": {"notes": "Schimmel – drei Schalen"}}
    drafts.write(small, "germination G1 new visit", typed)
    assert drafts.read(small, "germination G1 new visit") == typed


def test_there_is_no_draft_until_one_is_written_and_none_after_it_is_dropped(small):
    assert drafts.read(small, "a") == {}
    drafts.write(small, "a", {"x": "1"})
    drafts.drop(small, "a")
    drafts.drop(small, "a")
    assert drafts.read(small, "a") == {}


@pytest.mark.parametrize("name", ["../../outside", "a/b", "C:\\x", ".hidden", "con", "G1 100 %"])
def test_any_name_stays_inside_the_folder_of_drafts(small, name):
    before = set(small.folder.parent.rglob("*"))
    drafts.write(small, name, {"x": name})
    assert drafts.read(small, name) == {"x": name}
    new = set(small.folder.parent.rglob("*")) - before
    assert {p.parent for p in new if p.is_file()} == {small.folder / "drafts"}


def test_a_draft_is_no_part_of_the_package(small):
    before = small.descriptor
    drafts.write(small, "a", {"x": "1"})
    import palea

    again = palea.open_package(small.folder)
    assert again.descriptor == before
    assert palea.check(again) == palea.check(small)


def test_a_damaged_draft_is_kept_aside_and_said(small):
    drafts.write(small, "a", {"x": "1"})
    path = small.folder / "drafts" / "draft of a.json"
    path.write_text('{"name": "a", "typed": {"x": "1')
    with pytest.raises(EntryError, match=re.escape("The draft “a” cannot be read. It was kept as")):
        drafts.read(small, "a")
    assert (small.folder / "drafts" / "draft of a.unreadable").read_text().startswith('{"name": "a"')
    assert drafts.read(small, "a") == {}


def test_a_cut_off_write_leaves_the_old_draft(small, monkeypatch):
    drafts.write(small, "a", {"x": "old"})

    def cut(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", cut)
    with pytest.raises(PackageError, match="What is typed now is only on the screen"):
        drafts.write(small, "a", {"x": "new"})
    assert drafts.read(small, "a") == {"x": "old"}


def test_a_zip_takes_no_draft(small, tmp_path):
    import shutil

    import palea

    zipped = palea.open_package(shutil.make_archive(str(tmp_path / "shared"), "zip", small.folder))
    with pytest.raises(PackageError, match=re.escape("is a zip, and nothing can be typed into it")):
        drafts.write(zipped, "a", {})
