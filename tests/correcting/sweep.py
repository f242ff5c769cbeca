"""Every fact of the sample shelf, corrected to something else: done and sound, or refused in words.

    python -m tests.correcting.sweep --facts 2000 [--seed 1]

After each correction that is done, `check` finds nothing, the plan made before it says the same,
and undo restores every row; after each that is refused, nothing has changed.
"""

import argparse
import random
import sys
import tempfile
from collections import Counter
from datetime import date, timedelta
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping.correcting.correct import correct, plan_correction
from stillroom.keeping.correcting.fact_reader import show_value
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Fact, FactKind, Subject, SubjectKind
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.keeping.undo import undo
from stillroom.keeping.wording import wording
from stillroom.records.tables import UNDOABLE, Setting

from ..conftest import NOW

SUBJECTS = {
    SubjectKind.JAR: "SELECT id FROM jar",
    SubjectKind.BLEND: "SELECT id FROM tincture WHERE straining_id IS NULL",
    SubjectKind.BOTTLE: "SELECT id FROM bottle",
    SubjectKind.SPIRIT: "SELECT id FROM spirit",
    SubjectKind.HERB: "SELECT id FROM herb",
    SubjectKind.LOT: "SELECT id FROM herb_lot",
    SubjectKind.LIQUID: "SELECT id FROM liquid",
}


def everything(keeper: Keeper) -> list[tuple[Subject, Fact]]:
    """Every fact that can be corrected, of every subject."""
    subjects = [
        Subject(kind, row_id) for kind, sql in SUBJECTS.items() for (row_id,) in keeper.rows(sql)
    ]
    return [(subject, fact) for subject in subjects for fact in facts_of(keeper, subject)]


def rows(keeper: Keeper) -> dict[str, list[tuple[object, ...]]]:
    """Every row that undo restores."""
    return {
        record.table(): keeper.rows(f"SELECT * FROM {record.table()} ORDER BY id")
        for record in UNDOABLE
        if record is not Setting  # which holds the number of the last act
    }


def another(keeper: Keeper, fact: Fact, rng: random.Random) -> str:
    """Something else that may be typed for a fact: often a little off, now and then far."""
    if fact.cell.column == "shakes":
        return f"{keeper.today - timedelta(days=rng.randrange(300))}: {rng.randrange(5)}"
    if fact.cell.column in ("bottle_id", "jar_id"):
        table = fact.cell.column.removesuffix("_id")
        return str(rng.choice(keeper.rows(f"SELECT code FROM {table}"))[0])
    if fact.cell.column in ("herb_id", "merge", "name"):
        return str(rng.choice([*keeper.rows("SELECT name FROM herb"), ("New name",)])[0])
    if fact.can_be_blank and rng.random() < 0.3:
        return ""
    if fact.cell.column == "lot_id":
        return str(rng.choice(keeper.rows("SELECT code FROM herb_lot"))[0])
    if fact.choices:
        return rng.choice(fact.choices)[0]
    if fact.kind is FactKind.DAY:
        day = fact.value if isinstance(fact.value, date) else keeper.today
        return (day + timedelta(days=rng.choice((-400, -9, -1, 1, 2, 30)))).isoformat()
    if fact.kind is FactKind.TEXT:
        return "something else"
    value = fact.value if isinstance(fact.value, float | int) else 20.0
    changed = value * rng.choice((0, 0.5, 0.97, 1.03, 1.1, 3)) + rng.choice((0, 0, 1.5))
    return show_value(fact.kind, changed, (), wording(keeper))


def sweep(keeper: Keeper, facts: int, rng: random.Random) -> tuple[Counter[str], list[str]]:
    """Correct so many facts; returns how they ended, by kind, and what went wrong."""
    catalogue = everything(keeper)
    ended: Counter[str] = Counter()
    problems = []
    before = rows(keeper)
    for subject, fact in rng.sample(catalogue, min(facts, len(catalogue))):
        text = another(keeper, fact, rng)
        where = f"{subject.kind} {subject.row_id} {fact.name}={text!r} (was {fact.shown!r})"
        try:
            plan = plan_correction(keeper, subject, {fact.name: text})
            done = correct(keeper, subject, {fact.name: text}, confirmed=True)
        except (Refused, ValueError) as error:
            ended[f"{subject.kind}: refused"] += 1
            said = str(error)
            if "CHECK" in said or "constraint" in said or not said:
                problems.append(f"{where}: {said}")
        else:
            ended[f"{subject.kind}: done"] += 1
            if plan != done:
                problems.append(f"{where}: planned otherwise")
            problems += [f"{where}: {finding.what}" for finding in check(keeper)]
            undo(keeper)
        if rows(keeper) != before:
            problems.append(f"{where}: rows changed for good")
            before = rows(keeper)
    return ended, problems


def main() -> int:
    """Correct many facts; ends with 1 where anything went wrong."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--facts", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        keeper = open_sample(SetClock(NOW), Path(folder))
        ended, problems = sweep(keeper, asked.facts, random.Random(asked.seed))
        keeper.store.close()
    print(dict(sorted(ended.items())))
    print("\n".join(problems))
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
