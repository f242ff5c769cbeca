"""Herbs in store: lots gathered or bought, laid out to dry, weighed, given and discarded."""

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from stillroom.dates import day_or_none
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.codes import next_lot_code
from stillroom.keeping.cupboard.herb_names import herb_named
from stillroom.keeping.cupboard.lot_views import HerbLotView, LotEntry
from stillroom.keeping.drafts import ChargeDraft, HerbLotDraft
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.tolerances import EMPTY_G, MEASURE_G
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_name, clean_note, for_whom
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.drying import Shrinkage, learned_shrinkage
from stillroom.reckoning.states import HERB_DISCARDS, HerbCame, HerbMovementKind
from stillroom.records.tables import ChargeLine, HerbLot, HerbMovement

GONE = "That lot is no longer in the cupboard."
IN_A_JAR, LAID_OUT = "in a jar", "laid out"
"""Entries of a lot's ledger that are no movements."""

_LOTS = """
    SELECT l.id, l.code, l.herb_id, h.name, h.botanical, l.part, l.condition, l.came, l.got_on,
           l.origin, l.seller_lot, l.mass_g, l.price, l.water_fraction, l.laid_out_on,
           l.laid_out_g, l.dry_on, l.dry_g, l.from_lot_id,
           coalesce((SELECT code FROM herb_lot f WHERE f.id = l.from_lot_id), ''),
           l.used_up_on, l.note, s.left_g,
           EXISTS (SELECT 1 FROM charge_line c JOIN jar j ON j.id = c.jar_id
                   WHERE c.lot_id = l.id AND c.mass_g IS NULL AND j.marc_of_id IS NULL)
           OR EXISTS (SELECT 1 FROM herb_movement m WHERE m.lot_id = l.id AND m.mass_g IS NULL),
           (SELECT count(DISTINCT c.jar_id) FROM charge_line c WHERE c.lot_id = l.id)
    FROM herb_lot l JOIN herb h ON h.id = l.herb_id JOIN in_store s ON s.lot_id = l.id
"""
_IN_ORDER = "ORDER BY h.name, l.got_on DESC, l.id DESC"

_ENTRIES = """
    WITH wanted (id) AS (SELECT value FROM json_each(?))
    SELECT m.lot_id, m.day, m.at, m.kind, m.mass_g, m.maker, m.person, m.note, m.id, NULL, NULL, ''
    FROM herb_movement m WHERE m.lot_id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT c.lot_id, j.filled_on,
           coalesce((SELECT min(at) FROM standing e
                     WHERE e.jar_id = j.id AND e.kind = 'filled' AND e.day = j.filled_on), ''),
           'in a jar', -c.mass_g, '', '', '', NULL, j.id, NULL, j.code
    FROM charge_line c JOIN jar j ON j.id = c.jar_id AND j.marc_of_id IS NULL
    WHERE c.lot_id IN (SELECT id FROM wanted)
    UNION ALL
    SELECT p.from_lot_id, p.laid_out_on,
           coalesce((SELECT min(at) FROM standing e
                     WHERE e.lot_id = p.id AND e.day = p.laid_out_on), ''),
           'laid out', -p.mass_g, '', '', '', NULL, NULL, p.id, p.code
    FROM herb_lot p WHERE p.from_lot_id IN (SELECT id FROM wanted)
"""


def herb_lots(keeper: Keeper, *, with_empty: bool = True) -> list[HerbLotView]:
    """The lots by herb, newest first; those that are used up only where asked for."""
    found = _read(keeper, "1")
    return [lot for lot in found if with_empty or lot.is_in_store]


def herb_lot(keeper: Keeper, lot_id: int) -> HerbLotView:
    """A lot by id; Refused where it is no longer there."""
    found = _read(keeper, "l.id = ?", lot_id)
    if not found:
        raise Refused(GONE)
    return found[0]


def herb_lot_of_code(keeper: Keeper, text: str) -> HerbLotView:
    """The lot that a code refers to, in any case; Refused where there is none."""
    found = _read(keeper, "lower(l.code) = ?", text.strip().casefold())
    if not found:
        raise Refused(f"No lot has the code {' '.join(text.split())[:40]}.")
    return found[0]


def _read(keeper: Keeper, condition: str, *values: object) -> list[HerbLotView]:
    lots = [_view(row) for row in keeper.rows(f"{_LOTS} WHERE {condition} {_IN_ORDER}", *values)]
    by_eye = [lot.lot_id for lot in lots if lot.is_at_most]
    ledgers = entries_of(keeper, by_eye) if by_eye else {}
    return [
        replace(lot, is_at_most=_is_at_most(ledgers[lot.lot_id])) if lot.is_at_most else lot
        for lot in lots
    ]


