"""The facts that can be corrected, each with its name, its present value and where it is stored."""

from collections.abc import Iterator, Sequence

from stillroom.errors import Refused
from stillroom.keeping.correcting.columns import (
    BLEND,
    BOTTLE,
    DISCARD,
    DISCARDED,
    GO,
    HELD_WHEN_SEEN,
    HERB_IN_JAR,
    INPUT,
    JAR,
    LOSS,
    NONE_REMOVES,
    OF_GOES,
    OF_LOTS,
    OUT,
    POUR,
    REMOVABLE_HERB,
    REMOVES,
    RETURNED,
    SHAKES_OF_DAYS,
    STRAINING,
    TINCTURE,
    FactColumn,
)
from stillroom.keeping.correcting.cupboard_facts import (
    herb_facts,
    liquid_facts,
    lot_facts,
    spirit_facts,
)
from stillroom.keeping.correcting.fact_reader import FactReader
from stillroom.keeping.correcting.kinds import (
    NOT_THERE,
    Fact,
    FactKind,
    StoredAt,
    Subject,
    SubjectKind,
)
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.marc import held_back
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import BY_HAND, InputKind, JarState, LiquidKind, MovementKind


def facts_of(keeper: Keeper, subject: Subject) -> tuple[Fact, ...]:
    """What can be corrected of something on the shelf or in the cupboard, in order.

    Refused where it is no longer there.
    """
    said = wording(keeper)
    return tuple(_FACTS[subject.kind](FactReader(keeper, said), subject.row_id))


def _jar_facts(read: FactReader, jar_id: int) -> Iterator[Fact]:
    ((state,),) = read.keeper.rows("SELECT state FROM jar WHERE id = ?", jar_id) or [(None,)]
    columns = (*JAR, DISCARDED) if state == JarState.DISCARDED else JAR
    yield from read.row("jar", jar_id, columns, group="Jar")
    yield Fact(
        name="shakes",
        label="Shakes on a day",
        kind=FactKind.TEXT,
        value="",
        shown="",
        cell=StoredAt("shake", jar_id, SHAKES_OF_DAYS),
        group="Jar",
        can_be_blank=True,
        hint="such as 3 Oct: 2",
    )
    herbs = read.ids("SELECT id FROM charge_line WHERE jar_id = ? ORDER BY id", jar_id)
    is_marc = bool(read.ids("SELECT id FROM jar WHERE id = ? AND marc_of_id IS NOT NULL", jar_id))
    for number, row_id in enumerate([*herbs, None], start=1):
        suffix = f"-{number}" if number > 1 else ""
        group = f"Herb {number}" if number > 1 or len(herbs) > 1 else "Herb"
        of_herb = (REMOVABLE_HERB, *HERB_IN_JAR[1:]) if len(herbs) > 1 else HERB_IN_JAR
        of_herb = tuple(each for each in of_herb if not (is_marc and each.column == OF_LOTS))
        yield from read.row("charge_line", row_id, of_herb, group=group, suffix=suffix)
    pours = read.ids("SELECT id FROM pour WHERE jar_id = ? ORDER BY id", jar_id)
    for number, row_id in enumerate([*pours, None], start=1):
        yield from _pour_facts(read, row_id, f"Liquid {number}", f"pour-{number}.")
    for straining_id in read.ids("SELECT id FROM straining WHERE jar_id = ? ORDER BY id", jar_id):
        yield from _straining_facts(read, straining_id)
        for tincture_id in read.ids("SELECT id FROM tincture WHERE straining_id = ?", straining_id):
            yield from read.row("tincture", tincture_id, TINCTURE, group="Tincture")
            yield from _losses(read, tincture_id)
            yield from _bottlings(read, tincture_id)


def _pour_facts(read: FactReader, row_id: int | None, group: str, prefix: str) -> Iterator[Fact]:
    """Of a tincture how much went on; what a marc holds follows from the jar that it is of."""
    kind, movement_id = None, None
    if row_id is not None:
        sql = "SELECT kind, movement_id FROM pour WHERE id = ?"
        ((kind, movement_id),) = read.keeper.rows(sql, row_id)
    if movement_id is not None:
        yield _moved(read, movement_id, group=group, name=f"{prefix}volume", sign=-1)
        return
    if kind == LiquidKind.HELD_BACK and row_id is not None and _is_calculated(read, row_id):
        return
    columns: Sequence[FactColumn] = POUR
    if kind in (LiquidKind.TINCTURE, LiquidKind.HELD_BACK):
        columns = POUR[:1]
    yield from read.row("pour", row_id, columns, group=group, prefix=prefix)


