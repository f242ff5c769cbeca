"""Lines taken in at once end as they do line by line, whatever is wrong with them."""

import os
import random

import pytest

from stillroom.keeping.interchange import lines
from stillroom.keeping.interchange.at_once import TakingAtOnce
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.report import ImportReport
from stillroom.keeping.interchange.tables import TABLES
from stillroom.keeping.interchange.writing import export_json

from .conftest import Folder, NewShelf

SEEDS = range(150 if os.environ.get("LONG_FORM") else 30)


def spoil(folder: Folder, dice: random.Random) -> None:
    """Copy, drop, move or change a line of some file."""
    file = dice.choice([table.file for table in TABLES if len(folder.rows(table.file)) > 1])
    heading, *rows = folder.rows(file)
    row = dice.randrange(len(rows))
    match dice.choice(["copy", "drop", "move", "change", "change", "change"]):
        case "copy":
            rows.insert(dice.randrange(len(rows) + 1), rows[row])
        case "drop":
            del rows[row]
        case "move":
            rows.insert(dice.randrange(len(rows)), rows.pop(row))
        case _:
            column = dice.randrange(len(heading))
            others = [other[column] for other in rows]
            rows[row][column] = dice.choice([*others, "", "1", "2", "-1", "999999", "x"])
    folder.write(file, [heading, *rows])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_spoiled_export_is_taken_in_or_refused_as_line_by_line(
    folder: Folder, new_shelf: NewShelf, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    dice = random.Random(seed)
    for _ in range(dice.randint(1, 3)):
        spoil(folder, dice)

    def outcome(name: str) -> tuple[ImportReport, str]:
        other = new_shelf(name)
        report = import_folder(other, folder.path)
        return report, export_json(other)

    monkeypatch.setattr(lines, "AT_ONCE", dice.choice([1, 3, 200]))
    at_once = outcome("at-once")
    monkeypatch.setattr(TakingAtOnce, "take", lambda *_: range(0))
    assert at_once == outcome("line-by-line")


def test_a_good_export_is_taken_in_at_once(
    folder: Folder, new_shelf: NewShelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken: list[int] = []
    take = TakingAtOnce.take

    def counted(taking: TakingAtOnce, some: lines.Lines) -> range:
        ids = take(taking, some)
        taken.extend(ids)
        return ids

    monkeypatch.setattr(TakingAtOnce, "take", counted)
    added = import_folder(new_shelf("other"), folder.path).added
    # Each setting is tried, and one of the lots is part of another beside it.
    assert len(taken) == sum(added.values()) - added["settings"] - added["herb_lots"] > 100