def _view(row: tuple[Any, ...]) -> HerbLotView:
    (
        lot_id, code, herb_id, herb, botanical, part, condition, came, got_on, origin, seller_lot,
        mass_g, price, water, laid_out_on, laid_out_g, dry_on, dry_g, from_id, from_code, used_up,
        note, left_g, by_eye, jars,
    ) = row  # fmt: skip
    return HerbLotView(
        lot_id=lot_id,
        code=code,
        herb_id=herb_id,
        herb=herb,
        botanical=botanical,
        part=Part(part),
        condition=Condition(condition),
        came=HerbCame(came),
        got_on=date.fromisoformat(got_on),
        origin=origin,
        seller_lot=seller_lot,
        mass_g=mass_g,
        price=price,
        water_fraction=water,
        laid_out_on=day_or_none(laid_out_on),
        laid_out_g=laid_out_g,
        dry_on=day_or_none(dry_on),
        dry_g=dry_g,
        from_lot_id=from_id,
        from_lot=from_code,
        used_up_on=day_or_none(used_up),
        note=note,
        left_g=None if left_g is None else max(0.0, left_g),
        is_at_most=bool(by_eye),
        jars=jars,
    )


def _is_at_most(entries: Sequence[LotEntry]) -> bool:
    """Whether some was taken by eye after the last weighing."""
    for entry in reversed(entries):
        if entry.kind in (HerbMovementKind.WEIGH_IN, HerbMovementKind.DRIED):
            return entry.mass_g is None
        if entry.mass_g is None:
            return True
    return False


def entries_of(keeper: Keeper, lot_ids: Iterable[int]) -> dict[int, list[LotEntry]]:
    """What each of these lots gained and lost, in order, with what it held after each."""
    wanted = list(lot_ids)
    text = json.dumps(wanted)
    rows: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
    for lot_id, *row in keeper.rows(_ENTRIES, text):
        rows[lot_id].append(tuple(row))
    firsts = dict(
        keeper.rows(
            "SELECT id, mass_g FROM herb_lot WHERE id IN (SELECT value FROM json_each(?))", text
        )
    )
    return {each: _entries(firsts.get(each), rows[each]) for each in wanted}


def _entries(left_g: float | None, rows: list[tuple[Any, ...]]) -> list[LotEntry]:
    found: list[LotEntry] = []
    # What is known of a jar may be its day alone: it was filled before what was done that day.
    for day, at, kind, mass_g, maker, person, note, movement_id, jar_id, lot_id, code in sorted(
        rows, key=lambda row: (row[0], row[1], row[7] or 0)
    ):
        if left_g is None and kind == HerbMovementKind.WEIGH_IN:
            # Nobody knew its weight before: this is what it weighed, and what was taken from it.
            left_g = sum((entry.mass_g or 0.0 for entry in found), start=0.0)
        if left_g is not None:
            left_g += mass_g or 0.0
        found.append(
            LotEntry(
                day=date.fromisoformat(day),
                at=at,
                kind=kind,
                mass_g=mass_g,
                left_g=left_g,
                maker=maker,
                person=person,
                note=note,
                movement_id=movement_id,
                jar_id=jar_id,
                lot_id=lot_id,
                code=code,
            )
        )
    return found


def own_shrinkage(keeper: Keeper, herb_id: int, part: Part) -> Shrinkage | None:
    """What a herb's part weighed dried of what was laid out, from the lots of one's own.

    A lot from which something was taken while it dried shows nothing.
    """
    return learned_shrinkage(
        keeper.rows(
            """SELECT l.laid_out_g, l.dry_g FROM herb_lot l
               JOIN herb_movement m ON m.lot_id = l.id AND m.kind = 'dried'
               WHERE l.herb_id = ? AND l.part = ? AND l.dry_g IS NOT NULL
                     AND abs(l.laid_out_g + m.mass_g - l.dry_g) < ? ORDER BY l.id""",
            herb_id, part, MEASURE_G,
        )
    )  # fmt: skip