def _is_calculated(read: FactReader, pour_id: int) -> bool:
    """Whether what a marc holds back follows from the first jar, where it is corrected."""
    rows = read.keeper.rows(
        """SELECT j.marc_of_id FROM pour p JOIN jar j ON j.id = p.jar_id
           WHERE p.id = ? AND p.source_id IS NULL AND j.marc_of_id IS NOT NULL""",
        pour_id,
    )
    return any(held_back(jar_view(read.keeper, first)).volume_ml is not None for (first,) in rows)


def _straining_facts(read: FactReader, straining_id: int) -> Iterator[Fact]:
    sql = "SELECT id FROM straining_go WHERE straining_id = ? ORDER BY strained_on, id"
    goes = read.ids(sql, straining_id)
    columns = [c for c in STRAINING if not goes or c.column not in OF_GOES]
    yield from read.row("straining", straining_id, columns, group="Straining")
    # A straining in one go is its own first one.
    for number, go_id in enumerate([*goes, None], start=1 if goes else 2):
        yield from read.row("straining_go", go_id, GO, group=f"Go {number}", prefix=f"go-{number}.")


def _blend_facts(read: FactReader, tincture_id: int) -> Iterator[Fact]:
    yield from read.row("tincture", tincture_id, BLEND, group="Blend")
    parts = read.ids(
        "SELECT movement_id FROM batch_input WHERE tincture_id = ? AND movement_id IS NOT NULL"
        " ORDER BY id",
        tincture_id,
    )
    for number, movement_id in enumerate([*parts, None], start=1):
        group, prefix = f"Part {number}", f"part-{number}."
        yield from read.row("movement", movement_id, (_FROM_BOTTLE,), group=group, prefix=prefix)
        yield _moved(read, movement_id, group=group, name=f"{prefix}volume", sign=-1)
    yield from _inputs(read, tincture_id)
    yield from _losses(read, tincture_id)
    yield from _bottlings(read, tincture_id)


def _inputs(read: FactReader, tincture_id: int) -> Iterator[Fact]:
    """What went in from elsewhere than bottles."""
    rows = read.keeper.rows(
        """SELECT i.id, i.kind, coalesce(t.code, s.name, l.name, 'water') FROM batch_input i
           LEFT JOIN tincture t ON t.id = i.source_id LEFT JOIN spirit s ON s.id = i.spirit_id
           LEFT JOIN liquid l ON l.id = i.liquid_id
           WHERE i.tincture_id = ? AND i.movement_id IS NULL ORDER BY i.id""",
        tincture_id,
    )
    for number, (input_id, kind, name) in enumerate(rows, start=1):
        columns = INPUT if kind == InputKind.SPIRIT else INPUT[:1]
        group = f"Input {number}: {name}"
        yield from read.row(
            "batch_input", input_id, columns, group=group, prefix=f"input-{number}."
        )


def _losses(read: FactReader, tincture_id: int) -> Iterator[Fact]:
    losses = read.ids("SELECT id FROM loss WHERE tincture_id = ? ORDER BY id", tincture_id)
    for number, loss_id in enumerate(losses, start=1):
        yield from read.row("loss", loss_id, LOSS, group=f"Loss {number}", prefix=f"loss-{number}.")


_FROM_BOTTLE = FactColumn("bottle_id", "bottle", "From bottle", FactKind.TEXT)


def _moved(read: FactReader, movement_id: int | None, *, group: str, name: str, sign: int) -> Fact:
    """The volume of a movement, whichever way it went."""
    stored = None
    if movement_id is not None:
        ((stored,),) = read.keeper.rows(
            "SELECT volume_ml * ? FROM movement WHERE id = ?", sign, movement_id
        )
    column = FactColumn("volume_ml", "volume", "Volume", FactKind.VOLUME, hint=REMOVES)
    return read.fact(
        column, stored, StoredAt("movement", movement_id, "volume_ml"), name=name, group=group
    )


