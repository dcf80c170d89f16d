"""The lineage picture of a package: one a species, or of one lot with all that it came from and all that came of it."""

import pandas as pd

from palea import schema
from palea.analyses.run import names_of
from palea.derived import passage
from palea.derived.facts import Facts
from palea.figures import lineage
from palea.words import numbers
from palea.words.prose import capital, counted, inside, listed, together

FRAME = ("kind", "name", "second", "treatment", "grams")


def chart(package, taxon="", lot=""):
    """The lineage as a chart: of one species, of one lot, or of the whole package where neither is given."""
    facts = Facts(package)
    nodes, links = frames(facts, taxon, lot)
    names = names_of(package)
    title = f"Lineage of {lot or names.get(taxon, taxon) or 'all seed'}"
    return lineage.draw(nodes, links, names, title, told(nodes, links))


def taxa(package):
    """Ids of species of which seed was received or moved, in the order of their table."""
    there = set(Facts(package)[passage.stations]["taxon"])
    return [key for key in package["taxa"]["taxon_id"] if key in there]


def frames(facts, taxon="", lot=""):
    """(nodes, links) as `palea.figures.lineage` draws them, like things as one. Both are empty where nothing moved."""
    stations, flows = facts[passage.stations], facts[passage.passages]
    groups = facts[passage.groups]
    kept = _kept(stations, flows, taxon, lot)
    number = {g: i for i, g in enumerate(dict.fromkeys(groups.loc[kept, "group"]))}
    together_ = stations.loc[kept].drop(columns="treatment").join(groups).assign(node=lambda f: f["group"].map(number))
    inside_ = flows[flows["from"].isin(kept) & flows["to"].isin(kept)]
    links = pd.DataFrame({
        "from": inside_["from"].map(groups["group"]).map(number), "to": inside_["to"].map(groups["group"]).map(number),
        "grams": inside_["grams"],
    }).astype({"from": "int64", "to": "int64"})  # fmt: skip
    by = links.groupby(["from", "to"], sort=False)["grams"]
    links = by.sum(min_count=1).where(by.count().eq(by.size())).reset_index()
    nodes = [
        _node(rows, links[links["from"].eq(n)], links[links["to"].eq(n)]) for n, rows in together_.groupby("node", sort=True)
    ]
    return pd.DataFrame(nodes, columns=list(FRAME)), links


def _kept(stations, flows, taxon, lot):
    """Positions of stations in the picture: of a species with what it went into, or all before and after a lot."""
    if lot:
        start = set(stations.index[stations["kind"].eq("lot") & stations["id"].eq(lot)])
        return sorted(_reached(start, flows, "to", "from") | _reached(start, flows, "from", "to"))
    mine = stations["taxon"].eq(taxon) if taxon else stations["taxon"].notna()
    kept = set(stations.index[mine])
    shared = set(stations.index[stations["taxon"].eq("")])
    return sorted(kept | (_reached(kept, flows, "from", "to") & shared))


def _reached(start, flows, here, there):
    found, edge = set(start), set(start)
    while edge:
        edge = set(flows.loc[flows[here].isin(edge), there]) - found
        found |= edge
    return found


def _node(rows, out, into):
    """One station of the picture: what it is called, and in small how many it stands for and how much passed."""
    first, many = rows.iloc[0], len(rows)
    ids = rows["id"].to_list()
    grams = max(into["grams"].sum(min_count=1), out["grams"].sum(min_count=1), key=lambda g: -1 if g != g else g)
    what = _what(first)
    count = counted(many, *{"lot": ("lot", "lots"), "run": ("run", "runs"), "trial": ("trial", "trials")}[first["kind"]])
    name = ids[0] if many == 1 else f"{first['treatment']} {what}".strip() if what else first["treatment"]
    told_ = [what if many == 1 and what not in ("", name) else count if many > 1 else "", _grams(grams)]
    second = ", ".join(filter(None, told_)) + (" went on" if what == "received" and grams == grams else "")
    return first["kind"], name, second, first["treatment"], grams


def _what(row):
    """Kind of a run or fraction of a lot, inside a sentence; "" for what a run was for."""
    if row["kind"] == "run":
        return inside(schema.word("run_kind", row["what"])["title"])
    main = row["what"] in schema.words("fraction", product=True)
    if row["kind"] == "lot" and row["what"] in schema.words("fraction") and not main:
        return inside(schema.word("fraction", row["what"])["title"])
    return "received" if row["what"] == "received" else ""


def _grams(grams):
    return "" if grams != grams else f"{numbers.short(round(grams, 2 if grams < 10 else 0))} g"


def told(nodes, links):
    """The picture in words: how many stations of each kind, and what went where."""
    counts = [counted((nodes["kind"] == k).sum(), k) for k in ("lot", "run", "trial")]
    ways = [
        f"{nodes['name'].iloc[a]} to {nodes['name'].iloc[b]}{f', {_grams(g)}' if g == g else ', not weighed'}"
        for a, b, g in zip(links["from"], links["to"], links["grams"], strict=True)
    ]
    return together(f"It shows {listed(counts)}, like ones drawn as one", capital("; ".join(ways)))
