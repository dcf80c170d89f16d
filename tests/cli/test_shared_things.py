"""`palea what-if`, `palea pool` and `palea protocol` as a person and as a program meet them."""

import json
import shutil

import pytest

import palea
from palea.analyses import keep
from palea.shipped import folder
from palea.stamp import Stamp

JOURNEY = folder("datapackages_demo") / "journey"
WHEN = "2025-03-12T09:00:00+00:00"


@pytest.fixture(scope="module")
def two(judged):
    """Two laboratories that asked the same: in one tumbling does little, in the other it raises; both keep an answer."""
    made = [judged("ours"), judged("theirs", more=4)]
    for package in map(palea.open_package, made):
        answer = palea.run("germination.final", package, trial="G1")
        keep.keep(package, [answer], Stamp("sorrel", WHEN), figures=False)
    return made


# --- what-if


def test_what_if_says_which_verdict_moves_and_writes_nothing(two, call, unchanged):
    same = unchanged(two[1])
    done = call("what-if", two[1], "germination.final@G1", "--option", "confidence=0.999")
    assert (done.returncode, done.stderr) == (0, "")
    first, count, contrast = done.stdout.splitlines()
    assert first == "germination.final, G1: confidence 0.999 in place of 0.95."
    assert count == "1 of 1 verdicts change."
    assert contrast.startswith("Anthyllis vulneraria, G1-20, AV-T03 against AV-T01, normal seedlings: better -> not shown (")
    assert same()


def test_what_if_is_one_document_also_of_a_kept_analysis(two, call):
    done = call("what-if", two[0], "G1-germination.final", "--option", "confidence = 0.9", "--json")
    told = json.loads(done.stdout)
    assert (told["recipe"], told["trial_id"], told["moved"]) == ("germination.final", "G1", 0)
    assert [(v["was"], v["now"]) for v in told["verdicts"]] == [("not shown", "not shown")]


@pytest.mark.parametrize(("analysis", "option", "says"), [
    ("germination.final@G1", "confidence", "“confidence” is no option. Write it as NAME=VALUE."),
    ("germination.final@G1", "confidence=2", "2.0 is outside 0.5 to 0.999"),
    ("germination.final@G9", "confidence=0.9", "There is no trial “G9”. The package holds: G1."),
    ("A-99", "confidence=0.9", "There is no analysis “A-99” here; there are G1-germination.final"),
    ("germination.final@G1", "left-out units=count", "No unit of G1 was left out by decision"),
])  # fmt: skip
def test_a_what_if_that_cannot_be_asked_is_a_sentence(two, call, unchanged, analysis, option, says):
    same = unchanged(two[0])
    done = call("what-if", two[0], analysis, "--option", option)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr
    assert same()


def test_what_if_of_no_package_is_a_sentence(tmp_path, call):
    done = call("what-if", tmp_path / "none", "germination.final", "--option", "confidence=0.9")
    assert (done.returncode, "There is nothing at" in done.stderr) == (2, True)


# --- pool


def test_pool_lays_two_packages_together_and_keeps_three_files(two, call, unchanged, tmp_path):
    same, to = [unchanged(place) for place in two], tmp_path / "evidence"
    done = call("pool", *two, "--to", to)
    assert done.returncode == 0, done.stderr
    assert done.stderr == f"The evidence lies in {to}.\n"
    assert done.stdout.startswith("Anthyllis vulneraria, handling, normal seedlings:\n  ")
    assert sorted(p.name for p in to.iterdir()) == ["effects.csv", "left_out.csv", "pooled.json"]
    assert (to / "effects.csv").read_text(encoding="utf-8").count("AV-T03,AV-T01") == 2
    assert all(check() for check in same)


def test_pool_does_not_overwrite_unasked(two, call, unchanged, tmp_path):
    to = tmp_path / "evidence"
    to.mkdir()
    (to / "mine.txt").write_text("mine", encoding="utf-8")
    same = unchanged(to)
    done = call("pool", *two, "--to", to)
    assert (done.returncode, same()) == (2, True)
    assert done.stderr.strip().endswith("Name another folder, or say --replace to overwrite it.")
    assert call("pool", *two, "--to", to, "--replace").returncode == 0
    assert (to / "mine.txt").read_text(encoding="utf-8") == "mine"


def test_pool_is_one_document(two, call):
    told = json.loads(call("pool", *two, "--json").stdout)
    assert [p["asks_about"] for p in told["pooled"]] == ["handling"]
    assert {e["package"] for e in told["effects"]} == {"ours (invented)", "theirs (invented)"}
    assert told["left_out"] == []


def test_what_cannot_be_pooled_is_told_with_its_reason(two, call, judged):
    done = call("pool", two[0], judged("bare", more=1))
    assert done.returncode == 0, done.stderr
    assert "Not pooled, 1: no result of a declared contrast is kept; run palea analyse first." in done.stdout
    assert "Not pooled, 1: only one package asked this of this species." in done.stdout


@pytest.mark.parametrize(("given", "says"), [
    (["ours"], "Pooling needs two packages or more; name another one."),
    (["ours", "none"], "There is nothing at"),
])
def test_a_pool_of_less_than_two_is_a_sentence(two, call, tmp_path, given, says):
    places = [two[0] if name == "ours" else tmp_path / name for name in given]
    done = call("pool", *places, "--to", tmp_path / "evidence")
    assert (done.returncode, says in done.stderr, (tmp_path / "evidence").exists()) == (2, True, False)


