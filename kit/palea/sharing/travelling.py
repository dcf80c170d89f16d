"""Which files of a package go along when it is shared, and under which names."""

import shutil
from pathlib import PurePosixPath

from palea.analyses import keep
from palea.bench import drafts
from palea.bench.take_in import mapping
from palea.schema import travel
from palea.tables import descriptor, manifest
from palea.words.prose import counted

LEFT_BEHIND = (drafts.FOLDER, mapping.FOLDER)  # unfinished entries and our own bookkeeping stay at home
BESIDE = "withheld"  # what stands in the name of a file in place of a secret


def copy(package, folder):
    """A copy of a package's folder without what never leaves: hidden files, locks, drafts.

    UnsafePackage for a link: what it leads to would be copied, and it may lead to anything on this machine.
    """
    manifest.files(package.folder)
    shutil.copytree(package.folder, folder, ignore=lambda _, names: [n for n in names if stays(n)])


def stays(name):
    """Whether a file or folder of that name never leaves the house."""
    return name.startswith(".") or name in LEFT_BEHIND or name.endswith((".lock", ".tmp"))


def keep_loose_files_home(copied):
    """Take files out of the copy that nothing in the package names, and say how many."""
    named = _named(copied)
    loose = [name for name in held(copied.folder) if name not in named]
    for name in loose:
        (copied.folder / name).unlink()
    return [f"{counted(len(loose), 'file')} that no table and no attachment names stayed at home."] if loose else []


def _named(copied):
    """Relative paths of all files that a package tells of."""
    named = {descriptor.NAME, descriptor.JOURNAL, travel.PROFILE_PATH}
    named |= {path for resource in copied.resources.values() for path in files_of(resource)}
    named |= set(copied["attachments"]["path"].dropna())
    answers = copied["analyses"]["analysis_id"].dropna()
    return named | {f"{keep.FOLDER}/{answer}/{name}" for answer in answers for name in keep.FILES}


def paths_of(resource):
    """Paths of a resource: of one file or of several."""
    path = resource.get("path")
    return [path] if isinstance(path, str) else [p for p in path or () if isinstance(p, str)]


def files_of(resource):
    """Its paths, and that of its schema where it names one."""
    return [*paths_of(resource), *([resource["schema"]] if isinstance(resource.get("schema"), str) else [])]


def held(folder):
    """Relative paths of all files of a folder, sorted."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def follow_rows(folder, before, after):
    """Take out of the copy the files whose rows were taken out, attachments and answers."""
    gone = set(before["attachments"]["path"].dropna()) - set(after["attachments"]["path"].dropna())
    for path in gone:
        before.file(path).unlink(missing_ok=True)
    for answer in set(before["analyses"]["analysis_id"].dropna()) - set(after["analyses"]["analysis_id"].dropna()):
        shutil.rmtree(folder / keep.FOLDER / answer, ignore_errors=True)


def rename_answers(folder, renamed):
    """Folders of kept answers by their new ids. renamed : {old: new}."""
    for old, new in renamed.items():
        place = folder / keep.FOLDER / old
        if place.is_dir():
            place.rename(place.with_name(new))


def with_plain_file_names(package, hidden):
    """The package with other names of attached files where a name tells what is withheld; the files in its folder follow."""
    rows = package["attachments"].copy()
    taken = set(rows["path"].dropna())
    for path in sorted(p for p in taken if hidden.are_in(p)):
        ending = PurePosixPath(path).suffix
        fresh = next(p for n in range(1, len(taken) + 2) if (p := f"files/{BESIDE}-{n}{ending}") not in taken)
        taken.add(fresh)
        old = package.file(path)
        if old.is_file():
            package.file(fresh).parent.mkdir(parents=True, exist_ok=True)
            old.rename(package.file(fresh))
        rows["path"] = rows["path"].replace(path, fresh)
    return package if rows.equals(package["attachments"]) else package.replacing("attachments", rows)
