"""Keep a filled form as a template, and begin a new entry from one: part of the panel of a stage's jobs."""

from typing import NamedTuple

import ipywidgets as widgets

from palea.bench import proposals, templates
from palea.panels.choosing import button
from palea.panels.panel import labelled


class Template(NamedTuple):
    """A template among the choices of “Begin like”."""

    name: str


class Templates:
    """Part of a JobPanel. The panel has `package`, `job`, `form`, `lines`, `like_box` and says what `_offer` offers."""

    def make_template_boxes(self):
        """The box for a name and the two buttons."""
        self.template_name = labelled(widgets.Text, "Template", width="72px", layout={"width": "290px"},
                                      placeholder="as in our standard soak")  # fmt: skip
        self.keep_button = button(self, "Keep as template", self.keep_template)
        self.forget_button = button(self, "Forget it", self.forget_template)

    def template_options(self):
        """[(label, Template)] of the job that is open."""
        return [(f"template: {name}", Template(name)) for name in templates.names(self.package, self.job.title)]

    def keep_template(self):
        """Keep what the form holds, but for the identifier and the moments, under the name that is typed."""
        form = {n: t for n, t in self.form.texts.items() if n not in self._not_taken_over()}
        lines = [(line, name, text) for (line, name), text in self.lines.typed.items()] if self.lines else []
        name = templates.keep(self.package, self.job.title, self.template_name.value, form, lines)
        self._offer_templates(Template(name))
        self.say("saved", f"Template “{name}”. A new entry can begin from it; it stays in this folder and is never shared.")

    def forget_template(self):
        """Forget the template that is chosen; what it filled in stays in the form."""
        name = self.like_box.value.name
        templates.drop(self.package, self.job.title, name)
        self._offer_templates("")
        self.say("saved", f"The template “{name}” is forgotten; what is in the form stays there.")

    def _take_over(self):
        """Begin like another entry or a template: all but the identifier and the moments, which are this entry's own."""
        like = self.like_box.value
        self._show_template(like)
        if not like:
            return
        if isinstance(like, Template):
            held = templates.read(self.package, self.job.title, like.name)
            texts, lines = held["form"], {(line, name): text for line, name, text in held["lines"]}
        else:
            texts, lines = proposals.row_as_texts(self.package, self.job.table, like), None
            texts = {n: t for n, t in texts.items() if n in self.job.own}
        self.form.put({n: t for n, t in texts.items() if n in self.job.ask and n not in self._not_taken_over()})
        if lines is not None:
            self._lay_out_lines(lines)
        self._changed()

    def _not_taken_over(self):
        return {self.job.key, *(n for n in self.job.ask if n.endswith(("_at", "_on")))}

    def _offer_templates(self, chosen):
        """Offer the templates as they are now, with one chosen, and change nothing in the form."""
        rows = [o for o in self.like_box.options if not isinstance(o[1], Template)]
        self._set(self.like_box, chosen, [rows[0], *self.template_options(), *rows[1:]])
        self._show_template(chosen)

    def _show_template(self, like):
        known = isinstance(like, Template)
        self.template_name.value = like.name if known else ""
        self.forget_button.layout.display = None if known else "none"
