"""The batch record: every figure from the shelf, and nothing where there is none."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from stillroom.clock import SetClock
from stillroom.dates import show_day, show_moment
from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.bottles.print_log import record_printed
from stillroom.keeping.bottles.status import release
from stillroom.keeping.bottles.stock import set_keep_until, take_out
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.closing import close_batch
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.cupboard.lots import add_lot
from stillroom.keeping.drafts import ChargeDraft, HerbLotDraft, JarDraft, PourDraft, StrainDraft
from stillroom.keeping.interchange.notebook import import_notebook
from stillroom.keeping.jars.jar import fill_jar, note_jar, set_dates, shake, top_up
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper, stamp
from stillroom.keeping.settings import remember, save_settings, settings_of
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.undo import undo
from stillroom.keeping.views import TinctureView
from stillroom.paper.batch_deviations import NONE_NOTED
from stillroom.paper.batch_record import batch_record
from stillroom.paper.document import Document, Facts, Grid, Prose, Section, as_text
from stillroom.paper.pdf import PaperSize, as_pdf
from stillroom.quantities import UnitSystem
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame, LiquidKind
from stillroom.reckoning.yields import Pressing

from ..builders import filled, strained
from .conftest import Worked
from .reading import pages


def record(keeper: Keeper, tincture: TinctureView) -> Document:
    history = batch_history(keeper, tincture.tincture_id)
    return batch_record(history, settings_of(keeper), keeper.clock.now())


def section(document: Document, heading: str) -> Section:
    return next(each for each in document.sections if each.heading.startswith(heading))


def rows(document: Document, heading: str) -> list[Any]:
    return [
        row
        for block in section(document, heading).blocks
        if isinstance(block, Facts | Grid)
        for row in block.rows
    ]


def prose(document: Document, heading: str) -> list[str]:
    return [b.text for b in section(document, heading).blocks if isinstance(b, Prose)]


def barely_recorded(keeper: Keeper) -> TinctureView:
    """A jar filled by eye with spirit the cupboard does not keep, strained and left in its jug."""
    day = keeper.today
    jar = fill_jar(
        keeper,
        JarDraft(
            (ChargeDraft("Yarrow", Part.AERIAL_PARTS, Condition.FRESH),),
            (PourDraft(LiquidKind.SPIRIT, 300, 60),),
            day,
            day,
            shakes_per_day=0,
        ),
    )
    return strain(keeper, StrainDraft(jar.jar_id, day, 250, Pressing.DRAINED))


def test_the_record_shows_the_batch(keeper: Keeper, worked: Worked) -> None:
    told: dict[str, str] = dict(rows(record(keeper, worked.calendula), "Batch"))
    assert told == {
        "Batch code": "26-001",
        "Made on": "29 Oct 2026",
        "Keep until": "29 Oct 2031",
        "Strength": "44.2 % v/v, calculated",
        "Ratio": "1:5.5 w/v, herb to liquid poured",
        "Jar size": "1 L",
        "Shelf": "First shelf",
        "Steep": "14 days, planned 14 days",
        "Revision": "1",
    }


def words(document: Document, heading: str) -> set[str]:
    """The names of the fields and columns of a section."""
    found = set()
    for block in section(document, heading).blocks:
        if isinstance(block, Facts):
            found |= {name for name, _ in block.rows}
        elif isinstance(block, Grid):
            found |= set(block.head)
    return found


PARAGRAPHS: tuple[tuple[str, str, set[str]], ...] = (
    ("a(1): batch number", "Batch", {"Batch code"}),
    ("a(2): lots that are packaged, or sent out to be", "Bottles", {"Bottle"}),
    ("a(2): lots that are packaged, or sent out to be", "Bottles", {"Sent out to be packaged"}),
    ("b: identity of the equipment", "Batch", {"Jar size"}),
    ("b: identity of the equipment", "Equipment", {"Equipment"}),
    ("c: when it was maintained, cleaned and sanitized", "Equipment",
     {"Maintained on, by", "Cleaned on, by", "Sanitized on, by"}),
    ("d: unique identifier of each component", "Components", {"Lot and origin"}),
    ("d: and of packaging and label", "Bottles",
     {"Lot of bottles", "Lot of caps", "Lot of label stock"}),
    ("e: identity and measure of each component", "Components", {"Component", "Measure"}),
    ("f: actual yield, % of theoretical", "Yield", {"Theoretical", "Actual", "Of theoretical"}),
    ("g: results of monitoring", "Monitoring", {"Planned", "Ticked off"}),
    ("h: results of tests, or where they are", "Tests",
     {"Test or examination", "Result", "Where results are filed"}),
    ("i: that it meets its specification", "Tests", {"Meets its specification"}),
    ("j(1): date of each step", "Steps", {"Date", "Step"}),
    ("j(2): initials of each step", "Steps", {"By", "Checked by"}),
    ("j(2)(i) to (iv): of weighing, adding, and verifying both", "Weighing",
     {"Component", "Weighed by", "Added by", "Verified by"}),
    ("k(1): packaging and labels used, and their reconciliation", "Bottles",
     {"Bottles used", "Labels printed", "Labels used", "Labels returned", "Labels destroyed",
      "Reconciled by"}),
    ("l, m, n: each with a decision, a day and initials", "Review",
     {"Review", "Decision", "Date", "By"}),
)  # fmt: skip
LINES = (
    ("k(3): tests of the packaged and labelled product", "Tests",
     "Of the bottled and labelled product"),
    ("l(1)(i): review of monitoring", "Review", "Record and monitoring reviewed"),
    ("l(1)(ii): review of tests", "Review", "Test results reviewed"),
    ("l(2): reprocessing approved or rejected", "Review",
     "Reprocessing or repackaging approved or rejected"),
    ("l(3): the batch released or rejected", "Review", "Batch released or rejected"),
    ("l(4): the packaged product released or rejected", "Review",
     "Bottled and labelled product released or rejected"),
    ("m: material review and disposition", "Review", "Material review and disposition"),
    ("n: reprocessing", "Review", "Reprocessing done"),
)  # fmt: skip


@pytest.mark.parametrize(("paragraph", "heading", "fields"), PARAGRAPHS)
def test_each_paragraph_of_21_cfr_111_260_has_its_fields(
    keeper: Keeper, worked: Worked, paragraph: str, heading: str, fields: set[str]
) -> None:
    """What a shelf can fill in, or leaves a line open for.

    Paragraphs (a) to (i) as in Code of Federal Regulations, title 21, volume 2, revised as of April
    1, 2008, pages 249 and 250. Of (j) to (n) only the order was compared; their subdivisions are
    from memory.
    """
    assert fields <= words(record(keeper, worked.calendula), heading), paragraph


@pytest.mark.parametrize(("paragraph", "heading", "line"), LINES)
def test_each_decision_of_21_cfr_111_260_has_its_line(
    keeper: Keeper, worked: Worked, paragraph: str, heading: str, line: str
) -> None:
    assert (line, "", "", "") in rows(record(keeper, worked.calendula), heading), paragraph


def test_no_paragraph_of_21_cfr_111_260_is_left_out() -> None:
    """(k)(2), a representative label, is the text of the label: tested on its own below."""
    named = {name[0] for name, *_ in (*PARAGRAPHS, *LINES)} | {"l", "m", "n"}
    assert named == set("abcdefghijklmn")


def test_each_component_is_weighed_added_and_verified_by_someone(
    keeper: Keeper, worked: Worked
) -> None:
    told = record(keeper, worked.calendula)
    components = [row[0] for row in rows(told, "Components")]
    assert rows(told, "Weighing") == [(name, "", "", "", "") for name in components]


def test_every_component_has_its_own_lot_and_measure(keeper: Keeper, worked: Worked) -> None:
    bought = "Weinhof, lot 7; bought 15 Oct 2026"
    assert rows(record(keeper, worked.calendula), "Components") == [
        (
            "Calendula (Calendula officinalis L.), flower, dried",
            "Own garden, bed 3; gathered 16 Aug 2026",
            "120 g",
        ),
        ("Grape spirit, 45 % v/v", bought, "600 mL"),
        ("Grape spirit, 45 % v/v", bought, "60 mL"),
    ]


def test_herb_from_store_is_printed_with_its_lot(keeper: Keeper) -> None:
    draft = HerbLotDraft(
        "Sage", Part.LEAF, Condition.DRIED, HerbCame.BOUGHT, date(2026, 10, 1), "Kräuterhof",
        "K-7", 500,
    )  # fmt: skip
    lot = add_lot(keeper, draft)
    jar_id = filled(
        keeper, [ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 100, lot_id=lot.lot_id)],
        PourDraft(LiquidKind.SPIRIT, 500, 40), days=0,
    )  # fmt: skip
    component, *_ = rows(record(keeper, strained(keeper, jar_id, 400)), "Components")
    assert component == ("Sage, leaf, dried", "H-26-001; Kräuterhof, lot K-7", "100 g")


def test_every_step_has_its_date_and_initials_and_room_for_a_check(
    keeper: Keeper, worked: Worked
) -> None:
    assert rows(record(keeper, worked.calendula), "Steps") == [
        ("15 Oct 2026", "Filled", "herb and liquid into the jar", "AL", ""),
        ("17 Oct 2026", "Topped up", "60 mL Grape spirit, 45 % v/v", "AL", ""),
        ("29 Oct 2026", "Strained", "squeezed, 435 mL, marc 310 g", "AL", ""),
        ("29 Oct 2026", "Bottled", "3 bottles, 430 mL", "AL", ""),
    ]


def test_recorded_and_missed_shakes_are_printed(keeper: Keeper, worked: Worked) -> None:
    assert dict(rows(record(keeper, worked.calendula), "Monitoring")) == {
        "Planned": "14, 1 a day",
        "Ticked off": "11",
        "Days missed": "19 to 20 Oct 2026, 24 Oct 2026",
        "By": "AL",
    }


def test_the_yield_is_printed_at_straining_and_at_bottling(keeper: Keeper, worked: Worked) -> None:
    told = record(keeper, worked.calendula)
    straining, bottling = rows(told, "Yield")
    # 660 mL poured and 12 g of water in 120 g of dried herb; squeezed marc keeps 1.70 mL a gram.
    # Squeezed, 1.7 mL per g of what was poured on and 0.1 of the herb's own water: 216 mL.
    assert straining == ("Straining", "672 mL", "456 mL", "435 mL", "64.8 %")
    assert bottling == ("Bottling", "435 mL", "", "430 mL", "98.9 %")
    assert prose(told, "Yield")[0].startswith(
        "Lost before bottling: 5 mL written off (0.74 %)."  # of the 672 mL in the jar
    )


def test_bottles_and_the_label_they_got_are_printed(keeper: Keeper, worked: Worked) -> None:
    told = record(keeper, worked.calendula)
    assert ("26-001.3", "100 mL", "80 mL", "29 Oct 2026", "Travel case") in rows(told, "Bottles")
    (label,) = prose(told, "Bottles")
    assert label.startswith(
        "Label of 26-001.1, no printing on record: Calendula · Tincture · Calendula officinalis L."
    )
    assert "250 mL" in label  # as filled, though some has been drawn since


def test_notes_are_printed_with_day_and_initials(keeper: Keeper, worked: Worked) -> None:
    assert prose(record(keeper, worked.calendula), "Notes") == [
        "17 Oct 2026, AL, looked at: Herb not covered",
        "29 Oct 2026, AL, note: Deep gold, smells of hay.\nA little sediment.",
    ]


def test_a_changed_date_and_a_surprising_yield_are_deviations(keeper: Keeper) -> None:
    day = keeper.today
    jar = fill_jar(
        keeper,
        JarDraft(
            (ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 50),),
            (PourDraft(LiquidKind.SPIRIT, 300, 45),),
            day,
            day + timedelta(days=14),
            note="Crushed first",
        ),
    )
    set_dates(keeper, jar.jar_id, day, day, 1)
    done = StrainDraft(jar.jar_id, day, 900, Pressing.PRESSED, note="Weighed", confirmed=True)
    document = record(keeper, strain(keeper, done))
    told = prose(document, "Notes")
    assert told[0] == "Jar: Crushed first"
    assert any("dates:" in text and "→" in text for text in told), told
    assert told[-1] == "Straining: Weighed"
    (yielded,) = prose(document, "Deviations")
    assert yielded.startswith("The yield, 900 mL, is more than the ")


def test_what_is_not_recorded_is_left_open(keeper: Keeper) -> None:
    told = record(keeper, barely_recorded(keeper))
    batch: dict[str, str] = dict(rows(told, "Batch"))
    assert (batch["Jar size"], batch["Ratio"]) == ("", "Herb not weighed")
    assert batch["Strength"] == "at most 60 % v/v, estimated"
    assert rows(told, "Components") == [
        ("Yarrow, aerial parts, fresh", "", "by eye"),
        ("spirit, 60 % v/v", "", "300 mL"),
    ]
    assert [row[3] for row in rows(told, "Steps")] == ["", ""]
    assert rows(told, "Yield") == [
        ("Straining", "", "", "250 mL", ""),
        ("Bottling", "250 mL", "", "", ""),
    ]
    assert dict(rows(told, "Monitoring")) == {"Planned": "none", "Ticked off": "0"}
    assert prose(told, "Bottles") == ["Not bottled yet."]
    assert prose(told, "Deviations") == ["Not weighed: Yarrow."]
    assert prose(told, "Notes") == ["None recorded."]


def test_an_extra_shake_does_not_make_up_for_a_missed_day(keeper: Keeper, clock: SetClock) -> None:
    day = keeper.today
    charges = (ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 50),)
    plan = JarDraft(charges, (PourDraft(LiquidKind.SPIRIT, 300, 45),), day, day + timedelta(3), 2)
    jar = fill_jar(keeper, plan)
    shake(keeper, jar.jar_id)
    shake(keeper, jar.jar_id)
    clock.advance(days=1)
    shake(keeper, jar.jar_id)
    clock.advance(days=1)
    made = strain(keeper, StrainDraft(jar.jar_id, keeper.today, 200, Pressing.PRESSED))
    shakes = batch_history(keeper, made.tincture_id).shakes
    assert shakes is not None
    assert (shakes.planned, shakes.done, shakes.missed_on) == (4, 3, (date(2026, 11, 27),))


def test_a_blend_lists_its_parts(keeper: Keeper, worked: Worked) -> None:
    told = record(keeper, worked.blend)
    assert told.subtitle == "Winter evening, blend"
    assert rows(told, "Components") == [
        ("Calendula, 44.2 % v/v", "Bottle 26-001.1", "60 mL (60 %)"),
        ("Fennel, 44.1 % v/v", "Bottle 26-002.1", "40 mL (40 %)"),
    ]
    assert [row[1] for row in rows(told, "Steps")] == ["Blended", "Bottled"]
    assert not any(each.heading.startswith("Monitoring") for each in told.sections)


def test_a_part_that_was_past_its_date_is_printed(keeper: Keeper, worked: Worked) -> None:
    day = worked.blend.made_on - timedelta(days=1)
    set_keep_until(keeper, worked.calendula.tincture_id, day)
    assert [row[1] for row in rows(record(keeper, worked.blend), "Components")] == [
        f"Bottle 26-001.1, past its keep-until date of {show_day(day)}",
        "Bottle 26-002.1",
    ]


def test_the_pdf_has_every_text_of_the_record(keeper: Keeper, worked: Worked) -> None:
    told = record(keeper, worked.calendula)
    first, last = pages(as_pdf(told))
    for text in told.texts:
        words = " ".join(text.split())
        assert words in first or words in last
    assert first.endswith("Page 1 of 2")


def test_a_long_record_continues_on_more_pages_and_loses_nothing(
    keeper: Keeper, worked: Worked
) -> None:
    for number in range(60):
        note_jar(keeper, worked.calendula.jar_id or 0, f"Note {number}. " + "Cloudy again. " * 30)
    printed = pages(as_pdf(record(keeper, worked.calendula), PaperSize.LETTER))
    assert len(printed) > 2
    assert all(f"Note {number}." in " ".join(printed) for number in range(60))
    assert printed[1].endswith(f"Page 2 of {len(printed)}")


def test_the_same_record_is_the_same_bytes(keeper: Keeper, worked: Worked) -> None:
    told = record(keeper, worked.calendula)
    assert as_pdf(told) == as_pdf(told)


def test_letters_that_the_font_lacks_are_reported_in_the_footer_and_stop_no_record(
    keeper: Keeper, worked: Worked
) -> None:
    note_jar(keeper, worked.calendula.jar_id or 0, "Smells of 🌼")
    printed = pages(as_pdf(record(keeper, worked.calendula)))
    assert "Smells of (?)" in " ".join(printed)
    assert all("(?): a letter this font lacks." in page for page in printed)
    assert "🌼" in as_text(record(keeper, worked.calendula))


def test_a_deleted_tincture_has_no_record(keeper: Keeper) -> None:
    with pytest.raises(Refused, match="no longer exists"):
        batch_history(keeper, 7)


def test_markup_in_a_note_is_printed_unchanged(keeper: Keeper, worked: Worked) -> None:
    note_jar(keeper, worked.calendula.jar_id or 0, "Strength <b>&amp; more</b> [x]")
    assert "<b>&amp; more</b> [x]" in " ".join(pages(as_pdf(record(keeper, worked.calendula))))


@pytest.mark.parametrize(
    ("system", "volume"), [(UnitSystem.US, "1.7 fl oz"), (UnitSystem.METRIC, "50 mL")]
)
def test_a_top_up_is_in_the_units_set_when_it_is_printed(
    keeper: Keeper, system: UnitSystem, volume: str
) -> None:
    """50 mL ÷ 29.57 mL is 1.69 US fl oz, whatever was set when it was written down."""
    day = keeper.today
    jar = fill_jar(
        keeper,
        JarDraft(
            (ChargeDraft("Yarrow", Part.AERIAL_PARTS, Condition.DRIED, 50),),
            (PourDraft(LiquidKind.SPIRIT, 300, 60),),
            day,
            day,
        ),
    )
    top_up(keeper, jar.jar_id, PourDraft(LiquidKind.SPIRIT, 50, 96))
    save_settings(keeper, replace(settings_of(keeper), units=system))
    made = strain(keeper, StrainDraft(jar.jar_id, day, 250, Pressing.DRAINED))
    steps = [row[1:3] for row in rows(record(keeper, made), "Steps")]
    assert ("Topped up", f"{volume} spirit, 96 % v/v") in steps


def test_a_history_gives_the_initials_of_a_step(keeper: Keeper, worked: Worked) -> None:
    history = batch_history(keeper, worked.calendula.tincture_id)
    assert history.maker_of("filled") == "AL"
    assert history.maker_of("no such step") == ""


def test_what_a_spreadsheet_leaves_out_is_not_recorded_and_not_missed(
    keeper: Keeper, tmp_path: Path
) -> None:
    remember(keeper, "maker", "AB")
    sheet = tmp_path / "jars.csv"
    sheet.write_text(
        "herb,date,part,state,strained,yield,pressed,volume,abv,left\n"
        "Sage,1 Oct 2026,leaf,dry,15 Oct 2026,200 ml,pressed,300 ml,40,200 ml\n"
    )
    assert import_notebook(keeper, sheet).is_done
    ((tincture_id,),) = keeper.rows("SELECT id FROM tincture")
    document = record(keeper, tincture_view(keeper, tincture_id))
    assert rows(document, "Monitoring") == [("Ticked off", "not recorded")]
    assert dict(rows(document, "Batch"))["Steep"] == "14 days"
    assert "missed" not in as_text(document)
    steps = rows(document, "Steps")
    assert [(step, by) for _, step, _, by, _ in steps] == [
        ("Filled", ""), ("Strained", ""), ("Bottled", ""),
    ]  # fmt: skip
    (note, imported) = prose(document, "Notes")
    assert any(text.startswith("Imported from a list") for text in prose(document, "Deviations"))
    assert "Not in the list: planned strain date; shakes" in note
    assert imported.endswith(", AB, imported: From jars.csv")


def at_top(keeper: Keeper, tincture: TinctureView) -> str:
    return dict(rows(record(keeper, tincture), "Batch"))["Revision"]


def test_deviations_that_the_program_knows_of_are_named(keeper: Keeper, worked: Worked) -> None:
    assert prose(record(keeper, worked.calendula), "Deviations") == [
        "Shakes missed: 19 to 20 Oct 2026, 24 Oct 2026."
    ]
    assert prose(record(keeper, worked.blend), "Deviations") == [NONE_NOTED]
    day = worked.blend.made_on - timedelta(days=1)
    set_keep_until(keeper, worked.calendula.tincture_id, day)
    told = prose(record(keeper, worked.blend), "Deviations")
    assert told == [
        f"Bottle 26-001.1 was past its keep-until date of {show_day(day)} when blended."
    ]


def test_a_correction_is_listed_and_the_corrected_line_struck_through(
    keeper: Keeper, worked: Worked, clock: SetClock
) -> None:
    clock.advance(minutes=5)
    correct(keeper, subject_of_code(keeper, "26-001"), {"yield": "436 ml"}, why="misread jug")
    told = record(keeper, worked.calendula)
    (row,) = rows(told, "Corrections")
    moment, what, by, why = row
    assert moment == show_moment(stamp(clock.now()))
    assert (what, by, why) == ("Yield 435 → 436 mL", "AL", "misread jug")
    (struck,) = [b for b in section(told, "Notes").blocks if isinstance(b, Prose) and b.later]
    assert struck.text.startswith("29 Oct 2026, AL, strained: 435 mL")
    assert struck.later.endswith(" by AL: misread jug")
    assert struck.later.startswith("corrected ")
    assert ("Strained", "squeezed, 436 mL, marc 310 g") in [r[1:3] for r in rows(told, "Steps")]
    assert "[struck out: 29 Oct 2026, AL, strained: 435 mL squeezed] corrected" in " ".join(
        as_text(told).split()
    )
    assert at_top(keeper, worked.calendula) == "2"
    assert at_top(keeper, worked.blend) == "1"


def test_the_undo_of_a_correction_is_a_revision_too(keeper: Keeper, worked: Worked) -> None:
    correct(keeper, subject_of_code(keeper, "26-001"), {"yield": "436 ml"}, why="misread jug")
    undo(keeper)
    told = record(keeper, worked.calendula)
    assert [row[1].partition(":")[0] for row in rows(told, "Corrections")][-1] == "undone"
    assert at_top(keeper, worked.calendula) == "3"


def test_a_draw_corrected_later_is_not_in_the_record(keeper: Keeper, worked: Worked) -> None:
    take_out(keeper, bottle_rows(keeper)[0].bottle_id, 10)
    code = bottle_rows(keeper)[0].code
    facts = [f.name for f in facts_of(keeper, subject_of_code(keeper, code)) if "volume" in f.name]
    correct(keeper, subject_of_code(keeper, code), {facts[-1]: "11 ml"}, why="misread")
    assert at_top(keeper, worked.calendula) == "1"


def test_every_page_has_the_revision_and_the_time_of_printing(
    keeper: Keeper, worked: Worked, clock: SetClock
) -> None:
    correct(keeper, subject_of_code(keeper, "26-001"), {"yield": "436 ml"}, why="misread jug")
    printed = pages(as_pdf(record(keeper, worked.calendula)))
    moment = show_moment(stamp(clock.now()))
    assert len(printed) > 1
    for page in printed:
        assert f"Batch 26-001, revision 2, printed {moment}" in page


def test_the_label_is_printed_as_it_was_on_the_bottle(
    keeper: Keeper, worked: Worked, clock: SetClock
) -> None:
    row = next(r for r in bottle_rows(keeper) if r.code == "26-001.2")
    record_printed(keeper, labels_for(keeper, [row.bottle_id]), copies=3)
    day = show_day(keeper.today)
    clock.advance(days=1)
    set_keep_until(keeper, row.tincture_id, keeper.today + timedelta(days=90))
    told = record(keeper, worked.calendula)
    (label,) = prose(told, "Bottles")
    assert label.startswith(f"Label of 26-001.2, as printed {day}, AL: Calendula")
    assert "Keep until 29 Oct 2031" in label
    assert dict(r for r in rows(told, "Bottles") if len(r) == 2)["Labels printed"] == f"3, on {day}"


def test_release_and_closing_are_filled_in(keeper: Keeper, worked: Worked) -> None:
    release(keeper, worked.calendula.tincture_id, "clear")
    close_batch(keeper, worked.calendula.tincture_id)
    told = rows(record(keeper, worked.calendula), "Review")
    day = show_day(keeper.today)
    assert ("Batch released or rejected", "released: clear", day, "AL") in told
    assert told[-1] == ("Record closed on, by", f"{day}, AL")


def test_a_strength_under_20_percent_is_a_deviation(keeper: Keeper) -> None:
    """500 mL of 15 % on 20 g of dried seed with 10 % water: 75 mL of ethanol in about 502 mL."""
    charge = ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 20)
    day = keeper.today
    plan = JarDraft((charge,), (PourDraft(LiquidKind.SPIRIT, 500, 15),), day, day, shakes_per_day=0)
    made = strain(keeper, StrainDraft(fill_jar(keeper, plan).jar_id, day, 460, Pressing.PRESSED))
    assert prose(record(keeper, made), "Deviations") == ["The strength, 14.9 % v/v, is under 20 %."]


def lots_in(document: Document) -> dict[str, str]:
    facts = [block for block in section(document, "Bottles").blocks if isinstance(block, Facts)]
    return {name: text for block in facts for name, text in block.rows if name.startswith("Lot")}


def test_lots_of_bottles_and_caps_are_printed_where_entered(keeper: Keeper, worked: Worked) -> None:
    told = lots_in(record(keeper, worked.calendula))
    assert (told["Lot of bottles"], told["Lot of caps"]) == ("", "")
    for name, text in (("bottle-1.lot", "G-7"), ("bottle-3.lot", "G-9"), ("bottle-1.cap-lot", "C")):
        correct(keeper, subject_of_code(keeper, "26-001"), {name: text}, why="from the box")
    told = lots_in(record(keeper, worked.calendula))
    assert told["Lot of bottles"] == "G-7 (26-001.1); G-9 (26-001.3)"
    assert told["Lot of caps"] == "C (26-001.1)"
    assert "Bottle 1, lot of bottle" in as_text(record(keeper, worked.calendula))
