"""The start page: the stages of the work as a list, what is recorded, what is due, what is missing."""

import html

import ipywidgets as widgets

from palea import schema, stamp
from palea.bench.day import day
from palea.bench.status import status
from palea.panels.panel import Panel, paragraphs
from palea.panels.teaching import Teaching
from palea.words.prose import counted

MOST = 8  # jobs of today, and of the week, that are told one by one
LATEST = 3  # missed jobs of a trial, or of a kind, that are told one by one
TEACHING = """\
A package is a folder with one table a file; everything that you type in these notebooks is kept there, and any other tool
can read it. This one is empty.
Five minutes to begin: open 01_lots and name a person and a species, receive a bag, weigh it, draw a sample and test it. Or
fill this package from the invented demo and look around."""


class StartPanel(Teaching, Panel):
    """How things stand, with the name of each stage's notebook; links stand in the notebook, where JupyterLab resolves them."""

    def __init__(self, package, who):
        super().__init__(package, "Start: how things stand", (), (), who)
        self.list_, self.choices = widgets.HTML(), widgets.HTML()
        self.form_place = self.lines_about = self.grid = self.list_
        self.work.children = [*self.teach(TEACHING), self.list_]
        self.bar.children = [self.status]
        self._open()

    def _open(self):
        self.list_.value = _day(self.package) + _stages(status(self.package))


def start(package, who=None):
    """Show the stages, what is recorded, due and missing. package : Package."""
    return StartPanel(package, who or stamp.now().who)


def _stages(told):
    """The stages as a table: what is kept there, how much of the checklist it answers, and its notebook."""
    heads = "".join(f"<th>{h}</th>" for h in ("Stage", "Rows kept", "Essential items reported", "Notebook"))
    essential = {row["stage"]: row for row in told.checklist if row["weight"] == "essential"}
    lines = ""
    for number, row in enumerate(told.stages, 1):
        item = essential.get(row["stage"])
        reported = f"{item['reported']} of {item['applicable']}" if item and item["applicable"] else "–"
        name = f"{number:02d}_{row['stage']}"
        title = html.escape(schema.word("stage", row["stage"])["title"])
        lines += f"<tr><td>{title}</td><td>{row['rows'] or '–'}</td><td>{reported}</td><td>{name}</td></tr>"
    return f'<h3>Stages</h3><div class="palea-table"><table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table></div>'


def _day(package):
    """What is to be done today, what was missed, and what comes within a week."""
    jobs = day(package, stamp.now().day)
    today, soon = (f"<h3>{title}</h3>{paragraphs(_jobs(found))}" if found else ""
                   for title, found in (("To be done today", jobs.today), ("Within a week", jobs.soon)))
    missed = _missed(jobs.missed, set(package["trials"]["trial_id"].dropna()))
    nothing = "<h3>To be done today</h3>" + paragraphs(["Nothing is planned for today, and nothing was missed."])
    return (today + missed + soon) or nothing


def _jobs(found):
    lines = [*map(_line, found[:MOST])]
    return [*lines, *([f"and {len(found) - MOST} more; palea day lists them all."] if len(found) > MOST else [])]


def _line(job):
    return f"{job.on}, {job.about}: {job.do}; {job.what}."


def _missed(found, trials):
    """Missed jobs folded by trial, and those of no trial by what is to be done; the latest of each first."""
    groups = {}
    for job in reversed(found):
        groups.setdefault(f"Trial {job.about}" if job.about in trials else job.do.capitalize(), []).append(job)
    folded = "".join(_folded(title, groups[title]) for title in sorted(groups, key=lambda t: (not t.startswith("Trial "), t)))
    return f'<h3>Missed, {counted(len(found), "job", "jobs")}</h3><div class="palea-folded">{folded}</div>' if found else ""


def _folded(title, jobs):
    more = len(jobs) - LATEST
    lines = [*map(_line, jobs[:LATEST]), *([f"and {more} before; palea day lists them all."] if more > 0 else [])]
    summary = html.escape(f"{title}: {len(jobs)}, the latest on {jobs[0].on}")
    return f"<details><summary>{summary}</summary>{paragraphs(lines)}</details>"
