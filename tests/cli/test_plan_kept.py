"""`palea plan units`, `lock` and `changes`: a plan that is kept, from the empty trial to the first change of it."""

import json
import shutil

import pytest

import palea
from palea.bench import entry
from palea.stamp import Stamp

WHEN, LATER = "2025-03-12T09:00:00+00:00", "2025-03-20T10:00:00+00:00"
BY = ("--who", "sorrel", "--now", WHEN)
ARMS = ("--treatment", "AV-T01=AV-T01-1", "--treatment", "AV-T03=AV-T01-1", "--repeats", 3, "--seeds", 50)


@pytest.fixture(scope="module")
def draft(judged):
    """The small trial, and a field trial F9 that is only a question as yet."""
    package = palea.open_package(judged("draft"))
    trial = {"trial_id": "F9", "title": "Plots (invented)", "question": "Does it matter in the field?", "status": "draft"}
    return entry.save(entry.propose(package, "trials", [trial]), Stamp("sorrel", WHEN), "entry").folder


@pytest.fixture(scope="module")
def laid_out(draft, call, tmp_path_factory):
    """Its units laid out by the command, with a plan to print: (folder, picture, what was said)."""
    place = tmp_path_factory.mktemp("laid-out")
    folder, figure = shutil.copytree(draft, place / "trial"), place / "plan.svg"
    done = call("plan", "units", folder, "F9", *ARMS, "--seed", 7, "--figure", figure, *BY)
    assert done.returncode == 0, done.stderr
    return folder, figure, done


@pytest.fixture(scope="module")
def locked(laid_out, call, tmp_path_factory):
    """And its plan locked: (folder, what was said)."""
    folder = shutil.copytree(laid_out[0], tmp_path_factory.mktemp("locked") / "trial")
    done = call("plan", "lock", folder, "F9", *BY)
    assert done.returncode == 0, done.stderr
    return folder, done


def test_units_are_kept_with_their_layout_and_the_next_step_is_told(laid_out):
    folder, figure, done = laid_out
    package = palea.open_package(folder)
    units = package["units"][package["units"]["trial_id"].eq("F9")]
    assert units["treatment_id"].value_counts().to_dict() == {"AV-T01": 3, "AV-T03": 3}
    assert units["sown_n"].tolist() == [50] * 6
    assert package["trials"].set_index("trial_id").loc["F9", "random_seed"] == 7
    line = package.journal()[-1]
    assert (line["who"], line["when"]) == ("sorrel", WHEN)
    assert line["words"] == "Units of F9 laid out."
    assert done.stderr.splitlines() == [
        f"Written: {figure}", f"6 units of F9 were laid out; lock the plan with: palea plan lock {folder} F9",
    ]  # fmt: skip
    assert "AV-T03" in figure.read_text(encoding="utf-8")


