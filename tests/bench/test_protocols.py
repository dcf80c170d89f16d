"""Procedures as shared things: a file that stands by itself, taken in whole, compared in words."""

import json

import pytest

import palea
from palea.bench import entry, protocols
from palea.errors import EntryError
from palea.shipped import folder


@pytest.fixture(scope="module")
def journey():
    return palea.open_package(folder("datapackages_demo") / "journey")


def test_a_procedure_travels_whole_and_twice_the_same(journey, empty, stamp, tmp_path):
    first = protocols.write(journey, "film-kno3", "1", tmp_path / "film.json").read_bytes()
    assert protocols.write(journey, "film-kno3", "1", tmp_path / "film.json", replace=True).read_bytes() == first
    told = protocols.read(tmp_path / "film.json")
    proposal = protocols.take_in(empty, told)
    assert proposal.new_errors == (), proposal.new_errors
    saved = entry.save(proposal, stamp, "import")
    assert protocols.as_document(saved, "film-kno3", "1") == told
    assert set(saved["materials"]["material_id"]) == {m["material_id"] for m in told["materials"]}
    with pytest.raises(EntryError, match="is here already, with the same steps"):
        protocols.take_in(saved, told)
    told["steps"][0]["duration_s"] = "999"
    with pytest.raises(EntryError, match="here already with other steps"):
        protocols.take_in(saved, told)


def test_two_versions_are_told_apart_figure_by_figure(journey):
    one = protocols.as_document(journey, "film", "1")
    other = json.loads(json.dumps(one))
    assert list(protocols.compare(one, other)) == []
    other["steps"][1]["amount"] = "50"
    other["steps"] = other["steps"][:-1]
    other["procedure"]["scale"] = "20 kg"
    said = list(protocols.compare(one, other))
    assert said == [
        f"Made for: {one['procedure']['scale']} -> 20 kg.",
        f"Step 2, wet, Amount: {one['steps'][1]['amount']} -> 50.",
        f"Step {len(one['steps'])}, {one['steps'][-1]['action']}: left out.",
    ]


def test_a_run_is_held_against_its_procedure_in_words(journey):
    steps = journey["run_steps"]
    wet = steps.index[steps["run_id"].eq("R-CC-T05-1") & steps["action"].eq("wet")][0]
    moved = journey.replacing("run_steps", steps.assign(amount=steps["amount"].mask(steps.index == wet, 9.0)))
    kept, left = list(protocols.against_run(journey, "R-CC-T05-1")), list(protocols.against_run(moved, "R-CC-T05-1"))
    assert kept == ["Run R-CC-T05-1: 20 figures were set by the procedure; 20 were kept, 0 were not."]
    assert "19 were kept, 1 were not" in left[0]
    assert "done 9" in left[1]


@pytest.mark.parametrize(("text", "sentence"), [
    ("{", "cannot be read as a procedure"), ('{"format": "other"}', "holds no procedure"),
    ('{"format": "palea procedure", "procedure": {}, "steps": [1]}', "holds no procedure"),
])
def test_a_file_that_is_no_procedure_is_refused(tmp_path, text, sentence):
    (tmp_path / "x.json").write_text(text, encoding="utf-8")
    with pytest.raises(EntryError, match=sentence):
        protocols.read(tmp_path / "x.json")


def test_an_unknown_procedure_or_run_is_refused_with_those_there_are(journey):
    with pytest.raises(EntryError, match=r"There is no procedure film, version 9\. There are: hand-bench/1"):
        protocols.as_document(journey, "film", "9")
    with pytest.raises(EntryError, match="no run “R-0”"):
        list(protocols.against_run(journey, "R-0"))
    assert len(list(protocols.compare(*(protocols.as_document(journey, n, "1") for n in ("film", "pellet"))))) > 3
