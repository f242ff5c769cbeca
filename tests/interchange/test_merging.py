"""Two shelves merged: every code finds its thing, and a code that both had lists both."""

from pathlib import Path

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.cupboard.cupboard import add_herb, change_herb
from stillroom.keeping.cupboard.lots import add_lot
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import BottleDraft, ChargeDraft, HerbDraft, HerbLotDraft
from stillroom.keeping.interchange.merging import merge_folder
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, save_settings
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import AmbiguousCode, find_code, trace
from stillroom.keeping.trace.scanning import scanned_thing
from stillroom.keeping.undo import undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame

from ..builders import bottled, filled, spirit, strained
from .conftest import NewShelf


def live(keeper: Keeper, *herbs: str) -> None:
    """Fill a jar of each herb, strain the first, and bottle it twice."""
    jars = [
        filled(keeper, [ChargeDraft(herb, Part.LEAF, Condition.DRIED, 50)], spirit(250), days=0)
        for herb in herbs
    ]
    made = strained(keeper, jars[0], 200)
    bottled(keeper, made, BottleDraft(100, 100, "Larder"), BottleDraft(100, 100, "Larder"))


@pytest.fixture
def both(new_shelf: NewShelf, tmp_path: Path) -> tuple[Keeper, Path]:
    """A shelf with three jars, and the export of another with two: their codes are the same."""
    other = new_shelf("ada")
    save_settings(other, Settings(maker="AD"))
    live(other, "Mullein", "Hyssop")
    add_herb(other, HerbDraft("Sage", note="theirs"))
    export_folder(other, tmp_path / "ada-out")
    own = new_shelf("bea")
    live(own, "Sage", "Rue", "Dill")
    return own, tmp_path / "ada-out"


def herb_of(keeper: Keeper, code: str) -> str:
    """The herb of the jar or bottle that a code finds."""
    found = find_code(keeper, code)
    (label, *_) = keeper.rows(
        """SELECT h.name FROM herb h JOIN charge_line l ON l.herb_id = h.id
           WHERE l.jar_id = coalesce(?, (SELECT s.jar_id FROM tincture t JOIN straining s
                 ON s.id = t.straining_id WHERE t.id = ?))""",
        found.jar_id,
        found.tincture_id,
    )
    return str(label[0])


def test_codes_on_both_shelves_are_refused_and_nothing_changes(both: tuple[Keeper, Path]) -> None:
    own, folder = both
    report = merge_folder(own, folder)
    assert not report.is_clean
    assert "26-001, 26-002" in report.bad[0].message
    assert "--renumber" in report.bad[0].message
    assert own.rows("SELECT count(*) FROM jar") == [(3,)]


def test_every_code_of_both_finds_its_thing_and_a_shared_one_lists_both(
    both: tuple[Keeper, Path],
) -> None:
    own, folder = both
    was = {row.code: row.herb for row in bottle_rows(own)}
    report = merge_folder(own, folder, renumber=True)
    assert report.bad == ()
    assert report.is_done
    assert check(own) == []
    codes = dict(own.rows(
        """SELECT j.code, h.name FROM jar j JOIN charge_line l ON l.jar_id = j.id
           JOIN herb h ON h.id = l.herb_id"""))  # fmt: skip
    assert sorted(codes.values()) == ["Dill", "Hyssop", "Mullein", "Rue", "Sage"]
    assert all(herb_of(own, code) == herb for code, herb in codes.items())
    assert herb_of(own, "26-003") == "Dill"  # only one shelf had it
    new = {herb: code for code, herb in codes.items()}
    for old, here, there in (("26-001", "Sage", "Mullein"), ("26-002", "Rue", "Hyssop")):
        with pytest.raises(AmbiguousCode) as refused:
            find_code(own, old)
        said = str(refused.value)
        assert f"{new[here]} {here} (bea)" in said
        assert f"{new[there]} {there} (ada-out)" in said
        for ask in (trace, scanned_thing):
            with pytest.raises(Refused, match="two things"):
                ask(own, old)
    assert list(was) == ["26-001.1", "26-001.2"]
    with pytest.raises(
        AmbiguousCode, match=rf"{new['Sage']}\.1 Sage .* {new['Mullein']}\.1 Mullein"
    ):
        scanned_thing(own, "26-001.1 Sage 40 %")
    bottles = bottle_rows(own)
    assert {row.code for row in bottles} == {
        f"{new[h]}.{n}" for h in ("Sage", "Mullein") for n in (1, 2)
    }
    labels = labels_for(own, [row.bottle_id for row in bottles])
    assert {label.code for label in labels} == {row.code for row in bottles}