@pytest.mark.parametrize(("arguments", "says"), [
    (("F8", *ARMS), "There is no trial “F8”. There are: G1, F9."),
    (("G1", *ARMS), "Trial G1 has units already. A plan is laid out once"),
    (("F9", "--treatment", "AV-T01=AV-T01-1"), "Add its control."),
    (("F9", *ARMS, "--kind", "bucket"), "bucket"),
    (("F9", *ARMS[:2], "--treatment", "AV-T77=AV-T01-1"), "AV-T77"),
    (("F9", *ARMS[:2], "--treatment", "AV-T03=AV-9"), "AV-9"),
    (("F9", *ARMS, "--design", "by eye"), "“by eye” is not one of: "),
    (("F9", *ARMS, "--design", "split plot", "--mains", "open; fenced"), "Name the factor that whole main plots get"),
])  # fmt: skip
def test_units_that_cannot_be_laid_out_are_a_sentence(draft, call, unchanged, arguments, says):
    same = unchanged(draft)
    done = call("plan", "units", draft, *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr
    assert same()


def test_a_picture_that_is_there_already_keeps_everything_as_it_was(draft, call, unchanged, tmp_path):
    figure = tmp_path / "plan.svg"
    figure.write_text("mine", encoding="utf-8")
    same = unchanged(draft)
    done = call("plan", "units", draft, "F9", *ARMS, "--figure", figure)
    assert done.returncode == 2
    assert done.stderr.strip().endswith("Name another file, or say --replace.")
    assert figure.read_text(encoding="utf-8") == "mine"
    assert same(), "no unit is laid out either"


def test_a_lock_says_when_and_under_which_hash(locked, call):
    folder, done = locked
    assert done.stdout.startswith(f"The plan of F9 is locked: {WHEN}, sha256:")
    assert palea.open_package(folder)["trials"].set_index("trial_id").loc["F9", "locked_at"] == WHEN
    told = call("plan", "changes", folder, "F9")
    assert (told.returncode, told.stderr) == (0, "")
    assert told.stdout.splitlines()[-1] == "Nothing was changed since."
    assert done.stdout.split("sha256:")[1].rstrip(".\n") in told.stdout


@pytest.mark.parametrize(("trial", "says"), [
    ("F9", f"The plan of F9 is locked since {WHEN}. What is changed now is a change to the plan."),
    ("F8", "There is no trial “F8”."),
])
def test_a_plan_is_locked_once(locked, call, unchanged, trial, says):
    same = unchanged(locked[0])
    done = call("plan", "lock", locked[0], trial)
    assert (done.returncode, done.stdout, says in done.stderr, same()) == (2, "", True, True)


def test_a_plan_without_units_is_not_locked(draft, call, unchanged):
    same = unchanged(draft)
    done = call("plan", "lock", draft, "F9")
    assert (done.returncode, "Trial F9 has no units yet. Lay it out first" in done.stderr, same()) == (2, True, True)


def test_a_change_to_a_locked_plan_is_exit_1_and_told_with_who_when_and_why(locked, call, tmp_path):
    folder = shutil.copytree(locked[0], tmp_path / "trial")
    package = palea.open_package(folder)
    unit = package["units"].loc[package["units"]["trial_id"].eq("F9"), "unit_id"].iloc[0]
    changed = entry.propose(package, "units", [{"unit_id": unit, "sown_n": "40"}])
    entry.save(changed, Stamp("thrift", LATER), "re-count", "Only 40 were left.")
    done = call("plan", "changes", folder, "F9")
    assert (done.returncode, done.stderr) == (1, "")
    (told,) = done.stdout.splitlines()[1:]
    assert told.startswith("2025-03-20 10:00, thrift: ")
    assert f"{unit}: " in told
    assert "was 50 and is 40 (" in told
    assert told.endswith("Only 40 were left.).")
    document = json.loads(call("plan", "changes", folder, "F9", "--json").stdout)
    assert (document["trial_id"], document["locked_at"], document["stands"]) == ("F9", WHEN, False)
    assert document["changes"] == [told]


@pytest.mark.parametrize("trial", ["F9", "F8"])
def test_changes_to_what_was_never_locked_are_a_sentence(draft, call, trial):
    done = call("plan", "changes", draft, trial)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"The plan of {trial} was never locked, so nothing can be told apart from it.")


def test_status_says_when_a_running_trial_is_looked_at_next(draft, call, tmp_path):
    """Wetted on 1 March and looked at on 4 and 8 March; 15 March is day 14 of the plan."""
    folder = shutil.copytree(draft, tmp_path / "trial")
    planned = entry.propose(palea.open_package(folder), "trials", [{"trial_id": "G1", "visit_days": "3; 7; 14"}])
    entry.save(planned, Stamp("sorrel", LATER), "late sheet", "The plan of visits was not yet typed.")
    told = call("status", folder).stdout
    assert "last on 2025-03-08; next to be looked at on day 14, 2025-03-15\n" in told
