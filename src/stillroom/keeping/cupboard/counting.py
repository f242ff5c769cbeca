"""What a spirit or other liquid of the cupboard holds: counted, given away, spilled, spoiled."""

from dataclasses import dataclass
from datetime import date

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.liquids import liquid_view
from stillroom.keeping.drafts import ALL, ToTake
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.wording import wording
from stillroom.keeping.words import clean_name, clean_note, taken, with_note
from stillroom.reckoning.states import CupboardMovementKind, InputKind
from stillroom.records.tables import CupboardMovement


@dataclass(frozen=True)
class InCupboard:
    """A spirit or other liquid, with what is left of it."""

    kind: InputKind
    row_id: int
    name: str
    left_ml: float | None
    """None where it isn't counted."""
    bought_on: date | None
    density_g_per_ml: float | None = None
    """Of a liquid that is no spirit."""


def in_cupboard(keeper: Keeper, kind: InputKind, row_id: int) -> InCupboard:
    """One of them; Refused where it is gone."""
    if kind is InputKind.LIQUID:
        liquid = liquid_view(keeper, row_id)
        return InCupboard(
            kind, row_id, liquid.name, liquid.left_ml, liquid.bought_on, liquid.density_g_per_ml
        )
    for each in spirits(keeper):
        if kind is InputKind.SPIRIT and each.spirit_id == row_id:
            return InCupboard(kind, row_id, each.name, each.left_ml, each.bought_on)
    raise Refused("That spirit is no longer in the cupboard.")


def count_in_cupboard(
    keeper: Keeper, kind: InputKind, row_id: int, seen_ml: float, *, note: str = ""
) -> InCupboard:
    """Make the record agree with what is there; 0 where nothing is."""
    if not seen_ml >= 0:
        raise NotUnderstood("What is left can't be negative.")
    note = clean_note(note, limit=2000)
    with keeper.act("Counted the cupboard") as act:
        one, said = in_cupboard(keeper, kind, row_id), wording(keeper)
        left_ml = _counted(one)
        if abs(seen_ml - left_ml) <= EMPTY_ML:
            raise Refused(f"{one.name} is recorded with {said.volume(left_ml)} already.")
        _move(act, one, CupboardMovementKind.COUNT, seen_ml - left_ml, act.day, note=note)
        act.title = f"Counted {one.name}"
        words = f"{said.volume(seen_ml)} ({said.volume(left_ml)} recorded)"
        _note(act, one, CupboardMovementKind.COUNT, with_note(words, note))
        return in_cupboard(keeper, kind, row_id)


def take_from_cupboard(
    keeper: Keeper,
    kind: InputKind,
    row_id: int,
    to_take: ToTake,
    why: CupboardMovementKind,
    *,
    person: str = "",
    note: str = "",
    day: date | None = None,
) -> InCupboard:
    """Take some, or ALL that is left, for something else than a jar or blend."""
    if not why.takes_out:
        raise Refused("Choose what became of it: give, spill, evaporated, spoiled or discard.")
    person = clean_name(person, "The name", required=False)
    note = clean_note(note, limit=2000)
    with keeper.act("Took from the cupboard") as act:
        one, said = in_cupboard(keeper, kind, row_id), wording(keeper)
        left_ml = _counted(one)
        on = day or act.day
        if on > act.day or (one.bought_on and on < one.bought_on):
            raise Refused(
                f"{one.name} wasn't bought by then: enter a date from its purchase until today."
            )
        volume_ml = left_ml if to_take is ALL else to_take
        if said.volume(volume_ml) == said.volume(left_ml):
            volume_ml = left_ml
        if not volume_ml > EMPTY_ML:
            raise Refused(
                f"The volume must be greater than zero. {one.name} holds {said.volume(left_ml)}."
            )
        if volume_ml > left_ml + EMPTY_ML:
            raise Refused(
                f"Not enough left: {one.name} holds {said.volume(left_ml)}, and this takes "
                f"{said.volume(volume_ml)}. If it holds more, count it first."
            )
        _move(act, one, why, -volume_ml, on, person=person, note=note)
        act.title = f"Took {said.volume(volume_ml)} of {one.name}: {why}"
        _note(act, one, why, taken(f"−{said.volume(volume_ml)}", person, note))
        return in_cupboard(keeper, kind, row_id)


def _counted(one: InCupboard) -> float:
    if one.left_ml is None:
        raise Refused(
            f"{one.name} isn't counted. Enter how much was bought, and it is counted from then on."
        )
    return one.left_ml


def _move(
    act: Act,
    one: InCupboard,
    kind: CupboardMovementKind,
    volume_ml: float,
    on: date,
    *,
    person: str = "",
    note: str = "",
) -> None:
    of = {"spirit" if one.kind is InputKind.SPIRIT else "liquid": one.row_id}
    CupboardMovement.insert(
        volume_ml=volume_ml, kind=kind, at=act.at, day=on, maker=act.maker, person=person,
        note=note, **of,
    ).execute()  # fmt: skip


def _note(act: Act, one: InCupboard, kind: CupboardMovementKind, text: str) -> None:
    """A line of a liquid has its name in its text, as it holds no number."""
    if one.kind is InputKind.SPIRIT:
        act.note(kind, text, spirit_id=one.row_id)
    else:
        act.note(kind, f"{one.name}: {text}")
