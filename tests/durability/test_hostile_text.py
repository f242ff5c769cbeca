"""Any text comes back as it was typed, or is refused in a sentence; nothing else happens."""

import unicodedata
from collections.abc import Callable
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from stillroom.errors import NotUnderstood, StillroomError
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.stock import move_bottle, take_out
from stillroom.keeping.cupboard.cupboard import (
    add_herb,
    add_shelf,
    add_spirit,
    herbs,
    shelf_rows,
    spirits,
)
from stillroom.keeping.drafts import (
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    HerbDraft,
    JarDraft,
    PourDraft,
    ShelfDraft,
    SpiritDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import discard_jar, fill_jar, note_jar
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, ledger
from stillroom.keeping.settings import Settings, save_settings, settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing

from ..examples import examples
from .driver import content

KEPT_AS_TYPED = [
    "[bold red]Ginger[/]",
    "[@click=app.quit]press[/]",
    "Robert'); DROP TABLE jar;--",
    '"; SELECT * FROM herb; --',
    "' || (SELECT value FROM setting) || '",
    '=HYPERLINK("http://example.org")',
    "+1-1",
    "@SUM(A1:A9)",
    "-2+3",
    "%s %d {0} ?1 :today $x",
    "<script>alert(1)</script> &amp; \\u0041 \\",
    "שמיר مريمية",
    "\u202eevil\u202c",
    "カミツレ 🌿👩\u200d🌾",
    "Ångström ﬁ ½ é",
    "NULL",
    "0",
    "x" * 200,
]
REFUSED = ["a\0b", "\x1b[31mred\x1b[0m", "bell\x07", "\x7f", "\x9b31m", "x" * 10_000, "\ud800"]


@pytest.fixture
def bottle(keeper: Keeper, jar: int) -> BottleRow:
    tincture = strain(keeper, StrainDraft(jar, keeper.today, 400, Pressing.SQUEEZED))
    filled = (BottleDraft(100, 100),)
    bottle_up(keeper, BottlingDraft(tincture.tincture_id, filled, keeper.today))
    return bottle_rows(keeper)[0]


@pytest.fixture
def jar(keeper: Keeper) -> int:
    return fill(keeper, "Calendula")


def fill(keeper: Keeper, herb: str, **jar: str) -> int:
    charges = (ChargeDraft(herb, Part.FLOWER, Condition.DRIED, 120),)
    day = keeper.today
    draft = JarDraft(
        charges,
        (PourDraft(LiquidKind.SPIRIT, 600, 40),),
        day,
        day + timedelta(14),
        note=jar.get("note", ""),
    )
    return fill_jar(keeper, draft).jar_id


def herb_name(keeper: Keeper, text: str) -> str:
    add_herb(keeper, HerbDraft(text))
    return herbs(keeper)[-1].name


def herb_of_jar(keeper: Keeper, text: str) -> str:
    return jar_view(keeper, fill(keeper, text)).charges[0].herb


def shelf_name(keeper: Keeper, text: str) -> str:
    add_shelf(keeper, ShelfDraft(text))
    return shelf_rows(keeper)[-1].name


def spirit_name(keeper: Keeper, text: str) -> str:
    add_spirit(keeper, SpiritDraft(text, 40))
    return spirits(keeper)[0].name


def maker_name(keeper: Keeper, text: str) -> str:
    save_settings(keeper, Settings(maker_name=text))
    return settings_of(keeper).maker_name


NAMES = [herb_name, herb_of_jar, shelf_name, spirit_name, maker_name]
WriteAndRead = Callable[[Keeper, str], str]


def assert_kept(keeper: Keeper, write: WriteAndRead, texts: list[str]) -> None:
    """Each text comes back, and once more after undo and redo; the shelf stays as it was.

    `check` finds nothing in any of them: in all at once, where the shelf takes them all.
    """
    before = content(keeper)
    for text in texts:
        assert write(keeper, text) == unicodedata.normalize("NFC", text)
        written = content(keeper)
        undo(keeper)
        redo(keeper)
        assert content(keeper) == written
        assert write not in ONCE or check(keeper) == []
        undo(keeper)
        assert content(keeper) == before
    if write not in ONCE:
        for text in texts:
            write(keeper, text)
        assert check(keeper) == []
        for _ in texts:
            undo(keeper)
        assert content(keeper) == before


def assert_refused(keeper: Keeper, write: WriteAndRead, texts: list[str]) -> None:
    before = content(keeper)
    for text in texts:
        with pytest.raises(NotUnderstood):
            write(keeper, text)
    assert content(keeper) == before


@pytest.mark.parametrize("write", NAMES)
def test_a_name_is_stored_as_typed_or_refused(keeper: Keeper, write: WriteAndRead) -> None:
    assert_kept(keeper, write, KEPT_AS_TYPED)
    assert_refused(keeper, write, REFUSED)


@pytest.mark.parametrize("write", [herb_name, herb_of_jar, shelf_name, spirit_name])
def test_a_blank_name_is_refused(keeper: Keeper, write: WriteAndRead) -> None:
    assert_refused(keeper, write, ["", "   ", "\n", "\u3000"])


def test_a_name_with_line_breaks_becomes_one_line(keeper: Keeper) -> None:
    assert herb_name(keeper, "  Wild\n\tthyme \r\n of the hill ") == "Wild thyme of the hill"


def note_in_ledger(keeper: Keeper, text: str) -> str:
    ((jar_id,),) = keeper.rows("SELECT id FROM jar")
    note_jar(keeper, jar_id, text)
    return ledger(keeper, LedgerFilter())[0].text


def reason_to_discard(keeper: Keeper, text: str) -> str:
    ((jar_id,),) = keeper.rows("SELECT id FROM jar")
    discard_jar(keeper, jar_id, text)
    return ledger(keeper, LedgerFilter())[0].text


def note_of_jar(keeper: Keeper, text: str) -> str:
    return jar_view(keeper, fill(keeper, "Fennel", note=text)).note


def note_of_herb(keeper: Keeper, text: str) -> str:
    add_herb(keeper, HerbDraft("Fennel", note=text, cautions=text))
    (herb,) = [each for each in herbs(keeper) if each.name == "Fennel"]
    assert herb.note == herb.cautions
    return herb.note


NOTES = [note_in_ledger, note_of_jar, note_of_herb]
ONCE = [note_of_herb, reason_to_discard]
"""What the shelf takes a second time only once the first was undone."""


@pytest.mark.usefixtures("jar")
@pytest.mark.parametrize("write", [*NOTES, reason_to_discard])
def test_a_note_is_stored_as_typed_or_refused(keeper: Keeper, write: WriteAndRead) -> None:
    long = "x" * (2000 if write is reason_to_discard else 20_000)
    assert_kept(keeper, write, [*KEPT_AS_TYPED, "one\ntwo\n\nfour", long])
    assert_refused(keeper, write, ["a\0b", "\x1b[2J", "\x9b2J", f"{long}x", "\ud800"])


def test_the_place_and_the_note_of_a_bottle_are_stored_as_typed_or_refused(
    keeper: Keeper, bottle: BottleRow
) -> None:
    for text in KEPT_AS_TYPED:
        typed = unicodedata.normalize("NFC", text)
        assert move_bottle(keeper, bottle.bottle_id, text).place == typed
        take_out(keeper, bottle.bottle_id, 0.1, note=text)
        assert ledger(keeper, LedgerFilter())[0].text.endswith(typed)
    for text in REFUSED:
        with pytest.raises(NotUnderstood):
            move_bottle(keeper, bottle.bottle_id, text)
        with pytest.raises(NotUnderstood):
            take_out(keeper, bottle.bottle_id, 0.1, note=text)
    left_ml = bottle.left_ml - 0.1 * len(KEPT_AS_TYPED)
    assert bottle_row(keeper, bottle.bottle_id).left_ml == pytest.approx(left_ml)


@pytest.mark.parametrize("text", ["%", "_", "'", '"', "[", "*", "\\", "\0", "שמיר", "x" * 10_000])
def test_the_ledger_is_searched_for_the_literal_text(keeper: Keeper, text: str) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    if text in "%_'\"[*\\":
        assert ledger(keeper, LedgerFilter(text=text)) == []
        add_shelf(keeper, ShelfDraft(f"50{text}"))
        assert len(ledger(keeper, LedgerFilter(text=text))) == 1
    else:
        assert ledger(keeper, LedgerFilter(text=text)) == []


def test_the_ledger_is_searched_regardless_of_case_and_accents(keeper: Keeper) -> None:
    for name in ("Échinacée", "Девясил", "Straße"):
        add_shelf(keeper, ShelfDraft(name))
    for text in ("ECHIN", "échinacée", "девя", "ДЕВЯСИЛ", "strasse"):
        assert len(ledger(keeper, LedgerFilter(text=text))) == 1, text


@settings(
    max_examples=examples(100),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.text(st.characters(), max_size=300))
def test_any_text_is_stored_or_refused(keeper: Keeper, text: str) -> None:
    before = content(keeper)
    try:
        add_herb(keeper, HerbDraft(text, note=text))
    except StillroomError:
        assert content(keeper) == before
    else:
        add_shelf(keeper, ShelfDraft("Larder", text))
        ((name, note),) = keeper.rows("SELECT h.name, s.note FROM herb h, shelf s")
        assert name.split() == note.split()
        undo(keeper)
        undo(keeper)
        assert content(keeper) == before
