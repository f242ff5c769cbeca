"""Spirits, herbs, shelves and bottle sizes: what is kept, and what is left of it."""

import json
from collections import defaultdict

from stillroom.dates import day_or_none
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.codes import refuse_taken
from stillroom.keeping.contents import through_blends
from stillroom.keeping.cupboard.counts import counts_kept
from stillroom.keeping.cupboard.densities import refuse_density
from stillroom.keeping.cupboard.purchases import purchase_columns
from stillroom.keeping.cupboard_views import HerbView, ShelfRow, SizeView, SpiritView
from stillroom.keeping.drafts import HerbDraft, ShelfDraft, SpiritDraft
from stillroom.keeping.graph import upstream
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_name, clean_note, old_and_new
from stillroom.reckoning.cautions import FOOD_GRADE, is_unfit
from stillroom.reckoning.kinds import Kind
from stillroom.records.tables import (
    BatchInput,
    BottleSize,
    ChargeLine,
    CupboardMovement,
    GatheringWindow,
    Herb,
    Jar,
    Pour,
    Shelf,
    Spirit,
)

_SPIRITS = """
    SELECT s.id, s.name, s.strength_abv, s.bought_ml,
           c.left_ml, s.price, s.bought_on, s.origin, s.note, s.lot, coalesce(s.code, ''),
           s.density_g_per_ml
    FROM spirit s JOIN spirit_left c ON c.spirit_id = s.id
    ORDER BY s.bought_on IS NULL, s.bought_on DESC, s.id DESC
"""

_HERBS = """
    SELECT h.id, h.name, h.botanical, h.cautions, h.note,
           (SELECT count(*) FROM (SELECT 1 FROM charge_line WHERE herb_id = h.id GROUP BY jar_id))
    FROM herb h ORDER BY h.name
"""
"""The jars are counted along the index: DISTINCT would sort them."""

_TINCTURES_OF_HERBS = """
    SELECT DISTINCT t.id, l.herb_id FROM tincture t
    JOIN straining s ON s.id = t.straining_id
    JOIN charge_line l ON l.jar_id = s.jar_id
    WHERE t.id IN (SELECT value FROM json_each(?))
"""

_LEFT = """
    SELECT b.tincture_id, sum(m.volume_ml) FROM in_stock w
    CROSS JOIN bottle b ON b.id = w.bottle_id CROSS JOIN movement m ON m.bottle_id = b.id
    GROUP BY b.tincture_id
"""


def spirits(keeper: Keeper) -> list[SpiritView]:
    """The spirits, newest purchase first, with what is left."""
    return [
        SpiritView(
            spirit_id=spirit_id,
            name=name,
            strength_abv=strength,
            bought_ml=bought,
            left_ml=left,
            price=price,
            bought_on=day_or_none(day),
            origin=origin,
            note=note,
            lot=lot,
            code=code,
            density_g_per_ml=density,
        )
        for spirit_id, name, strength, bought, left, price, day, origin, note, lot, code,
            density in keeper.rows(_SPIRITS)
    ]  # fmt: skip


def add_spirit(keeper: Keeper, draft: SpiritDraft) -> int:
    """Put a bought spirit into the cupboard; returns its id."""
    columns = _spirit_columns(keeper, draft)
    refuse_taken(keeper, draft.code.strip(), "spirit")
    with keeper.act(f"Bought {columns['name']}") as act:
        spirit_id = int(Spirit.insert(**columns).execute())
        act.note("spirit", f"Bought {_spirit_words(draft, wording(keeper))}", spirit_id=spirit_id)
    return spirit_id


def change_spirit(keeper: Keeper, spirit_id: int, draft: SpiritDraft) -> None:
    """Correct what is recorded of a spirit; pours made with it keep the strength they had."""
    columns = _spirit_columns(keeper, draft)
    refuse_taken(keeper, draft.code.strip(), "spirit", spirit_id)
    with keeper.act(f"Changed {columns['name']}") as act:
        before = _spirit_facts(keeper, spirit_id)
        with counts_kept(keeper):
            if not Spirit.update(**columns).where(Spirit.id == spirit_id).execute():
                raise Refused("That spirit is no longer in the cupboard.")
        said = old_and_new(before, _spirit_facts(keeper, spirit_id)) or "Nothing changed"
        act.note("spirit", said, spirit_id=spirit_id)


