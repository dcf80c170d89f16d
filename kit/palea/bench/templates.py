"""Filled forms that a person keeps under a name, to begin from later: “our standard soak”.

They lie in one file in the folder of the drafts, apart from the tables: habits of a bench, which no descriptor names, so
they are never shared, checked or analysed. What is begun from one is judged like anything that is typed.
"""

import json

from palea.bench import drafts
from palea.errors import EntryError

FILE = f"{drafts.FOLDER}/templates.json"
LONGEST = 60  # letters of a name, so that it can be read in a list


def names(package, job):
    """Names of the templates of a job, sorted. job : what is done there, as its title says."""
    return sorted(_all(package).get(job, {}), key=str.casefold)


def read(package, job, name):
    """What the template holds: {"form": {field: text}, "lines": [[line, field, text]]}. Raises EntryError for no such name."""
    held = _all(package).get(job, {})
    if name not in held:
        msg = f"There is no template “{name}” of “{job}” any more. Choose another, or begin with blank fields."
        raise EntryError(msg)
    return held[name]


def keep(package, job, name, form, lines=()):
    """Keep texts as a template, in place of one of the same name; the name as it is kept.

    Raises EntryError for a name that cannot be read in a list or a form with nothing in it, PackageError for a zip.
    """
    name, form = " ".join(name.split()), {field: text for field, text in form.items() if text.strip()}
    lines = [list(line) for line in lines if line[-1].strip()]
    if not 0 < len(name) <= LONGEST:
        msg = f"Give the template a name of 1 to {LONGEST} letters, as in “our standard soak”."
        raise EntryError(msg)
    if not form and not lines:
        msg = "There is nothing to keep yet: fill in what every entry of this kind begins with."
        raise EntryError(msg)
    held = _all(package)
    held.setdefault(job, {})[name] = {"form": form, "lines": lines}
    drafts.put(package, package.file(FILE), held)
    return name


def drop(package, job, name):
    """Forget a template, where there is one."""
    held = _all(package)
    if held.get(job, {}).pop(name, None) is not None:
        drafts.put(package, package.file(FILE), held)


def _all(package):
    """{job: {name: what it holds}}. A file that cannot be read is kept under another name, and said."""
    path = package.file(FILE)
    if not path.is_file():
        return {}
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
        return {job: {name: {"form": dict(t["form"]), "lines": t["lines"]} for name, t in of.items()} for job, of in held.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        aside = path.with_suffix(".unreadable")
        path.replace(aside)
        msg = f"The templates of this package cannot be read. They were kept as {aside}; open that file to see what it holds."
        raise EntryError(msg) from None
