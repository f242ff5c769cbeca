"""`spirits`, `herbs`, `shelves` and `sizes`."""

from functools import partial
from typing import Any

from stillroom.cli.call import Call
from stillroom.cli.form import FormField, Values, amount, day, whole_number, words
from stillroom.cli.found import only_one
from stillroom.cli.lots import lot_json, lot_line
from stillroom.cli.shelved import Shelved
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.cupboard.cupboard import (
    add_herb,
    add_shelf,
    add_spirit,
    bottle_sizes,
    change_herb,
    change_shelf,
    change_spirit,
    drop_bottle_size,
    herbs,
    keep_bottle_size,
    remove_herb,
    remove_shelf,
    remove_spirit,
    shelf_rows,
    shift_shelf,
    spirits,
)
from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard_views import HerbView, ShelfRow, SizeView, SpiritView
from stillroom.keeping.drafts import HerbDraft, ShelfDraft, SpiritDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.keeping.words import in_a_row
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _text(values: Values, key: str, before: str) -> str:
    """A text that was given, or the one there was; given blank it is taken out."""
    return (values[key] or "") if key in values else before


# Spirits.

SPIRIT = (
    FormField("name", "Name", is_required=True),
    FormField("strength", "Strength", amount(Kind.STRENGTH), "40% or 80 proof", is_required=True),
    FormField("bought", "Bought", amount(Kind.VOLUME), "blank: not counted", can_be_blank=True),
    FormField("price", "Price", amount(Kind.MONEY), "for all of it", can_be_blank=True),
    FormField("day", "Bought on", day, "blank: today", can_be_blank=True),
    FormField("origin", "Origin", can_be_blank=True),
    FormField("lot", "Lot", hint="the seller's own", can_be_blank=True),
    FormField("code", "Code", hint="your own, if you have two lots", can_be_blank=True),
    FormField("density", "Density, g/mL", amount(Kind.NUMBER), "if weighed", can_be_blank=True),
    FormField("note", "Note", can_be_blank=True),
)


def _save_spirit(
    call: Call, keeper: Keeper, before: SpiritView | None, values: Values
) -> SpiritView:
    draft = SpiritDraft(
        name=values.get("name", before.name if before else ""),
        strength_abv=values.get("strength", before.strength_abv if before else 0.0),
        bought_ml=values.get("bought", before.bought_ml if before else None),
        price=values.get("price", before.price if before else None),
        bought_on=values.get("day", before.bought_on if before else keeper.today),
        origin=_text(values, "origin", before.origin if before else ""),
        note=_text(values, "note", before.note if before else ""),
        lot=_text(values, "lot", before.lot if before else ""),
        code=_text(values, "code", before.code if before else ""),
        density_g_per_ml=values.get("density", before.density_g_per_ml if before else None),
    )
    if before is None:
        spirit_id = add_spirit(keeper, draft)
    else:
        change_spirit(keeper, before.spirit_id, draft)
        spirit_id = before.spirit_id
    return next(row for row in spirits(keeper) if row.spirit_id == spirit_id)


def _spirit_line(call: Call, row: SpiritView) -> str:
    said = call.wording
    left = "not counted" if row.left_ml is None else f"{said.volume(row.left_ml)} left"
    bought = f"of {said.volume(row.bought_ml)}" if row.bought_ml is not None else ""
    price = f"price {said.money(row.price)}" if row.price is not None else ""
    facts = in_a_row(
        f"{said.strength(row.strength_abv)}",
        " ".join(filter(None, (left, bought))),
        f"bought {said.day(row.bought_on)}" if row.bought_on else "",
        price, row.origin, f"lot {row.lot}" if row.lot else "", row.code,
        "" if row.density_g_per_ml is None else said.density(row.density_g_per_ml),
        _one_line(row.note),
    )  # fmt: skip
    return f"number {row.spirit_id} {row.name}: {facts}"


def _spirit_json(call: Call, row: SpiritView) -> dict[str, Any]:
    return {
        "number": row.spirit_id,
        "name": row.name,
        "strength_abv": row.strength_abv,
        "bought_ml": row.bought_ml,
        "left_ml": row.left_ml,
        "price": row.price,
        "bought_on": row.bought_on,
        "origin": row.origin,
        "lot": row.lot,
        "code": row.code,
        "density_g_per_ml": row.density_g_per_ml,
        "note": row.note,
    }


def _called(call: Call, keeper: Keeper, name: str) -> SpiritView | None:
    return only_one(keeper, name, spirits(keeper))


# Herbs.

HERB = (
    FormField("name", "Name", is_required=True),
    FormField("botanical", "Botanical name", can_be_blank=True),
    FormField("cautions", "Cautions", words, "your own, printed on its labels", can_be_blank=True),
    FormField("note", "Note", can_be_blank=True),
)


def _save_herb(call: Call, keeper: Keeper, before: HerbView | None, values: Values) -> HerbView:
    draft = HerbDraft(
        name=values.get("name", before.name if before else ""),
        botanical=_text(values, "botanical", before.botanical if before else ""),
        cautions=_text(values, "cautions", before.cautions if before else ""),
        note=_text(values, "note", before.note if before else ""),
    )
    if before is None:
        herb_id = add_herb(keeper, draft)
    else:
        change_herb(keeper, before.herb_id, draft)
        herb_id = before.herb_id
    return next(row for row in herbs(keeper) if row.herb_id == herb_id)


