"""What can be corrected of the cupboard: spirits, other liquids, herbs and their lots."""

from collections.abc import Iterator, Sequence

from stillroom.keeping.correcting.columns import (
    CUPBOARD_TAKEN,
    EVERYTHING,
    FOR,
    HELD_WHEN_SEEN,
    HERB,
    LIQUID,
    LOT,
    LOT_CONDITION,
    LOT_DRIED,
    LOT_DRY_WEIGHT,
    LOT_END,
    LOT_LAID_OUT,
    LOT_MOVEMENT,
    LOT_ORIGIN,
    LOT_PART,
    LOT_TAKEN,
    LOT_WEIGHT,
    NONE_REMOVES,
    REMOVES,
    SPIRIT,
    FactColumn,
)
from stillroom.keeping.correcting.fact_reader import FactReader
from stillroom.keeping.correcting.kinds import Fact, FactKind, StoredAt
from stillroom.keeping.cupboard.counts import Owner, seen_in_cupboard
from stillroom.keeping.cupboard.lot_reading import herb_lot
from stillroom.keeping.cupboard.lot_replay import lot_anchors
from stillroom.reckoning.states import CupboardMovementKind, HerbMovementKind


def spirit_facts(read: FactReader, spirit_id: int) -> Iterator[Fact]:
    """Of a spirit, and what of it a change holds for."""
    yield from read.row("spirit", spirit_id, SPIRIT, group="Spirit")
    applies = FactColumn("for", "for", "This holds for", FactKind.CHOICE, choices=FOR)
    cell = StoredAt("spirit", spirit_id, "for")
    yield read.fact(applies, EVERYTHING, cell, name="for", group="Spirit")
    yield from _cupboard_movements(read, ("spirit", spirit_id))


def liquid_facts(read: FactReader, liquid_id: int) -> Iterator[Fact]:
    """Of a liquid that is no spirit; its density holds for everything it went into."""
    yield from read.row("liquid", liquid_id, LIQUID, group="Liquid")
    yield from _cupboard_movements(read, ("liquid", liquid_id))


def _cupboard_movements(read: FactReader, owner: Owner) -> Iterator[Fact]:
    """What was counted, and what was taken but not poured."""
    of, row_id = owner
    record = "cupboard_movement"
    seen = seen_in_cupboard(read.keeper).seen_ml
    rows = read.keeper.rows(
        f"SELECT id, kind, -volume_ml FROM {record} WHERE {of}_id = ? ORDER BY id", row_id
    )
    for number, (movement_id, kind, taken_ml) in enumerate(rows, start=1):
        group, prefix = f"Movement {number}: {kind}", f"movement-{number}."
        columns: Sequence[FactColumn] = CUPBOARD_TAKEN
        if kind == CupboardMovementKind.COUNT:
            cell, columns = StoredAt(record, movement_id, HELD_WHEN_SEEN), LOT_MOVEMENT
            held = seen.get(movement_id)
            yield read.fact(_SEEN_ML, held, cell, name=f"{prefix}seen", group=group)
        else:
            cell = StoredAt(record, movement_id, "volume_ml")
            yield read.fact(_TAKEN_ML, taken_ml, cell, name=f"{prefix}volume", group=group)
        yield from read.row(record, movement_id, columns, group=group, prefix=prefix)


_SEEN_ML = FactColumn(
    HELD_WHEN_SEEN, "seen", "Volume seen", FactKind.VOLUME, can_be_blank=True, hint=NONE_REMOVES
)
_TAKEN_ML = FactColumn("volume_ml", "volume", "Volume", FactKind.VOLUME, hint=REMOVES)


def herb_facts(read: FactReader, herb_id: int) -> Iterator[Fact]:
    """Of a herb, and which other herb it is the same as."""
    yield from read.row("herb", herb_id, HERB, group="Herb")
    merge = FactColumn("merge", "merge", "Same herb as", FactKind.TEXT, can_be_blank=True)
    yield read.fact(merge, None, StoredAt("herb", herb_id, "merge"), name="merge", group="Herb")


def lot_facts(read: FactReader, lot_id: int) -> Iterator[Fact]:
    """Of a lot of herb: what it is, how it was dried, and what was taken out of it.

    A part of a lot that was laid out has herb and origin of that lot, where they are corrected.
    """
    lot = herb_lot(read.keeper, lot_id)
    columns = [*LOT]
    if lot.from_lot_id is None:
        columns = [*LOT_ORIGIN, *columns]
        if lot.mass_g is not None:
            columns.insert(2, LOT_WEIGHT)
        if lot.laid_out_on is None and not read.ids(_PARTS_OF, lot_id):
            columns.insert(2, LOT_CONDITION)
    if lot.used_up_on is not None:
        columns.append(LOT_END)
    yield from read.row("herb_lot", lot_id, columns, group="Lot")
    if lot.laid_out_on is not None:
        columns = [LOT_LAID_OUT]
        if lot.from_lot_id is not None:
            columns.append(LOT_PART)
        if lot.dry_on is not None:
            columns.append(LOT_DRIED)
        # Of a lot not weighed fresh, the dry weight is the weighing of that day.
        if lot.dry_g is not None and read.ids(_DRIED, lot_id):
            columns.append(LOT_DRY_WEIGHT)
        yield from read.row("herb_lot", lot_id, columns, group="Drying")
    yield from _lot_movements(read, lot_id)


_PARTS_OF = "SELECT id FROM herb_lot WHERE from_lot_id = ?"
_DRIED = "SELECT id FROM herb_movement WHERE lot_id = ? AND kind = 'dried'"


def _lot_movements(read: FactReader, lot_id: int) -> Iterator[Fact]:
    seen = lot_anchors(read.keeper, [lot_id])
    rows = read.keeper.rows(
        """SELECT id, kind, mass_g FROM herb_movement
           WHERE lot_id = ? AND kind <> 'dried' ORDER BY id""",
        lot_id,
    )
    for number, (movement_id, kind, mass_g) in enumerate(rows, start=1):
        group, prefix = f"Movement {number}: {kind}", f"movement-{number}."
        columns: tuple[FactColumn, ...] = LOT_MOVEMENT
        if kind == HerbMovementKind.WEIGH_IN:
            cell = StoredAt("herb_movement", movement_id, HELD_WHEN_SEEN)
            held = seen.seen_g[movement_id]
            yield read.fact(_SEEN, held, cell, name=f"{prefix}seen", group=group)
        elif movement_id not in seen.ended:
            out_g = None if mass_g is None else -mass_g
            cell = StoredAt("herb_movement", movement_id, "mass_g")
            yield read.fact(_TAKEN, out_g, cell, name=f"{prefix}weight", group=group)
        if kind not in (HerbMovementKind.WEIGH_IN, HerbMovementKind.USED_UP):
            columns = LOT_TAKEN
        yield from read.row("herb_movement", movement_id, columns, group=group, prefix=prefix)


_SEEN = FactColumn(
    HELD_WHEN_SEEN, "seen", "Weight seen", FactKind.MASS, can_be_blank=True, hint=NONE_REMOVES
)
_TAKEN = FactColumn("mass_g", "weight", "Weight", FactKind.MASS, hint=REMOVES)
