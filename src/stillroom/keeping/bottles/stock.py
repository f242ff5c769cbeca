"""What is done with bottles: drawing, combining, counting and correcting."""

from collections.abc import Iterable
from datetime import date
from math import isfinite

from stillroom.dates import day_or_none
from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.bottles.bottle_views import bottle_row, filling_day
from stillroom.keeping.bottles.status import UNUSABLE, check_usable, waits
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cupboard.densities import volume_or_weight
from stillroom.keeping.drafts import ALL, ToTake
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_name, clean_note, taken
from stillroom.reckoning.charge import Keeping, will_it_keep
from stillroom.reckoning.shelf_life import keep_until as usual_keep_until
from stillroom.reckoning.states import BY_HAND, CORRECTIONS, LOST, MovementKind, in_sql
from stillroom.reckoning.weighing import contents_ml
from stillroom.records.tables import Bottle, Movement, Tincture

_ALL_OF_IT = frozenset({"all", "all of it"})


def volume_or_all(said: Wording, text: str, g_per_ml: float | None = None) -> ToTake:
    """A volume as typed, or ALL for the word "all"; with a density a weight is read as well."""
    is_all = " ".join(text.split()).casefold() in _ALL_OF_IT
    return ALL if is_all else volume_or_weight(said, text, g_per_ml)


def first_to_expire(keeper: Keeper, rows: Iterable[BottleRow]) -> BottleRow | None:
    """Of bottles that may be drawn from, the one with the earliest keep-until date still to come.

    Of two with the same date the older batch comes first, then the emptier bottle, which is open.
    """
    good = (
        row
        for row in rows
        if row.left_ml > EMPTY_ML
        and not row.is_past(keeper.today)
        and row.status not in UNUSABLE
        and not waits(keeper, row)
    )
    return min(
        good,
        key=lambda r: (r.keep_until or date.max, r.made_on, r.left_ml, r.bottle_id),
        default=None,
    )


def take_out(
    keeper: Keeper,
    bottle_id: int,
    to_take: ToTake,
    *,
    kind: MovementKind = MovementKind.DRAW,
    person: str = "",
    note: str = "",
    day: date | None = None,
    confirmed: bool = False,
) -> BottleRow:
    """Draw, give away or lose from a bottle, today unless `day` is given; ALL takes all of it.

    Raises Refused when it does not hold that much, NeedsConfirmation past its keep-until date.
    """
    if kind not in BY_HAND:
        raise Refused(f"The kind must be {', '.join(BY_HAND[:-1])} or {BY_HAND[-1]}.")
    if to_take is not ALL and not (isfinite(to_take) and to_take > 0):
        raise Refused("The volume must be greater than zero.")
    if to_take is not ALL and to_take <= EMPTY_ML:
        raise Refused("That is too little to record. Check the volume.")
    with keeper.act("Took out") as act:
        day = day or act.day
        row = bottle_row(keeper, bottle_id)
        filled_on = filling_day(keeper, bottle_id)
        if not filled_on <= day <= act.day:
            raise Refused(
                f"Bottle {row.code} was filled on {wording(keeper).day(filled_on)}: "
                "enter a date from then until today."
            )
        if row.left_ml <= EMPTY_ML:
            raise Refused(f"Bottle {row.code} is empty.")
        volume_ml = all_if_it_reads_so(row, to_take, wording(keeper))
        if volume_ml > row.left_ml + EMPTY_ML:
            raise Refused(not_enough(row, volume_ml, wording(keeper)))
        if kind not in LOST and row.keep_until and row.is_past(day) and not confirmed:
            raise NeedsConfirmation(
                f"Bottle {row.code} passed its keep-until date, "
                f"{wording(keeper).day(row.keep_until)}. Draw anyway?"
            )
        if kind not in LOST:
            check_usable(keeper, row, "Draw", is_late=day < act.day, confirmed=confirmed)
        counted_on = _counted_after(keeper, bottle_id, day)
        if counted_on and not confirmed:
            raise NeedsConfirmation(
                f"Bottle {row.code} was counted on {wording(keeper).day(counted_on)}, "
                "after this draw. Draw anyway?"
            )
        drawn_ml = min(volume_ml, row.left_ml)
        record_movement(keeper, act, row, -drawn_ml, kind, note, person=person, day=day)
        act.title = f"{kind.verb} {wording(keeper).volume(volume_ml)} from {row.code}"
        return bottle_row(keeper, bottle_id)


