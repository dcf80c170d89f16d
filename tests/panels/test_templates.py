"""A filled form kept as a template, and a new entry begun from it."""

import palea
from palea import panels
from palea.panels.templates import Template

JOB = "Make a solution, slurry or blend"


def offered(panel):
    return [label for label, value in panel.like_box.options if isinstance(value, Template)]


def test_a_form_with_its_lines_is_kept_and_begun_from(small, type_into, cells, click, choose):
    panel = panels.preparing(small, job=JOB)
    assert offered(panel) == []
    type_into(panel.form, {"material_id": "soak-7", "made_at": "2025-03-01", "ph": "6,8", "density_g_ml": "1.02"})
    cells(panel.grid, {(0, "amount"): "2"})
    panel.template_name.value = "our standard soak"
    click(panel.keep_button)
    assert "Template “our standard soak”" in panel.status.value
    assert offered(panel) == ["template: our standard soak"]
    assert panel.form.texts["ph"] == "6,8", "keeping changes nothing in the form"

    fresh = panels.preparing(palea.open_package(small.folder), job=JOB)
    type_into(fresh.form, dict.fromkeys(fresh.form.texts, ""))
    cells(fresh.grid, {(0, "amount"): ""})
    choose(fresh.like_box, Template("our standard soak"))
    texts = fresh.form.texts
    assert (texts["ph"], texts["density_g_ml"]) == ("6,8", "1.02")
    assert texts["made_at"] == "", "the moment is this entry's own"
    assert texts["material_id"] != "soak-7"
    assert fresh.lines.typed[0, "amount"] == "2"
    assert fresh.grid.typed["0/amount"] == "2", "and it is on the screen"


def test_a_template_is_replaced_forgotten_and_belongs_to_one_job(small, type_into, click, choose):
    panel = panels.preparing(small, job=JOB)
    assert panel.forget_button.layout.display == "none"
    for ph in ("6", "7"):
        type_into(panel.form, {"ph": ph})
        panel.template_name.value = "soak"
        click(panel.keep_button)
    assert offered(panel) == ["template: soak"]
    choose(panel.job_box, "Enter a material as it was bought")
    assert offered(panel) == []
    assert panel.template_name.value == ""
    choose(panel.job_box, JOB)
    type_into(panel.form, {"ph": ""})
    choose(panel.like_box, Template("soak"))
    assert panel.form.texts["ph"] == "7"
    click(panel.forget_button)
    assert offered(panel) == []
    assert panel.form.texts["ph"] == "7", "what is in the form stays there"


def test_a_name_must_be_given(small, type_into, click):
    panel = panels.preparing(small, job=JOB)
    type_into(panel.form, {"ph": "6"})
    click(panel.keep_button)
    assert "Give the template a name" in panel.status.value
    assert offered(panel) == []
