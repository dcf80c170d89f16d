"""Whatever is wrong with a package, the check ends in findings or in one of our own errors, never in a traceback."""

import random
from contextlib import suppress

import pytest

import palea
from palea import schema
from palea.analyses.plan import answer_all
from palea.checks import checklist
from palea.checks.run import ruled
from palea.demo.write import write
from palea.errors import PaleaError

MUTATIONS = 3  # of each package, laid on top of each other


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    return write(tmp_path_factory.mktemp("one") / "journey", ("AV",))


def mutated(package, chance):
    """The package with rows lost, doubled or shuffled, and cells blanked or put in another row's place."""
    for _ in range(MUTATIONS):
        name = chance.choice([n for n in package.names if len(package[n])])
        frame = package[name]
        column = chance.choice(list(frame))
        kind = chance.choice(["lose rows", "lose all", "double", "blank", "swap", "shuffle"])
        frame = {
            "lose rows": lambda f: f.sample(frac=0.5, random_state=chance.randrange(99)),
            "lose all": lambda f: f.head(0),
            "double": lambda f: f.loc[[*f.index, *f.index[:3]]],
            "blank": lambda f, c=column: f.assign(**{c: f[c].where([chance.random() < 0.5 for _ in f.index])}),
            "swap": lambda f, c=column: f.assign(**{c: f[c].sample(frac=1, random_state=chance.randrange(99)).to_numpy()}),
            "shuffle": lambda f: f.sample(frac=1, random_state=chance.randrange(99)),
        }[kind](frame)
        package = package.replacing(name, frame.reset_index(drop=True))
    return package


@pytest.mark.parametrize("seed", range(60))
def test_rules_and_checklist_survive_any_rows(package, seed):
    broken = mutated(package, random.Random(seed))
    for finding in ruled(broken):
        assert finding.message
        assert finding.table in schema.tables()
    assert checklist.tally(checklist.evaluate(broken))


@pytest.mark.parametrize("seed", range(100, 112))
def test_answers_are_given_or_refused_in_words(package, seed):
    broken = mutated(package, random.Random(seed))
    with suppress(PaleaError):  # no trial is left, or an option cannot be read: said in words
        for outcome in answer_all(broken):
            assert outcome.sentences
            assert len(outcome.results)


def test_the_unbroken_package_is_clean(package):
    assert {(f.rule, f.severity) for f in palea.check(package)} <= {("planning.one-batch", "warning")}, "true of it, and no more"
