"""What is done to a jar from filling to the day before straining."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cards import JarCard
from stillroom.keeping.codes import next_batch_code
from stillroom.keeping.cupboard.herb_names import herb_named
from stillroom.keeping.cupboard.lot_reading import herb_lot
from stillroom.keeping.cupboard.taking import as_taken, take_of_lot
from stillroom.keeping.drafts import ChargeDraft, JarDraft, PourDraft
from stillroom.keeping.jars.pouring_on import pour_tincture
from stillroom.keeping.jars.rows import (
    insert_charge,
    insert_jar,
    insert_pour,
    next_place,
)
from stillroom.keeping.jars.shelves import jar_card
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.wording import wording
from stillroom.keeping.words import clean_name, clean_note, old_and_new
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import JarState, LiquidKind
from stillroom.records.tables import Jar, OtherLiquid, Pour, Shake, Shelf, Spirit

FIRST_SHELF = "First shelf"


def fill_jar(keeper: Keeper, draft: JarDraft) -> JarCard:
    """Put a jar on its shelf: herbs, liquids and plan, under a new batch code."""
    check_draft(keeper, draft)
    with keeper.act("Filled a jar") as act:
        jar_id = write_jar(keeper, draft, next_batch_code(keeper, draft.filled_on))
        tinctures = [each for each in draft.pours if each.kind is LiquidKind.TINCTURE]
        pour_all(keeper, act, jar_id, tinctures, draft.filled_on)
        card = _card(keeper, jar_id)
        act.title = f"Filled {card.herb} {card.code}"
        act.note("filled", _contents(keeper, draft), jar_id=jar_id)
    return card


def write_jar(keeper: Keeper, draft: JarDraft, code: str) -> int:
    """Write the rows of a jar inside a running act, its draft checked; returns the jar's id."""
    jar_id = insert_jar(code, draft.shelf_id or shelf_named(), draft)
    _put_in(keeper, jar_id, draft)
    return jar_id


def shake(keeper: Keeper, jar_id: int) -> JarCard:
    """Tick off one shake of today."""
    with keeper.act("Shook a jar") as act:
        steeping_jar(jar_id)
        card = _card(keeper, jar_id)
        if not card.shakes_per_day:
            raise Refused(f"{card.herb} {card.code} has no daily shakes planned.")
        if not card.shakes_left:
            raise Refused(f"{card.herb} {card.code} has had today's shakes.")
        turn = card.shaken + 1
        Shake.insert(jar=jar_id, day=act.day, turn=turn, at=act.at, maker=act.maker).execute()
        act.title = f"Shook {card.herb} {card.code}"
        act.note("shaken", _turn_words(turn, card.shakes_per_day), jar_id=jar_id)
        return _card(keeper, jar_id)


def shake_all(keeper: Keeper) -> int:
    """Tick off one shake for every jar that is still due one today; returns how many."""
    with keeper.act("Shook all jars") as act:
        counted = keeper.store.db.execute_sql(
            """INSERT INTO shake (jar_id, day, turn, at, maker)
               SELECT id, day, done + 1, ?, ?
               FROM (SELECT j.id, j.shakes_per_day, today.day,
                            (SELECT count(*) FROM shake s
                             WHERE s.jar_id = j.id AND s.day = today.day) done
                     FROM jar j, (SELECT ? AS day) today
                     WHERE j.ended_on IS NULL AND j.state = 'steeping')
               WHERE done < shakes_per_day""",
            (act.at, act.maker, act.day.isoformat()),
        ).rowcount
        if not counted:
            raise Refused("No jar is due a shake now.")
        jars = how_many(int(counted), "jar")
        act.title = f"Shook {jars}"
        act.note("shaken", f"Shook {jars} still due a shake")
    return int(counted)


def top_up(keeper: Keeper, jar_id: int, pour: PourDraft, *, covers: bool = True) -> JarCard:
    """Pour more liquid on; ratio and strength follow."""
    with keeper.act("Topped up a jar") as act:
        steeping_jar(jar_id)
        pour_all(keeper, act, jar_id, [pour], act.day)
        Jar.update(covered=covers).where(Jar.id == jar_id).execute()
        card = _card(keeper, jar_id)
        act.title = f"Topped up {card.herb} {card.code}"
        act.note("topped up", liquid_words(keeper, pour), jar_id=jar_id)
    return card


