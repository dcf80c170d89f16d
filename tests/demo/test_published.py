"""The package made from a published table gives the published numbers through the same commands.

Source: Crowder 1978, Applied Statistics 27:34-37, Table 3; cell totals 99/272, 201/295, 49/123 and 75/141; the odds
ratio is exp(1.3181819) from the logit fit of those data (R 4.2.2, glm, family quasibinomial, dispersion 1.861832).
"""

import filecmp

import numpy as np
import pytest

import palea
from palea.demo.published import write_crowder
from palea.shipped import folder


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    return write_crowder(tmp_path_factory.mktemp("crowder") / "package")


def files(where):
    """Relative paths, without the copies that saving keeps for itself."""
    found = [p.relative_to(where) for p in where.rglob("*") if p.is_file()]
    return sorted(p for p in found if ".palea-kept" not in p.parts)


def test_it_is_what_is_shipped_to_the_byte(package):
    shipped = folder("datapackages_demo") / "published" / "root-extracts"
    written = files(package.folder)
    assert written == files(shipped)
    assert filecmp.cmpfiles(package.folder, shipped, map(str, written), shallow=False)[1:] == ([], [])


def test_the_check_finds_no_error_and_says_what_is_not_known(package):
    findings = palea.check(package)
    # The extract lies in the dish and not on the seed, so one lot stands under two treatments: true of that trial.
    known = {"planning.one-batch", "planning.lot-under-two-treatments"}
    assert {f.rule for f in findings if f.severity != "gap"} <= known
    assert "germination.not-cut" in {f.rule for f in findings}
    assert not [f for f in findings if f.severity == "error"]


def test_final_germination_gives_the_published_numbers(package):
    rows = palea.run("germination.final", package).results
    shares = rows[rows["scale"].eq("value")].set_index("treatment_a")["estimate"].astype(float)
    published = {"O75-bean": 99 / 272, "O75-cucumber": 201 / 295, "O73-bean": 49 / 123, "O73-cucumber": 75 / 141}
    assert shares.to_dict() == pytest.approx({arm: 100 * share for arm, share in published.items()}, rel=1e-9)
    odds = rows[rows["scale"].eq("odds ratio")].set_index("treatment_a")["estimate"].astype(float)
    assert odds["O75-cucumber"] == pytest.approx(np.exp(1.3181819), rel=1e-6)


def test_every_answer_says_that_it_rests_on_one_batch(package):
    sentences = palea.run("germination.final", package).sentences
    assert all("These dishes come from one batch" in s for s in sentences)
