"""Small invented packages for the two examples of a rule: one that fires it, one that nearly does.

Each builder returns {table: rows}; rows name only the columns that matter, the rest is blank.
"""


def several(*examples):
    """Several examples laid together; rows of the same table follow each other."""
    together = {}
    for example in examples:
        for table, rows in example.items():
            together.setdefault(table, []).extend(rows)
    return together


def lot(lot_id, taxon="AV", **more):
    """A received lot and its taxon."""
    return {"lots": [{"lot_id": lot_id, "taxon_id": taxon} | more]}


def moved(kind, lot_id, at="2025-02-01", mass_g=None, **more):
    """One movement of seed."""
    name = f"M-{kind}-{lot_id}-{at}-{more.get('run_id', '')}"
    return {
        "movements": [{"movement_id": name, "lot_id": lot_id, "kind": kind, "moved_at": at, "mass_g": mass_g} | more]
    }


def run(run_id, took, made, at="2025-02-01", in_g=100.0, out_g=90.0, kind="clean", **more):
    """A run that took seed from one lot and made another."""
    return several(
        {"runs": [{"run_id": run_id, "kind": kind, "started_at": at, "status": "finished"} | more]},
        moved("drawn for run", took, at, in_g, run_id=run_id),
        moved("made", made, at, out_g, run_id=run_id),
    )


def dish(
    unit_id="D01",
    lot_id="AV-1",
    treatment="AV-T01",
    sown=25,
    seeds_each=1,
    wetted="2025-03-01",
    counting="new",
    visits=None,
    **counts,
):
    """A dish of trial G1 with its visits.

    visits : {date: {outcome: count}}; counts given by name are one visit on 2025-03-15.
    """
    seen = visits or {"2025-03-15": counts}
    unit = {
        "unit_id": unit_id,
        "trial_id": "G1",
        "kind": "dish",
        "treatment_id": treatment,
        "lot_id": lot_id,
        "sown_n": sown,
        "seeds_each": seeds_each,
        "first_wetted_at": wetted,
        "status": "in use",
    }
    return several(
        {"trials": [{"trial_id": "G1"}], "units": [unit]},
        {
            "visits": [
                {"visit_id": f"V{day}", "trial_id": "G1", "visited_at": day, "visited_by": "A", "counting": counting}
                for day in seen
            ]
        },
        {
            "counts": [
                {
                    "visit_id": f"V{day}",
                    "unit_id": unit_id,
                    "outcome": outcome,
                    "observer": "A",
                    "taxon_id": "AV",
                    "count": count,
                }
                for day, found in seen.items()
                for outcome, count in found.items()
            ]
        },
    )


def treated(treatment_id, **levels):
    """A treatment with its intended levels."""
    return {"treatments": [{"treatment_id": treatment_id, "label": treatment_id, "role": "test"} | levels]}


def contrast(a, b, **more):
    """A declared contrast of trial G1 on normal seedlings of filled seed."""
    asked = {
        "contrast_id": f"{a}-{b}",
        "trial_id": "G1",
        "a": a,
        "b": b,
        "outcome": "normal seedlings",
        "kind": "superiority",
        "declared_at": "2025-02-20",
        "primary": True,
    }
    outcome = {"trial_id": "G1", "outcome": "normal seedlings", "denominator": "filled"}
    return {"contrasts": [asked | more], "trial_outcomes": [outcome]}


def examined(lot_id, quantity, *replicates, out_of=None, unit="1", at="2025-02-10", reported=None, **more):
    """A test of a lot; each replicate is {item: value}."""
    name = f"Q-{lot_id}-{quantity.replace(' ', '-')}"
    test = {"test_id": name, "lot_id": lot_id, "quantity": quantity, "tested_at": at, "status": "valid"}
    return {
        "tests": [test | more],
        "readings": [
            {"test_id": name, "replicate": n, "item": item, "value": value, "unit": unit, "out_of": out_of}
            | {"reported_only": reported}
            for n, found in enumerate(replicates, 1)
            for item, value in found.items()
        ],
    }


def stepped(run_id, *steps):
    """Steps of a run, numbered in order."""
    return {"run_steps": [{"run_id": run_id, "step": n} | step for n, step in enumerate(steps, 1)]}


def percent(basis):
    """The unit of a percentage with its basis: w/w, w/v or v/v."""
    return "%{" + basis + "}"