def _counted_after(keeper: Keeper, bottle_id: int, day: date) -> date | None:
    """The last day after `day` on which a bottle was counted or weighed in."""
    ((last,),) = keeper.rows(
        f"""SELECT max(day) FROM movement
            WHERE bottle_id = ? AND day > ? AND kind IN {in_sql(CORRECTIONS)}""",
        bottle_id,
        day.isoformat(),
    )
    return day_or_none(last)


def all_if_it_reads_so(row: BottleRow, volume_ml: ToTake, said: Wording) -> float:
    """The volume meant by a draw: all of it, if the two print the same.

    Who reads 11.3 mL and draws 11.3 mL empties a bottle of 11.28 mL.
    """
    if volume_ml is ALL:
        return row.left_ml
    if not isfinite(volume_ml) or row.left_ml <= EMPTY_ML:
        return volume_ml
    return row.left_ml if said.volume(volume_ml) == said.volume(row.left_ml) else volume_ml


def not_enough(row: BottleRow, volume_ml: float, said: Wording) -> str:
    """That a bottle holds less than is wanted from it, with both amounts."""
    held, wanted = said.volume(row.left_ml), said.volume(volume_ml)
    return f"Not enough left: {row.code} holds {held}, not {wanted}."


def weigh_in(
    keeper: Keeper, bottle_id: int, gross_g: float, tare_g: float, *, note: str = ""
) -> BottleRow:
    """Put a bottle's content right by weight, with the density its strength gives."""
    seen_ml = weighed_ml(keeper, bottle_id, gross_g, tare_g)
    return put_right(keeper, bottle_id, seen_ml, kind=MovementKind.WEIGH_IN, note=note)


def weighed_ml(keeper: Keeper, bottle_id: int, gross_g: float, tare_g: float) -> float:
    """What a bottle holds by its weight full and empty; nothing is written."""
    row = bottle_row(keeper, bottle_id)
    if row.strength_abv is None:
        raise Refused("Its strength is not known, so its weight can't be converted to a volume.")
    try:
        return contents_ml(gross_g, tare_g, row.strength_abv)
    except ValueError as error:
        raise Refused(wording(keeper).refusal(error)) from error


def put_right(
    keeper: Keeper,
    bottle_id: int,
    seen_ml: float,
    *,
    kind: MovementKind = MovementKind.COUNT,
    note: str = "",
) -> BottleRow:
    """Make a bottle's record agree with what is in it; the difference becomes a movement."""
    if not seen_ml >= 0:
        raise Refused("A bottle's content can't be negative.")
    with keeper.act("Corrected a bottle") as act:
        row = bottle_row(keeper, bottle_id)
        if seen_ml > row.size_ml + EMPTY_ML:
            raise Refused(f"Bottle {row.code} holds at most {wording(keeper).volume(row.size_ml)}.")
        difference = seen_ml - row.left_ml
        if abs(difference) <= EMPTY_ML:
            raise Refused(f"Bottle {row.code} holds exactly what is recorded.")
        record_movement(keeper, act, row, difference, kind, note)
        act.title = f"Corrected {row.code} to {wording(keeper).volume(seen_ml)}"
        return bottle_row(keeper, bottle_id)


def pour_together(keeper: Keeper, from_id: int, into_id: int) -> BottleRow:
    """Top up one part bottle from another of the same batch until it is full or the other empty."""
    with keeper.act("Combined two bottles") as act:
        giver, taker = bottle_row(keeper, from_id), bottle_row(keeper, into_id)
        if from_id == into_id:
            raise Refused("Choose two different bottles.")
        if giver.tincture_id != taker.tincture_id:
            raise Refused(
                "Only bottles of one batch can be topped up from each other. Join two batches into "
                "a new one, without a bottle to pour into."
            )
        volume = min(giver.left_ml, taker.size_ml - taker.left_ml)
        if giver.left_ml <= EMPTY_ML:
            raise Refused(f"Bottle {giver.code} is empty.")
        if volume <= EMPTY_ML:
            raise Refused(f"Bottle {taker.code} is full.")
        record_movement(
            keeper, act, giver, -volume, MovementKind.POUR_TOGETHER, f"into {taker.code}"
        )
        record_movement(
            keeper, act, taker, volume, MovementKind.POUR_TOGETHER, f"from {giver.code}"
        )
        act.title = f"Poured {giver.code} into {taker.code}"
        return bottle_row(keeper, into_id)