def price_of_lot(
    keeper: Keeper, lot_id: int, condition: Condition
) -> tuple[float | None, float | None]:
    """How many g of a lot, as they go into a jar, came at which price; None where not known.

    What was laid out cost its share of the fresh weight that was bought.
    """
    lot = herb_lot(keeper, lot_id)
    first = lot
    while first.from_lot_id is not None:
        first = herb_lot(keeper, first.from_lot_id)
    if first.price is None or first.mass_g is None:
        return None, None
    if lot.dry_on is None or condition is Condition.FRESH:
        return first.mass_g, first.price
    if lot.laid_out_g is None or lot.dry_g is None:
        return None, None
    return lot.dry_g, first.price * lot.laid_out_g / first.mass_g


def add_lot(keeper: Keeper, draft: HerbLotDraft) -> HerbLotView:
    """Put a lot of herb into store: gathered or bought."""
    if draft.got_on > keeper.today:
        raise Refused(f"The day it was {draft.came} is in the future.")
    said = wording(keeper)
    columns = {
        "part": draft.part,
        "condition": draft.condition,
        "came": draft.came,
        "got_on": draft.got_on,
        "origin": clean_name(draft.origin, "The origin", required=False, limit=1500),
        "seller_lot": clean_name(draft.seller_lot, "The lot", required=False),
        "mass_g": _checked_g(draft.mass_g),
        "price": draft.price,
        "water_fraction": draft.water_fraction,
        "note": clean_note(draft.note),
    }
    with keeper.act("Added a lot of herb") as act:
        herb_id = herb_named(draft.herb, draft.botanical)
        code = next_lot_code(keeper, draft.got_on)
        lot_id = int(HerbLot.insert(code=code, herb=herb_id, **columns).execute())
        lot = herb_lot(keeper, lot_id)
        act.title = f"{str(draft.came).capitalize()} {lot.herb} {code}"
        act.note(draft.came, lot_words(lot, said), lot_id=lot_id, herb_id=herb_id)
    return lot


def lay_out(
    keeper: Keeper, lot_id: int, mass_g: float | None = None, *, day: date | None = None
) -> HerbLotView:
    """Lay fresh herb out to dry: all of a lot, or a part of it, which becomes a lot of its own.

    Returns the lot that dries. Blank is all of it.
    """
    mass_g = _checked_g(mass_g)
    with keeper.act("Laid herb out to dry") as act:
        lot = _open_lot(keeper, lot_id)
        on = _day_of(keeper, act, lot, day)
        if lot.condition is not Condition.FRESH:
            raise Refused(f"{lot.code} is dried already.")
        if lot.is_drying:
            raise Refused(f"{lot.code} is laid out already.")
        mass_g = _all_if_it_reads_so(lot, mass_g, wording(keeper))
        _refuse_more_than_left(lot, mass_g, wording(keeper))
        if lot.left_g is None and mass_g is not None:
            _weigh_in(act, lot, mass_g, on)
        if mass_g is None or lot.left_g is None or mass_g >= lot.left_g - EMPTY_G:
            laid_g = mass_g if mass_g is not None else lot.left_g
            HerbLot.update(laid_out_on=on, laid_out_g=laid_g).where(HerbLot.id == lot_id).execute()
            dries = lot_id
        else:
            dries = _split_off(keeper, lot, mass_g, on)
        drying = herb_lot(keeper, dries)
        act.title = f"Laid out {drying.herb} {drying.code}"
        amount = some(drying.laid_out_g, wording(keeper))
        from_lot = f" of {lot.code}" if dries != lot_id else ""
        act.note(LAID_OUT, f"{amount}{from_lot}", lot_id=dries, herb_id=lot.herb_id)
        return drying


def _split_off(keeper: Keeper, lot: HerbLotView, mass_g: float, on: date) -> int:
    return int(
        HerbLot.insert(
            code=next_lot_code(keeper, lot.got_on),
            herb=lot.herb_id,
            part=lot.part,
            condition=lot.condition,
            came=lot.came,
            got_on=lot.got_on,
            origin=lot.origin,
            seller_lot=lot.seller_lot,
            water_fraction=lot.water_fraction,
            mass_g=mass_g,
            laid_out_on=on,
            laid_out_g=mass_g,
            from_lot=lot.lot_id,
        ).execute()
    )


