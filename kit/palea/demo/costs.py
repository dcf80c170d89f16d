"""What treatments of the invented demo cost: a price for the brush, one for each coat, once a campaign and by mass."""

from palea.demo.setting import setting
from palea.demo.truth import arms_of, brushed


def priced(book, taxon):
    """Prices of every treatment of one species that somebody would have to pay for."""
    for name in arms_of(taxon):
        bills = ("brush",) * brushed(name) + tuple(filter(None, (setting("billed_as").get(name),)))
        lines = [line for bill in bills for line in setting("prices")[bill]]
        for number, line in enumerate(lines, 1):
            book.add("costs", cost_id=f"K-{taxon}-{name}-{number}", about_table="treatments",
                     about_id=f"{taxon}-{name}", currency="EUR", price_date=setting("priced_on"),
                     **setting("scale_of_prices"), **line)