def move_bottle(keeper: Keeper, bottle_id: int, place: str) -> BottleRow:
    """Move a bottle to another place."""
    place = clean_name(place, "The place", required=False)
    with keeper.act("Moved a bottle") as act:
        row = bottle_row(keeper, bottle_id)
        Bottle.update(place=place).where(Bottle.id == bottle_id).execute()
        act.title = f"Moved {row.code} to {place or 'no place'}"
        act.note("moved", f"To {place or 'no place'}", bottle_id=bottle_id)
        return bottle_row(keeper, bottle_id)


def discard_bottle(keeper: Keeper, bottle_id: int, note: str) -> BottleRow:
    """Pour away what a bottle holds; its ledger stays."""
    with keeper.act("Discarded a bottle") as act:
        row = bottle_row(keeper, bottle_id)
        if row.left_ml <= EMPTY_ML:
            raise Refused(f"Bottle {row.code} is already empty.")
        record_movement(keeper, act, row, -row.left_ml, MovementKind.DISCARD, note)
        act.title = f"Discarded {row.code}"
        return bottle_row(keeper, bottle_id)


def set_keep_until(
    keeper: Keeper, tincture_id: int, keep_until: date | None, *, confirmed: bool = False
) -> None:
    """Change the date after which a tincture should not be used.

    Raises NeedsConfirmation where one that will not keep is given more than its days.
    """
    with keeper.act("Changed keep-until") as act:
        tincture = tincture_view(keeper, tincture_id)
        if keep_until is not None and keep_until < tincture.made_on:
            raise Refused("The keep-until date is before the day it was made.")
        unlikely = keeps_too_long(keeper, tincture, keep_until)
        if unlikely and not confirmed:
            raise NeedsConfirmation(f"{unlikely} Set this one anyway?")
        Tincture.update(keep_until=keep_until, keep_until_by_hand=True).where(
            Tincture.id == tincture_id
        ).execute()
        act.title = f"Changed keep-until of {tincture.code}"
        said = wording(keeper)
        was, now = (said.day(day) or "no date" for day in (tincture.keep_until, keep_until))
        act.note("keep until", f"{was} → {now}", tincture_id=tincture_id)


def keeps_too_long(keeper: Keeper, tincture: TinctureView, keep_until: date | None) -> str:
    """Why a keep-until date is later than what will not keep should have; or blank."""
    strength = tincture.strength_abv
    keeping = Keeping.KEEPS if strength is None else will_it_keep(strength)
    usual = usual_keep_until(tincture.made_on, keeping)
    if keeping is not Keeping.WILL_NOT or (keep_until is not None and keep_until <= usual):
        return ""
    return f"{keeping.sentence} The usual date is {wording(keeper).day(usual)}."


def record_movement(
    keeper: Keeper,
    act: Act,
    row: BottleRow,
    volume_ml: float,
    kind: MovementKind,
    note: str = "",
    *,
    person: str = "",
    day: date | None = None,
) -> int:
    """Write liquid into (+) or out of (-) a bottle inside a running act; returns the movement's id.

    `person` is for whom it was taken; `day` is the act's own unless it happened earlier.
    """
    note = clean_note(note, "The note", limit=2000)
    person = clean_name(person, "The name", required=False)
    movement_id = Movement.insert(
        bottle=row.bottle_id,
        volume_ml=volume_ml,
        kind=kind,
        at=act.at,
        day=day or act.day,
        maker=act.maker,
        note=note,
        person=person,
    ).execute()
    sign = "+" if volume_ml > 0 else "−"
    moved = f"{sign}{wording(keeper).volume(abs(volume_ml))}"
    if day and day != act.day:
        moved += f" on {wording(keeper).day(day)}"
    act.note(
        kind,
        taken(moved, person, note),
        bottle_id=row.bottle_id,
        tincture_id=row.tincture_id,
    )
    return int(movement_id)