def mark_covered(keeper: Keeper, jar_id: int, covered: bool) -> JarCard:
    """Record whether the herb is under the liquid."""
    with keeper.act("Checked a jar") as act:
        steeping_jar(jar_id)
        Jar.update(covered=covered).where(Jar.id == jar_id).execute()
        card = _card(keeper, jar_id)
        seen = "herb covered" if covered else "herb not covered"
        act.title = f"{card.herb} {card.code}: {seen}"
        act.note("looked at", seen.capitalize(), jar_id=jar_id)
    return card


def move_jar(keeper: Keeper, jar_id: int, shelf_id: int) -> JarCard:
    """Move a jar to the end of a shelf."""
    with keeper.act("Moved a jar") as act:
        shelf = Shelf.get_or_none(Shelf.id == shelf_id)
        if shelf is None:
            raise Refused("That shelf no longer exists.")
        _jar(jar_id)
        Jar.update(shelf=shelf_id, place=next_place(shelf_id)).where(Jar.id == jar_id).execute()
        card = _card(keeper, jar_id)
        act.title = f"Moved {card.herb} {card.code} to {shelf.name}"
        act.note("moved", f"To {shelf.name}", jar_id=jar_id)
    return card


def set_dates(
    keeper: Keeper, jar_id: int, filled_on: date, strain_on: date, shakes_per_day: int
) -> JarCard:
    """Change when a jar was filled, when it is due, and how often it is shaken."""
    check_dates(keeper, filled_on, strain_on, shakes_per_day)
    with keeper.act("Changed dates") as act:
        before = steeping_jar(jar_id)
        # What went in at filling moves with the day of filling; top-ups keep their own day.
        Pour.update(poured_on=filled_on).where(
            (Pour.jar == jar_id) & (Pour.poured_on == before.filled_on)
        ).execute()
        Jar.update(filled_on=filled_on, strain_on=strain_on, shakes_per_day=shakes_per_day).where(
            Jar.id == jar_id
        ).execute()
        card = _card(keeper, jar_id)
        act.title = f"Changed dates of {card.herb} {card.code}"
        said = wording(keeper)
        was, now = (
            {
                "Filled on": said.day(filled),
                "Strain on": said.day(strain),
                "Shakes a day": str(turns),
            }
            for filled, strain, turns in (
                (before.filled_on, before.strain_on, before.shakes_per_day),
                (filled_on, strain_on, shakes_per_day),
            )
        )
        act.note("dates", old_and_new(was, now) or "Nothing changed", jar_id=jar_id)
    return card


def note_jar(keeper: Keeper, jar_id: int, text: str) -> None:
    """Write a note into a jar's history."""
    text = clean_note(text)
    if not text:
        raise Refused("The note is empty.")
    with keeper.act("Wrote a note") as act:
        jar = _jar(jar_id)
        act.title = f"Wrote a note on {jar.code}"
        act.note("note", text, jar_id=jar_id)


def discard_jar(keeper: Keeper, jar_id: int, reason: str) -> None:
    """Take a jar off the shelf without straining it; its history stays."""
    reason = clean_note(reason, "The note", limit=2000)
    with keeper.act("Discarded a jar") as act:
        jar = steeping_jar(jar_id)
        card = _card(keeper, jar_id)
        ended = max(act.day, jar.filled_on)
        Jar.update(state=JarState.DISCARDED, ended_on=ended).where(Jar.id == jar_id).execute()
        act.title = f"Discarded {card.herb} {card.code}"
        act.note("discarded", reason, jar_id=jar_id)


def steeping_jar(jar_id: int) -> Jar:
    """The jar, if it still steeps; Refused otherwise."""
    jar = _jar(jar_id)
    if jar.state != JarState.STEEPING:
        raise Refused(f"Jar {jar.code} was {jar.state} already.")
    return jar


def _jar(jar_id: int) -> Jar:
    jar = Jar.get_or_none(Jar.id == jar_id)
    if not isinstance(jar, Jar):
        raise Refused("That jar no longer exists.")
    return jar


def _card(keeper: Keeper, jar_id: int) -> JarCard:
    card = jar_card(keeper, jar_id)
    if card is None:
        raise Refused("That jar no longer exists.")
    return card


def check_draft(keeper: Keeper, draft: JarDraft) -> None:
    """Refused where a jar can't be filled so."""
    if not draft.charges:
        raise Refused("A jar needs a herb.")
    if not draft.pours:
        raise Refused("A jar needs liquid: spirit, water or both.")
    check_dates(keeper, draft.filled_on, draft.strain_on, draft.shakes_per_day)


