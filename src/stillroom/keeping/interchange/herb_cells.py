"""What a cell with a herb holds beside its name: the part and whether it is fresh or dried."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from stillroom.errors import NotUnderstood
from stillroom.keeping.interchange.cells import one_of
from stillroom.keeping.interchange.vocabulary import meanings_within
from stillroom.keeping.words import clean_name
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.yields import Pressing

Choice = TypeVar("Choice", Part, Condition, Pressing)

_MEAN_MORE = frozenset({"green", "herb", "herba", "kraut", "kruid", "tops", "whole", "gum", "bulb",
                        "radix", "cortex", "flos", "f", "d", "bos", "bol", "bast", "vers", "rest",
                        "sec", "resin", "toppen", "semi", "flor"})  # fmt: skip
"""Words that may be a piece of a herb's name: they count only in a column of their own."""
_WITHIN_NAMES = {Part.LEAF, Part.FLOWER, Part.ROOT, Part.BARK, Part.SEED}
"""The parts whose word is no piece of the herb's own name where it comes last."""
_PART_OF_THE_NAME = frozenset(
    {
        "beth root",
        "colic root",
        "cramp bark",
        "culver's root",
        "gravel root",
        "pink root",
        "pleurisy root",
        "stone root",
    }
)
"""Plants that are called by a part; common practice, no source."""


@dataclass(frozen=True)
class NamedHerb:
    """The meaning of a herb's cell: `Valerian root`, `Calendula flowers (dried)`."""

    name: str
    part: Part | None = None
    condition: Condition | None = None


def named_herb(text: str) -> NamedHerb:
    """The herb, and the part and condition that its name ends in.

    >>> named_herb("Baldrian Wurzel, getrocknet")
    NamedHerb(name='Baldrian', part=<Part.ROOT: 'root'>, condition=<Condition.DRIED: 'dried'>)
    """
    found = NamedHerb(clean_name(text, "The herb's name"))
    bracket = re.fullmatch(r"(?P<name>[^()]*[^()\s])\s*[(,]\s*(?P<rest>[^()]+?)\s*\)?", found.name)
    if bracket:
        inner = bracket["rest"].replace(",", " ").split()
        part, condition = hint(Part, inner), hint(Condition, inner)
        if part or condition:
            found = NamedHerb(bracket["name"], part, condition)
    words = found.name.split()
    for end, rest in (((words[:1], words[1:])), (words[-1:], words[:-1])):
        if len(words) > 1 and not found.condition and min(map(len, words)) > 1:
            condition = hint(Condition, end)
            if condition:
                found = replace(found, name=" ".join(rest), condition=condition)
                words = rest
    if len(words) > 1 and not found.part and found.name.casefold() not in _PART_OF_THE_NAME:
        part = hint(Part, words[-1:])
        if part in _WITHIN_NAMES:
            found = replace(found, name=" ".join(words[:-1]))
        found = replace(found, part=part)
    return found


def hint(options: type[Choice], words: Sequence[str]) -> Choice | None:
    """The option that some words of a name or of another cell give; None if none, or several."""
    return _only(options, " ".join(word for word in words if _plain(word) not in _MEAN_MORE))


def chosen(options: type[Choice], text: str) -> Choice:
    """The option that a cell of its own column names."""
    found = _only(options, text)
    if found is None:
        known = [each for each in options if each is not options.NOT_KNOWN]
        raise NotUnderstood(f"Use {one_of(known)}.")
    return found


def _only(options: type[Choice], text: str) -> Choice | None:
    found = meanings_within(options.__name__.casefold(), text)
    return options(found[0]) if len(found) == 1 else None


def _plain(word: str) -> str:
    return word.strip("().,").casefold()
