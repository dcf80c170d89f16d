"""Questions on screen: choose one, fill in its numbers, and the answer stands below while you type, with its formula.

A question is a recipe; its boxes are the recipe's options. Nothing here is kept: what a package plans to keep is asked by
`palea analyse`.
"""

from functools import cache

import ipywidgets as widgets

from palea import schema, stamp
from palea.analyses import catalogue
from palea.bench.later import Later
from palea.derived.subject import known_trials
from palea.errors import PaleaError
from palea.panels.answer import asked
from palea.panels.form import Form
from palea.panels.panel import Panel, choice, told

PAUSE_S = 0.6
NUMBERS = (int, float)


class AskPanel(Panel):
    """Questions of one stage, or of the bench.

    recipes : ids, in the order in which they are offered.  first : the one that is open at the start.
    figures : whether the picture is drawn too.
    """

    def __init__(self, package, title, recipes, *, at_hand=(), first=None, figures=True, who=None):
        super().__init__(package, title, at_hand, (), who or stamp.now().who)
        self.recipes, self.figures, self._setting = {i: catalogue.find(i) for i in recipes}, figures, False
        self.question_box = choice("Question", 72, 720, [(r.title, i) for i, r in self.recipes.items()])
        self.trial_box = choice("Trial", 72, 420, [(t, t) for t in known_trials(package)])
        self.draw_button = widgets.Button(description="Draw it", layout={"align_self": "flex-start"}).add_class("palea-button")
        self.draw_button.on_click(self.guarded(lambda _: self._reply(draw=True)))
        self.form_place, self.answer_place, self.form = widgets.VBox(), widgets.VBox(), None
        self.work.children = [widgets.HBox([self.question_box, self.trial_box]).add_class("palea-choices"), self.form_place]
        self.computed.children = [self.answer_place, self.draw_button]
        self.bar.children = [self.status]
        self._later = Later(self.guarded(self._reply), PAUSE_S)
        for box, action in ((self.question_box, self._open), (self.trial_box, self._later.soon)):
            box.observe(self.guarded(lambda _, action=action: action()), "value")
        if first:
            self.question_box.value = first
        self._open()

    @property
    def recipe(self):
        """The Recipe that is asked."""
        return self.recipes[self.question_box.value]

    @property
    def options(self):
        """{option: value} of the boxes that are filled in. Raises nothing: what cannot be read is told and left out."""
        values, told_ = {}, {}
        for name, option in self.recipe.options.items():
            text = self.form.texts[name].strip()
            if text:
                values[name], told_[name] = _read(option, text)
        self.form.tell({n: s for n, s in told_.items() if s})
        return {n: v for n, v in values.items() if v is not None}

    def _open(self):
        rows = [_row(name, option) for name, option in self.recipe.options.items()]
        typed = {name: _shown(option.default) for name, option in self.recipe.options.items()}
        self.form = Form(self.package, None, rows, typed, self.guarded(self._later.soon), on_save=self.guarded(self._reply))
        self.form_place.children = [self.form]
        about_trial = self.recipe.about == "trial" and bool(self.trial_box.options)
        self.trial_box.layout.display = None if about_trial else "none"
        self.draw_button.layout.display = None if self.figures else "none"
        self._later.soon()

    def _reply(self, draw=False):
        try:
            options = self.options
            trial = self.trial_box.value if self.recipe.about == "trial" else None
            self.answer_place.children = [asked(self.recipe.id, self.package, trial, draw=draw, **options)]
        except PaleaError as refusal:
            self.answer_place.children = [widgets.HTML(f"<p>{told('gap', str(refusal))}</p>")]


def _row(name, option):
    """One option as a row of a form."""
    kind = "number" if option.type in NUMBERS else "text"
    row = {
        "name": name, "label": _label(name), "help": option.help, "required": False, "options": [],
        "folded": name in ("confidence", "seed", "replicates", "trials"), "heading": "", "separator": "", "example": "",
    }  # fmt: skip
    if option.vocabulary:
        words = schema.vocabulary(option.vocabulary).words.items()
        return row | {"kind": "choice", "options": [[word, w["title"], w["definition"]] for word, w in words]}
    return row | {"kind": kind}


def _label(name):
    """The name of an option as it stands before its box: words, and the unit that the name ends in.

    >>> _label("dose_mg_kg"), _label("strength_pct"), _label("lot")
    ('Dose, mg/kg', 'Strength, %', 'Lot')
    """
    words = name.split("_")
    for at in range(1, len(words)):
        symbol = _units().get("_".join(words[at:]))
        if symbol:
            return f"{' '.join(words[:at]).capitalize()}, {symbol}"
    return " ".join(words).capitalize()


@cache
def _units():
    """{unit as the end of a name: its symbol}, as "mg_kg" for mg/kg."""
    symbols = [word["symbol"] for word in schema.vocabulary("unit").words.values() if word["symbol"]]
    spelt = str.maketrans({"%": "pct", "°": "", "/": "_", "²": "2"})
    return {symbol.lower().translate(spelt): symbol for symbol in reversed(symbols)}


def _shown(value):
    return f"{value:g}" if isinstance(value, float) else str(value)


def _read(option, text):
    """(value, sentence) of an option as typed; a decimal comma is taken."""
    if option.type not in NUMBERS:
        return text, ""
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        return None, f"“{text}” is not a number; write {_shown(option.default)} or the like."
    return (int(number), "") if option.type is int and number.is_integer() else (number, "")
