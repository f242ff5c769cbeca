"""Two programs on one shelf: both work, nothing is done twice, neither waits for long."""

import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from stillroom.errors import StoreError
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.cupboard.cupboard import add_shelf, shelf_rows
from stillroom.keeping.drafts import (
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    ShelfDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import undo, undoable
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing


class Program:
    """A second program, spoken to in lines."""

    def __init__(self, shelf: Path) -> None:
        script = Path(__file__).with_name("second_program.py")
        self.process = subprocess.Popen(
            [sys.executable, str(script), str(shelf)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def ask(self, *lines: str) -> None:
        assert self.process.stdin
        self.process.stdin.write("".join(f"{line}\n" for line in lines))
        self.process.stdin.flush()

    def answers(self, count: int = 1) -> list[str]:
        assert self.process.stdout
        return [self.process.stdout.readline().strip() for _ in range(count)]

    def end(self) -> None:
        self.process.kill()
        self.process.communicate()


@pytest.fixture
def programs(keeper: Keeper) -> Iterator[Callable[[int], list[Program]]]:
    started: list[Program] = []

    def start(count: int) -> list[Program]:
        started.extend(Program(keeper.store.path) for _ in range(count))
        assert [program.answers() for program in started] == [["ready"]] * count
        return started

    yield start
    for program in started:
        program.end()


def fill(keeper: Keeper) -> int:
    day = keeper.today
    charges = (ChargeDraft("Calendula", Part.FLOWER, Condition.DRIED, 120),)
    pours = (PourDraft(LiquidKind.SPIRIT, 600, 40),)
    return fill_jar(keeper, JarDraft(charges, pours, day, day + timedelta(days=14))).jar_id


def told(programs: list[Program], *lines: str) -> list[list[str]]:
    """What both answer to the same lines, asked at the same time."""
    for program in programs:
        program.ask(*lines)
    return [program.answers(len(lines)) for program in programs]


def test_one_succeeds_and_the_other_gets_a_message(
    keeper: Keeper, programs: Callable[[int], list[Program]]
) -> None:
    jars = [fill(keeper) for _ in range(15)]
    tincture = strain(keeper, StrainDraft(fill(keeper), keeper.today, 400, Pressing.SQUEEZED))
    bottles = (BottleDraft(100, 100),)
    bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, keeper.today))
    ((bottle_id,),) = keeper.rows("SELECT id FROM bottle")
    both = programs(2)

    for pair in zip(*told(both, *(f"shake {jar}" for jar in jars)), strict=True):
        assert "done" in pair
        (refused,) = {answer for answer in pair if answer != "done"}
        assert "has had today's shakes" in refused
    assert {card.shaken for card in shelves_view(keeper).jars} == {1, 0}

    draws = Counter(
        answer.split(".")[0]
        for answers in told(both, *[f"draw {bottle_id}"] * 8)
        for answer in answers
    )
    assert draws == {"done": 10, "Refused: Bottle 26-016": 6}
    assert bottle_rows(keeper) == []

    for pair in zip(*told(both, *(f"strain {jar}" for jar in jars[:5])), strict=True):
        assert sorted(answer.split(":")[0] for answer in pair) == ["Refused", "done"]
    assert keeper.rows("SELECT count(*) FROM straining") == [(6,)]
    assert check(keeper) == []


def test_a_change_by_another_program_shows(
    keeper: Keeper, programs: Callable[[int], list[Program]]
) -> None:
    jar = fill(keeper)
    (other,) = programs(1)
    seen = keeper.store.data_version
    other.ask(f"shake {jar}")
    assert other.answers() == ["done"]
    assert keeper.store.data_version != seen
    assert undoable(keeper) == "Shook Calendula 26-001"
    undo(keeper)
    other.ask(f"shake {jar}")
    assert other.answers() == ["done"]


def test_a_long_lock_is_reported_after_at_most_half_a_second(
    keeper: Keeper, programs: Callable[[int], list[Program]]
) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    (other,) = programs(1)
    other.ask("hold 0")
    assert other.answers() == ["done"]
    assert keeper.rows("PRAGMA busy_timeout") == [(250,)]
    for attempt in (lambda: add_shelf(keeper, ShelfDraft("Window")), lambda: undo(keeper)):
        with pytest.raises(StoreError, match="Another program is writing to this shelf"):
            attempt()
    assert [row.name for row in shelf_rows(keeper)] == ["Larder"]  # looking needs no lock
    other.end()
    add_shelf(keeper, ShelfDraft("Window"))
    assert [row.name for row in shelf_rows(keeper)] == ["Larder", "Window"]
    assert check(keeper) == []