def remove_spirit(keeper: Keeper, spirit_id: int) -> None:
    """Take a spirit that was never poured out of the list."""
    with keeper.act("Deleted a spirit") as act:
        spirit = Spirit.get_or_none(Spirit.id == spirit_id)
        if spirit is None:
            raise Refused("That spirit is no longer in the cupboard.")
        if (
            Pour.select().where(Pour.spirit == spirit_id).exists()
            or BatchInput.select().where(BatchInput.spirit == spirit_id).exists()
        ):
            raise Refused(f"{spirit.name} has been used in jars, so it can't be deleted.")
        if CupboardMovement.select().where(CupboardMovement.spirit == spirit_id).exists():
            raise Refused(f"{spirit.name} has been counted or taken from: it can't be deleted.")
        Spirit.delete().where(Spirit.id == spirit_id).execute()
        act.title = f"Deleted {spirit.name}"
        act.note("spirit", f"Deleted {spirit.name} from the cupboard")


def herbs(keeper: Keeper) -> list[HerbView]:
    """The herbs by name, with how often they were used and what is in bottles."""
    in_stock_ml = _in_stock_ml(keeper)
    return [
        HerbView(herb_id, name, botanical, cautions, note, jars, in_stock_ml.get(herb_id, 0.0))
        for herb_id, name, botanical, cautions, note, jars in keeper.rows(_HERBS)
    ]


def _in_stock_ml(keeper: Keeper) -> dict[int, float]:
    """Tincture of each herb in bottles; of a blend only the share that is tincture of it."""
    left = keeper.rows(_LEFT)
    within = json.dumps(upstream(keeper, [tincture_id for tincture_id, _ in left]))
    of_jars: dict[int, dict[int, float | None]] = defaultdict(dict)
    for tincture_id, herb_id in keeper.rows(_TINCTURES_OF_HERBS, within):
        of_jars[tincture_id][herb_id] = 1.0
    contents = through_blends(keeper, of_jars, of=[tincture_id for tincture_id, _ in left])
    in_stock_ml: dict[int, float] = defaultdict(float)
    for tincture_id, left_ml in left:
        for herb_id, share in contents.get(tincture_id, {}).items():
            in_stock_ml[herb_id] += left_ml * (share or 0.0)
    return in_stock_ml


def add_herb(keeper: Keeper, draft: HerbDraft) -> int:
    """Add a herb; returns its id."""
    columns = _herb_columns(draft)
    with keeper.act(f"Added {columns['name']}") as act:
        herb_id = int(Herb.insert(**columns).execute())
        act.note("herb", "Added to the herbs", herb_id=herb_id)
    return herb_id


def change_herb(keeper: Keeper, herb_id: int, draft: HerbDraft) -> None:
    """Change what is recorded of a herb."""
    columns = _herb_columns(draft)
    with keeper.act(f"Changed {columns['name']}") as act:
        before = _herb_facts(keeper, herb_id)
        if not Herb.update(**columns).where(Herb.id == herb_id).execute():
            raise Refused("That herb no longer exists.")
        said = old_and_new(before, _herb_facts(keeper, herb_id)) or "Nothing changed"
        act.note("herb", said, herb_id=herb_id)


def remove_herb(keeper: Keeper, herb_id: int) -> None:
    """Take a herb that never went into a jar out of the list."""
    with keeper.act("Deleted a herb") as act:
        herb = Herb.get_or_none(Herb.id == herb_id)
        if herb is None:
            raise Refused("That herb no longer exists.")
        if ChargeLine.select().where(ChargeLine.herb == herb_id).exists():
            raise Refused(f"{herb.name} has been used in jars, so it can't be deleted.")
        GatheringWindow.delete().where(GatheringWindow.herb == herb_id).execute()
        Herb.delete().where(Herb.id == herb_id).execute()
        act.title = f"Deleted {herb.name}"
        act.note("herb", f"Deleted {herb.name} from the herbs")


