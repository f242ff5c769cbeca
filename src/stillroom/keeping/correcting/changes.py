"""Write changed facts where they are stored, each row in place."""

from collections import defaultdict
from collections.abc import Callable, Sequence
from typing import Any

from stillroom.keeping.correcting import (
    bottle_changes,
    cupboard_changes,
    jar_changes,
    line_lots,
    liquid_changes,
    lot_changes,
)
from stillroom.keeping.correcting.columns import HELD_WHEN_SEEN, KEEP_UNTIL, SHAKES_OF_DAYS
from stillroom.keeping.correcting.forgotten import add
from stillroom.keeping.correcting.kinds import NewValue, Value
from stillroom.keeping.correcting.rows import RowWriter, stored


def write_changes(writer: RowWriter, asked: Sequence[NewValue]) -> None:
    """Write these facts inside the writer's act; what can't be is among its obstacles."""
    more: dict[tuple[Any, str], list[NewValue]] = defaultdict(list)
    strainings = jar_changes.strainings_in_goes(writer, asked)
    for each in sorted(asked, key=_is_a_move):
        if each.fact.cell.row_id is None:
            more[each.subject, each.fact.group].append(each)
        else:
            _take(writer, each, asked)
    for (record, row_id), columns in writer.rows.items():
        if record == "pour":
            jar_changes.agree(writer, row_id, columns)
        elif record == "jar":
            jar_changes.keep_days_in_order(writer, row_id, columns)
        elif record == "charge_line":
            line_lots.agree_with_lot(writer, row_id, columns)
        elif record == "spirit":
            cupboard_changes.correct_spirit(writer, row_id, columns, asked)
        elif record == "herb_lot":
            lot_changes.correct_lot(writer, row_id, columns)
        elif record == "liquid":
            liquid_changes.correct_liquid(writer, row_id, columns)
        elif record == "tincture":
            bottle_changes.lose_no_more_than_was_there(writer, row_id, columns)
        if columns:
            writer.update(record, row_id, columns)
    writer.rows.clear()
    for (_, group), facts in more.items():
        add(writer, group, facts)
    for straining_id in strainings:
        jar_changes.add_up_goes(writer, straining_id)
    for bottle_id in writer.bottles_to_remove:
        bottle_changes.remove_bottle(writer, bottle_id)


def _is_a_move(asked: NewValue) -> bool:
    """Whether something moves to another jar or bottle; its other facts are changed before that."""
    return asked.fact.cell.column in ("jar_id", "bottle_id")


def _take(writer: RowWriter, each: NewValue, asked: Sequence[NewValue]) -> None:
    cell, value = each.fact.cell, each.value
    assert cell.row_id is not None
    key = cell.record, cell.column
    if key in _OF_THE_CUPBOARD:
        _OF_THE_CUPBOARD[key](writer, cell.row_id, value, asked)
    elif key in _SPECIAL:
        _SPECIAL[key](writer, cell.row_id, value)
    else:
        writer.set(cell.record, cell.row_id, **{cell.column: stored(value)})


_SPECIAL: dict[tuple[str, str], Callable[[RowWriter, int, Value], None]] = {
    ("jar", "filled_on"): jar_changes.jar_filled_on,
    ("charge_line", "herb_id"): jar_changes.herb,
    ("charge_line", "lot_id"): line_lots.line_lot,
    ("pour", "volume_ml"): jar_changes.pour_volume,
    ("pour", "spirit_id"): jar_changes.pour_spirit,
    ("pour", "liquid_id"): jar_changes.pour_liquid,
    ("shake", SHAKES_OF_DAYS): jar_changes.shakes,
    ("straining_go", "yield_ml"): jar_changes.go_yielded,
    ("straining", "yield_ml"): jar_changes.yielded,
    ("straining", "strained_on"): jar_changes.strained_on,
    ("straining", "jar_id"): jar_changes.strained_from,
    ("tincture", "lost_ml"): bottle_changes.lost,
    ("loss", "volume_ml"): bottle_changes.loss_volume,
    ("batch_input", "volume_ml"): bottle_changes.input_volume,
    ("returned", "volume_ml"): bottle_changes.returned_volume,
    ("tincture", "made_on"): bottle_changes.blended_on,
    ("bottle", "filled_on"): bottle_changes.bottled_on,
    ("bottle", "size_ml"): bottle_changes.size,
    ("tincture", KEEP_UNTIL): bottle_changes.kept_until,
    ("movement", "volume_ml"): bottle_changes.moved_volume,
    ("movement", "day"): bottle_changes.moved_on,
    ("movement", HELD_WHEN_SEEN): bottle_changes.seen,
    ("movement", "bottle_id"): bottle_changes.from_bottle,
    ("herb_lot", "herb_id"): lot_changes.lot_herb,
    ("herb_lot", "dry_g"): lot_changes.dry_weight,
    ("herb_lot", "laid_out_g"): lot_changes.laid_out_weight,
    ("herb_lot", "used_up_on"): lot_changes.used_up,
    ("herb_movement", "mass_g"): lot_changes.taken,
    ("herb_movement", HELD_WHEN_SEEN): lot_changes.weighed,
}
"""What follows where a changed fact isn't just one column of one row."""

_OF_THE_CUPBOARD: dict[
    tuple[str, str], Callable[[RowWriter, int, Value, Sequence[NewValue]], None]
] = {
    ("spirit", "strength_abv"): cupboard_changes.spirit_strength,
    ("spirit", "for"): cupboard_changes.spirit_for,
    ("cupboard_movement", "volume_ml"): cupboard_changes.cupboard_taken,
    ("cupboard_movement", HELD_WHEN_SEEN): cupboard_changes.cupboard_seen,
    ("herb", "name"): cupboard_changes.herb_name,
    ("herb", "merge"): cupboard_changes.merge,
}
