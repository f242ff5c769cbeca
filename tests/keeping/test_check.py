"""`check` finds every kind of fault, and none in a sound shelf."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.formulas import keep_formula
from stillroom.keeping.bottles.stock import pour_together, take_out
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    FormulaDraft,
    FormulaPartDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.jar import shake
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.quantities import UnitSystem
from stillroom.records.store import Store

from ..builders import calendula
from ..conftest import NOW, keeper_of_copy
from ..spoiling import without_rules
from .conftest import tincture_in_bottles


@pytest.fixture(scope="module")
def whole_shelf(empty_shelf: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of a shelf with something in every table, made once: tests begin with a copy.

    Jars 26-001 and 26-002 are strained into bottles 1 and 2, and 3; 26-003 is a blend of them in
    bottle 4; 26-004 steeps.
    """
    path = tmp_path_factory.mktemp("whole") / "shelf.stillroom"
    with keeper_of_copy(empty_shelf, path, SetClock(NOW)) as keeper:
        spirit = add_spirit(keeper, SpiritDraft("Vodka", 40, 700))
        one, two = tincture_in_bottles(keeper, "Fennel", sizes_ml=(50, 50), spirit_id=spirit)
        (three,) = tincture_in_bottles(keeper, "Ginger", sizes_ml=(100,))
        parts = (BlendPartDraft(one.bottle_id, 20), BlendPartDraft(three.bottle_id, 20))
        blend = make_blend(keeper, BlendDraft("Warming blend", parts, keeper.today))
        filled = (BottleDraft(30, 30),)
        bottle_up(keeper, BottlingDraft(blend.tincture_id, filled, keeper.today))
        take_out(keeper, two.bottle_id, 10)
        pour_together(keeper, one.bottle_id, two.bottle_id)
        shake(keeper, calendula(keeper).jar_id)
        keep_formula(keeper, FormulaDraft("Warming", (FormulaPartDraft("Fennel", 1),)))
    return path


@pytest.fixture
def whole(whole_shelf: Path, shelf_file: Path, clock: SetClock) -> Iterator[Keeper]:
    """A keeper of a shelf with something in every table."""
    with keeper_of_copy(whole_shelf, shelf_file, clock) as keeper:
        yield keeper


def test_a_shelf_written_by_its_use_cases_has_no_problems(whole: Keeper) -> None:
    assert check(whole) == []


def test_an_empty_shelf_has_no_problems(keeper: Keeper) -> None:
    assert check(keeper) == []


@contextmanager
def rules_off(keeper: Keeper) -> Iterator[sqlite3.Connection]:
    """Another program's connection, past every trigger and every check."""
    with without_rules(keeper.store.path) as db:
        db.execute("PRAGMA foreign_keys = 0")
        yield db


WRONG = {
    "DELETE FROM charge_line WHERE jar_id = 3": "Jar 26-004 has no herb",
    "UPDATE jar SET state = 'steeping', ended_on = NULL WHERE id = 1": "26-001 is steeping, but",
    "UPDATE jar SET state = 'strained', ended_on = strain_on WHERE id = 3": "is strained, but",
    "UPDATE jar SET ended_on = '2027-01-01' WHERE id = 1": "26-001 ended on 2027-01-01",
    "UPDATE tincture SET made_on = '2027-01-01' WHERE id = 1": "a tincture on 2027-01-01",
    "UPDATE tincture SET code = '99-1' WHERE id = 1": "tincture of jar 26-001 is called 99-1",
    "UPDATE shake SET turn = 2": "shakes of jar 26-004 on 2026-11-26 are numbered 2",
    "UPDATE shake SET day = '2026-11-24'": "of shake was written at 2026-11-26",
    "UPDATE event SET day = '2026-11-28' WHERE id = 1": "of event was written at 2026-11-26",
    "UPDATE movement SET day = '2026-11-28' WHERE id = 1": "of movement was written at 2026-11-26",
    "UPDATE spirit SET bought_ml = 199": "of Vodka was poured, but only 199 mL was bought",
    "UPDATE tincture SET volume_ml = 151 WHERE id = 1": "is 151 mL, but only 150 mL was",
    "UPDATE tincture SET lost_ml = 51 WHERE id = 1": "tincture 26-001 was bottled and",
    "UPDATE bottle SET size_ml = 40 WHERE id = 1": "Bottle 26-001.1 of 40 mL held 50 mL",
    "UPDATE movement SET volume_ml = -60 WHERE kind = 'draw'": "26-001.2 of 50 mL held -10 mL",
    "UPDATE movement SET kind = 'count' WHERE kind = 'fill' AND bottle_id = 1": "exactly one",
    "INSERT INTO bottle (id, code, tincture_id, size_ml, filled_on)"
    " VALUES (9, 'Z.9', 1, 50, '2026-11-26')": "Z.9 must have exactly one",
    "UPDATE movement SET volume_ml = 1 WHERE kind = 'pour together' AND bottle_id = 2": "by -9 mL",
    "UPDATE movement SET kind = 'draw' WHERE kind = 'blend' AND bottle_id = 1": "as a draw",
    "DELETE FROM batch_input WHERE id = 1": "26-001.1 for a blend that doesn't exist",
    "DELETE FROM batch_input": "Tincture 26-003 has neither straining nor parts",
    "UPDATE batch_input SET tincture_id = 1": "Tincture 26-001 has both straining and parts",
    "UPDATE tincture SET volume_ml = 45 WHERE id = 3": "is 45 mL, but its parts total 40 mL",
    "UPDATE bottle SET tincture_id = 3 WHERE id = 1": "blends contain each other",
    "UPDATE tincture SET code = '26-004' WHERE id = 3": "a blend have the same code, 26-004",
    "DELETE FROM formula_part": "Formula Warming has no parts",
    "INSERT INTO setting (name, value) VALUES ('steep_days', 'long')": "steep can't be long",
    "INSERT INTO setting (name, value) VALUES ('alcoholometer', '70f')": "meter can't be 70f",
    "DELETE FROM undo_step WHERE action_id = 1": "Steps to undo are missing for action 1",
    "UPDATE action SET undone = 1 WHERE id = 1": "“Bought Vodka”, was undone out of order",
}
"""A fault, and what must be said of it."""