def shelf_rows(keeper: Keeper) -> list[ShelfRow]:
    """The shelves in order, with the jars that steep on them."""
    rows = keeper.rows(
        """SELECT s.id, s.name, s.note, s.position,
                  (SELECT count(*) FROM jar WHERE shelf_id = s.id
                          AND ended_on IS NULL AND state = 'steeping')
           FROM shelf s ORDER BY s.position, s.id"""
    )
    return [ShelfRow(*row) for row in rows]


def add_shelf(keeper: Keeper, draft: ShelfDraft) -> int:
    """Put up a shelf; returns its id."""
    columns = _shelf_columns(draft)
    with keeper.act(f"Added the shelf {columns['name']}") as act:
        last = Shelf.select(Shelf.position).order_by(Shelf.position.desc()).scalar()
        position = draft.position or int(last or 0) + 1
        shelf_id = int(Shelf.insert(position=position, **columns).execute())
        act.note("shelf", f"Added the shelf {columns['name']}")
    return shelf_id


def change_shelf(keeper: Keeper, shelf_id: int, draft: ShelfDraft) -> None:
    """Rename a shelf, change its note, or move it in the order."""
    columns = _shelf_columns(draft)
    if draft.position:
        columns["position"] = draft.position
    with keeper.act(f"Changed {columns['name']}") as act:
        if not Shelf.update(**columns).where(Shelf.id == shelf_id).execute():
            raise Refused("That shelf no longer exists.")
        act.note("shelf", f"Changed {columns['name']}")


def shift_shelf(keeper: Keeper, shelf_id: int, step: int) -> None:
    """Swap a shelf with its neighbour above (-1) or below (+1)."""
    with keeper.act("Moved a shelf") as act:
        order = [s.id for s in Shelf.select(Shelf.id).order_by(Shelf.position, Shelf.id)]
        if shelf_id not in order:
            raise Refused("That shelf no longer exists.")
        here = order.index(shelf_id)
        there = here + step
        if not 0 <= there < len(order):
            raise Refused("The shelf is already at the end.")
        order[here], order[there] = order[there], order[here]
        for position, each in enumerate(order, start=1):
            Shelf.update(position=position).where(Shelf.id == each).execute()
        act.note("shelf", "Changed the order of the shelves")


def remove_shelf(keeper: Keeper, shelf_id: int) -> None:
    """Take down a shelf that no jar was ever on."""
    with keeper.act("Deleted a shelf") as act:
        shelf = Shelf.get_or_none(Shelf.id == shelf_id)
        if shelf is None:
            raise Refused("That shelf no longer exists.")
        if Jar.select().where(Jar.shelf == shelf_id).exists():
            raise Refused(f"{shelf.name} holds or held jars, so it can't be deleted.")
        Shelf.delete().where(Shelf.id == shelf_id).execute()
        act.title = f"Deleted the shelf {shelf.name}"
        act.note("shelf", f"Deleted the shelf {shelf.name}")


def bottle_sizes(keeper: Keeper) -> list[SizeView]:
    """The sizes in use, largest first."""
    rows = keeper.rows("SELECT id, size_ml, empties FROM bottle_size ORDER BY size_ml DESC")
    return [SizeView(*row) for row in rows]


def keep_bottle_size(keeper: Keeper, size_ml: float, empties: int | None) -> None:
    """Add a size, or correct the count of its empties."""
    if size_ml <= 0:
        raise NotUnderstood("A bottle's size must be greater than zero.")
    if empties is not None and empties < 0:
        raise NotUnderstood("The count of empty bottles can't be negative.")
    with keeper.act("Changed bottle sizes") as act:
        known = BottleSize.get_or_none(BottleSize.size_ml == size_ml)
        if known is None:
            BottleSize.insert(size_ml=size_ml, empties=empties).execute()
        else:
            BottleSize.update(empties=empties).where(BottleSize.id == known.id).execute()
        act.note("bottle sizes", _size_words(wording(keeper).volume(size_ml), empties))


