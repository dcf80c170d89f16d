"""Procedures as things that are shared: written to a file, taken in from one, and compared in words."""

import json
from pathlib import Path

from palea import schema
from palea.bench import entry, proposals
from palea.bench.run_book import planned
from palea.derived.facts import Facts
from palea.derived.planned_steps import figures, planned_steps
from palea.errors import EntryError
from palea.tables.writing import cell_text

FORMAT = "palea procedure"
TOLD = ("title", "stage", "run_kind", "scale", "authors", "licence", "notes")
OPEN_MATERIAL = (
    "material_id", "name", "role", "disclosure", "cas", "density_g_ml", "active_fraction_w_w", "hazards", "ghs_edition", "sds",
)  # fmt: skip


def as_document(package, protocol_id, version):
    """A procedure with its steps and the materials that they name, as plain data that stands by itself.

    Raises EntryError for a procedure that is not there.
    """
    row = _row(package, protocol_id, version)
    steps = planned(package, protocol_id, version)
    used = list(dict.fromkeys(s["material_id"] for s in steps if s.get("material_id")))
    materials = [_plain(proposals.row_as_texts(package, "materials", m), OPEN_MATERIAL) for m in used]
    head = {"format": FORMAT, "schema_version": schema.version(), "procedure": _plain(row, row)}
    return head | {"steps": steps, "materials": materials}


def write(package, protocol_id, version, path, *, replace=False):
    """Write it as JSON; its path. The same procedure gives the same bytes."""
    path = Path(path)
    if path.exists() and not replace:
        msg = f"{path} exists already. Say --replace to overwrite it."
        raise EntryError(msg)
    text = json.dumps(as_document(package, protocol_id, version), ensure_ascii=False, indent=1)
    path.write_text(text + "\n", encoding="utf-8")
    return path


def read(path):
    """The document of a file that `write` made. Raises EntryError for anything else."""
    try:
        told = json.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, ValueError) as fault:
        msg = f"{path} cannot be read as a procedure: {fault}. Ask for a file that `palea protocol export` wrote."
        raise EntryError(msg) from None
    whole = isinstance(told, dict) and told.get("format") == FORMAT and isinstance(told.get("procedure"), dict)
    if not whole or not isinstance(told.get("steps"), list) or not all(isinstance(s, dict) for s in told["steps"]):
        msg = f"{path} holds no procedure. Ask for a file that `palea protocol export` wrote."
        raise EntryError(msg)
    return told


def take_in(package, told):
    """The package as it would be with a colleague's procedure -> Proposal, with the materials that are not known here.

    Materials are matched by id; one of that id with another name stays as it is here, and the check says nothing of it, so
    look at the names. A version that is here already with other steps is refused.
    """
    procedure = {n: t for n, t in told["procedure"].items() if n in schema.table("protocols").fields}
    identity, version = procedure.get("protocol_id", ""), procedure.get("version", "")
    if _there(package, identity, version):
        if planned(package, identity, version) != [_known(s) for s in told["steps"]]:
            msg = (f"Procedure {identity}, version {version} is here already with other steps. Ask for another version, "
                   "or compare the two first.")  # fmt: skip
            raise EntryError(msg)
        msg = f"Procedure {identity}, version {version} is here already, with the same steps."
        raise EntryError(msg)
    known = set(package["materials"]["material_id"].dropna())
    fresh = [_plain(m, OPEN_MATERIAL) for m in told.get("materials", []) if m.get("material_id") not in known]
    proposal = entry.propose(package, "materials", fresh) if fresh else entry.propose(package, "protocols", [])
    proposal = proposal.then("protocols", [procedure])
    steps = [{"protocol_id": identity, "version": version, "step": str(n), **_known(s)} for n, s in enumerate(told["steps"], 1)]
    return proposal.then("protocol_steps", steps)


def compare(old, new):
    """Yield sentences on what differs between two documents: facts, then steps in order."""
    for name in TOLD:
        one, other = old["procedure"].get(name, ""), new["procedure"].get(name, "")
        if one != other:
            yield f"{schema.table('protocols')[name].title}: {one or 'blank'} -> {other or 'blank'}."
    steps = max(len(old["steps"]), len(new["steps"]))
    for n in range(steps):
        one, other = (d["steps"][n] if n < len(d["steps"]) else None for d in (old, new))
        if one is None:
            yield f"Step {n + 1}, {other['action']}: new."
        elif other is None:
            yield f"Step {n + 1}, {one['action']}: left out."
        else:
            yield from _step_differences(n + 1, one, other)


def against_run(package, run_id):
    """Yield sentences on where a run left its procedure, figure by figure, and what was not written down.

    Raises EntryError for an unknown run or one that followed no procedure.
    """
    runs = package["runs"]
    mine = runs[runs["run_id"].eq(run_id).fillna(value=False)]
    if mine.empty:
        msg = f"There is no run “{run_id}”."
        raise EntryError(msg)
    if cell_text(mine["protocol_id"].iloc[0]) is None:
        msg = f"Run {run_id} followed no written procedure, so there is nothing to hold it against."
        raise EntryError(msg)
    from palea.analyses.run import run

    outcome = run("coating.planned_and_done", package)
    rows = Facts(package)[planned_steps]
    rows = rows[rows["batch"].eq(run_id)]
    if rows.empty:
        yield f"Run {run_id}: the procedure sets no figures that could be compared."
        return
    told = [w for w in outcome.warnings if f", {run_id}, " in w]
    yield f"Run {run_id}: {len(rows)} figures were set by the procedure; {len(rows) - len(told)} were kept, {len(told)} were not."
    yield from told


def _step_differences(n, one, other):
    names = {**schema.table("protocol_steps").fields}
    for name in dict.fromkeys([*one, *other]):
        if one.get(name, "") != other.get(name, "") and name in names:
            title = names[name].title
            yield f"Step {n}, {other['action']}, {title}: {one.get(name) or 'blank'} -> {other.get(name) or 'blank'}."


def _row(package, protocol_id, version):
    row = proposals.row_as_texts(package, "protocols", f"{protocol_id}{proposals.BETWEEN}{version}")
    if not row:
        rows = package["protocols"]
        known = ", ".join(f"{i}/{v}" for i, v in zip(rows["protocol_id"], rows["version"], strict=True)) or "none"
        msg = f"There is no procedure {protocol_id}, version {version}. There are: {known}."
        raise EntryError(msg)
    return row


def _there(package, identity, version):
    return bool(proposals.row_as_texts(package, "protocols", f"{identity}{proposals.BETWEEN}{version}"))


def _plain(row, names):
    return {name: row[name] for name in names if row.get(name)}


def _known(step):
    """A step with the columns that are known here, as texts."""
    fields = {*schema.table("protocol_steps").fields} | {*figures()}
    return {name: str(text) for name, text in step.items() if name in fields and text not in ("", None)}