def dry(
    keeper: Keeper, lot_id: int, dry_g: float | None, *, day: date | None = None
) -> HerbLotView:
    """Record that what was laid out is dry, and what it weighs now."""
    dry_g = _checked_g(dry_g)
    with keeper.act("Dried a lot of herb") as act:
        lot = _open_lot(keeper, lot_id)
        if not lot.is_drying:
            raise Refused(f"{lot.code} isn't laid out to dry.")
        assert lot.laid_out_on is not None
        on = _day_of(keeper, act, lot, day)
        if on < lot.laid_out_on:
            raise Refused(
                f"{lot.code} was laid out on {wording(keeper).day(lot.laid_out_on)}: "
                "enter a date from then until today."
            )
        if lot.left_g is None:
            if dry_g is not None:
                _weigh_in(act, lot, dry_g, on)
        elif dry_g is None:
            raise Refused("Weigh it: its fresh weight is known, and the dry weight is needed.")
        else:
            said = wording(keeper)
            if dry_g >= lot.left_g - EMPTY_G:
                raise Refused(
                    f"{lot.code} held {said.mass(lot.left_g)} fresh: dried, it must weigh less."
                )
            _move(act, lot, HerbMovementKind.DRIED, dry_g - lot.left_g, on)
        HerbLot.update(
            condition=Condition.DRIED, dry_on=on, dry_g=dry_g, water_fraction=None
        ).where(HerbLot.id == lot_id).execute()
        lot = herb_lot(keeper, lot_id)
        act.title = f"Dried {lot.herb} {lot.code}"
        act.note(
            HerbMovementKind.DRIED, drying_words(lot, wording(keeper)),
            lot_id=lot_id, herb_id=lot.herb_id,
        )  # fmt: skip
        return lot


def weigh_lot(keeper: Keeper, lot_id: int, seen_g: float, *, note: str = "") -> HerbLotView:
    """Make the record of a lot agree with its weight."""
    if not seen_g > EMPTY_G:
        raise Refused("The weight must be greater than zero. An empty lot is used up.")
    note = clean_note(note, limit=2000)
    with keeper.act("Weighed a lot of herb") as act:
        lot = _open_lot(keeper, lot_id, or_empty=True)
        said = wording(keeper)
        _weigh_in(act, lot, seen_g, act.day, note)
        act.title = f"Weighed {lot.herb} {lot.code}"
        text = said.mass(seen_g)
        if lot.left_g is not None:
            text += f", recorded as {said.mass(lot.left_g)}"
        act.note(
            HerbMovementKind.WEIGH_IN, " ".join(filter(None, (text, note))),
            lot_id=lot_id, herb_id=lot.herb_id,
        )  # fmt: skip
        return herb_lot(keeper, lot_id)


def give_herb(
    keeper: Keeper,
    lot_id: int,
    mass_g: float | None,
    *,
    person: str = "",
    note: str = "",
    day: date | None = None,
) -> HerbLotView:
    """Give herb of a lot away; None is some that wasn't weighed."""
    with keeper.act("Gave herb away") as act:
        lot = _open_lot(keeper, lot_id)
        mass_g = _all_if_it_reads_so(lot, _checked_g(mass_g), wording(keeper))
        return _take(
            keeper, act, lot, HerbMovementKind.GIVE, mass_g, "Gave", person=person, note=note,
            day=day,
        )  # fmt: skip


def discard_herb(
    keeper: Keeper,
    lot_id: int,
    mass_g: float | None = None,
    *,
    kind: HerbMovementKind = HerbMovementKind.DISCARD,
    note: str = "",
    day: date | None = None,
) -> HerbLotView:
    """Throw herb of a lot away; None is all of it."""
    if kind not in HERB_DISCARDS:
        raise Refused(f"The kind must be {' or '.join(HERB_DISCARDS)}.")
    with keeper.act("Discarded herb") as act:
        lot = _open_lot(keeper, lot_id)
        given_g = _all_if_it_reads_so(lot, _checked_g(mass_g), wording(keeper))
        return _take(
            keeper, act, lot, kind, given_g, "Discarded", note=note, day=day, ends=mass_g is None
        )


def use_up(keeper: Keeper, lot_id: int, *, note: str = "", day: date | None = None) -> HerbLotView:
    """End a lot: nothing of it is left, whatever the record says."""
    with keeper.act("Used up a lot of herb") as act:
        lot = _open_lot(keeper, lot_id, or_empty=True)
        return _take(
            keeper, act, lot, HerbMovementKind.USED_UP, None, "Used up", note=note, day=day,
            ends=True,
        )  # fmt: skip


def remove_lot(keeper: Keeper, lot_id: int) -> None:
    """Take a lot that was never used out of the list."""
    with keeper.act("Deleted a lot of herb") as act:
        lot = herb_lot(keeper, lot_id)
        used = ChargeLine.select().where(ChargeLine.lot == lot_id).exists()
        parted = HerbLot.select().where(HerbLot.from_lot == lot_id).exists()
        moved = HerbMovement.select().where(HerbMovement.lot == lot_id).exists()
        if used or parted or moved:
            raise Refused(f"{lot.code} has been used, so it can't be deleted.")
        HerbLot.delete().where(HerbLot.id == lot_id).execute()
        act.title = f"Deleted {lot.herb} {lot.code}"
        act.note("deleted", f"Deleted the lot {lot.code}", herb_id=lot.herb_id)


