"""The map of single steps of one species: which treatments differ in exactly one thing, and which arm is not there."""

import pandas as pd

from palea import schema
from palea.analyses.run import names_of
from palea.derived import one_factor
from palea.derived.facts import Facts
from palea.figures import maps
from palea.words.prose import counted, inside, listed, together


def chart(package, taxon):
    """The map of the treatments that were sown of a species. PaleaError where none was."""
    facts, names = Facts(package), names_of(package)
    arms, pairs, absent = frames(facts, taxon, names)
    title = f"Single steps between treatments of {names.get(taxon, taxon)}"
    return maps.draw(arms, pairs, absent, names, title, told(arms, pairs, absent))


def taxa(package):
    """Ids of species of which treatments were sown."""
    return list(dict.fromkeys(Facts(package)[one_factor.arms]["taxon"]))


def frames(facts, taxon, names):
    """(arms, pairs, absent arms) of a species, in words, as `palea.figures.maps` draws them."""
    mine = [_of(facts[view], taxon) for view in (one_factor.arms, one_factor.pairs, one_factor.absent)]
    arms, pairs, absent = mine
    label = dict(zip(arms["treatment"], arms["label"], strict=True))
    gaps = [
        f"{inside(_short(names, active))}, {inside(label[base])}"
        for active, base in zip(absent["active"], absent["base"], strict=True)
    ]
    return arms, pairs.assign(words=pairs["differs"].map(_words)), absent.assign(words=pd.Series(gaps, dtype=object))


def _of(frame, taxon):
    return frame[frame["taxon"].eq(taxon)].reset_index(drop=True)


def _words(differs):
    """Factors as they are read aloud: “route and dose”."""
    return listed(inside(schema.word("asks_about", factor)["title"]) for factor in differs.split(", ") if factor)


def _short(names, key):
    """The name of a material up to its first comma or bracket."""
    return names.get(key, key).split(",")[0].split(":")[0].split(" (")[0]


def told(arms, pairs, absent):
    """The map in words: the single steps, declared ones first; contrasts that change more than one thing; absent arms."""
    steps = pairs[pairs["n"].eq(1)].sort_values("declared", ascending=False, kind="stable")
    many = pairs[pairs["n"].gt(1) & pairs["declared"]]
    said = [f"{counted(len(arms), 'treatment')}, {counted(len(steps), 'single step')}, {steps['declared'].sum()} of them declared"]
    said += [f"{a} to {b}: {w}" for a, b, w in zip(steps["a"], steps["b"], steps["words"], strict=True)]
    said += [
        f"{a} and {b} differ in {w}; add an arm between them"
        for a, b, w in zip(many["a"], many["b"], many["words"], strict=True)
    ]
    said += [f"There is no arm with {w}" for w in absent["words"]]
    return together(*said)
