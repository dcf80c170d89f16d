"""The page of rules is that of the rules as they are."""

from palea import schema
from palea.checks import rules_page
from palea.checks.run import RULES
from palea.shipped import folder


def test_the_page_is_current():
    """After a change: python -m palea.checks.rules_page."""
    assert (folder("schema") / rules_page.NAME).read_text(encoding="utf-8") == rules_page.text()


def test_every_rule_stands_on_it():
    page = rules_page.text()
    assert [r.id for r in RULES if f"`{r.id}`" not in page] == []


def test_there_are_rules_for_every_stage():
    stages = {r.id.partition(".")[0] for r in RULES}
    assert stages >= set(schema.words("stage"))
    assert len(RULES) >= 80
