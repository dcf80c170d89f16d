"""Run a colleague's analyses again, from the tables alone, and compare number by number."""

import json
from dataclasses import dataclass

import pandas as pd

from palea.analyses.run import run
from palea.derived.facts import plain
from palea.errors import PaleaError
from palea.sharing.archive import environment
from palea.sharing.compare import VERDICTS, compare
from palea.tables import manifest
from palea.tables.opening import open_package


@dataclass(frozen=True)
class Rerun:
    """What a rerun found.

    manifest : "ok", "altered" or "absent".  results : frame, one row a result: analysis_id, quantity, group, was, now,
    relative_difference, verdict.  reasons : {analysis_id: why it differs or could not be run}.
    """

    package: str
    manifest: str
    altered_files: tuple[str, ...]
    results: pd.DataFrame
    reasons: dict
    was: dict
    now: dict

    def count(self, verdict):
        """How many results got that verdict."""
        return int(self.results["verdict"].eq(verdict).sum())

    @property
    def agrees(self):
        """Whether the files are unaltered and every number came out again."""
        return self.manifest != "altered" and not any(self.count(v) for v in ("differs", "missing", "extra"))

    def as_json(self):
        """The shape that `palea rerun --json` prints."""
        counts = {v.replace(" ", "_"): self.count(v) for v in VERDICTS}
        rows = self.results.astype(object).where(self.results.notna(), None).to_dict("records")
        return {
            "package": self.package,
            "manifest": self.manifest,
            "altered_files": list(self.altered_files),
            **counts,
            "results": rows,
            "reasons": self.reasons,
            "environment": {"was": self.was, "now": self.now},
        }

    def told(self):
        """The comparison in words."""
        lines = [f"Manifest: {self.manifest}." + "".join(f" Altered: {f}." for f in self.altered_files)]
        lines += [", ".join(f"{self.count(v)} {v}" for v in VERDICTS) + "."]
        apart = self.results[~self.results["verdict"].isin(["identical", "within tolerance"])]
        lines += [
            f"  {r['analysis_id']}, {r['quantity']} ({r['group']}): was {_short(r['was'])}, now {_short(r['now'])}"
            f" ({r['verdict']})"
            for r in apart.head(20).to_dict("records")
        ]
        lines += [f"  ... and {len(apart) - 20} more; --json lists them all." for _ in range(len(apart) > 20)]
        lines += [f"  {analysis}: {why}" for analysis, why in self.reasons.items()]
        changed = [
            f"{k} {self.was[k]} -> {self.now.get(k, 'none')}" for k in self.was if self.was[k] != self.now.get(k)
        ]
        return "\n".join(lines + ([f"Environment: {', '.join(changed)}."] if changed else []))

    def write(self, path, *, replace=False):
        """Write the comparison as a page."""
        from palea.sharing.report import write

        write(self, path, replace=replace)


def rerun(source):
    """Open safely, verify the manifest, recompute every kept result and compare. Returns a Rerun; nothing is written."""
    package = open_package(source)
    state, altered = _manifest(package.folder)
    analyses = plain(package["analyses"])
    frames, reasons = [_nothing()], {}
    for row in analyses.to_dict("records"):
        found, reason = _again(package, row)
        frames.append(found.assign(analysis_id=row["analysis_id"]))
        if reason:
            reasons[row["analysis_id"]] = reason
    results = pd.concat(frames, ignore_index=True) if len(frames) > 1 else frames[0]
    return Rerun(
        str(source), state, altered, results[list(_nothing().columns)], reasons, _environment(package), environment()
    )


def _nothing():
    return pd.DataFrame(columns=["analysis_id", "quantity", "group", "was", "now", "relative_difference", "verdict"])


def _manifest(folder):
    if not (folder / manifest.NAME).is_file():
        return "absent", ()
    altered = tuple(f.value for f in manifest.verify(folder))
    return ("altered" if altered else "ok"), altered


def _again(package, analysis):
    """(comparison, why it differs): the same call that made the kept rows, with the recorded version and options."""
    results = package["results"]
    was = results[results["analysis_id"].eq(analysis["analysis_id"])]
    try:
        options = json.loads(analysis["options"]) if pd.notna(analysis["options"]) else {}
        trial = None if pd.isna(analysis["trial_id"]) else analysis["trial_id"]
        outcome = run(analysis["recipe"], package, trial, int(analysis["version"]), **options)
    except (PaleaError, ValueError) as fault:
        return compare(was, was.iloc[:0]), f"could not be run: {fault}"
    compared = compare(was, outcome.results)
    moved = ~compared["verdict"].isin(["identical", "within tolerance"])
    return compared, _why(analysis, outcome) if moved.any() else ""


def _why(analysis, outcome):
    if outcome.refused:
        return f"not judged: {outcome.result.missing}"
    if analysis["data_hash"] != outcome.data_hash:
        return "the data that it rests on were changed after it was run."
    return "the data are the same, so a number was altered or the software computes otherwise."


def _environment(package):
    path = package.folder / "environment.json"
    try:
        return json.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}
    except ValueError:
        return {}


def _short(value):
    return "nothing" if pd.isna(value) else f"{value:.6g}"