def _herb_line(call: Call, row: HerbView) -> str:
    lots = [lot for lot in herb_lots(call.keeper, with_empty=False) if lot.herb_id == row.herb_id]
    return "\n".join((_herb_facts(call, row), *(f"    {lot_line(call, lot)}" for lot in lots)))


def _herb_facts(call: Call, row: HerbView) -> str:
    facts = in_a_row(
        row.botanical, how_many(row.jars, "jar"),
        f"{call.wording.volume(row.in_stock_ml)} in bottles", _one_line(row.cautions),
        _one_line(row.note),
    )  # fmt: skip
    return f"{row.name}: {facts}"


def _herb_json(call: Call, row: HerbView) -> dict[str, Any]:
    return {
        "name": row.name,
        "botanical": row.botanical,
        "cautions": row.cautions,
        "note": row.note,
        "lots": [
            lot_json(lot)
            for lot in herb_lots(call.keeper, with_empty=False)
            if lot.herb_id == row.herb_id
        ],
        "jars": row.jars,
        "in_stock_ml": round(row.in_stock_ml, 4),
    }


# Shelves.

SHELF = (FormField("name", "Name", is_required=True), FormField("note", "Note", can_be_blank=True))


def _save_shelf(call: Call, keeper: Keeper, before: ShelfRow | None, values: Values) -> ShelfRow:
    draft = ShelfDraft(
        name=values.get("name", before.name if before else ""),
        note=_text(values, "note", before.note if before else ""),
    )
    if before is None:
        shelf_id = add_shelf(keeper, draft)
    else:
        change_shelf(keeper, before.shelf_id, draft)
        shelf_id = before.shelf_id
    return next(row for row in shelf_rows(keeper) if row.shelf_id == shelf_id)


def _shelf_line(call: Call, row: ShelfRow) -> str:
    return f"{row.name}: {in_a_row(how_many(row.jars, 'jar'), _one_line(row.note))}"


def _shelf_json(call: Call, row: ShelfRow) -> dict[str, Any]:
    return {"name": row.name, "note": row.note, "jars": row.jars}


def _shift(step: int, keeper: Keeper, row: ShelfRow) -> None:
    shift_shelf(keeper, row.shelf_id, step)


# Bottle sizes.

SIZE = (
    FormField("size", "Size", amount(Kind.VOLUME), is_required=True),
    FormField("empties", "Empty bottles", whole_number(Kind.COUNT), "blank: not counted",
          can_be_blank=True),
)  # fmt: skip


def _save_size(call: Call, keeper: Keeper, before: SizeView | None, values: Values) -> SizeView:
    if before and "size" in values:
        raise Refused("size: a size can't be changed. Delete it, and add another.")
    size_ml = before.size_ml if before else values["size"]
    keep_bottle_size(keeper, size_ml, values.get("empties", before.empties if before else None))
    return next(row for row in bottle_sizes(keeper) if row.size_ml == size_ml)


def _size_line(call: Call, row: SizeView) -> str:
    empties = "not counted" if row.empties is None else f"{row.empties} empty"
    return f"{call.wording.volume(row.size_ml)}: {empties}"


def _size_json(call: Call, row: SizeView) -> dict[str, Any]:
    return {"size_ml": row.size_ml, "empties": row.empties}


def _sizes_by_name(keeper: Keeper) -> list[tuple[str, SizeView]]:
    said = wording(keeper)
    return [(said.volume(row.size_ml), row) for row in bottle_sizes(keeper)]


def _by_volume(call: Call, keeper: Keeper, name: str) -> SizeView | None:
    try:
        shown = call.wording.volume(call.wording.read(Kind.VOLUME, name))
    except NotUnderstood:
        return None
    sizes = bottle_sizes(keeper)
    return next((row for row in sizes if call.wording.volume(row.size_ml) == shown), None)


COMMANDS = {
    "spirits": Shelved(
        what="spirit",
        fields=SPIRIT,
        rows=lambda keeper: [(row.name, row) for row in spirits(keeper)],
        line=_spirit_line,
        json=_spirit_json,
        save=_save_spirit,
        delete=lambda keeper, row: remove_spirit(keeper, row.spirit_id),
        also=_called,
    ).command(),
    "herbs": Shelved(
        what="herb",
        fields=HERB,
        rows=lambda keeper: [(row.name, row) for row in herbs(keeper)],
        line=_herb_line,
        json=_herb_json,
        save=_save_herb,
        delete=lambda keeper, row: remove_herb(keeper, row.herb_id),
    ).command(),
    "shelves": Shelved(
        what="shelf",
        fields=SHELF,
        rows=lambda keeper: [(row.name, row) for row in shelf_rows(keeper)],
        line=_shelf_line,
        json=_shelf_json,
        save=_save_shelf,
        delete=lambda keeper, row: remove_shelf(keeper, row.shelf_id),
        more={"up": partial(_shift, -1), "down": partial(_shift, 1)},
    ).command(),
    "sizes": Shelved(
        what="bottle size",
        fields=SIZE,
        rows=_sizes_by_name,
        line=_size_line,
        json=_size_json,
        save=_save_size,
        delete=lambda keeper, row: drop_bottle_size(keeper, row.size_id),
        also=_by_volume,
    ).command(),
}
