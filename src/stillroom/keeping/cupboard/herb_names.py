"""Herbs by their names: a new one is added where it is first used."""

from typing import NamedTuple

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.words import clean_name
from stillroom.records.tables import Herb


class KnownHerb(NamedTuple):
    """A herb as a form suggests it, without what it costs to know of its use."""

    name: str
    botanical: str


def known_herbs(keeper: Keeper) -> list[KnownHerb]:
    """The herbs written down so far, by name."""
    return [
        KnownHerb(*row) for row in keeper.rows("SELECT name, botanical FROM herb ORDER BY name")
    ]


def herb_named(name: str, botanical: str = "") -> int:
    """The id of a herb by name; a new herb is added."""
    name = clean_name(name, "The herb's name")
    botanical = clean_name(botanical, "The botanical name", required=False)
    herb = Herb.get_or_none(Herb.name == name)
    if herb is None:
        return int(Herb.insert(name=name, botanical=botanical).execute())
    if botanical and not herb.botanical:
        Herb.update(botanical=botanical).where(Herb.id == herb.id).execute()
    return int(herb.id)
