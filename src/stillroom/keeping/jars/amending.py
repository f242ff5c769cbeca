"""Correct a jar that still steeps, from the form that filled it."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any, TypeVar

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.cards import JarCard
from stillroom.keeping.cupboard.counts import counts_kept
from stillroom.keeping.cupboard.lot_replay import lot_anchors, replay_lots
from stillroom.keeping.drafts import JarDraft
from stillroom.keeping.jars.jar import charge_columns, check_draft, pour_columns, steeping_jar
from stillroom.keeping.jars.rows import insert_charge, insert_pour, jar_columns, next_place
from stillroom.keeping.jars.shelves import jar_card
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.settings import refuse_without_why
from stillroom.keeping.tolerances import EMPTY_G, EMPTY_ML
from stillroom.keeping.wording import wording
from stillroom.keeping.words import clean_note, old_and_new
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import LineKind, LiquidKind
from stillroom.records.journal import mark_corrected
from stillroom.records.tables import ChargeLine, Jar, Pour

T = TypeVar("T", ChargeLine, Pour)


def amend_jar(keeper: Keeper, jar_id: int, draft: JarDraft, *, why: str = "") -> JarCard:
    """Correct a steeping jar: its contents, dates and plan, each row in place.

    What was poured at filling moves with the filling; a top-up keeps its day.
    """
    check_draft(keeper, draft)
    why = clean_note(why, "The reason", limit=2000)
    refuse_without_why(keeper, why)
    with keeper.act("Corrected a jar", kind=LineKind.CORRECTION, why=why) as act:
        jar = steeping_jar(jar_id)
        if jar.marc_of_id is not None or _has_tincture(jar_id):  # type: ignore[attr-defined]
            raise Refused(
                f"A tincture was poured into {jar.code}. Press C to correct one entry at a time."
            )
        before = _in_words(keeper, jar_id)
        lots = _lots_of(keeper, jar_id, draft)
        seen = lot_anchors(keeper, lots)  # what a lot weighed since stays
        _amend_charges(keeper, jar_id, draft)
        replay_lots(keeper, lots, seen)
        with counts_kept(keeper):
            _amend_pours(jar_id, draft, jar.filled_on)
        columns = jar_columns(draft)
        if draft.shelf_id and draft.shelf_id != jar.shelf.id:
            columns |= {"shelf": draft.shelf_id, "place": next_place(draft.shelf_id)}
        Jar.update(**columns).where(Jar.id == jar_id).execute()
        _refuse_more_than_was_bought(keeper)
        card = jar_card(keeper, jar_id)
        assert card is not None
        act.title = f"Corrected {card.herb} {card.code}"
        after = _in_words(keeper, jar_id)
        changed = [name for name in before | after if before.get(name) != after.get(name)]
        _strike(keeper, act, jar_id, changed)
        said = old_and_new(before, after) or "nothing changed"
        act.note("corrected", said, jar_id=jar_id)
    return card


def _has_tincture(jar_id: int) -> bool:
    """Whether a tincture was poured on: what went out of its bottle is part of it."""
    return bool(
        Pour.select().where((Pour.jar == jar_id) & (Pour.kind == LiquidKind.TINCTURE)).count()
    )


def _lots_of(keeper: Keeper, jar_id: int, draft: JarDraft) -> set[int]:
    """The lots that it took its herbs from, and those that it is to have taken them from."""
    rows = keeper.rows("SELECT lot_id FROM charge_line WHERE jar_id = ?", jar_id)
    found = [lot_id for (lot_id,) in rows] + [charge.lot_id for charge in draft.charges]
    return {lot_id for lot_id in found if lot_id is not None}


def _amend_charges(keeper: Keeper, jar_id: int, draft: JarDraft) -> None:
    there = list(ChargeLine.select().where(ChargeLine.jar == jar_id).order_by(ChargeLine.id))
    wanted = [charge_columns(keeper, charge, draft.filled_on) for charge in draft.charges]
    for row, columns in _paired(there, wanted):
        if row is None:
            insert_charge(jar_id, columns)
        elif columns is None:
            ChargeLine.delete().where(ChargeLine.id == row.id).execute()
        else:
            ChargeLine.update(**columns).where(ChargeLine.id == row.id).execute()


def _amend_pours(jar_id: int, draft: JarDraft, filled_on: date) -> None:
    there = list(Pour.select().where(Pour.jar == jar_id).order_by(Pour.id))
    wanted = [pour_columns(pour) for pour in draft.pours]
    for row, columns in _paired(there, wanted):
        if row is None:
            insert_pour(jar_id, draft.filled_on, columns)
        elif columns is None:
            Pour.delete().where(Pour.id == row.id).execute()
        else:
            day = draft.filled_on if row.poured_on == filled_on else row.poured_on
            Pour.update(poured_on=day, **columns).where(Pour.id == row.id).execute()


def _paired(there: Sequence[T], wanted: Sequence[dict[str, Any]]) -> Iterator[tuple[Any, Any]]:
    """Each row with what it becomes: first those that stay the same, then the others in order."""
    left = list(wanted)
    changed = []
    for row in there:
        same = next((columns for columns in left if _is_same(row, columns)), None)
        if same is None:
            changed.append(row)
        else:
            left.remove(same)
            yield row, same
    for number in range(max(len(changed), len(left))):
        yield (
            changed[number] if number < len(changed) else None,
            left[number] if number < len(left) else None,
        )


def _is_same(row: T, columns: dict[str, Any]) -> bool:
    pointers = ("herb", "spirit", "lot")
    return all(
        getattr(row, f"{name}_id" if name in pointers else name) == value
        for name, value in columns.items()
    )


def _refuse_more_than_was_bought(keeper: Keeper) -> None:
    if keeper.rows(
        """SELECT 1 FROM spirit_left WHERE left_ml < ?
           UNION ALL SELECT 1 FROM liquid_left WHERE left_ml < ? LIMIT 1""",
        -EMPTY_ML,
        -EMPTY_ML,
    ):
        raise Refused("There is not that much of this spirit left in the cupboard.")
    for code, left_g in keeper.rows(
        """SELECT l.code, s.left_g FROM in_store s JOIN herb_lot l ON l.id = s.lot_id
           WHERE s.left_g < ? LIMIT 1""",
        -EMPTY_G,
    ):
        short = wording(keeper).mass(-left_g)
        raise Refused(
            f"Not enough left: {code} is {short} short. If it holds more, weigh it first."
        )


def _in_words(keeper: Keeper, jar_id: int) -> dict[str, str]:
    """What is recorded of a jar, by what it is called."""
    said = wording(keeper)
    ((filled, strain, per_day, size, simmered, note, shelf),) = keeper.rows(
        """SELECT j.filled_on, j.strain_on, j.shakes_per_day, j.capacity_ml, j.simmered, j.note,
                  s.name FROM jar j JOIN shelf s ON s.id = j.shelf_id WHERE j.id = ?""",
        jar_id,
    )
    words = {}
    herbs = keeper.rows(
        """SELECT h.name, l.part, l.condition, l.mass_g, l.water_fraction, l.gathered_on, l.origin,
                  coalesce((SELECT code FROM herb_lot WHERE herb_lot.id = l.lot_id), '')
           FROM charge_line l JOIN herb h ON h.id = l.herb_id WHERE l.jar_id = ? ORDER BY l.id""",
        jar_id,
    )
    for number, (name, part, condition, mass_g, water, gathered, *origin) in enumerate(herbs, 1):
        measured = "" if water is None else f"{said.percent(100 * water)} water"
        day = said.day(day_or_none(gathered))
        facts = [said.herb_with_mass(name, mass_g), part, condition, measured, day, *origin]
        words[f"Herb {number}"] = ", ".join(fact for fact in facts if fact)
    pours = keeper.rows(
        "SELECT kind, volume_ml, strength_abv FROM pour WHERE jar_id = ? ORDER BY id", jar_id
    )
    for number, (kind, volume_ml, abv) in enumerate(pours, 1):
        strength = f" {said.of(Kind.STRENGTH, abv)}" if abv else ""
        words[f"Liquid {number}"] = f"{said.volume(volume_ml)} {kind}{strength}"
    return words | {
        "Filled on": said.day(day_or_none(filled)),
        "Strain on": said.day(day_or_none(strain)),
        "Shakes a day": str(per_day),
        "Jar size": said.volume(size),
        "Simmered": "yes" if simmered else "no",
        "Note": " ".join(note.split()),
        "Shelf": shelf,
    }


def _strike(keeper: Keeper, act: Act, jar_id: int, changed: Sequence[str]) -> None:
    """Mark the lines of the ledger that recorded what was changed."""
    if not changed:
        return
    lines = keeper.rows(
        """SELECT id, kind, text FROM standing WHERE jar_id = ?
           AND kind IN ('filled', 'imported', 'dates', 'topped up', 'corrected')""",
        jar_id,
    )
    is_poured = any(name.startswith("Liquid") for name in changed)
    for event_id, kind, text in lines:
        is_meant = kind != "topped up" or is_poured
        if kind == "corrected":
            is_meant = any(f"; {name} " in f"; {text}" for name in changed)
        if is_meant:
            mark_corrected(act.db, event_id, act.line_id)
