"""What a recipe is: a question as data. The catalogue lists them; `run` answers them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

from palea.derived.view import View, joined
from palea.errors import RecipeError

# Prefixes that are no stage: what a question is about, where a stage has several such things.
STAGE_OF = MappingProxyType({"emergence": "field", "survival": "field", "growth": "field", "evidence": "decision"})


@dataclass(frozen=True)
class Option:
    """One thing that can be chosen: its default, its type, and what it means.

    vocabulary : list of the schema that its value must be a word of; "" where any value of the type will do.
    lowest, highest : bounds for numbers, both allowed.
    """

    default: object
    type: type
    help: str
    vocabulary: str = ""
    lowest: float | None = None
    highest: float | None = None


@dataclass(frozen=True)
class Recipe:
    """A calculation with a name that can be asked for, kept, shared and rerun.

    id, version : `germination.final`, 1. A change that moves a number is a new version.
    title : the question, in words.  rung : what is the unit of replication.  quantity : what it is about first of all, a
    word of the quantity list; a refusal of the whole question is kept under it.
    reads : views handed to compute, by parameter name.  options : handed on too.
    compute : a function of palea.calc; the `Source:` line of its docstring is the recipe's source.
    about : "trial", or "package" where the whole package is the subject.
    when : whether the question applies to a subject, as a function of its Facts; None where that follows from the kinds of
    unit of a trial, or from there being rows in what it reads. It chooses what `palea analyse` asks; whoever asks by name
    is answered.
    needs : tables without a row of which it does not apply; looked at before `when`, which may take long to find out.
    """

    id: str
    version: int
    title: str
    rung: str
    quantity: str
    reads: tuple[View, ...]
    compute: Callable = field(repr=False)
    options: Mapping[str, Option] = field(default_factory=lambda: MappingProxyType({}))
    about: str = "trial"
    when: Callable | None = field(default=None, repr=False)
    needs: tuple[str, ...] = ()

    @property
    def stage(self):
        """The protocol stage that it belongs to."""
        prefix = self.id.split(".")[0]
        return STAGE_OF.get(prefix, prefix)

    @cached_property
    def columns(self):
        """{table: columns} that an answer rests on."""
        return joined(v.reads for v in self.reads)

    @property
    def source(self):
        """Where the method is published: the text after `Source:` in compute's docstring."""
        lines = (self.compute.__doc__ or "").partition("Source:")[2].strip()
        return " ".join(lines.partition("\n\n")[0].split()) or "common practice, no source"

    def settle(self, given):
        """All options with their values: defaults filled in, what was given checked. RecipeError names the fault."""
        for name in given:
            if name not in self.options:
                msg = f"{self.id} takes no option “{name}”. It takes: {', '.join(self.options) or 'none'}."
                raise RecipeError(msg)
        return {name: _checked(self.id, name, option, given.get(name)) for name, option in self.options.items()}


def _checked(recipe_id, name, option, value):
    if value is None or value == option.default:
        return option.default
    if option.type is float and isinstance(value, int) and not isinstance(value, bool):
        value = float(value)
    if not isinstance(value, option.type):
        msg = f"{recipe_id}, option {name}: “{value}” is no {option.type.__name__}. {option.help}"
        raise RecipeError(msg)
    below = option.lowest is not None and value < option.lowest
    above = option.highest is not None and value > option.highest
    if below or above:
        msg = f"{recipe_id}, option {name}: {value} is outside {option.lowest} to {option.highest}. {option.help}"
        raise RecipeError(msg)
    return _word(recipe_id, name, option, value)


def _word(recipe_id, name, option, value):
    from palea import schema

    if option.vocabulary and value not in schema.words(option.vocabulary):
        allowed = ", ".join(schema.words(option.vocabulary))
        msg = f"{recipe_id}, option {name}: “{value}” is not one of: {allowed}."
        raise RecipeError(msg)
    return value
