"""Overview on screen: where seed came from and went, which treatments are one factor apart, the walk of one thing in words."""

import ipywidgets as widgets

from palea import stamp
from palea.errors import EntryError
from palea.figures import to_svg
from palea.panels.choosing import button, row
from palea.panels.panel import Panel, choice, labelled, paragraphs
from palea.record import field_pictures, lineage, single_steps, stage_pictures, walk

AT_HAND = ("The id on a bag, dish or plot, for the walk of one thing.",)
OF_SPECIES = {
    "Where seed came from and went": lambda package, taxon: lineage.chart(package, taxon=taxon),
    "Treatments one factor apart": single_steps.chart,
    "What is in stock": stage_pictures.stock_over_time,
    "How coats grew": stage_pictures.coat_growth,
    "How even the rows are": field_pictures.row_strip,
}
OF_ALL = {
    "What a hundred units hold": stage_pictures.lots_in_hundred,
    "Time and yield of cleaning": stage_pictures.cleaning_effort,
    "What was found, stage by stage": stage_pictures.evidence_table,
}


class OverviewPanel(Panel):
    """Pictures of a whole package, and the walk back or forward from one id. It saves nothing."""

    def __init__(self, package, who):
        super().__init__(package, "Overview: where it came from, and where it went", AT_HAND, (), who)
        self.picture_box = choice("Picture", 72, 420, [(name, name) for name in (*OF_SPECIES, *OF_ALL)])
        self.taxon_box = choice("Species", 64, 360, _species(package))
        self.draw_button = button(self, "Draw it", self.draw)
        self.id_box = labelled(widgets.Text, "Id", width="40px", layout={"width": "320px"}, placeholder="as in F1-AM-T07-03")
        self.back_button, self.on_button = button(self, "Walk back", self.back), button(self, "Walk forward", self.forward)
        self.picture, self.steps = widgets.HTML(), widgets.HTML()
        self.work.children = [
            row(self.picture_box, self.taxon_box, self.draw_button), self.picture,
            row(self.id_box, self.back_button, self.on_button), self.steps,
        ]  # fmt: skip
        self.bar.children = [self.status]

    def draw(self):
        """Draw what is chosen; a package that has nothing of it says so."""
        name, taxon = self.picture_box.value, self.taxon_box.value
        chart = OF_SPECIES[name](self.package, taxon) if name in OF_SPECIES else OF_ALL[name](self.package)
        if chart is None:
            msg = f"“{name}”: nothing is recorded yet that could be drawn."
            raise EntryError(msg)
        self.picture.value = f'<div class="palea-figure" role="img" aria-label="{name}">{to_svg(chart)}</div>'
        self.say("", "")

    def back(self):
        """From a plant, unit, lot or result back to the collected seed."""
        self._walk(walk.back)

    def forward(self):
        """From a lot to all that came of it."""
        self._walk(walk.ahead)

    def _walk(self, way):
        asked = self.id_box.value.strip()
        if not asked:
            msg = "Write the id of a plant, unit or lot, or a kept result as ANALYSIS/NUMBER."
            raise EntryError(msg)
        self.steps.value = paragraphs(walk.text(way(self.package, asked)))
        self.say("", "")


def overview(package, who=None):
    """Pictures of lots and treatments, and walks. package : Package."""
    return OverviewPanel(package, who or stamp.now().who)


def _species(package):
    names = dict(zip(package["taxa"]["taxon_id"], package["taxa"]["scientific_name"], strict=True))
    return [(f"{names[t]} ({t})", t) for t in lineage.taxa(package)] or [("–", "")]
