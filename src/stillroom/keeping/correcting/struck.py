"""Which lines of the ledger a correction strikes through."""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

from stillroom.keeping.correcting.columns import KEEP_UNTIL, SHAKES_OF_DAYS
from stillroom.keeping.correcting.kinds import NewValue, SubjectKind
from stillroom.keeping.correcting.reading import read_shakes
from stillroom.keeping.cupboard.lot_reading import LAID_OUT
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import HERB_DISCARDS, HerbCame, HerbMovementKind, MovementKind
from stillroom.records.journal import mark_corrected

_FILLING = ("filled", "imported")
_CONTENTS = (*_FILLING, "dates")


def lines_of(keeper: Keeper, asked: Iterable[NewValue]) -> set[int]:
    """Ids of the lines that recorded these facts; to be read before the facts change."""
    return {event_id for each in asked for event_id in _lines_of(keeper, each)}


def strike(act: Act, event_ids: Iterable[int]) -> None:
    """Mark these lines as corrected by an act under way."""
    for event_id in sorted(event_ids):
        mark_corrected(act.db, event_id, act.line_id)


def _lines_of(keeper: Keeper, asked: NewValue) -> Iterator[int]:
    cell, subject = asked.fact.cell, asked.subject
    if cell.record == "cupboard_movement" and cell.row_id is not None:
        yield from _of_cupboard(keeper, cell.row_id)
    if subject.kind not in _ABOUT:
        return
    about, row_id = _ABOUT[subject.kind], subject.row_id
    yield from _earlier_corrections(keeper, about, row_id, asked)
    if cell.row_id is None:
        if cell.record in ("charge_line", "pour"):
            yield from _find(keeper, about, row_id, _FILLING)
        return
    if cell.record in ("jar", "charge_line", "pour"):
        is_end = cell.column == "ended_on"
        yield from _find(keeper, about, row_id, ("discarded",) if is_end else _CONTENTS)
        if cell.record == "pour":
            ((day,),) = keeper.rows("SELECT poured_on FROM pour WHERE id = ?", cell.row_id)
            yield from _find(keeper, about, row_id, ("topped up",), "day = ?", day)
    elif cell.record == "shake":
        for day, _ in read_shakes(keeper, str(asked.value)):
            yield from _find(keeper, about, row_id, ("shaken",), "day = ?", day)
    elif cell.record in ("straining", "straining_go"):
        yield from _find(keeper, about, row_id, ("strained", "drained"))
    elif cell.record == "tincture":
        kinds = _OF_TINCTURE.get(cell.column, ("strained", "blended"))
        yield from _find(keeper, "tincture_id", cell.row_id, kinds)
    elif cell.record in ("bottle", "movement"):
        yield from _of_bottle(keeper, cell.record, cell.row_id)
    elif cell.record == "herb_lot":
        yield from _find(keeper, about, row_id, _OF_LOT.get(cell.column, tuple(HerbCame)))
    elif cell.record == "herb_movement":
        sql = "at = (SELECT at FROM herb_movement WHERE id = ?)"
        yield from _find(keeper, about, row_id, tuple(HerbMovementKind), sql, cell.row_id)
    elif cell.record in ("spirit", "herb"):
        yield from _find(keeper, about, row_id, (cell.record,))


def _of_cupboard(keeper: Keeper, movement_id: int) -> Iterator[int]:
    """The line of a count, or of what was taken; that of a liquid holds no number of it."""
    for (event_id,) in keeper.rows(
        """SELECT max(e.id) FROM cupboard_movement m JOIN standing e
           ON e.at = m.at AND e.kind = m.kind AND e.spirit_id IS m.spirit_id
           WHERE m.id = ? HAVING max(e.id) IS NOT NULL""",
        movement_id,
    ):
        yield event_id


