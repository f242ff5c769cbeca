"""Herbs by their names: a new one is added where it is first used."""

from stillroom.keeping.words import clean_name
from stillroom.records.tables import Herb


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
