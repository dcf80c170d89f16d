"""The report of a rerun: as a page with both numbers and the chart, and kept in the package or in a copy of a zip."""

import json
import re
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

import palea
from palea.cli.__main__ import app
from palea.sharing.rerun import rerun
from palea.tables import journal, manifest
from palea.tables.opening import open_package

STAMP = palea.Stamp("thrift", "2025-05-02T09:00:00+00:00")
EVEN = "G1-germination.uniformity"


@pytest.fixture(scope="module")
def altered(kept, tmp_path_factory):
    """A rerun of the package with one number altered, and that number."""
    folder = shutil.copytree(kept, tmp_path_factory.mktemp("report") / "altered")
    path = folder / "data/results.csv"
    row = open_package(folder)["results"].set_index("analysis_id").loc[EVEN].iloc[0]
    published = repr(float(row["estimate"]))
    path.write_text(path.read_text(encoding="utf-8").replace(published, "77.25", 1), encoding="utf-8")
    return rerun(folder), float(published)


def test_the_page_has_both_numbers_in_a_row_with_the_reason_and_a_chart_with_words(altered, tmp_path):
    found, now = altered
    found.write(tmp_path / "r.html")
    page = (tmp_path / "r.html").read_text(encoding="utf-8")
    row = next(line for line in re.findall(r"<tr.*?</tr>", page) if "77.25" in line)
    assert re.findall(r">([^<>]+)</(?:td|th|code)>", row)[-4:] == ["77.25", f"{now:.6g}", "Estimate", "number altered"]
    assert row.startswith('<tr><th scope="row" class="right whole">1</th>')
    picture = re.search(r"<svg.*?</svg>", page, re.DOTALL)[0]
    assert f"published 77.25, rerun {now:.6g}" in re.search(r'aria-label="([^"]+)"', picture)[1]
    assert "the hash of data/results.csv is not the one that was kept" in page
    assert "the sentences kept beside it say what comes out now" in page
    assert "Not everything came out again" in page
    assert str(tmp_path.parent.parent) not in page, "where it lies on this machine is nobody's business"
    found.write(tmp_path / "again.html")
    assert (tmp_path / "again.html").read_bytes() == (tmp_path / "r.html").read_bytes()


def test_of_a_zip_a_copy_is_written_and_the_sent_one_stays(archive, tmp_path):
    """By the command line, which also writes the page; then the copy is rerun, and its manifest is sound."""
    sent = tmp_path / "sent.zip"
    sent.write_bytes(archive.read_bytes())
    asked = ["rerun", str(sent), "--json", "--keep", "--who", "thrift", "--now", STAMP.when, "--to", str(tmp_path / "r.html")]
    done = CliRunner().invoke(app, asked)
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    opened = open_package(sent)
    assert (told["manifest"], told["differs"], told["manifest_hash"]) == ("ok", 0, manifest.own_hash(opened.folder))
    assert "The report is kept in" in done.stderr
    assert sent.read_bytes() == archive.read_bytes()
    copy = open_package(tmp_path / "sent-rerun.zip")
    assert manifest.verify(copy.folder) == []
    assert journal.verify(copy.folder) == []
    (row,) = copy["attachments"].to_dict("records")
    assert (row["path"], row["taken_at"], row["may_share"]) == ("files/rerun-1.html", STAMP.when, True)
    assert row["shows"].startswith("Rerun of the analyses: 36 identical, 0 within tolerance, 0 differs")
    page = copy.file(row["path"]).read_text(encoding="utf-8")
    assert "thrift" in page
    assert "Every number came out again" in page
    assert [f for f in palea.check(copy) if f.severity == "error"] == []
    again = CliRunner().invoke(app, asked)
    assert again.exit_code == 2
    assert "Say --replace" in again.stderr


def test_in_a_folder_it_is_saved_with_a_line_in_the_journal_and_no_manifest_is_made_of_nothing(altered):
    found, _ = altered
    before = len(open_package(found.package).journal())
    assert found.keep(STAMP) == found.keep(STAMP) == Path(found.package)
    package = open_package(found.package)
    assert package["attachments"]["path"].tolist() == ["files/rerun-1.html", "files/rerun-2.html"]
    assert [line["words"] for line in package.journal()[before:]] == ["The report of a rerun was added."] * 2
    assert not (package.folder / manifest.NAME).exists()
