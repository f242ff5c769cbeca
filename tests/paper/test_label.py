"""What a label shows: what is recorded, in words that cannot be mistaken, and nothing else."""

import csv
import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from importlib import resources

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.errors import Refused
from stillroom.keeping.bottles import tinctures
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.labels import (
    ASK_FIRST,
    HAS_ALCOHOL,
    KEEP_FROM,
    Label,
    label_lines,
    labels_for,
)
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cupboard.cupboard import change_herb
from stillroom.keeping.drafts import BottleDraft, HerbDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import scanned
from stillroom.keeping.label_words import LabelWords, languages
from stillroom.keeping.settings import Settings
from stillroom.keeping.views import BottleRow, ChargeView, TinctureView
from stillroom.paper.label import plain_text_label
from stillroom.paper.plain import cells
from stillroom.quantities import UnitSystem
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind, StrengthBy

from .conftest import Worked

CALENDULA = ChargeView(
    1,
    "Calendula",
    "Calendula officinalis L.",
    Part.FLOWER,
    Condition.DRIED,
    120.0,
    0.1,
    False,
    None,
    "",
    "",
)
TINCTURE = TinctureView(
    tincture_id=1,
    code="26-041",
    name="Calendula",
    herbs=(CALENDULA,),
    is_blend=False,
    jar_id=1,
    made_on=date(2026, 11, 26),
    filled_on=date(2026, 11, 12),
    volume_ml=430,
    loose_ml=430,
    bottles=0,
    lost_ml=0,
    strength_abv=38.24,
    strength_by=StrengthBy.CALCULATED,
    ratio=5,
    keep_until=date(2031, 11, 26),
    note="",
)


def label(tincture: TinctureView = TINCTURE, **settings: object) -> Label:
    return label_lines(BottleDraft(100, 95), tincture, Settings(**settings))  # type: ignore[arg-type]


def test_a_label_shows_everything_that_is_recorded() -> None:
    said = plain_text_label(label(maker_name="Anna Lind"), width=200)
    assert said.splitlines() == [
        "Calendula",
        "Tincture",
        "Calendula officinalis L.",
        "flower, dried",
        "1:5 w/v, herb to liquid poured",
        "Alcohol 38.2 % v/v, calculated",
        "95 mL",
        "Made 26 Nov 2026",
        "Keep until 26 Nov 2031",
        "26-041",
        "Anna Lind",
        f"{HAS_ALCOHOL} {KEEP_FROM} {ASK_FIRST}",
    ]


def test_what_is_not_recorded_is_left_out() -> None:
    bare = replace(
        TINCTURE,
        herbs=(replace(CALENDULA, botanical=""),),
        strength_abv=None,
        strength_by=StrengthBy.UNKNOWN,
        ratio=None,
        keep_until=None,
    )
    assert [line.text for line in label(bare).lines][:4] == [
        "Calendula",
        "Tincture",
        "flower, dried",
        "95 mL",
    ]


def test_a_tincture_that_will_not_keep_shows_its_days_in_the_cold() -> None:
    weak = replace(TINCTURE, strength_abv=14.3, keep_until=date(2026, 12, 3))
    assert "Keep until 3 Dec 2026, cold" in [line.text for line in label(weak).lines]


def test_a_jar_by_eye_is_marked_and_its_strength_rounded() -> None:
    by_eye = replace(
        TINCTURE,
        herbs=(replace(CALENDULA, mass_g=None),),
        ratio=None,
        strength_by=StrengthBy.ESTIMATED,
    )
    said = label(by_eye)
    assert (said.ratio, said.strength) == ("Herb not weighed", "about 38 % v/v")


def test_a_liquid_without_alcohol_has_no_caution_about_alcohol() -> None:
    none = replace(TINCTURE, strength_abv=0.0, strength_by=StrengthBy.MEASURED)
    assert label(none).cautions == (KEEP_FROM, ASK_FIRST)


def test_cautions_of_the_herbs_come_before_yours_and_each_once() -> None:
    herb = replace(CALENDULA, cautions="May irritate skin")
    said = label(replace(TINCTURE, herbs=(herb, herb)), label_caution="Shake well!")
    assert said.cautions[:2] == ("May irritate skin.", "Shake well!")
    assert len(said.cautions) == 5


def test_your_name_is_above_the_herb() -> None:
    lines = [line.text for line in label(replace(TINCTURE, name="Garden gold")).lines]
    assert lines[:4] == ["Garden gold", "Tincture", "Calendula", "Calendula officinalis L."]


def test_figures_follow_the_units_and_comma_of_the_shelf() -> None:
    said = label(units=UnitSystem.US, decimal_comma=True)
    assert (said.volume, said.strength) == ("3,2 fl oz", "38,2 % v/v")


def test_a_blend_lists_its_herbs(keeper: Keeper, worked: Worked) -> None:
    said = label(tincture_view(keeper, worked.blend.tincture_id))
    assert said.lines[2].text == (
        "Blend of Calendula (Calendula officinalis L.), flower, dried; "
        "Fennel (Foeniculum vulgare Mill.), seed, dried"
    )
    assert said.ratio.endswith("w/v, all herb to all liquid poured")


def test_labels_of_filled_bottles_have_their_code_and_volume(
    keeper: Keeper, worked: Worked, bottle_named: Callable[[str], BottleRow]
) -> None:
    part, full = bottle_named("26-001.1"), bottle_named("26-001.2")
    labels = labels_for(keeper, [full.bottle_id, part.bottle_id])
    assert [(said.code, said.volume) for said in labels] == [
        ("26-001.2", "100 mL"),
        ("26-001.1", "250 mL, 160 mL left"),
    ]


