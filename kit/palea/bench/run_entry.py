"""A run under way as rows: the run, its steps, the seed that it took and the lots that it made, proposed together."""

from palea.bench import entry, proposals


def proposal(package, book, made, status):
    """The package as it would be with a run in that state -> Proposal.

    book : RunBook.  made : [(row of lots, row of movements)] of what came out.  status : a word of run_status.
    """
    facts = book.facts
    run = {name: text for name, text in facts.items() if "." not in name} | {"status": status}
    drawn = {name.partition(".")[2]: text for name, text in facts.items() if name.startswith("movements.")}
    day = facts.get("started_at", "")[:10]
    taken = {"kind": "drawn for run", "run_id": book.name, "moved_at": day, "moved_by": facts.get("done_by", ""), **drawn}
    would = entry.propose(package, "runs", [run])
    if made:
        would = would.then("lots", [lot for lot, _ in made])
    for move in [taken, *(move for _, move in made)]:
        would = would.then("movements", [{"movement_id": proposals.next_id(would.package, "movements", move), **move}])
    return would.then("run_steps", book.rows()) if book.done else would
