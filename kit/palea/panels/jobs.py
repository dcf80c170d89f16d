"""The panel of a stage's jobs: forms, proposals, drafts, what is wrong in words, what follows, saving."""

import ipywidgets as widgets

from palea import schema, stamp
from palea.analyses.run import BLANK
from palea.bench import drafts, entry, proposals
from palea.bench.later import Later
from palea.checks.rule import HEADER_ROWS
from palea.errors import EntryError, PaleaError
from palea.panels.answer import narrowed
from palea.panels.form import Form, field_of, labels_of
from palea.panels.grid import CountSheet
from palea.panels.panel import Panel, choice, labelled, reasons
from palea.panels.teaching import Teaching
from palea.panels.templates import Templates
from palea.tables import formats

NEW = ""
PAUSE_S = 0.6  # from the last letter to what the rules and recipes say of it


class JobPanel(Templates, Teaching, Panel):
    """The panel of a stage: choose what is done, type it, see what is wrong and what follows, save.

    package : Package.  title : heading.  jobs : the Jobs, in the order of work.  job : title of the one to begin with.
    first : titles of jobs that a new package needs done before the others; the panel leads through them, one after another,
    until the table of each has a row.
    """

    def __init__(self, package, title, jobs, *, at_hand=(), hazards=(), teaching="", who=None, job=None,
                 first=()):  # fmt: skip
        super().__init__(package, title, at_hand, hazards, who or stamp.now().who)
        self.first = first if self.is_empty() else ()  # a package that somebody works in needs no leading
        self.jobs, self._teaching, self._setting = {j.title: j for j in jobs}, teaching, False
        if job is not None and job not in self.jobs:
            msg = f"There is no job “{job}” here. There are: {', '.join(self.jobs)}."
            raise EntryError(msg)
        self.job_box = choice("Job", 40, 400, [(t, t) for t in self.jobs])
        self.row_box, self.like_box = choice("Entry", 72, 480), choice("Begin like", 96, 400)
        self.reason = choice("Why changed", 100, 280, reasons())
        self.words = labelled(widgets.Text, schema.table("journal")["words"].title, width="70px", layout={"width": "300px"})
        self.bar.children = [self.save_button, self.who, self.reason, self.words, self.status]
        self.form_place, self.lines_about = widgets.VBox(), widgets.HTML()
        self.grid = CountSheet(self.guarded(self._lines_edited))
        self.answer_place = widgets.HTML().add_class("palea-answers")
        self.form, self.lines, self._begun, self._proposed = None, None, {}, ""
        self._judge, self._answer = (Later(self.guarded(do), PAUSE_S) for do in (self._look, self._reply))
        for box, action in ((self.job_box, self._open), (self.row_box, self._open_row), (self.like_box, self._take_over)):
            box.observe(self.guarded(lambda _, action=action: None if self._setting else action()), "value")
        self.make_template_boxes()
        self.choices = widgets.HBox([self.job_box]).add_class("palea-choices")
        self.work.children = [*self.teach(teaching), self.choices, self.form_place, self.lines_about, self.grid]
        self.computed.children = [self.answer_place]
        if job or self.first:
            self._set(self.job_box, job or self._next_of_the_first() or jobs[0].title)
        self._open()

    @property
    def job(self):
        """The Job that is open."""
        return self.jobs[self.job_box.value]

    def save(self):
        """Keep the entry: its row, the rows beside it and its lines, in one transaction."""
        self._judge.never_mind()
        proposal, row = self._proposal(), self.row_box.value
        if row and not self.reason.value:
            msg = "A saved entry would change. Choose why, beside the Save button; the journal keeps both values."
            raise EntryError(msg)
        self._mark(proposal, blanks=True)
        by = stamp.now(self.who.value.strip() or None)
        saved = entry.save(proposal, by, self.reason.value if row else "entry", self.words.value.strip())
        named = self._texts().get(self.job.key, "").strip()
        drafts.drop(self.package, self._draft_name())
        told, led = ": ".join(filter(None, (self.job.title, named))), self.job.title in self.first
        self.package = saved
        self._set(self.reason, "")
        lead = self._next_of_the_first() if led and not row else ""
        if lead:
            self._set(self.job_box, lead)
        self._open()
        self.tell(proposal.findings)
        onward = f" Next: {lead[0].lower()}{lead[1:]}." if lead else ""
        self.say("saved", f"{told}, {by.when[:16].replace('T', ' ')}, {by.who}.{onward}")

    def _next_of_the_first(self):
        """Title of the first of the first jobs whose table is still empty; "" where all have a row."""
        return next((title for title in self.first if not len(self.package[self.jobs[title].table])), "")

    # --- what is shown

    def _open(self):
        """Show the job that is chosen: what is saved of it to choose from, and a new entry or its draft."""
        self._offer()
        self._open_row()

    def _offer(self):
        job, frame = self.job, self.package[self.job.table]
        for name, word in job.only.items():
            frame = frame[frame[name].eq(word).fillna(value=False)]
        known = [(label, own) for own, label in reversed(labels_of(job.table, frame))]
        self._set(self.row_box, NEW, [("New", NEW), *known])
        self._set(self.like_box, NEW, [("nothing: blank fields", NEW), *self.template_options(), *known])
        rest = [self.row_box] if known else []
        self.choices.children = [self.job_box, *rest, self.like_box, self.template_name, self.keep_button, self.forget_button]

    def _open_row(self):
        job, row = self.job, self.row_box.value
        self._begun = self._beginning(row)
        draft = drafts.read(self.package, self._draft_name())
        typed = self._begun | draft.get("form", {})
        self._proposed = self._begun.get(job.key, "")
        self.form = Form(
            self.package, job.table, job.ask, typed, self.guarded(self._changed), folded=job.folded, headings=job.headings,
            on_save=self.guarded(self.save),
        )  # fmt: skip
        self.form_place.children = [self.form]
        self._lay_out_lines({(line, name): text for line, name, text in draft.get("lines", [])}, saved=row)
        for box in (self.like_box, self.template_name, self.keep_button):
            box.layout.display = "none" if row else None
        self._show_template(self.like_box.value)
        self.reason.layout.display = self.words.layout.display = None if row else "none"
        self.tell([])
        if draft:
            self.say("warning", "What you typed before is back from the draft; it is not saved yet.")
            self._judge.soon()
        else:
            self.say("", "")
        self._answer.soon()

    def _beginning(self, row):
        """What the form begins with: a saved row, or what is given, remembered and proposed."""
        job = self.job
        if row:
            return {name: text for name, text in proposals.row_as_texts(self.package, job.table, row).items() if name in job.ask}
        last = proposals.like_last(self.package, job.table, [n for n in job.remembers if n in job.own], **job.only)
        person = {name: self._person(name) for name in job.ask if self._is_person(name)}
        texts = {**person, **{n: t for n, t in last.items() if t}}
        return {**texts, **self._name_for(texts)}

    def _name_for(self, texts):
        """{key: proposed id} of a new row; {} where the row has no id of its own."""
        key = self.job.key
        return {key: proposals.next_id(self.package, self.job.table, texts)} if key else {}

    def _is_person(self, name):
        table, column = field_of(self.job.table, name)
        link = schema.table(table).link(column.name)
        return bool(link) and link.table == "people" and column.name.endswith("_by")

    def _person(self, name):  # noqa: ARG002 - every field of a person begins with the one who sits here
        known = set(self.package["people"]["person_id"].dropna())
        return self.who.value if self.who.value in known else ""

    # --- lines below

    def _lay_out_lines(self, typed, saved=NEW):
        texts = self._texts()
        self.lines = self.job.lines(self.package, texts) if self.job.lines else None
        shown = self.lines is not None
        self.grid.layout.display = self.lines_about.layout.display = None if shown else "none"
        if not shown:
            return
        if saved:
            self.lines.load(self._saved_lines(saved))
        self.lines.typed.update(typed)
        self.lines_about.value = f"<h3>{self.lines.table.title}</h3>"
        self.grid.lay_out(**self.lines.face(self.lines.table.title))

    def _saved_lines(self, row):
        frame, saved = self.package[self.lines.table.name], proposals.row_as_texts(self.package, self.job.table, row)
        for name in self._shared():
            frame = frame[frame[name].map(proposals.typed).eq(saved[name])]
        return [{name: proposals.typed(value) for name, value in line.items()} for line in frame.to_dict("records")]

    def _shared(self):
        """Columns by which the lines belong to the entry."""
        return [name for name in schema.table(self.job.table).primary_key if name in self.lines.table.fields]

    def _lines_edited(self, edits):
        before = self.lines.count
        self.lines.take(edits)
        self._keep()
        if self.lines.count != before:
            self.grid.lay_out(**self.lines.face(self.lines.table.title))
        self._judge.soon()
        self._answer.soon()
        problems = self.lines.problems()
        return {line: {"bad": problems.get(line, {})} for line in {line for line, _, _ in edits}}

    # --- what is typed

    def _texts(self):
        typed = self.form.texts if self.form else {}
        given = {n: text(typed) if callable(text) else text for n, text in self.job.given.items()}
        return given | typed

    def _changed(self):
        """After every letter: the draft first, then what can be said at once, then what takes a moment."""
        self._rename()
        self._keep()
        self.form.tell(self._unreadable())
        now = self.job.lines(self.package, self._texts()) if self.job.lines else None
        if (now and now.columns()) != (self.lines and self.lines.columns()):
            self._lay_out_lines({} if self.lines is None else self.lines.typed)
        self._judge.soon()
        self._answer.soon()

    def _rename(self):
        """The proposed identifier follows what it is named after, until a person writes another."""
        job, texts = self.job, self._texts()
        if self.row_box.value or not job.key or texts.get(job.key) != self._proposed:
            return
        fresh = self._name_for({n: t for n, t in texts.items() if n != job.key})[job.key]
        if fresh != self._proposed:
            self._proposed = fresh
            self.form.set({job.key: fresh})

    def _unreadable(self):
        """{name: sentence} of boxes whose text cannot be read; blank ones are told when the entry is to be saved."""
        texts = self.form.texts
        fields = {name: field_of(self.job.table, name)[1] for name in self.job.ask}
        return {n: said for n, f in fields.items() if texts[n].strip() and (said := formats.parse(f, texts[n])[1])}

    def _keep(self):
        lines = [[line, name, text] for (line, name), text in self.lines.typed.items() if text] if self.lines else []
        form = self.form.texts
        try:
            if lines or form != {**dict.fromkeys(self.job.ask, ""), **self._begun}:
                drafts.write(self.package, self._draft_name(), {"form": form, "lines": lines})
            else:
                drafts.drop(self.package, self._draft_name())
        except PaleaError as error:  # what was typed is on the screen still, and must be judged all the same
            self.say("error", str(error))

    def _draft_name(self):
        return f"{self.job.table} {self.job.title} {self.row_box.value or 'new'}"

    def _proposal(self):
        """The package as it would be: the row itself, rows beside it, lines below it."""
        job, texts = self.job, self._texts()
        own = {n: t for n, t in texts.items() if "." not in n}
        proposal = entry.propose(self.package, job.table, [own])
        for table in job.beside:
            row = self._row_beside(table, texts)
            if row:
                proposal = proposal.then(table, [row])
        if self.lines is not None:
            rows = [{**row, **{name: own.get(name, "") for name in self._shared()}} for row in self.lines.rows()]
            if rows:
                proposal = proposal.then(self.lines.table.name, rows)
        return proposal

    def _row_beside(self, table, texts):
        """The row of another table that belongs to this entry; None where nothing of it is typed."""
        asked = {n.partition(".")[2]: t for n, t in texts.items() if n.startswith(f"{table}.")}
        if not any(asked[n.partition(".")[2]].strip() for n in self.job.ask if n.startswith(f"{table}.")):
            return None
        link = next((k.fields[0] for k in schema.table(table).foreign_keys if k.table == self.job.table), None)
        asked |= {link: texts.get(self.job.key, "")} if link and link not in asked else {}
        key = schema.table(table).primary_key[0]
        return {key: proposals.next_id(self.package, table, asked), **asked}

    def _look(self):
        """What the rules say of the entry as it would be."""
        if self._is_blank():
            return
        self._mark(self._proposal())

    def _is_blank(self):
        return self.form.texts == {**dict.fromkeys(self.job.ask, ""), **self._begun} and not (self.lines and self.lines.rows())

    def _mark(self, proposal, *, blanks=False):
        """Findings beside the fields they are about; all others below. Blanks are told when the entry is to be saved."""
        beside, below = {}, []
        place = {**{table: f"{table}." for table in self.job.beside}, self.job.table: ""}
        rows = {table: self._line_of(proposal, table) for table in place}
        for finding in proposal.findings:
            if finding.rule == BLANK and not blanks:
                continue
            name = f"{place.get(finding.table, '?')}{finding.field}"
            if name in self.job.ask and finding.row == rows[finding.table]:
                beside.setdefault(name, [finding.severity, f"{finding.message} {finding.remedy}"])
            else:
                below.append(finding)
        self.form.tell(beside | self._unreadable())
        self.tell(below)

    def _line_of(self, proposal, table):
        rows = proposal.rows.get(table)
        if not rows:
            return None
        frame = proposal.package[table]
        for key in schema.table(table).primary_key:
            frame = frame[frame[key].eq(rows[0].get(key)).fillna(value=False)]
        return int(frame.index[0]) + HEADER_ROWS if len(frame) else None

    # --- what follows

    def _reply(self):
        """Answers of the recipes on the package as it would be, narrowed to what is typed."""
        texts = self._texts()
        asked = [a for a in self.job.answers if not a.about or texts.get(a.about, "").strip()]
        if not asked:
            self.answer_place.value = ""
            return
        package = self.package if self._is_blank() else self._proposal().package
        told = [narrowed(a.recipe, package, texts.get(a.about, "").strip(), a.options(texts) if a.options else {}) for a in asked]
        self.answer_place.value = "".join(filter(None, told))

    def _set(self, box, value, options=None):
        self._setting = True
        try:
            if options is not None:
                box.options = options
            box.value = value
        finally:
            self._setting = False
