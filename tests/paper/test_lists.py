"""The lists: today's work, the shelves, the stock; on paper and as plain text alike."""

from datetime import timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.day import day_view
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar, shake
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.paper import pdf
from stillroom.paper.document import Document, Grid, Prose, Section, as_text
from stillroom.paper.lists import day_sheet, shelf_list, stock_list
from stillroom.paper.pdf import as_pdf
from stillroom.paper.plain import cells
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing

from .conftest import Worked
from .reading import pages


def today(keeper: Keeper) -> Document:
    return day_sheet(day_view(keeper), shelves_view(keeper), settings_of(keeper))


def shelves(keeper: Keeper) -> Document:
    return shelf_list(shelves_view(keeper), settings_of(keeper))


def stock(keeper: Keeper) -> Document:
    return stock_list(bottle_rows(keeper), day_view(keeper), settings_of(keeper))


every_list = pytest.mark.parametrize("make", [today, shelves, stock])


def rows(document: Document, heading: str) -> list[tuple[str, ...]]:
    section = next(each for each in document.sections if each.heading == heading)
    return [row for block in section.blocks if isinstance(block, Grid) for row in block.rows]


def test_the_day_sheet_has_a_box_for_every_shake_and_due_jar(
    keeper: Keeper, worked: Worked
) -> None:
    sheet = today(keeper)
    assert (sheet.title, sheet.subtitle) == (
        "Day sheet, Thu 26 Nov 2026",
        "1 shake to do · 1 jar due today",
    )
    assert rows(sheet, "Shake") == [
        ("☑", "26-004", "Девясил высокий, root, fresh", "First shelf", "day 14 of 14"),
        ("☐", "26-005", "Θυμάρι, aerial parts, dried", "First shelf", "day 3 of 14"),
    ]
    assert rows(sheet, "Strain") == [
        ("☐", "26-004", "Девясил высокий, root, fresh", "First shelf", "today", "", "")
    ]
    assert [row[1] for row in rows(sheet, "Herb not under the liquid")] == ["26-005"]


def test_a_jar_shaken_twice_a_day_has_two_boxes(keeper: Keeper) -> None:
    day = keeper.today
    charges = (
        ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 50),
        ChargeDraft("Anise", Part.SEED, Condition.DRIED, 50),
    )
    plan = JarDraft(charges, (PourDraft(LiquidKind.SPIRIT, 300, 45),), day, day + timedelta(9), 2)
    shake(keeper, fill_jar(keeper, plan).jar_id)
    ((boxes, _, herb, *_),) = rows(today(keeper), "Shake")
    assert (boxes, herb) == ("☑☐", "Fennel and Anise, seed, dried")
    assert "[x][ ]  26-001  Fennel" in as_text(today(keeper))


def test_a_strained_jar_is_listed_for_bottling(keeper: Keeper) -> None:
    day = keeper.today
    plan = JarDraft(
        (ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 50),),
        (PourDraft(LiquidKind.SPIRIT, 300, 45),),
        day,
        day,
    )
    jar = fill_jar(keeper, plan)
    made = strain(keeper, StrainDraft(jar.jar_id, day, 200, Pressing.PRESSED))
    assert [row[1:] for row in rows(today(keeper), "Bottle")] == [
        ("26-001", "Fennel, seed, dried", "26 Nov 2026", "200 mL")
    ]
    assert rows(shelves(keeper), "First shelf")[0][-1] == "strained, 200 mL to bottle"
    bottle_up(keeper, BottlingDraft(made.tincture_id, (), day, write_off_rest=True))
    assert "Bottle" not in [section.heading for section in today(keeper).sections]


def test_an_unbottled_blend_is_listed_for_bottling(keeper: Keeper, worked: Worked) -> None:
    first, second = bottle_rows(keeper)[0], bottle_rows(keeper)[-1]
    parts = (BlendPartDraft(first.bottle_id, 10), BlendPartDraft(second.bottle_id, 10))
    before = shelves_view(keeper).to_bottle
    made = make_blend(keeper, BlendDraft("Winter mix", parts, keeper.today), confirmed=True)
    told = [row[1:3] for row in rows(today(keeper), "Bottle")]
    assert (made.code, "Winter mix, blend") in told
    assert shelves_view(keeper).to_bottle == before + 1


