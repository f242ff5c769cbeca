"""Months and records closed by command; what changes them needs --why."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.records.store import Store

from ..conftest import NOW
from .answers import Answer, Say


@pytest.fixture
def at(say: Say, stocked: Path) -> Callable[..., Answer]:
    """The shelf with initials; its jar of 27 October was strained on 16 November."""
    keeper = Keeper(Store.open(stocked), SetClock(NOW))
    save_settings(keeper, replace(settings_of(keeper), maker="AL"))
    keeper.store.close()
    return lambda *words: say(*words, "--shelf", stocked)


def test_a_month_is_closed_and_a_later_entry_in_it_needs_a_reason(
    at: Callable[..., Answer], tmp_path: Path
) -> None:
    said = at("close", "October", "2026").out
    assert said == "Closed Oct 2026. Changing it now needs a reason.\n"
    sheet = tmp_path / "list.csv"
    sheet.write_text("herb,date,part,state\nYarrow,2026-10-05,leaf,dried\n")
    assert "Oct 2026 is closed: give a reason" in at("import", "--jars", sheet).err
    assert at("import", "--jars", sheet, "--why", "the old notebook").code == 0
    answer = at("undo")
    assert (answer.code, "Oct 2026 is closed." in answer.err) == (2, True)
    assert "Correct it instead" in answer.err
    assert "isn't over yet" in at("close", "2026-11").err


def test_a_batch_record_is_closed_and_a_correction_of_it_needs_a_reason(
    at: Callable[..., Answer],
) -> None:
    said = at("close", "26-001.2").out
    assert said == "Closed the record of 26-001. Changing it now needs a reason.\n"
    assert at("draw", "26-001.1", "30 ml").code == 0
    assert "give a reason" in at("correct", "26-001", "yield=431 ml").err
    assert at("correct", "26-001", "yield=431 ml", "--why", "misread").code == 0
    assert "hasn't been strained" in at("close", "26-002").err
    assert "already closed" in at("close", "26-001").err


def test_without_initials_nothing_is_closed(say: Say, stocked: Path) -> None:
    assert "Set your initials first" in say("close", "2026-10", "--shelf", stocked).err


def test_a_draw_entered_late_in_a_closed_month_needs_a_reason(
    say: Say, stocked: Path, clock: SetClock, at: Callable[..., Answer]
) -> None:
    clock.advance(days=10)
    assert at("close", "Nov 2026").code == 0
    draw = ("draw", "26-001.1", "30 ml", "--on", "27 Nov")
    assert "Nov 2026 is closed: give a reason" in at(*draw).err
    assert at(*draw, "--why", "forgotten").code == 0
    (line,) = at("ledger", "--kind", "draw", "--json").json["acts"]
    assert (line["why"], line["day"]) == ("forgotten", "2026-12-06")