def _bottlings(read: FactReader, tincture_id: int) -> Iterator[Fact]:
    bottles = read.ids("SELECT id FROM bottle WHERE tincture_id = ? ORDER BY id", tincture_id)
    for number, bottle_id in enumerate([*bottles, None], start=1):
        yield from _filling(read, bottle_id, f"Bottle {number}", f"bottle-{number}.")


def _filling(read: FactReader, bottle_id: int | None, group: str, prefix: str) -> Iterator[Fact]:
    fills = []
    if bottle_id is not None:
        fills = read.ids("SELECT id FROM movement WHERE bottle_id = ? AND kind = 'fill'", bottle_id)
    yield _moved(read, fills[0] if fills else None, group=group, name=f"{prefix}volume", sign=1)
    yield from read.row("bottle", bottle_id, BOTTLE, group=group, prefix=prefix)


def _bottle_facts(read: FactReader, bottle_id: int) -> Iterator[Fact]:
    if not read.ids("SELECT id FROM bottle WHERE id = ?", bottle_id):
        raise Refused(NOT_THERE)
    yield from _filling(read, bottle_id, "Bottle", "")
    movements = read.keeper.rows(
        """SELECT id, kind, sum(volume_ml) OVER (ORDER BY id) FROM movement
           WHERE bottle_id = ? ORDER BY id""",
        bottle_id,
    )
    number = 0
    for movement_id, kind, held_ml in movements:
        if kind == MovementKind.FILL:
            continue
        number += 1
        yield from _movement(read, movement_id, MovementKind(kind), held_ml, number)
    returns = read.ids("SELECT id FROM returned WHERE bottle_id = ? ORDER BY id", bottle_id)
    for number, return_id in enumerate(returns, start=1):
        yield from read.row(
            "returned", return_id, RETURNED, group=f"Return {number}", prefix=f"returned-{number}."
        )


def _movement(
    read: FactReader, movement_id: int, kind: MovementKind, held_ml: float, number: int
) -> Iterator[Fact]:
    group, prefix = f"Movement {number}: {kind}", f"movement-{number}."
    if kind.corrects:
        held_ml = 0.0 if held_ml < EMPTY_ML else held_ml
        cell = StoredAt("movement", movement_id, HELD_WHEN_SEEN)
        yield read.fact(_SEEN, held_ml, cell, name=f"{prefix}seen", group=group)
    else:
        went_in = kind is MovementKind.POUR_TOGETHER and _is_taker(read, movement_id)
        sign = 1 if went_in else -1
        yield _moved(read, movement_id, group=group, name=f"{prefix}volume", sign=sign)
    columns = [FactColumn("bottle_id", "bottle", "Bottle", FactKind.TEXT)]
    if kind in BY_HAND or kind is MovementKind.DISCARD:
        choices = OUT if kind in BY_HAND else (*OUT, (DISCARD, DISCARD))
        columns.insert(0, FactColumn("kind", "kind", "Kind", FactKind.CHOICE, choices=choices))
        columns.append(FactColumn("person", "for", "For", FactKind.TEXT, can_be_blank=True))
    if kind is not MovementKind.BLEND:  # which is of the blend's day
        columns.append(FactColumn("day", "day", "Day", FactKind.DAY))
        columns.append(FactColumn("note", "note", "Note", FactKind.TEXT, can_be_blank=True))
    yield from read.row("movement", movement_id, columns, group=group, prefix=prefix)


_SEEN = FactColumn(
    HELD_WHEN_SEEN, "seen", "Held when seen", FactKind.VOLUME, can_be_blank=True, hint=NONE_REMOVES
)


def _is_taker(read: FactReader, movement_id: int) -> bool:
    sql = "SELECT volume_ml > 0 FROM movement WHERE id = ?"
    return read.ids(sql, movement_id) == [1]


_FACTS = {
    SubjectKind.JAR: _jar_facts,
    SubjectKind.BLEND: _blend_facts,
    SubjectKind.BOTTLE: _bottle_facts,
    SubjectKind.SPIRIT: spirit_facts,
    SubjectKind.HERB: herb_facts,
    SubjectKind.LOT: lot_facts,
    SubjectKind.LIQUID: liquid_facts,
}