def test_bottles_past_their_date_are_on_the_day_sheet(
    keeper: Keeper, clock: SetClock, worked: Worked
) -> None:
    clock.advance(days=365 * 5)
    assert "26-001.1" in as_text(today(keeper))
    assert "29 Oct 2031, past" in {row[4] for row in rows(stock(keeper), "Bottles")}


def test_the_shelf_list_has_every_jar_in_order(keeper: Keeper, worked: Worked) -> None:
    assert rows(shelves(keeper), "First shelf") == [
        ("26-004", "Девясил высокий, root, fresh", "12 Nov 2026", "26 Nov 2026", "today"),
        (
            "26-005",
            "Θυμάρι, aerial parts, dried",
            "23 Nov 2026",
            "7 Dec 2026",
            "11 days, herb not covered",
        ),
    ]


def test_the_stock_list_agrees_with_the_list_of_bottles(keeper: Keeper, worked: Worked) -> None:
    listed = stock(keeper)
    assert rows(listed, "Bottles")[0] == (
        "Calendula", "26-001.1", "44.2 %", "1:5.5", "29 Oct 2031", "160 mL", "250 mL",
        "Door, left", "",
    )  # fmt: skip
    assert [row[1] for row in rows(listed, "Bottles")] == [row.code for row in bottle_rows(keeper)]
    assert rows(listed, "Total") == [
        ("Calendula", "3", "340 mL"),
        ("Fennel", "1", "210 mL"),
        ("Winter evening", "1", "95 mL"),
        ("Together", "5", "645 mL"),
    ]


@every_list
def test_the_lists_of_an_empty_shelf_are_printed(keeper: Keeper, make: object) -> None:
    assert callable(make)
    listed = make(keeper)
    assert any(isinstance(block, Prose) for each in listed.sections for block in each.blocks)
    assert listed.title in pages(as_pdf(listed))[0]


@every_list
def test_the_pdf_has_every_text_of_the_list(keeper: Keeper, worked: Worked, make: object) -> None:
    assert callable(make)
    listed = make(keeper)
    printed = " ".join(pages(as_pdf(listed)))
    assert all(" ".join(text.split()) in printed for text in listed.texts)
    assert as_pdf(listed) == as_pdf(listed)


@every_list
@pytest.mark.parametrize("width", [60, 80, 132])
def test_plain_text_respects_the_width(
    keeper: Keeper, worked: Worked, make: object, width: int
) -> None:
    assert callable(make)
    text = as_text(make(keeper), width)
    assert max(cells(line) for line in text.split("\n")) <= width


def test_a_list_longer_than_a_page_repeats_its_heading(keeper: Keeper) -> None:
    for number in range(60):
        day = keeper.today
        fill_jar(
            keeper,
            JarDraft(
                charges=(ChargeDraft(f"Herb {number}", Part.LEAF, Condition.DRIED, 100),),
                pours=(PourDraft(LiquidKind.SPIRIT, 500, 40),),
                filled_on=day,
                strain_on=day + timedelta(days=14),
            ),
        )
    first, *others = pages(as_pdf(shelves(keeper)))
    assert "Herb 0" in first
    assert "Herb 20" in first
    assert others


def test_a_name_that_the_font_lacks_is_reported_and_does_not_stop_the_list(keeper: Keeper) -> None:
    day = keeper.today
    for herb in ("紫锥菊", "Yarrow"):
        fill_jar(
            keeper,
            JarDraft(
                charges=(ChargeDraft(herb, Part.ROOT, Condition.DRIED, 100),),
                pours=(PourDraft(LiquidKind.SPIRIT, 500, 40),),
                filled_on=day,
                strain_on=day + timedelta(days=14),
            ),
        )
    (page,) = pages(as_pdf(shelves(keeper)))
    assert "26-001" in page
    assert "Yarrow" in page
    assert "(?): a letter this font lacks" in page


def test_a_table_of_many_pages_breaks_where_a_shorter_one_would(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rows = tuple(
        (f"Herb {number}" + " with a long name" * (number % 7), f"26-{number:03d}", "", "5 mL")
        for number in range(260)
    )
    grid = Grid(("Herb", "Bottle", "Seen", "Left"), rows, (3, 2, 1, 1), frozenset({3}))
    document = Document("List", "", (Section("All", (Prose("First."), grid, Prose("Last."))),))
    at_once = pages(as_pdf(document))
    monkeypatch.setattr(pdf, "LONG", len(rows) + 1)
    assert at_once == pages(as_pdf(document))
    assert len(at_once) > 5
