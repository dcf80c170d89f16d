"""Which runs handle concentrated acid or an open flame, where nobody should stand alone."""

import pandas as pd

from palea import schema
from palea.derived.lookup import texts
from palea.derived.view import view


@view(run_steps="run_id action material_id", materials="material_id role")
def dangers(run_steps, materials):
    """One row a run that holds seed in acid or passes it through flame: run, danger (the action, or the role of a fuel).

    A few drops of acid that set the pH of a liquid are no bath of acid, so only the bath counts.
    """
    role = texts(run_steps["material_id"], materials.set_index("material_id")["role"])
    flames = [w for w in schema.words("step_action") if "flame" in schema.word("step_action", w)["hazard"]]
    fuels = [w for w in schema.words("material_role") if "flame" in schema.word("material_role", w)["hazard"]]
    action = run_steps["action"]
    bad = action.isin(flames) | action.eq("soak in acid").fillna(value=False) | role.isin(fuels)
    told = pd.DataFrame({"run": run_steps["run_id"], "danger": action})[bad]
    return told.drop_duplicates("run").reset_index(drop=True)
