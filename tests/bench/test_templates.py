"""Templates: a filled form kept under a name, beside the package and never in it."""

import re

import pytest

import palea
from palea.bench import drafts, templates
from palea.errors import EntryError, PackageError
from palea.sharing import travelling

JOB = "Make a solution, slurry or blend"


def test_a_template_reads_back_under_its_own_job_alone(small):
    form, lines = {"ph": "6,8", "notes": " "}, [(0, "amount", "2"), (1, "amount", "")]
    kept = templates.keep(small, JOB, "  our standard   soak ", form, lines)
    assert kept == "our standard soak"
    assert templates.names(small, JOB) == [kept]
    assert templates.names(small, "Receive a lot") == []
    assert templates.read(small, JOB, kept) == {"form": {"ph": "6,8"}, "lines": [[0, "amount", "2"]]}
    assert drafts.names(small) == [], "a template is no unfinished entry"


def test_keeping_again_replaces_and_dropping_forgets(small):
    for ph in ("5", "6"):
        templates.keep(small, JOB, "Soak", {"ph": ph})
    templates.keep(small, JOB, "blend", {"ph": "7"})
    assert templates.names(small, JOB) == ["blend", "Soak"]
    assert templates.read(small, JOB, "Soak")["form"] == {"ph": "6"}
    templates.drop(small, JOB, "Soak")
    templates.drop(small, JOB, "Soak")
    with pytest.raises(EntryError, match="There is no template “Soak”"):
        templates.read(small, JOB, "Soak")


@pytest.mark.parametrize(("name", "form", "said"), [
    (" ", {"ph": "5"}, "Give the template a name"), ("x" * 61, {"ph": "5"}, "of 1 to 60 letters"),
    ("soak", {"ph": " "}, "There is nothing to keep yet"),
])
def test_a_name_that_nobody_can_read_and_an_empty_form_are_refused(small, name, form, said):
    with pytest.raises(EntryError, match=said):
        templates.keep(small, JOB, name, form)
    assert not small.file(templates.FILE).exists()


@pytest.mark.parametrize("broken", ["{", "[]", '{"a": {"b": {"form": 3}}}'])
def test_a_damaged_file_is_kept_aside_and_said(small, broken):
    templates.keep(small, JOB, "soak", {"ph": "5"})
    small.file(templates.FILE).write_text(broken, encoding="utf-8")
    with pytest.raises(EntryError, match=re.escape("They were kept as")):
        templates.names(small, JOB)
    assert small.file(templates.FILE).with_suffix(".unreadable").read_text(encoding="utf-8") == broken
    assert templates.names(small, JOB) == []


def test_no_template_is_checked_or_shared(small, tmp_path):
    before = small.descriptor, palea.check(small)
    templates.keep(small, JOB, "soak", {"notes": "private habit"})
    again = palea.open_package(small.folder)
    assert (again.descriptor, palea.check(again)) == before
    travelling.copy(again, tmp_path / "copy")
    assert not [p for p in (tmp_path / "copy").rglob("*") if p.is_file() and b"private habit" in p.read_bytes()]
    assert (tmp_path / "copy" / "datapackage.json").is_file()


def test_a_zip_takes_no_template(small, tmp_path):
    import shutil

    zipped = palea.open_package(shutil.make_archive(str(tmp_path / "shared"), "zip", small.folder))
    with pytest.raises(PackageError, match="nothing can be typed into it"):
        templates.keep(zipped, JOB, "soak", {"ph": "5"})