@pytest.mark.parametrize(("fault", "said"), WRONG.items())
def test_a_fault_in_the_ledger_is_found(whole: Keeper, fault: str, said: str) -> None:
    with rules_off(whole) as db:
        assert db.execute(fault).rowcount > 0
    findings = check(whole)
    assert any(said in finding.what for finding in findings), findings
    assert all(finding.remedy for finding in findings)


@pytest.mark.parametrize("fault", [fault for fault, said in WRONG.items() if " mL" in said])
def test_a_fault_is_reported_in_the_units_of_the_shelf(whole: Keeper, fault: str) -> None:
    save_settings(whole, replace(settings_of(whole), units=UnitSystem.US, decimal_comma=True))
    with rules_off(whole) as db:
        db.execute(fault)
    words = " ".join(finding.what for finding in check(whole))
    assert " fl oz" in words
    assert " mL" not in words
    assert not re.search(r"\d\.\d+ fl oz", words)


def test_a_small_difference_is_shown_as_one(keeper: Keeper) -> None:
    """A hundred-thousandth of a percent is more than two ways of adding up floats differ by."""
    tincture_in_bottles(keeper, "Fennel")
    with without_rules(keeper.path) as db:
        db.execute("UPDATE tincture SET strength_abv = strength_abv + 0.00001")
    (finding,) = check(keeper)
    assert re.match(r"The strength of 26-001 is stored as [\d.]+ %, ", finding.what)
    assert finding.what.endswith("but is calculated as slightly less.")


def test_an_unfinished_undo_log_is_found(whole: Keeper) -> None:
    with closing(sqlite3.connect(whole.store.path, isolation_level=None)) as db:
        db.execute("UPDATE undo_state SET action_id = 1")
    assert ["in the middle of an action" in f.what for f in check(whole)] == [True]


def test_a_row_that_breaks_a_check_constraint_is_found(whole: Keeper) -> None:
    with rules_off(whole) as db:
        db.execute("UPDATE jar SET covered = 7 WHERE id = 3")
    assert ["CHECK constraint failed in jar" in f.what for f in check(whole)] == [True]


def test_a_row_with_a_missing_parent_is_found(whole: Keeper) -> None:
    with rules_off(whole) as db:
        db.execute("UPDATE charge_line SET herb_id = 99 WHERE id = 1")
    (finding,) = check(whole)
    assert finding.what == "Row 1 of charge_line points to a herb that doesn't exist."


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("DROP TRIGGER movement_fits_bottle", "movement_fits_bottle is missing"),
        ("DROP TRIGGER undo_jar_update", "undo_jar_update is missing"),
        ("DROP INDEX jar_by_shelf", "jar_by_shelf is missing"),
        ("CREATE TABLE theirs (id INTEGER)", "theirs isn't part of a shelf"),
        ("ALTER TABLE herb ADD COLUMN taste TEXT", "herb was changed by another program"),
        ("PRAGMA application_id = 7", "isn't marked as a shelf"),
        ("PRAGMA user_version = 99", "isn't marked as a shelf of this version"),
    ],
)
def test_a_foreign_schema_is_found(keeper: Keeper, fault: str, said: str) -> None:
    with closing(sqlite3.connect(keeper.store.path, isolation_level=None)) as db:
        db.execute(fault)
    assert [said in finding.what for finding in check(keeper)] == [True]


def test_a_damaged_page_is_found(whole: Keeper, clock: SetClock) -> None:
    path = whole.store.path
    ((root,),) = whole.rows("SELECT rootpage FROM sqlite_schema WHERE name = 'event'")
    whole.store.close()
    store = Store.open(path)
    with path.open("rb+") as file:
        file.seek((root - 1) * 4096)
        file.write(b"\xff" * 4096)
    findings = check(Keeper(store, clock))
    assert findings
    assert all("damaged" in finding.what for finding in findings)
    store.close()


def test_a_shelf_that_is_open_read_only_can_be_checked(whole: Keeper) -> None:
    whole.store.read_only = True
    assert check(whole) == []


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        ("UPDATE tincture SET strength_abv = strength_abv + 1", "The strength of 26-001 is stored"),
        ("UPDATE tincture SET ratio = 9", "The ratio of 26-001 is stored as 1:9,"),
        ("UPDATE tincture SET keep_until = '2040-01-01'", "The keep-until date of 26-001"),
        ("UPDATE straining SET liquid_ml = 321", "The liquid in the jar of 26-001 is stored"),
    ],
)
def test_a_stored_figure_that_its_facts_contradict_is_found(
    keeper: Keeper, spoil: str, said: str
) -> None:
    tincture_in_bottles(keeper, "Fennel")
    assert check(keeper) == []
    with without_rules(keeper.path) as db:
        db.execute(spoil)
    assert any(finding.what.startswith(said) for finding in check(keeper))
