"""The sample shelf: a small dispensary of our own, dated so that today is interesting."""

import csv
import json
import re
from collections import Counter
from datetime import date, timedelta
from functools import cache
from pathlib import Path

from stillroom.clock import Clock
from stillroom.dates import parse_day, show_day, show_month
from stillroom.errors import StoreError
from stillroom.keeping.interchange.columns import MANIFEST
from stillroom.keeping.interchange.reading import FolderReading, Reword
from stillroom.keeping.keeper import Keeper, stamp
from stillroom.reckoning.months import years_on
from stillroom.reckoning.shelf_life import KEEPING_YEARS
from stillroom.records.store import Store

SAMPLE_FOLDER = Path(__file__).parents[2] / "sample_shelf"
"""The package's copy of the folder of that name at the top of the repository."""

_DAY = re.compile(r"\b\d{4}-\d\d-\d\d(T[\d:.]+\+00:00)?")
_MONTH = re.compile(r"\d{4}-\d\d")
_WRITTEN = re.compile(r"\b(\d{1,2} )?(Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) (\d{4})\b")
"""A day or a month as lines of the ledger and labels have it."""
_CODE = re.compile(r"\b(?:H-)?\d\d-\d{3}\b")
"""Of a batch, or of a lot of herb."""


def open_sample(clock: Clock, folder: Path) -> Keeper:
    """Make a throw-away shelf in a folder from the sample and open it; closing is the caller's."""
    keeper = Keeper(Store.open(folder / "sample.stillroom", create=True), clock)
    reading = FolderReading(keeper, SAMPLE_FOLDER, _carried_to_today(keeper))
    try:
        # Outside an act, so that the first thing to undo is the first thing a person does.
        with keeper.writing():
            reading.run()
            if reading.bad:
                raise StoreError(f"The sample shelf can't be read: {reading.bad[0]}")
    except BaseException:
        keeper.store.close()
        raise
    return keeper


def _codes_after(shift: timedelta) -> dict[str, str]:
    """New codes of batches and lots by old ones, where the days have moved to another year.

    The others stay, so that the codes in the documents are right on most days; those that move are
    numbered after them.
    """
    made = {row["code"]: row["filled_on"] for row in _lines("jars.csv")}
    made |= {row["code"]: row["made_on"] for row in _lines("tinctures.csv") if not row["jar"]}
    made |= {row["code"]: row["got_on"] for row in _lines("herb_lots.csv")}
    # A code is what its series begins with, the year and a number: `26-041`, `H-26-003`.
    series = {
        code: f"{code[:-6]}{date.fromisoformat(made[code]) + shift:%y}-" for code in sorted(made)
    }
    codes = {code: code for code, begins in series.items() if code.startswith(begins)}
    last_of_year = Counter({code[:-3]: int(code[-3:]) for code in codes})
    for code, begins in series.items():
        if code not in codes:
            last_of_year[begins] += 1
            codes[code] = f"{begins}{last_of_year[begins]:03d}"
    return codes


def _kept_until_after(shift: timedelta) -> dict[str, date]:
    """New keep-until dates by old ones: so many years on, whether or not a leap day lies between.

    The date of a blend is that of one of its parts.
    """
    moved = {}
    for row in _lines("tinctures.csv"):
        if row["jar"] and row["keep_until"]:
            made_on = date.fromisoformat(row["made_on"])
            for years in KEEPING_YEARS.values():
                if years and row["keep_until"] == f"{years_on(made_on, years)}":
                    moved[row["keep_until"]] = years_on(made_on + shift, years)
    return moved


def _lines(file: str) -> list[dict[str, str]]:
    with (SAMPLE_FOLDER / file).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def _carried_to_today(keeper: Keeper) -> Reword:
    """A rewording that moves every date by the days since the sample was written.

    Codes follow, as they hold a year; moments of today end no later than now.
    """
    written_on = date.fromisoformat(
        json.loads((SAMPLE_FOLDER / MANIFEST).read_text(encoding="utf-8"))["written_on"]
    )
    shift = keeper.today - written_on
    now = stamp(keeper.clock.now())
    codes = _codes_after(shift)
    kept_until = _kept_until_after(shift)

    @cache
    def carried(day: str) -> date:
        return date.fromisoformat(day) + shift

    def moved(found: re.Match[str]) -> str:
        day = carried(found[0][:10])
        return f"{day}" if not found[1] else min(f"{day}{found[1]}", now)

    def written(found: re.Match[str]) -> str:
        day = parse_day(f"{found[1] or '1 '}{found[2]} {found[3]}", keeper.today) + shift
        return show_day(day) if found[1] else show_month(day)

    @cache
    def reword(cell: str, column: str) -> str:
        if " " in cell:
            cell = _WRITTEN.sub(written, cell)
        if "-" not in cell:
            return cell
        if column == "keep_until" and cell in kept_until:
            return f"{kept_until[cell]}"
        if _MONTH.fullmatch(cell):
            return f"{carried(f'{cell}-01'):%Y-%m}"
        dated = _DAY.sub(moved, cell)
        return _CODE.sub(lambda code: codes.get(code[0], code[0]), dated)

    return reword
