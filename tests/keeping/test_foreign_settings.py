"""Settings that came with a shelf: confirmed where they send data away, defaults where odd."""

from dataclasses import fields, replace
from pathlib import Path

import pytest

from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import (
    LABELS,
    Settings,
    odd_settings,
    remember,
    save_settings,
    settings_of,
    word_about_settings,
)
from stillroom.keeping.shelf_file.backups import backup_folder, backup_if_due, word_about_folder
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.shelf_file.restoring import restore_from
from stillroom.keeping.trusted import folder_in_doubt, trust_folder
from stillroom.keeping.undo import undo
from stillroom.paths import trusted_folders_file
from stillroom.quantities import UnitSystem
from stillroom.records.store import Store

ODD = {
    "units": ("furlong", "Metric", "0"),
    "decimal_comma": ("no", "YES"),
    "steep_days": ("long", "-1", "3651", "1e3", "9" * 5000),
    "shakes_per_day": ("10", "-1", "two"),
    "drops_per_ml": ("nan", "inf", "-20", "0", "many"),
    "alcoholometer": ("70f", "20C"),
}


@pytest.fixture
def elsewhere(keeper: Keeper, tmp_path: Path) -> Path:
    """A folder that the shelf names for its backups, as somebody else wrote it there."""
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    remember(keeper, "backup_folder", str(folder))
    return folder


def test_a_backup_folder_that_came_with_the_file_is_not_used_before_it_is_confirmed(
    keeper: Keeper, elsewhere: Path
) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    beside = keeper.store.path.parent / "backups"
    assert backup_folder(keeper) == beside
    assert str(elsewhere) in word_about_folder(keeper)
    assert backup_if_due(keeper, backup_folder(keeper)).made
    assert list(elsewhere.iterdir()) == []

    trust_folder(elsewhere)
    assert (backup_folder(keeper), word_about_folder(keeper)) == (elsewhere, "")
    assert trusted_folders_file().stat().st_mode & 0o777 == 0o600


def test_a_shelf_that_names_no_folder_is_not_asked_about(keeper: Keeper) -> None:
    assert (folder_in_doubt(keeper), word_about_folder(keeper)) == (None, "")
    assert not trusted_folders_file().exists()


def test_a_backup_folder_chosen_here_is_confirmed_and_stays_so_after_a_restore(
    keeper: Keeper, tmp_path: Path
) -> None:
    chosen = tmp_path / "chosen"
    save_settings(keeper, Settings(backup_folder=str(chosen)))
    keeper.store.copy_to(tmp_path / "copy")
    keeper.store.close()
    restore_from(tmp_path / "copy", keeper.store.path)
    again = Keeper(Store.open(keeper.store.path), keeper.clock)
    assert backup_folder(again) == chosen
    again.store.close()


def test_saving_other_settings_confirms_a_folder_only_when_asked(
    keeper: Keeper, elsewhere: Path
) -> None:
    wanted = replace(settings_of(keeper), steep_days=20)
    with pytest.raises(NeedsConfirmation, match="never confirmed on this computer"):
        save_settings(keeper, wanted)
    assert (settings_of(keeper).steep_days, folder_in_doubt(keeper)) == (14, elsewhere)
    save_settings(keeper, wanted, confirmed=True)
    assert (settings_of(keeper).steep_days, folder_in_doubt(keeper)) == (20, None)


@pytest.mark.parametrize(
    "noted", ["", "[", "{}", '"/"', "[1, null]", "[" * 100_000, "\udc80"], ids=range(7)
)
def test_a_spoiled_record_of_confirmed_folders_confirms_nothing(
    keeper: Keeper, elsewhere: Path, noted: str
) -> None:
    file = trusted_folders_file()
    file.parent.mkdir(parents=True)
    file.write_bytes(noted.encode(errors="surrogateescape"))
    assert folder_in_doubt(keeper) == elsewhere
    trust_folder(elsewhere)
    assert folder_in_doubt(keeper) is None


def test_undo_sets_no_folder_that_was_never_confirmed_here(keeper: Keeper, tmp_path: Path) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    for folder in (first, second):
        save_settings(keeper, replace(settings_of(keeper), backup_folder=str(folder)))
    trusted_folders_file().unlink()  # the shelf is carried to another computer
    trust_folder(second)
    with pytest.raises(Refused, match=f"would send backups to {first}"):
        undo(keeper)
    assert settings_of(keeper).backup_folder == str(second)
    trust_folder(first)
    undo(keeper)
    assert backup_folder(keeper) == first


@pytest.mark.parametrize(("name", "value"), [(n, v) for n in ODD for v in ODD[n]])
def test_a_setting_that_breaks_its_rule_becomes_the_default_and_is_named(
    keeper: Keeper, name: str, value: str
) -> None:
    remember(keeper, name, value[:2000])
    assert settings_of(keeper) == Settings()
    assert odd_settings(keeper) == (name,)
    assert f"The setting {LABELS[name]} can't be" in word_about_settings(keeper)
    (finding,) = check(keeper)
    assert f"The setting {LABELS[name]} can't be" in finding.what
    save_settings(keeper, settings_of(keeper))
    assert (odd_settings(keeper), check(keeper)) == ((), [])


def test_every_setting_that_can_be_chosen_is_stored(keeper: Keeper) -> None:
    for wanted in (
        Settings(units=UnitSystem.US, decimal_comma=True, steep_days=0, shakes_per_day=9),
        Settings(steep_days=3650, shakes_per_day=0, drops_per_ml=24.5, alcoholometer="60f"),
    ):
        save_settings(keeper, wanted)
        assert (settings_of(keeper), odd_settings(keeper)) == (wanted, ())


def test_the_ledger_calls_a_setting_by_its_label(keeper: Keeper) -> None:
    save_settings(keeper, replace(settings_of(keeper), maker="AB", decimal_comma=True))
    assert keeper.rows("SELECT text FROM event WHERE kind = 'settings'") == [
        ("Changed Decimal mark, Initials",)
    ]


def test_every_setting_has_a_label() -> None:
    assert set(LABELS) == {each.name for each in fields(Settings)}
