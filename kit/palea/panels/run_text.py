"""What a run's panel says in words: the step that is open, the steps done, and what to take care of before the first."""

import html

from palea import schema
from palea.bench import precautions
from palea.derived.planned_steps import figures
from palea.panels.panel import paragraphs, told


def heading(book, action, besides, package):
    """The step that is open, with what is planned for it, as HTML; what to do where no step is open."""
    if not action:
        text = "All planned steps are done. Weigh what came out." if book.plan else "Choose a procedure, or a step below."
        return paragraphs([text])
    place = "A step besides the plan" if besides else f"Step {book.at + 1} of {len(book.plan)}"
    cycle = f", cycle {book.next['cycle']}" if book.next.get("cycle") and not besides else ""
    title = schema.word("step_action", action)["title"]
    plan = "" if besides else _plan_in_words(book.next, package)
    return f"<h3>{html.escape(f'{place}: {title}{cycle}')}</h3>{paragraphs([f'Planned: {plan}.'] if plan else [])}"


def _plan_in_words(step, package):
    """"water, 0.726 mL in all; 80 s; 298 {rev}/min; until no unit sticks to the wall"."""
    names = dict(zip(package["materials"]["material_id"], package["materials"]["name"], strict=True))
    parts = [names.get(step.get("material_id"), step.get("material_id", ""))]
    for name in figures():
        if step.get(name):
            field = schema.table("run_steps")[name]
            unit = step.get("unit", "") if name == "amount" else field.unit
            symbol = schema.word("unit", unit)["symbol"] if unit else ""
            low, high = step.get(f"lowest_{name}"), step.get(f"highest_{name}")
            span = f" ({low} to {high})" if low and high else ""
            basis = f" {step['basis']}" if name == "amount" and step.get("basis") else ""
            title = "" if name == "amount" else f"{field.title.lower()} "
            parts.append(f"{title}{step[name]} {symbol}{basis}{span}".strip())
    return "; ".join(filter(None, [*parts, step.get("end_point", "")]))


def steps_done(book, package):
    """The steps done as a table, one line a step."""
    if not book.done:
        return ""
    lines = "".join(
        f"<tr><td>{n}</td><td>{html.escape(schema.word('step_action', s['action'])['title'])}</td><td>{s.get('cycle', '')}</td>"
        f"<td>{html.escape(_plan_in_words(s, package))}</td><td>{s['started_at'][11:16]}</td>"
        f"<td>{html.escape(' '.join(filter(None, (s.get('deviation'), s.get('reason')))))}</td></tr>"
        for n, s in enumerate(book.done, 1)
    )
    heads = "".join(f"<th>{h}</th>" for h in ("Step", "What", "Cycle", "Done", "At", "Otherwise than planned"))
    return f'<div class="palea-table palea-done"><table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table></div>'


def safety(kinds_, materials):
    """Precautions before the first tick: kinds of hazard, what data sheets state, and who decides."""
    if not kinds_:
        return ""
    boxes = "".join(
        f"<details><summary>{told('warning', k.title)}</summary>"
        f"{paragraphs(_usual(k))}</details>"
        for k in kinds_
    )
    sheets = paragraphs(f"{name}: {'; '.join(codes)}. Data sheet: {sheet or 'not named'}." for name, codes, sheet in materials)
    return f'<div class="palea-at-hand"><b>Before the first step</b>{paragraphs(precautions.always())}{boxes}{sheets}</div>'


def _usual(kind):
    """Sentences on one kind of hazard."""
    if kind.statements:
        yield f"Statements usual for such steps: {'; '.join(kind.statements)}."
    yield from (f"{text.rstrip('.')}." for text in kind.usual)
