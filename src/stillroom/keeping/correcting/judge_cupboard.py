"""Judge what a correction leaves of the cupboard: no more is used than there was."""

from collections.abc import Iterator
from datetime import date

from stillroom.keeping.correcting.kinds import Obstacle, Subject, SubjectKind
from stillroom.keeping.correcting.subjects import code_of
from stillroom.keeping.cupboard.counts import (
    CupboardEntry,
    cupboard_entries,
    lacking,
    moments_of,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_G, EMPTY_ML
from stillroom.keeping.wording import Wording


def judge_cupboard(keeper: Keeper, said: Wording, subject: Subject) -> list[Obstacle]:
    """What can't be of the cupboard's spirits, other liquids and lots of herb."""
    return [
        *_poured(keeper, said, subject, SubjectKind.SPIRIT),
        *_poured(keeper, said, subject, SubjectKind.LIQUID),
        *_held(keeper, said, subject),
        *_lots(keeper, said),
    ]


def _held(keeper: Keeper, said: Wording, subject: Subject) -> Iterator[Obstacle]:
    """What was counted, given away or spilled was there, and on a day that has been."""
    moved = {
        (kind, row_id): (name, bought_on)
        for kind in (SubjectKind.SPIRIT, SubjectKind.LIQUID)
        for row_id, name, bought_on in keeper.rows(
            f"""SELECT id, name, coalesce(bought_on, '') FROM {kind}
                WHERE id IN (SELECT {kind}_id FROM cupboard_movement)"""
        )
    }
    moments = moments_of(keeper, moved) if moved else {}
    for (kind, row_id), (name, bought_on) in moved.items():
        here = Subject(kind, row_id)
        field = "" if subject == here else f"{code_of(keeper, here)}:"
        entries = cupboard_entries(keeper, (kind, row_id), moments)
        ids = sorted(entry.row_id for entry in entries if entry.is_movement)
        names = {each: f"{field}movement-{number}" for number, each in enumerate(ids, start=1)}
        for entry in entries:
            if entry.is_movement and not bought_on <= entry.day <= keeper.today.isoformat():
                way_out = f"{names[entry.row_id]}.day"
                yield Obstacle(
                    f"The {entry.kind} of {name} would be on {_day(said, entry)}, before it was "
                    f"bought or in the future. Correct that day too: {way_out}=…",
                    (way_out,),
                )
        short = lacking(entries)
        if short is not None and short.left_ml is not None:
            way_out = f"{names[short.row_id]}.volume" if short.is_movement else f"{field}volume"
            yield Obstacle(
                f"{name} would be {said.volume(-short.left_ml)} short for the "
                f"{said.volume(abs(short.volume_ml))} ({short.kind}) of {_day(said, short)}. "
                f"Correct that or the amount bought too: {way_out}=…",
                (way_out,),
            )


def _day(said: Wording, entry: CupboardEntry) -> str:
    return said.day(date.fromisoformat(entry.day))


def _lots(keeper: Keeper, said: Wording) -> Iterator[Obstacle]:
    """No more of a lot of herb is taken than there was."""
    for code, left_g in keeper.rows(
        """SELECT l.code, s.left_g FROM in_store s JOIN herb_lot l ON l.id = s.lot_id
           WHERE s.left_g < ?""",
        -EMPTY_G,
    ):
        yield Obstacle(
            f"Lot {code} is {said.mass(-left_g)} short for this. If it holds more, weigh it in "
            "the Cupboard first."
        )
    for code, did, day in keeper.rows(_TOO_EARLY, keeper.today.isoformat()):
        yield Obstacle(
            f"Lot {code} would be {did} on {said.day(date.fromisoformat(day))}, before it was "
            "gathered or bought, or in the future."
        )


_TOO_EARLY = """
    SELECT l.code, 'put into jar ' || j.code, j.filled_on FROM charge_line c
    JOIN jar j ON j.id = c.jar_id JOIN herb_lot l ON l.id = c.lot_id
    WHERE j.filled_on < l.got_on
    UNION ALL
    SELECT l.code, 'weighed, given or discarded', m.day FROM herb_movement m
    JOIN herb_lot l ON l.id = m.lot_id
    WHERE m.day < l.got_on OR m.day > ?
"""


def _poured(
    keeper: Keeper, said: Wording, subject: Subject, kind: SubjectKind
) -> Iterator[Obstacle]:
    """No more of a spirit or other liquid is poured than was bought."""
    rows = keeper.rows(
        f"""SELECT s.id, s.name, s.bought_ml, s.bought_ml - c.left_ml FROM {kind} s
            JOIN {kind}_left c ON c.{kind}_id = s.id WHERE c.left_ml < ?
            AND s.id NOT IN (SELECT {kind}_id FROM cupboard_movement
                             WHERE {kind}_id IS NOT NULL)""",
        -EMPTY_ML,
    )
    for row_id, name, bought_ml, poured_ml in rows:
        here = Subject(kind, row_id)
        field = "volume" if subject == here else f"{code_of(keeper, here)}:volume"
        yield Obstacle(
            f"{said.volume(poured_ml)} of {name} was poured, but only "
            f"{said.volume(bought_ml)} would be bought. Correct the amount bought "
            f"too: {field}=…",
            (field,),
        )
