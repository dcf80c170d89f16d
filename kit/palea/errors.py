"""Everything palea raises, as a tree. Each carries one or two sentences: what, where, what to do next.

PaleaError
├── PackageError          a package cannot be opened, read or written
│   ├── UnsafePackage     something in it must not be followed: a link, a path that leaves it, a bomb
│   └── ChangedOutside    its files are no longer what was read; nothing was written
├── SchemaError           a table, field, word or code that the schema does not know
├── RecipeError           an unknown calculation, or an option that it does not take
├── EntryError            what was typed cannot be kept; it carries the findings
├── SharingRefused        errors stand against sharing; it carries the findings
└── UnfitValue            a calculation was handed a number that it cannot take
"""


class PaleaError(Exception):
    """A sentence for a person. The command line prints it and exits 2."""


class PackageError(PaleaError):
    """A package cannot be opened, read or written."""


class UnsafePackage(PackageError):
    """Something in a package must not be followed or unpacked."""


class ChangedOutside(PackageError):
    """The files are no longer what was read. `differences` says how, row by row."""

    def __init__(self, sentence, differences=()):
        super().__init__(sentence)
        self.differences = tuple(differences)


class SchemaError(PaleaError):
    """A table, field, word or code that the schema does not know."""


class RecipeError(PaleaError):
    """An unknown calculation, or an option that it does not take."""


class WithFindings(PaleaError):
    """An error that rests on findings; they travel with it."""

    def __init__(self, sentence, findings=()):
        super().__init__(sentence)
        self.findings = tuple(findings)


class EntryError(WithFindings):
    """What was typed cannot be kept; nothing was written."""


class SharingRefused(WithFindings):
    """Errors stand against sharing; nothing was written."""


class UnfitValue(PaleaError):
    """A calculation was handed a number that it cannot take; the sentence names argument and position."""
