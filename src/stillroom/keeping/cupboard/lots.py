"""Lots of herb in store: gathered or bought, laid out to dry, weighed, given and discarded."""

from datetime import date

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.codes import next_lot_code
from stillroom.keeping.cupboard.herb_names import herb_named
from stillroom.keeping.cupboard.lot_reading import LAID_OUT, herb_lot
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots_in_words import drying_words, lot_words, some
from stillroom.keeping.cupboard.taking import open_lot, refuse_more_than_left, weight_meant
from stillroom.keeping.drafts import HerbLotDraft
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.tolerances import EMPTY_G
from stillroom.keeping.wording import wording
from stillroom.keeping.words import clean_name, clean_note, taken, with_note
from stillroom.reckoning.charge import Condition
from stillroom.reckoning.states import HERB_DISCARDS, HerbMovementKind
from stillroom.records.tables import ChargeLine, HerbLot, HerbMovement


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
        lot = open_lot(keeper, lot_id)
        on = _day_of(keeper, act, lot, day)
        if lot.condition is not Condition.FRESH:
            raise Refused(f"{lot.code} is dried already.")
        if lot.is_drying:
            raise Refused(f"{lot.code} is laid out already.")
        mass_g = weight_meant(lot, mass_g, wording(keeper))
        refuse_more_than_left(lot, mass_g, wording(keeper))
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
        lot = open_lot(keeper, lot_id)
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
            raise Refused("Enter its dry weight: its fresh weight is known.")
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
        lot = open_lot(keeper, lot_id, or_empty=True)
        said = wording(keeper)
        _weigh_in(act, lot, seen_g, act.day, note)
        act.title = f"Weighed {lot.herb} {lot.code}"
        text = said.mass(seen_g)
        if lot.left_g is not None:
            text += f" ({said.mass(lot.left_g)} recorded)"
        act.note(
            HerbMovementKind.WEIGH_IN, with_note(text, note),
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
        lot = open_lot(keeper, lot_id)
        mass_g = weight_meant(lot, _checked_g(mass_g), wording(keeper))
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
        lot = open_lot(keeper, lot_id)
        given_g = weight_meant(lot, _checked_g(mass_g), wording(keeper))
        return _take(
            keeper, act, lot, kind, given_g, "Discarded", note=note, day=day, ends=mass_g is None
        )


def use_up(keeper: Keeper, lot_id: int, *, note: str = "", day: date | None = None) -> HerbLotView:
    """End a lot: nothing of it is left, whatever the record says."""
    with keeper.act("Used up a lot of herb") as act:
        lot = open_lot(keeper, lot_id, or_empty=True)
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
    refuse_more_than_left(lot, mass_g, said)
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
    act.note(kind, taken(amount, person, note), lot_id=lot.lot_id, herb_id=lot.herb_id)
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