def test_a_label_names_the_liquid_used_for_extraction(keeper: Keeper, worked: Worked) -> None:
    said = label_lines(BottleDraft(100, 95), worked.calendula, Settings())
    assert said.solvent == "Solvent ethanol 45 % v/v"  # 600 and 60 mL of a spirit of 45 %
    assert label_lines(BottleDraft(100, 95), worked.blend, Settings()).solvent == ""


def test_the_strength_of_a_solvent_of_spirit_and_water_is_printed() -> None:
    # Alcoholometric tables (OIML R 22): 50 mL of 96 % and 50 mL of water make 96.96 mL of 49.5 %.
    half = json.dumps([["spirit", 500, 96], ["water", 500, 0]])
    assert tinctures._solvent_abv(half) == pytest.approx(49.5, abs=0.05)
    assert tinctures._solvent_abv(json.dumps([["spirit", 500, 96], ["liquid", 5, 0]])) is None
    assert tinctures._solvent_abv(json.dumps([["water", 500, 0]])) is None
    assert tinctures._solvent_abv("[]") is None


def test_your_own_word_replaces_tincture() -> None:
    texts = [line.text for line in label(label_word="Elixir").lines]
    assert texts[:2] == ["Calendula", "Elixir"]
    named = label(replace(TINCTURE, name="Calendula tincture"))
    assert "Tincture" not in [line.text for line in named.lines]
    none = label(replace(TINCTURE, strength_abv=0.0, strength_by=StrengthBy.MEASURED))
    assert none.word == ""


def test_a_label_printed_after_its_keep_until_date_is_marked() -> None:
    until = replace(TINCTURE, keep_until=date(2026, 7, 4))
    said = label_lines(BottleDraft(100, 95), until, Settings(), today=date(2026, 7, 5))
    assert said.keep_until == "4 Jul 2026, past its date"
    on_the_day = label_lines(BottleDraft(100, 95), until, Settings(), today=date(2026, 7, 4))
    assert on_the_day.keep_until == "4 Jul 2026"


def test_a_strength_that_is_an_upper_limit_is_printed_as_at_most() -> None:
    fresh = replace(CALENDULA, condition=Condition.FRESH, mass_g=None, water_fraction=0.8)
    said = label(replace(TINCTURE, herbs=(fresh,), strength_by=StrengthBy.ESTIMATED))
    assert said.strength == "at most 38.3 % v/v"
    assert "at most 38.3 %" in said.scan_text


def test_a_german_label_has_no_english_words() -> None:
    said = label(label_language="de", decimal_comma=True, maker_name="Anna Lind")
    assert plain_text_label(said, width=200).splitlines() == [
        "Calendula",
        "Tinktur",
        "Calendula officinalis L.",
        "Blüte, getrocknet",
        "1:5 m/V, Kraut zu Flüssigkeit",
        "Alkohol 38,2 % vol, berechnet",
        "95 mL",
        "Hergestellt 26. Nov. 2026",
        "Haltbar bis 26. Nov. 2031",
        "26-041",
        "Anna Lind",
        "Enthält Alkohol. Vor Licht, Feuer und Kindern schützen. Nicht in der Schwangerschaft oder "
        "mit Arzneimitteln ohne fachlichen Rat.",
    ]


def test_every_language_has_every_word_with_the_same_placeholders() -> None:
    assert list(languages()) == ["en", "de", "fr", "es", "it", "nl"]
    file = resources.files("stillroom.keeping") / "label_words.csv"
    for row in csv.DictReader(file.read_text(encoding="utf-8").splitlines()):
        gaps = {code: sorted(re.findall(r"{.*?}", text)) for code, text in row.items()}
        assert all(text.strip() for text in row.values()), row
        assert all(gaps[code] == gaps["en"] for code in languages()), row


def test_every_part_condition_and_source_of_a_strength_has_its_word() -> None:
    for word in (*Part, *Condition, *StrengthBy, *LiquidKind):
        assert [LabelWords(code)(word) for code in languages()]


@given(
    name=st.text(max_size=200),
    facts=st.lists(st.text("abc 12%", min_size=1, max_size=20), max_size=3),
)
def test_the_text_of_a_qr_code_is_short_and_never_a_link(name: str, facts: list[str]) -> None:
    said = scanned("26-041", name, *facts)
    assert said.startswith("26-041")
    assert len(said.removeprefix("26-041")) <= 81
    assert said.isascii()
    assert "\n" not in said
    assert not any(sign in said for sign in ":/\\@")


def test_a_link_in_a_name_is_only_words_in_the_code() -> None:
    said = scanned("26-041", "Rose https://example.org/x", "38 %")
    assert said == "26-041 Rose https example org x, 38 %"


def test_a_bottle_that_does_not_exist_has_no_label(keeper: Keeper, worked: Worked) -> None:
    with pytest.raises(Refused, match="no longer exists"):
        labels_for(keeper, [bottle_rows(keeper)[0].bottle_id, 999])


def test_the_cautions_of_a_herb_are_on_every_label_of_it(keeper: Keeper, worked: Worked) -> None:
    herb = worked.calendula.herbs[0]
    change_herb(keeper, herb.herb_id, HerbDraft(herb.herb, herb.botanical, "Patch test first"))
    every = labels_for(keeper, [row.bottle_id for row in bottle_rows(keeper)])
    warned = {said.name for said in every if "Patch test first." in said.cautions}
    assert warned == {"Calendula", "Winter evening"}


@given(name=st.text(min_size=1, max_size=60), width=st.integers(2, 60))
def test_plain_text_respects_the_width_and_loses_nothing(name: str, width: int) -> None:
    said = plain_text_label(label(replace(TINCTURE, name=name)), width)
    assert all(cells(line) <= width for line in said.split("\n"))
    assert "".join(said.split()).startswith("".join(name.split()))