def test_a_pool_into_a_file_is_a_sentence(two, call, tmp_path):
    file = tmp_path / "evidence.csv"
    file.write_text("mine", encoding="utf-8")
    for more in ((), ("--replace",)):
        done = call("pool", *two, "--to", file, *more)
        assert done.returncode == 2
        assert done.stderr.strip() == f"{file} is a file. Name a folder for what is pooled."
        assert file.read_text(encoding="utf-8") == "mine"


# --- protocol


@pytest.fixture(scope="module")
def film(call, tmp_path_factory):
    """The film procedure of the demo as a file."""
    file = tmp_path_factory.mktemp("protocol") / "film.json"
    done = call("protocol", "export", JOURNEY, "film/1", "--to", file)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", f"The procedure is written to {file}.\n")
    return file


def test_a_procedure_is_one_file_that_is_not_overwritten_unasked(film, call):
    before = film.read_bytes()
    assert json.loads(before)["procedure"]["protocol_id"] == "film"
    done = call("protocol", "export", JOURNEY, "pellet/1", "--to", film)
    assert (done.returncode, film.read_bytes() == before) == (2, True)
    assert done.stderr.strip().endswith("exists already. Say --replace to overwrite it.")
    assert call("protocol", "export", JOURNEY, "film/1", "--to", film, "--replace").returncode == 0
    assert film.read_bytes() == before, "the same procedure gives the same bytes"


@pytest.mark.parametrize(("procedure", "says"), [
    ("film", "“film” names no version. Write it as film/1."),
    ("film/9", "There is no procedure film, version 9. There are: hand-bench/1"),
])
def test_a_procedure_that_is_not_there_is_a_sentence(call, tmp_path, procedure, says):
    done = call("protocol", "export", JOURNEY, procedure, "--to", tmp_path / "x.json")
    assert (done.returncode, says in done.stderr, (tmp_path / "x.json").exists()) == (2, True, False)


def test_a_procedure_for_a_folder_that_is_not_there_is_a_sentence(call, tmp_path):
    file = tmp_path / "none" / "film.json"
    done = call("protocol", "export", JOURNEY, "film/1", "--to", file)
    assert done.returncode == 2
    assert done.stderr.strip() == (
        f"{file}: No such file or directory. Look whether it is there, and whether you may read and write it."
    )


def test_a_procedure_is_taken_in_once_with_who_and_when(film, judged, call, unchanged):
    place = judged("taking-in")
    done = call("protocol", "take-in", place, film, "--who", "sorrel", "--now", WHEN)
    assert done.returncode == 0, done.stderr
    assert done.stderr.startswith("Taken in: ")
    assert "1 row of protocols and " in done.stderr
    saved = palea.open_package(place)
    assert saved["protocols"]["protocol_id"].tolist() == ["film"]
    line = saved.journal()[-1]
    assert (line["who"], line["when"], line["reason"]) == ("sorrel", WHEN, "import")
    assert line["words"] == "Procedure from film.json."
    same = unchanged(place)
    again = call("protocol", "take-in", place, film)
    assert (again.returncode, same()) == (2, True)
    assert again.stderr.strip().endswith("Procedure film, version 1 is here already, with the same steps.")


@pytest.mark.parametrize(("text", "says"), [("{", "cannot be read as a procedure"), ('{"format": "other"}', "holds no procedure")])
def test_a_file_that_is_no_procedure_is_not_taken_in(two, call, unchanged, tmp_path, text, says):
    (tmp_path / "x.json").write_text(text, encoding="utf-8")
    same = unchanged(two[0])
    done = call("protocol", "take-in", two[0], tmp_path / "x.json")
    assert (done.returncode, says in done.stderr, same()) == (2, True, True)
    assert done.stderr.strip().endswith("Ask for a file that `palea protocol export` wrote.")


def test_two_procedures_are_compared_in_words(film, call, tmp_path):
    changed = json.loads(film.read_text(encoding="utf-8"))
    changed["steps"] = changed["steps"][:-1]
    shutil.copy(film, tmp_path / "theirs.json")
    (tmp_path / "theirs.json").write_text(json.dumps(changed), encoding="utf-8")
    done = call("protocol", "compare", JOURNEY, "film/1", tmp_path / "theirs.json")
    assert (done.returncode, done.stdout.strip().endswith("left out."), done.stderr) == (0, True, "")
    assert call("protocol", "compare", JOURNEY, "film/1", film).stdout == "Nothing differs.\n"
    told = json.loads(call("protocol", "compare", JOURNEY, "film/1", "pellet/1", "--json").stdout)
    assert (told["one"], told["other"], len(told["differences"]) > 3) == ("film/1", "pellet/1", True)


def test_a_run_is_held_against_its_procedure(call):
    done = call("protocol", "compare", JOURNEY, "film/1", "R-CC-T05-1")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Run R-CC-T05-1: 20 figures were set by the procedure; 20 were kept, 0 were not.")


@pytest.mark.parametrize(("one", "other", "says"), [
    ("film", "pellet/1", "“film” names no version. Write it as film/1."),
    ("film/1", "R-0", "“R-0” names no version."),
    ("film/1", "film/9", "There is no procedure film, version 9."),
])
def test_what_cannot_be_compared_is_a_sentence(call, one, other, says):
    done = call("protocol", "compare", JOURNEY, one, other)
    assert (done.returncode, done.stdout, says in done.stderr) == (2, "", True)
