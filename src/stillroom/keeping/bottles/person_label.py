"""The label of a bottle for the person it is given to; nothing on it is proposed by the program."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottles_by_id
from stillroom.keeping.bottles.labels import Label, labels_for
from stillroom.keeping.bottles.status import why_not_to_use
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import PlainLabel, Role, lines_of
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.words import clean_name, clean_note

_HEAD = {Role.NAME, Role.WORD, Role.BOTANICAL, Role.HERB, Role.STRENGTH, Role.DATE}


@dataclass(frozen=True)
class Served:
    """For whom a bottle is, and what its maker writes for that person."""

    person: str
    given_on: date
    directions: str = ""
    """As typed."""
    is_external: bool = False
    """Whether it says that it is for external use only."""


def person_labels(
    keeper: Keeper, bottle_ids: Iterable[int], served: Served, settings: Settings | None = None
) -> list[PlainLabel]:
    """A label for each of these bottles with a person's name, the day and the directions as typed.

    The QR code is the code alone, without the person; the cautions stay; what only the maker needs
    is left out. Refused where a batch may not be used.
    """
    person = clean_name(served.person, "The person")
    directions = clean_note(served.directions, "The directions", limit=1000)
    wanted = list(bottle_ids)
    for row in bottles_by_id(keeper, wanted).values():
        if why := why_not_to_use(row):
            raise Refused(f"{why} Its bottles can't be given to anyone.")
    labels = labels_for(keeper, wanted, settings)
    form = (settings or settings_of(keeper)).day_form
    return [
        _for_person(label, person, label.words.day(served.given_on, form), directions, served)
        for label in labels
    ]


def _for_person(label: Label, person: str, day: str, directions: str, served: Served) -> PlainLabel:
    words = label.words
    own = lines_of(
        (Role.PERSON, words("for", name=person)),
        (Role.DATE, words("given", day=day)),
        *((Role.DIRECTIONS, line.strip()) for line in directions.splitlines()),
    )
    external = (words("external"),) if served.is_external else ()
    cautions = lines_of((Role.CAUTION, " ".join((*external, *label.cautions))))
    head = (line for line in label.lines if line.role in _HEAD)
    rest = (line for line in label.lines if line.role in {Role.CODE, Role.MAKER})
    return PlainLabel(label.name, label.code, (*head, *own, *rest, *cautions), label.code)