def test_batches_with_the_same_code_may_have_different_numbers_of_bottles(
    new_shelf: NewShelf, tmp_path: Path
) -> None:
    other = new_shelf("ada")
    live(other, "Mullein")
    export_folder(other, tmp_path / "ada")
    own = new_shelf("bea")
    made = strained(
        own,
        filled(own, [ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 50)], spirit(250), days=0),
        200,
    )
    bottled(own, made, *[BottleDraft(50, 50)] * 3)
    report = merge_folder(own, tmp_path / "ada", renumber=True)
    assert report.is_done
    assert "26-001.3 is 26-002.3 here." in report.assumed
    assert herb_of(own, "26-001.3") == "Sage"
    with pytest.raises(AmbiguousCode):
        find_code(own, "26-001.2")


def test_a_merge_is_one_act_and_leaves_shared_lines_as_they_are_here(
    both: tuple[Keeper, Path],
) -> None:
    own, folder = both
    before = own.rows("SELECT code FROM jar ORDER BY id")
    ((sage,),) = own.rows("SELECT id FROM herb WHERE name = 'Sage'")
    change_herb(own, sage, HerbDraft("Sage", note="mine"))
    report = merge_folder(own, folder, renumber=True)
    assert report.is_done
    assert own.maker == ""
    assert own.rows("SELECT note FROM herb WHERE name = 'Sage'") == [("mine",)]
    assert report.assumed[-1] == "Left as it is here: herbs.csv, line 4."
    assert undo(own).startswith("Merged ")
    assert own.rows("SELECT code FROM jar ORDER BY id") == before
    assert own.rows("SELECT count(*) FROM code_alias") == [(0,)]
    assert herb_of(own, "26-001") == "Sage"


def test_merging_the_same_folder_again_adds_nothing(both: tuple[Keeper, Path]) -> None:
    own, folder = both
    merge_folder(own, folder, renumber=True)
    jars = own.rows("SELECT count(*) FROM jar")
    again = merge_folder(own, folder, renumber=True)
    assert again.bad == ()
    assert own.rows("SELECT count(*) FROM jar") == jars


def test_a_copy_of_a_shelf_with_lots_adds_nothing(new_shelf: NewShelf, tmp_path: Path) -> None:
    own = new_shelf("bea")
    live(own, "Sage")
    draft = HerbLotDraft(
        "Fennel", Part.SEED, Condition.DRIED, HerbCame.BOUGHT, own.today, "Market", mass_g=200
    )
    filled(own, [charge_of_lot(add_lot(own, draft), 50, None)], spirit(250), days=0)
    export_folder(own, tmp_path / "copy")
    report = merge_folder(own, tmp_path / "copy")
    assert report.is_clean, report.bad
    assert not any(report.added.values())


def test_old_codes_are_exported_and_imported(
    both: tuple[Keeper, Path], new_shelf: NewShelf, tmp_path: Path
) -> None:
    own, folder = both
    merge_folder(own, folder, renumber=True)
    export_folder(own, tmp_path / "out")
    other = new_shelf("copy")
    assert import_folder(other, tmp_path / "out").bad == ()
    with pytest.raises(AmbiguousCode):
        find_code(other, "26-001")


def test_a_code_that_only_one_shelf_uses_is_not_changed(
    new_shelf: NewShelf, tmp_path: Path
) -> None:
    other = new_shelf("ada")
    live(other, "Mullein")
    export_folder(other, tmp_path / "ada")
    own = new_shelf("bea")
    assert merge_folder(own, tmp_path / "ada").is_done
    assert herb_of(own, "26-001.2") == "Mullein"
    assert jar_view(own, 1).card.code == "26-001"