def drop_bottle_size(keeper: Keeper, size_id: int) -> None:
    """No longer offer a size."""
    with keeper.act("Deleted a bottle size") as act:
        known = BottleSize.get_or_none(BottleSize.id == size_id)
        if known is None:
            raise Refused("That bottle size no longer exists.")
        BottleSize.delete().where(BottleSize.id == size_id).execute()
        act.note("bottle sizes", f"Deleted {wording(keeper).volume(known.size_ml)}")


def _spirit_columns(keeper: Keeper, draft: SpiritDraft) -> dict[str, object]:
    if not 0 < draft.strength_abv <= 100:
        raise NotUnderstood("A spirit's strength must be above 0 % and at most 100 %.")
    if draft.density_g_per_ml is not None:
        refuse_density(wording(keeper), draft.density_g_per_ml)
    if is_unfit(draft.name, draft.note, draft.origin):
        raise Refused(f"{draft.name} must never be drunk. {FOOD_GRADE}")
    return {
        "name": clean_name(draft.name, "The spirit's name"),
        "strength_abv": draft.strength_abv,
        "density_g_per_ml": draft.density_g_per_ml,
        **purchase_columns(draft, keeper.today),
    }


def _spirit_facts(keeper: Keeper, spirit_id: int) -> dict[str, str]:
    """What is recorded of a spirit, by what it is called; nothing where it is gone."""
    said = wording(keeper)
    return {
        name: text
        for row, strength, bought_ml, price, day, origin, lot, code, density, note in keeper.rows(
            """SELECT name, strength_abv, bought_ml, price, bought_on, origin, lot,
                      coalesce(code, ''), density_g_per_ml, note
               FROM spirit WHERE id = ?""",
            spirit_id,
        )
        for name, text in (
            ("Name", row),
            ("Strength", said.of(Kind.STRENGTH, strength)),
            ("Bought", "" if bought_ml is None else said.volume(bought_ml)),
            ("Price", "" if price is None else said.of(Kind.MONEY, price)),
            ("Bought on", said.day(day_or_none(day))),
            ("Origin", origin),
            ("Lot", lot),
            ("Code", code),
            ("Density", "" if density is None else said.density(density)),
            ("Note", note),
        )
    }


def _herb_facts(keeper: Keeper, herb_id: int) -> dict[str, str]:
    """What is recorded of a herb, by what it is called; nothing where it is gone."""
    rows = keeper.rows("SELECT name, botanical, cautions, note FROM herb WHERE id = ?", herb_id)
    names = ("Name", "Botanical name", "Cautions", "Note")
    return {name: text for row in rows for name, text in zip(names, row, strict=True)}


def _spirit_words(draft: SpiritDraft, said: Wording) -> str:
    strength = said.of(Kind.STRENGTH, draft.strength_abv)
    if draft.bought_ml is None:
        return f"{strength} spirit, not counted"
    return f"{said.volume(draft.bought_ml)} of {strength} spirit"


def _herb_columns(draft: HerbDraft) -> dict[str, object]:
    return {
        "name": clean_name(draft.name, "The herb's name"),
        "botanical": clean_name(draft.botanical, "The botanical name", required=False),
        "cautions": clean_note(draft.cautions, "The cautions"),
        "note": clean_note(draft.note),
    }


def _shelf_columns(draft: ShelfDraft) -> dict[str, object]:
    return {
        "name": clean_name(draft.name, "The shelf's name"),
        "note": clean_note(draft.note),
    }


def _size_words(size: str, empties: int | None) -> str:
    return f"{size}, not counted" if empties is None else f"{size}, {empties} empty"