def _take(
    keeper: Keeper,
    act: Act,
    lot: HerbLotView,
    kind: HerbMovementKind,
    mass_g: float | None,
    verb: str,
    *,
    person: str = "",
    note: str = "",
    day: date | None = None,
    ends: bool = False,
) -> HerbLotView:
    """Write what was taken out of a lot, or what is left of it where that ends it."""
    said = wording(keeper)
    note = clean_note(note, limit=2000)
    person = clean_name(person, "The name", required=False)
    on = _day_of(keeper, act, lot, day)
    if ends:
        mass_g = lot.left_g
        HerbLot.update(used_up_on=on).where(HerbLot.id == lot.lot_id).execute()
    _refuse_more_than_left(lot, mass_g, said)
    if mass_g is None or mass_g > EMPTY_G:
        taken_g = None if mass_g is None else -mass_g
        _move(act, lot, kind, taken_g, on, person=person, note=note)
    act.title = f"{verb} {lot.herb} {lot.code}"
    if mass_g is not None and mass_g > EMPTY_G:
        amount = f"−{said.mass(mass_g)}"
    elif ends:
        amount = "all of it" if mass_g is None else "nothing was left"
    else:
        amount = "some"
    if on != act.day:
        amount += f" on {said.day(on)}"
    act.note(
        kind, f"{amount} {for_whom(person, note)}".strip(), lot_id=lot.lot_id, herb_id=lot.herb_id
    )
    return herb_lot(keeper, lot.lot_id)


def _move(
    act: Act,
    lot: HerbLotView,
    kind: HerbMovementKind,
    mass_g: float | None,
    on: date,
    *,
    person: str = "",
    note: str = "",
) -> None:
    HerbMovement.insert(
        lot=lot.lot_id, mass_g=mass_g, kind=kind, at=act.at, day=on, maker=act.maker,
        person=person, note=note,
    ).execute()  # fmt: skip


def _weigh_in(act: Act, lot: HerbLotView, seen_g: float, on: date, note: str = "") -> None:
    """Set a lot to what it weighs; one never weighed held what was taken of it, too."""
    left_g = lot.left_g
    if left_g is None:
        ((left_g,),) = act.db.execute_sql(
            """SELECT coalesce((SELECT sum(mass_g) FROM herb_movement WHERE lot_id = l.id), 0)
                    - coalesce((SELECT sum(mass_g) FROM charge_line WHERE lot_id = l.id), 0)
                    - coalesce((SELECT sum(mass_g) FROM herb_lot WHERE from_lot_id = l.id), 0)
               FROM herb_lot l WHERE l.id = ?""",
            (lot.lot_id,),
        ).fetchall()
    if lot.used_up_on is not None:
        HerbLot.update(used_up_on=None).where(HerbLot.id == lot.lot_id).execute()
    _move(act, lot, HerbMovementKind.WEIGH_IN, seen_g - left_g, on, note=note)


def _open_lot(keeper: Keeper, lot_id: int, *, or_empty: bool = False) -> HerbLotView:
    lot = herb_lot(keeper, lot_id)
    if lot.used_up_on is not None and not or_empty:
        raise Refused(f"{lot.code} was used up on {wording(keeper).day(lot.used_up_on)}.")
    return lot


def _day_of(keeper: Keeper, act: Act, lot: HerbLotView, day: date | None) -> date:
    on = day or act.day
    if not lot.got_on <= on <= act.day:
        raise Refused(
            f"{lot.code} was {lot.came} on {wording(keeper).day(lot.got_on)}: "
            "enter a date from then until today."
        )
    return on


def _checked_g(mass_g: float | None) -> float | None:
    if mass_g is not None and not mass_g > EMPTY_G:
        raise NotUnderstood("The weight must be greater than zero.")
    return mass_g


def _all_if_it_reads_so(lot: HerbLotView, mass_g: float | None, said: Wording) -> float | None:
    """The weight meant: all that is left, if the two print the same."""
    if mass_g is None or lot.left_g is None or lot.left_g <= EMPTY_G:
        return mass_g
    return lot.left_g if said.mass(mass_g) == said.mass(lot.left_g) else mass_g


