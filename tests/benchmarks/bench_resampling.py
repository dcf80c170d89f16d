"""What drawing anew costs in each recipe that does so, with its usual number of draws, on the demo journey.

Timed is the calculation with the usual number less the one with the fewest, by seconds of one core; the peer is the rest of the
same calculation. A recipe counts with the trial where it takes longest.
"""

import timing

MOST_S = 0.5
FEW = {"replicates": 99, "trials": 0}


def run():
    from palea.analyses import catalogue, plan
    from palea.analyses.run import Subjects
    from palea.shipped import folder
    from palea.tables.opening import open_package

    subjects, slowest = Subjects(open_package(folder("datapackages_demo") / "journey")), {}
    for of, recipe_id, chosen in plan.questions(subjects):
        recipe = catalogue.find(recipe_id)
        name = next((n for n in FEW if n in recipe.options), None)
        if name is None:
            continue
        facts, settled = subjects[of], recipe.settle(chosen)
        frames = {view.name: facts[view] for view in recipe.reads}
        usual, few = (
            timing.core_seconds(lambda o=options, f=frames, r=recipe: r.compute(**f, **o))[0]
            for options in (settled, settled | {name: FEW[name]})
        )
        share = settled[name] / (settled[name] - FEW[name])  # the fewest are draws too
        row = (max(usual - few, 0.0) * share, usual, of or "the package", settled[name])
        slowest[recipe.id] = max(slowest.get(recipe.id, row), row)
    return [
        {
            "name": f"{draws} draws of {recipe}", "ours_s": drawing, "peer_s": max(usual - drawing, 1e-4),
            "ratio": drawing / max(usual - drawing, 1e-4), "wanted": f"under {MOST_S:g} s", "met": drawing < MOST_S,
            "note": f"{of}; peer: the rest of the calculation",
        }
        for recipe, (drawing, usual, of, draws) in slowest.items()
    ]  # fmt: skip
