"""Run a colleague's analyses again, from the tables alone, and compare number by number."""

from dataclasses import dataclass, field

import pandas as pd

from palea.analyses.run import Subjects, together
from palea.derived.facts import plain
from palea.errors import PaleaError
from palea.sharing import earlier, recorded, worded
from palea.sharing.archive import environment
from palea.sharing.compare import AGREE, VERDICTS, agree, compare
from palea.sharing.reasons import NOT_RUN, VERSION, Case, Reason, software, why, within_tolerance
from palea.tables import descriptor, manifest, paths, upgrade
from palea.tables.opening import open_package

MOST_NAMED = 100  # entries of an environment that are looked at


@dataclass(frozen=True)
class Rerun:
    """What a rerun found.

    title : of the package.  manifest : "ok", "altered" or "absent".  results : frame, one row a result: analysis_id,
    quantity, group, was, now, relative_difference, verdict, apart (columns that differ), reason (in a word), unit.
    reasons : {analysis_id: why it differs or could not be run}.
    upgraded : what was done to an older package in a temporary copy, as sentences.  later : {analysis_id: what the present
    version of its recipe gives otherwise}.  manifest_hash : SHA-256 of the manifest itself, "" where there is none.
    """

    package: str
    title: str
    manifest: str
    altered_files: tuple[str, ...]
    results: pd.DataFrame
    reasons: dict
    was: dict
    now: dict
    upgraded: tuple[str, ...] = ()
    later: dict = field(default_factory=dict)
    manifest_hash: str = ""

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
            "manifest_hash": self.manifest_hash,
            "altered_files": list(self.altered_files),
            **counts,
            "results": [{k: v for k, v in row.items() if k != "unit"} for row in rows],
            "reasons": self.reasons,
            "upgraded": list(self.upgraded),
            "later_versions": self.later,
            "environment": {"was": self.was, "now": self.now},
        }

    def told(self):
        """The comparison in words."""
        lines = [f"Manifest: {self.manifest}." + "".join(f" Altered: {f}." for f in self.altered_files)]
        lines += [", ".join(f"{self.count(v)} {v}" for v in VERDICTS) + "."]
        apart = self.results[~self.results["verdict"].isin(AGREE)]
        lines += [
            f"  {r['analysis_id']}, {r['quantity']} ({r['group']}): was {_short(r['was'])}, now {_short(r['now'])}"
            f" ({r['verdict']}{': ' * bool(r['reason'])}{r['reason']})"
            for r in apart.head(20).to_dict("records")
        ]
        lines += [f"  ... and {len(apart) - 20} more; --json lists them all." for _ in range(len(apart) > 20)]
        lines += [f"  {analysis}: {why}" for why_of in (self.reasons, self.later) for analysis, why in why_of.items()]
        lines += [f"Read in a temporary copy. {self.upgraded[0]} {' '.join(self.upgraded[1:])}"] if self.upgraded else []
        changed = software(self.was, self.now)
        return "\n".join(lines + ([f"Environment: {changed}."] if changed else []))

    def chart(self):
        """Published numbers against those of the rerun as an altair chart; None where there are no two to compare."""
        from palea.sharing.report import chart

        return chart(self)

    def keep(self, stamp, *, to=None, replace=False):
        """Add the report to the package, or to a copy of a zip; the path of either. stamp : who reran it, and when."""
        from palea.sharing.keep_report import keep

        return keep(self, stamp, to=to, replace=replace)

    def write(self, path, *, replace=False):
        """Write the comparison as a page."""
        from palea.sharing.report import write

        write(self, path, replace=replace)


def rerun(source):
    """Open safely, verify the manifest, recompute every kept result and compare. Returns a Rerun; nothing is written."""
    package = open_package(source)
    (state, altered), own_hash = _manifest(package.folder), manifest.own_hash(package.folder)
    was, now = _environment(package), environment()
    package, upgraded = upgrade.in_passing(package)
    analyses = plain(package["analyses"])
    frames, reasons, states, ask = [], {}, {}, together(Subjects(package))
    for row in analyses.to_dict("records"):
        name = "not named" if pd.isna(row["analysis_id"]) else row["analysis_id"]
        found, reason = _again(package, row, altered, was, now, states, ask)
        frames.append(_marked(found, name, reason, was, now))
        if reason:
            reasons[name] = reason.told
    frames += _of_no_analysis(package, reasons)
    some = [frame for frame in frames if len(frame)]
    results = pd.concat(some, ignore_index=True) if some else _nothing()
    return Rerun(
        str(source), package.title, state, altered, results[list(_nothing().columns)], reasons, was, now,
        tuple(upgraded), earlier.beside(package, analyses), own_hash,
    )  # fmt: skip


def _nothing():
    return pd.DataFrame(columns=[
        "analysis_id", "quantity", "group", "was", "now", "relative_difference", "verdict", "apart", "reason", "unit",
    ])  # fmt: skip


def _manifest(folder):
    if not (folder / manifest.NAME).is_file():
        return "absent", ()
    altered = tuple(f.value or manifest.NAME for f in manifest.verify(folder))
    return ("altered" if altered else "ok"), altered


def _again(package, row, altered, was_made, now_made, states, ask):
    """(comparison, Reason or None): the same call that made the kept rows, with the recorded version and options."""
    results = package["results"]
    was = results[results["analysis_id"].eq(row["analysis_id"]).fillna(value=False)]
    try:
        of_row = recorded.of(row)
        version, instead = earlier.as_recorded(of_row.recipe, of_row.version)
        outcome = recorded.run_again(package, of_row, ask, version=version)
    except PaleaError as fault:
        return compare(was, was.iloc[:0]), Reason(NOT_RUN, f"It could not be run: {fault}")
    compared = compare(was, outcome.results)
    if instead:
        return compared, Reason(VERSION, instead)
    numbers_agree = agree(compared)
    compared, words = worded.weighed(compared, of_row, package)
    if numbers_agree:
        return compared, words
    found = why(Case(package, of_row, was, outcome, altered, was_made, now_made, states))
    return compared, Reason(found.kind, f"{found.told} {words.told}") if words else found


def _marked(found, analysis_id, reason, was, now):
    """A comparison with the analysis that it is of, and beside each row that is not identical the reason in a word."""
    kinds = dict.fromkeys(VERDICTS, reason.kind if reason else "") | {"identical": ""}
    kinds["within tolerance"] = within_tolerance(was, now).kind
    return found.assign(analysis_id=analysis_id, reason=found["verdict"].map(kinds))


def _of_no_analysis(package, reasons):
    """Results of which no row of `analyses` says how they were made: nobody can have them again."""
    results = package["results"]
    lost = results[~results["analysis_id"].isin(package["analyses"]["analysis_id"].dropna())]
    for name, was in lost.groupby("analysis_id", sort=False, dropna=False):
        told = "not named" if pd.isna(name) else str(name)
        reasons[told] = "There is no row in analyses that says how these numbers were made."
        yield compare(was, was.iloc[:0]).assign(analysis_id=told, reason=NOT_RUN)


def _environment(package):
    """Software by name and version, as the package says; {} where it does not say it in this form."""
    try:
        path = package.file("environment.json")
        told = descriptor.parse(paths.read(path), path) if path.is_file() else {}
    except PaleaError:
        return {}
    return {name: version for name, version in list(told.items())[:MOST_NAMED] if isinstance(version, str)}


def _short(value):
    return "nothing" if pd.isna(value) else f"{value:.6g}"