def check_dates(keeper: Keeper, filled_on: date, strain_on: date, shakes_per_day: int) -> None:
    """Refused where a jar can't be planned so."""
    if filled_on > keeper.today:
        raise Refused("The filling date is in the future.")
    if strain_on < filled_on:
        raise Refused("The strain date is before the filling date.")
    if not 0 <= shakes_per_day <= 9:
        raise Refused("Shakes a day must be a number from 0 to 9.")


def shelf_named(name: str = "") -> int:
    """The id of a shelf, added where there is none of that name; the first one without a name."""
    if name:
        known = Shelf.get_or_none(Shelf.name == name)
    else:
        known = Shelf.select().order_by(Shelf.position, Shelf.id).first()
    if known is not None:
        return int(known.id)
    last = Shelf.select(Shelf.position).order_by(Shelf.position.desc()).scalar()
    return int(Shelf.insert(name=name or FIRST_SHELF, position=int(last or 0) + 1).execute())


def _put_in(keeper: Keeper, jar_id: int, draft: JarDraft) -> None:
    for charge in draft.charges:
        taken = take_of_lot(keeper, charge)
        insert_charge(jar_id, charge_columns(keeper, taken, draft.filled_on))
    for pour in draft.pours:
        if pour.kind is not LiquidKind.TINCTURE:
            _pour(jar_id, pour, draft.filled_on)


def pour_all(keeper: Keeper, act: Act, jar_id: int, pours: Iterable[PourDraft], day: date) -> None:
    """Pour liquids on, inside a running act: a tincture is taken from where it is."""
    for pour in pours:
        if pour.kind is LiquidKind.TINCTURE:
            pour_tincture(keeper, act, jar_id, pour, day)
        else:
            _pour(jar_id, pour, day)


def charge_columns(keeper: Keeper, charge: ChargeDraft, filled_on: date) -> dict[str, Any]:
    """What a draft and its lot say of one herb; a herb not known yet is added."""
    charge = as_taken(keeper, charge, filled_on)
    return {
        "herb": herb_named(charge.herb, charge.botanical),
        "part": charge.part,
        "condition": charge.condition,
        "mass_g": charge.mass_g,
        "water_fraction": charge.water_fraction,
        "gathered_on": charge.gathered_on,
        "origin": clean_name(charge.origin, "The origin", required=False, limit=2000),
        "lot": charge.lot_id,
        "part_assumed": charge.part_assumed,
        "condition_assumed": charge.condition_assumed,
    }


def _pour(jar_id: int, pour: PourDraft, day: date) -> None:
    insert_pour(jar_id, day, pour_columns(pour))


def pour_columns(pour: PourDraft) -> dict[str, Any]:
    """What a draft says of one liquid; Refused where it is gone from the cupboard."""
    if pour.spirit_id is not None and Spirit.get_or_none(Spirit.id == pour.spirit_id) is None:
        raise Refused("That spirit is no longer in the cupboard.")
    if pour.liquid_id is not None and not OtherLiquid.get_or_none(OtherLiquid.id == pour.liquid_id):
        raise Refused("That liquid is no longer in the cupboard.")
    return {
        "kind": pour.kind,
        "spirit": pour.spirit_id,
        "liquid": pour.liquid_id,
        "volume_ml": pour.volume_ml,
        "strength_abv": pour.strength_abv,
    }


def _turn_words(turn: int, per_day: int) -> str:
    return "Shaken" if per_day == 1 else f"Shaken, {turn} of {per_day}"


def liquid_words(keeper: Keeper, pour: PourDraft) -> str:
    """A liquid poured on, for the ledger."""
    said = wording(keeper)
    volume = said.volume(pour.volume_ml)
    if pour.bottle_id is not None:
        return f"{volume} tincture from bottle {bottle_row(keeper, pour.bottle_id).code}"
    if pour.source_id is not None:
        return f"{volume} tincture {tincture_view(keeper, pour.source_id).code}"
    if pour.kind == LiquidKind.SPIRIT:
        return f"{volume} spirit {said.of(Kind.STRENGTH, pour.strength_abv)}"
    if pour.liquid_id is not None:
        return f"{volume} {OtherLiquid.get_by_id(pour.liquid_id).name}"
    return f"{volume} {pour.kind}"


def _contents(keeper: Keeper, draft: JarDraft) -> str:
    said = wording(keeper)
    herbs = [
        f"{said.herb_with_mass(clean_name(charge.herb, 'The herb'), charge.mass_g)}, "
        f"{charge.part}, {charge.condition}"
        + (f", of {herb_lot(keeper, charge.lot_id).code}" if charge.lot_id else "")
        for charge in draft.charges
    ]
    return "; ".join(herbs + [liquid_words(keeper, pour) for pour in draft.pours])