def _refuse_more_than_left(lot: HerbLotView, mass_g: float | None, said: Wording) -> None:
    if said_short := short_of(lot, mass_g, said):
        raise Refused(said_short)


def short_of(lot: HerbLotView, mass_g: float | None, said: Wording) -> str:
    """That a lot doesn't hold as much, with both amounts; blank where it does."""
    mass_g = _all_if_it_reads_so(lot, mass_g, said)
    if mass_g is None or lot.left_g is None or mass_g <= lot.left_g + EMPTY_G:
        return ""
    return (
        f"Not enough left: {lot.code} holds {said.mass(lot.left_g)}, and this takes "
        f"{said.mass(mass_g)}. If it holds more, weigh it first."
    )


def some(mass_g: float | None, said: Wording) -> str:
    """A weight, or "some" where it wasn't weighed."""
    return "some" if mass_g is None else said.mass(mass_g)


def left_words(lot: HerbLotView, said: Wording) -> str:
    """What is left of a lot, as far as it is known."""
    if lot.used_up_on is not None:
        return f"used up {said.day(lot.used_up_on)}"
    if lot.left_g is None:
        return "not weighed"
    if lot.left_g <= EMPTY_G:
        return "nothing left"
    return f"{'at most ' if lot.is_at_most else ''}{said.mass(lot.left_g)} left"


def lot_words(lot: HerbLotView, said: Wording) -> str:
    """What a lot was when it came, in one line."""
    facts = [
        f"{some(lot.mass_g, said)} {lot.herb}, {lot.part}, {lot.condition}",
        f"{lot.came} {said.day(lot.got_on)}",
        lot.where_from,
        f"paid {said.money(lot.price)}" if lot.price is not None else "",
    ]
    return ", ".join(filter(None, facts))


def drying_words(lot: HerbLotView, said: Wording) -> str:
    """What a lot weighed fresh and dry: `900 g → 160 g`."""
    if lot.laid_out_g is None or lot.dry_g is None:
        return some(lot.dry_g, said)
    return f"{said.mass(lot.laid_out_g)} → {said.mass(lot.dry_g)}"


def charge_of_lot(
    lot: HerbLotView, mass_g: float | None, water_fraction: float | None = None
) -> ChargeDraft:
    """What a jar takes of a lot, with all that is known of it."""
    return ChargeDraft(
        herb=lot.herb,
        part=lot.part,
        condition=lot.condition,
        mass_g=mass_g,
        water_fraction=lot.water_fraction if water_fraction is None else water_fraction,
        gathered_on=lot.gathered_on,
        origin=lot.where_from,
        lot_id=lot.lot_id,
    )


def take_of_lot(keeper: Keeper, charge: ChargeDraft) -> ChargeDraft:
    """A herb line that is put into a jar: all of its lot, if the two weights print the same.

    Refused where the lot is used up, or doesn't hold that much.
    """
    if charge.lot_id is None:
        return charge
    lot = _open_lot(keeper, charge.lot_id)
    said = wording(keeper)
    if charge.condition is Condition.DRIED and lot.condition is Condition.FRESH:
        raise Refused(f"{lot.code} is still fresh.")
    _refuse_more_than_left(lot, charge.mass_g, said)
    if not lot.is_in_store:
        raise Refused(f"Nothing is left of {lot.code}. If there is, weigh it first.")
    return replace(charge, mass_g=_all_if_it_reads_so(lot, charge.mass_g, said))


def as_taken(keeper: Keeper, charge: ChargeDraft, filled_on: date) -> ChargeDraft:
    """A herb line with what its lot knows of it; Refused where the lot came later, or is another
    herb.
    """
    if charge.lot_id is None:
        return charge
    lot = herb_lot(keeper, charge.lot_id)
    said = wording(keeper)
    same_herb = charge.herb.strip().casefold() in ("", lot.herb.casefold())
    if not same_herb or charge.part is not lot.part:
        raise Refused(f"{lot.code} is {lot.herb}, {lot.part}.")
    if filled_on < lot.got_on:
        raise Refused(
            f"{lot.code} was {lot.came} on {said.day(lot.got_on)}, after the jar was filled."
        )
    return replace(
        charge,
        herb=lot.herb,
        water_fraction=(
            lot.water_fraction
            if charge.water_fraction is None and charge.condition is lot.condition
            else charge.water_fraction
        ),
        gathered_on=charge.gathered_on or lot.gathered_on,
        origin=charge.origin or lot.where_from,
    )