def _of_bottle(keeper: Keeper, record: str, row_id: int) -> Iterator[int]:
    """Lines about a bottling, a blend's part, or what left a bottle, by their moment."""
    condition = "m.id = ?" if record == "movement" else "m.bottle_id = ? AND m.kind = 'fill'"
    for bottle_id, tincture_id, kind, at, blend_id in keeper.rows(
        f"""SELECT m.bottle_id, b.tincture_id, m.kind, m.at,
                   (SELECT tincture_id FROM batch_input WHERE movement_id = m.id)
            FROM movement m JOIN bottle b ON b.id = m.bottle_id WHERE {condition}""",
        row_id,
    ):
        if kind == MovementKind.FILL:
            yield from _find(keeper, "tincture_id", tincture_id, ("bottled",), "at = ?", at)
        else:
            yield from _find(keeper, "bottle_id", bottle_id, (kind,), "at = ?", at)
        if kind == MovementKind.POUR_TOGETHER:  # the other bottle's line, too
            yield from _find(keeper, "tincture_id", tincture_id, (kind,), "at = ?", at)
        if blend_id is not None:
            yield from _find(keeper, "tincture_id", blend_id, ("blended",))


def _earlier_corrections(keeper: Keeper, about: str, row_id: int, asked: NewValue) -> Iterator[int]:
    labels = [words_for(asked)]
    if asked.fact.cell.column == SHAKES_OF_DAYS:
        days = read_shakes(keeper, str(asked.value))
        labels = [shakes_label(keeper, day) for day, _ in days]
    for label in labels:
        yield from _find(
            keeper, about, row_id, ("corrected",), "instr('; ' || text, ?)", f"; {label} "
        )


def shakes_label(keeper: Keeper, day: str) -> str:
    """How the shakes of a day are named in a line of the ledger."""
    return f"{wording(keeper).day(date.fromisoformat(day))}, shakes"


def shakes_changed(keeper: Keeper, asked: NewValue) -> list[tuple[str, int, int]]:
    """Each day that is named, with the shakes recorded and the shakes it is to have."""
    found = []
    for day, wanted in read_shakes(keeper, str(asked.value)):
        ((there,),) = keeper.rows(
            "SELECT count(*) FROM shake WHERE jar_id = ? AND day = ?", asked.subject.row_id, day
        )
        found.append((day, there, wanted))
    return found


def words_for(asked: NewValue) -> str:
    """How a fact is named in a line of the ledger, such as `Yield` or `Bottle 1, volume`."""
    fact = asked.fact
    if fact.group[-1:].isdigit() or ":" in fact.group:
        label = fact.label[0].lower() + fact.label[1:]
        return f"{fact.group.partition(':')[0]}, {label}"
    return fact.label


def _find(
    keeper: Keeper, about: str, row_id: int, kinds: tuple[str, ...], also: str = "1", *values: Any
) -> Iterator[int]:
    wanted = ", ".join(f"'{kind}'" for kind in kinds)
    for (event_id,) in keeper.rows(
        f"SELECT id FROM standing WHERE {about} = ? AND kind IN ({wanted}) AND {also}",
        row_id,
        *values,
    ):
        yield event_id


_OF_TINCTURE = {"lost_ml": ("bottled",), KEEP_UNTIL: ("keep until",)}
"""The lines that recorded a fact of a tincture, where it isn't the one of how it was made."""
_OF_LOT = {
    "laid_out_on": (LAID_OUT,),
    "laid_out_g": (LAID_OUT,),
    "dry_on": (HerbMovementKind.DRIED,),
    "dry_g": (HerbMovementKind.DRIED,),
    "used_up_on": (HerbMovementKind.USED_UP, *HERB_DISCARDS),
}
"""The lines that recorded a fact of a lot, where it isn't the one of how it came."""
_ABOUT = {
    SubjectKind.JAR: "jar_id",
    SubjectKind.BLEND: "tincture_id",
    SubjectKind.BOTTLE: "bottle_id",
    SubjectKind.SPIRIT: "spirit_id",
    SubjectKind.HERB: "herb_id",
    SubjectKind.LOT: "lot_id",
}
