"""A second pour on a marc, and a tincture poured on new herb: figures against mass balances.

Densities of ethanol and water are those of Perry's Chemical Engineers' Handbook, 7th ed., table
2-112, at 20 °C; the sums are made here and share nothing with the program.
"""

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import MISSING, fields
from datetime import timedelta

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.joining import all_of, joined
from stillroom.keeping.bottles.labels import label_lines
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.contents import contents_of, equivalents, herb_equivalents
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.cupboard.liquids import add_liquid
from stillroom.keeping.drafts import (
    AgainDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    LiquidDraft,
    PourDraft,
)
from stillroom.keeping.jars.expecting import unpredictable
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.labels import jar_label
from stillroom.keeping.jars.learning import own_strainings
from stillroom.keeping.jars.marc import held_back, pour_again
from stillroom.keeping.jars.rows import jar_columns
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.trace.views import Node
from stillroom.keeping.undo import undo
from stillroom.keeping.views import BottleRow, JarView, TinctureView
from stillroom.paper.batch_record import batch_record
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind, OtherLiquidKind, StrengthBy
from stillroom.reckoning.yields import Pressing
from stillroom.records.tables import Jar

from ..builders import filled, spirit, strained
from ..reckoning import printed_density as printed
from ..spoiling import without_rules

Bottled = Callable[..., list[BottleRow]]
FL_OZ_ML, OZ_G = 29.5735295625, 28.349523125

PERRY = {0: 0.99823, 10: 0.98187, 20: 0.96864, 30: 0.95382, 40: 0.93518, 50: 0.91384,
         60: 0.89113, 100: 0.78934}  # fmt: skip
"""g/mL by % ethanol by weight."""


def density(percent: float) -> float:
    """By weight, between the lines of the table."""
    known = sorted(PERRY)
    at = max(1, bisect_left(known, percent))
    low, high = known[at - 1], known[at]
    return PERRY[low] + (PERRY[high] - PERRY[low]) * (percent - low) / (high - low)


def mixed(*liquids: tuple[float, float]) -> tuple[float, float]:
    """Volume and % v/v of liquids of so many mL and % v/v: mass and ethanol are kept."""
    mass = ethanol_g = 0.0
    for volume_ml, abv in liquids:
        pure_g = volume_ml * abv / 100 * PERRY[100]
        mass += weight(volume_ml, abv)
        ethanol_g += pure_g
    volume = mass / density(100 * ethanol_g / mass)
    return volume, 100 * ethanol_g / PERRY[100] / volume


def weight(volume_ml: float, abv: float) -> float:
    """Found by halving: the % by weight that holds so much ethanol by volume."""
    low, high = 0.0, 100.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (
            (middle, high)
            if middle / 100 * density(middle) / PERRY[100] * 100 < abv
            else (low, middle)
        )
    return volume_ml * density(low)


def sage(keeper: Keeper, **more: float) -> TinctureView:
    """100 g of dried leaf in 500 mL of 40 %, squeezed to 330 mL."""
    charge = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 100)
    day = keeper.today - timedelta(days=20)
    jar_id = filled(keeper, [charge], spirit(500), on=day)
    return strained(keeper, jar_id, 330, **more)  # type: ignore[arg-type]


def again(keeper: Keeper, first: TinctureView, *pours: PourDraft, **more: object) -> JarView:
    assert first.jar_id is not None
    draft = AgainDraft(
        first.jar_id, pours, keeper.today, keeper.today + timedelta(days=14),
        **more,  # type: ignore[arg-type]
    )  # fmt: skip
    return jar_view(keeper, pour_again(keeper, draft).jar_id)


def g_per_ml(keeper: Keeper, tincture_id: int, herb: str = "Sage") -> float | None:
    (found,) = [e for e in herb_equivalents(keeper, tincture_id) if e.herb == herb]
    return found.g_per_ml


def test_the_liquid_held_by_the_marc_has_the_full_strength(keeper: Keeper) -> None:
    """500 mL of 40 % and 10 g of plant water, less 330 mL: full strength tincture (Moore)."""
    first = sage(keeper)
    liquid_ml, abv = mixed((500, 40), (10 / PERRY[0], 0))
    jar = again(keeper, first, spirit(300, 60))
    held, _ = jar.pours
    assert (held.kind, held.source) == (LiquidKind.HELD_BACK, first.code)
    assert held.volume_ml == pytest.approx(liquid_ml - 330, abs=0.5)
    assert held.strength_abv == pytest.approx(abv, abs=0.1)
    volume, strength = mixed((liquid_ml - 330, abv), (300, 60))
    assert jar.outlook.volume_ml == pytest.approx(volume, abs=0.5)
    assert jar.outlook.strength_abv == pytest.approx(strength, abs=0.1)
    assert not jar.outlook.is_partial
    assert (jar.outlook.ratio, jar.marc_of) == (None, first.code)
    assert [(c.herb, c.mass_g) for c in jar.charges] == [("Sage", None)]
    assert check(keeper) == []


def test_a_weighed_marc_holds_its_weight_less_that_of_the_dry_herb(keeper: Keeper) -> None:
    """260 g of marc with 90 g of dry herb hold 170 g of tincture of 39.2 %."""
    first = sage(keeper, marc_g=260)
    _, abv = mixed((500, 40), (10 / PERRY[0], 0))
    (held, _) = again(keeper, first, spirit(300)).pours
    assert held.volume_ml == pytest.approx(170 / weight(1, abv), abs=0.5)


def test_the_herb_is_counted_once_over_both_batches(keeper: Keeper) -> None:
    """All 100 g are in the first batch, the second, and what the second marc keeps."""
    first = sage(keeper)
    jar = again(keeper, first, spirit(300, 60))
    held_ml, liquid_ml = jar.pours[0].volume_ml, jar.outlook.volume_ml
    second = strained(keeper, jar.jar_id, 350)
    in_first, in_second = (g_per_ml(keeper, t.tincture_id) for t in (first, second))
    assert in_first is not None
    assert in_second is not None
    assert in_first * (330 + held_ml) == pytest.approx(100)
    assert in_second * liquid_ml == pytest.approx(in_first * held_ml)
    assert in_first * 330 + in_second * 350 + in_second * (liquid_ml - 350) == pytest.approx(100)
    assert second.strength_by is StrengthBy.CALCULATED
    assert second.ratio is None
    assert check(keeper) == []


def test_a_second_pour_teaches_the_forecast_nothing(keeper: Keeper) -> None:
    first = sage(keeper)
    jar = again(keeper, first, spirit(300))
    strained(keeper, jar.jar_id, 330, confirmed=True)
    assert [own.yield_ml for own in own_strainings(keeper, Pressing.SQUEEZED)] == [330]


def test_fresh_marc_adds_no_plant_water_again(keeper: Keeper) -> None:
    """100 g of fresh leaf at 80 % in 200 mL of 95 %: its 80 g of water are in the first liquid."""
    charge = ChargeDraft("Sage", Part.LEAF, Condition.FRESH, 100)
    first = strained(keeper, filled(keeper, [charge], spirit(200, 95), days=0), 180)
    liquid_ml, abv = mixed((200, 95), (80 / PERRY[0], 0))
    jar = again(keeper, first, spirit(100, 60))
    _, strength = mixed((liquid_ml - 180, abv), (100, 60))
    assert jar.outlook.strength_abv == pytest.approx(strength, abs=0.3)
    assert not jar.outlook.strength_at_most


def test_the_liquid_held_by_simmered_marc_is_not_counted(keeper: Keeper) -> None:
    """Its spirit is aired and boiled off; the water soaked up isn't known."""
    first = sage(keeper)
    pours = (PourDraft(LiquidKind.DECOCTION, 200), spirit(200, 96))
    jar = again(keeper, first, *pours, simmered=True)
    assert [p.kind for p in jar.pours] == ["decoction", "spirit"]
    assert jar.outlook.strength_at_most
    second = strained(keeper, jar.jar_id, 300)
    assert g_per_ml(keeper, second.tincture_id) is None


def test_marc_is_poured_on_once_and_the_next_marc_again(keeper: Keeper) -> None:
    first = sage(keeper)
    jar = again(keeper, first, spirit(300))
    with pytest.raises(Refused, match="is in jar 26-002 already"):
        again(keeper, first, spirit(300))
    with pytest.raises(Refused, match="only strained herb"):
        pour_again(keeper, AgainDraft(jar.jar_id, (spirit(300),), keeper.today, keeper.today))
    second = strained(keeper, jar.jar_id, 330, confirmed=True)
    third = again(keeper, second, spirit(300))
    assert third.pours[0].volume_ml == pytest.approx(jar.outlook.volume_ml - 330)
    for _ in range(3):
        undo(keeper)
    assert check(keeper) == []


def test_with_herb_by_eye_the_liquid_in_the_marc_is_not_known(keeper: Keeper) -> None:
    charge = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, None)
    first = strained(keeper, filled(keeper, [charge], spirit(500), days=0), 330)
    assert first.jar_id is not None
    assert held_back(jar_view(keeper, first.jar_id)).volume_ml is None
    jar = again(keeper, first, spirit(300), held_ml=150)
    assert [p.volume_ml for p in jar.pours] == [150, 300]
    assert jar.outlook.is_partial


def corrected(keeper: Keeper, jar_id: int, **texts: str) -> None:
    named = {name.replace("__", ".").replace("_", "-"): text for name, text in texts.items()}
    correct(keeper, Subject(SubjectKind.JAR, jar_id), named, confirmed=True)


def test_a_correction_of_the_first_jar_reaches_the_second_and_a_third_that_steeps(
    keeper: Keeper,
) -> None:
    """300 and not 330 mL came: 30 mL more are held back, also by the marc of the second."""
    first = sage(keeper)
    liquid_ml, abv = mixed((500, 40), (10 / PERRY[0], 0))
    second = strained(keeper, again(keeper, first, spirit(300, 60)).jar_id, 350)
    third = again(keeper, second, spirit(200, 60))
    assert first.jar_id is not None
    corrected(keeper, first.jar_id, **{"yield": "300 ml"})
    assert second.jar_id is not None
    (held, _) = jar_view(keeper, second.jar_id).pours
    volume, strength = mixed((liquid_ml - 300, abv), (300, 60))
    assert held.volume_ml == pytest.approx(liquid_ml - 300, abs=0.5)
    tincture = tincture_view(keeper, second.tincture_id)
    assert tincture.strength_abv == pytest.approx(strength, abs=0.1)
    (held, _) = jar_view(keeper, third.jar_id).pours
    assert held.volume_ml == pytest.approx(volume - 350, abs=0.5)
    assert held.strength_abv == pytest.approx(strength, abs=0.1)
    assert check(keeper) == []


def test_what_a_marc_holds_is_corrected_only_where_it_cannot_be_calculated(keeper: Keeper) -> None:
    jar = again(keeper, sage(keeper), spirit(300))
    with pytest.raises(Refused, match=r"pour-1\.volume"):
        corrected(keeper, jar.jar_id, pour_1__volume="100 ml")
    by_eye = strained(keeper, filled(keeper, [ChargeDraft("Rue", Part.LEAF, Condition.FRESH)],
                                     spirit(300), days=0), 250)  # fmt: skip
    jar = again(keeper, by_eye, spirit(300))
    corrected(keeper, jar.jar_id, pour_1__volume="100 ml")
    assert jar_view(keeper, jar.jar_id).pours[0].volume_ml == 100
    assert check(keeper) == []


def test_the_amount_of_tincture_poured_on_herb_is_corrected_in_bottle_and_jar(
    keeper: Keeper, bottled: Bottled
) -> None:
    (one,) = bottled("Fennel", sizes_ml=(100,), write_off_rest=False)
    pour = PourDraft(LiquidKind.TINCTURE, 60, bottle_id=one.bottle_id)
    jar = on_new_herb(keeper, spirit(40, 60), pour, mass_g=20, herb="Thyme")
    corrected(keeper, jar.jar_id, pour_2__volume="50 ml")
    assert bottle_row(keeper, one.bottle_id).left_ml == pytest.approx(50)
    assert [p.volume_ml for p in jar_view(keeper, jar.jar_id).pours] == [40, 50]
    assert check(keeper) == []
    corrected(keeper, jar.jar_id, pour_2__volume="0")
    assert bottle_row(keeper, one.bottle_id).left_ml == pytest.approx(100)
    assert [p.volume_ml for p in jar_view(keeper, jar.jar_id).pours] == [40]
    assert check(keeper) == []


def test_a_corrected_spirit_reaches_the_jar_its_tincture_was_poured_into(keeper: Keeper) -> None:
    once = strained(keeper, on_new_herb(keeper, spirit(200, 60), mass_g=20).jar_id, 160)
    assert once.jar_id is not None
    pour = PourDraft(LiquidKind.TINCTURE, 100, source_id=once.tincture_id)
    jar = on_new_herb(keeper, pour, mass_g=20, herb="Thyme")
    twice = strained(keeper, jar.jar_id, 65)
    corrected(keeper, once.jar_id, pour_1__strength="50 %")
    _, abv = mixed((200, 50), (2 / PERRY[0], 0))
    _, strength = mixed((100, abv), (2 / PERRY[0], 0))
    after = tincture_view(keeper, twice.tincture_id)
    assert after.strength_abv == pytest.approx(strength, abs=0.1)
    assert check(keeper) == []


def test_check_finds_marc_that_holds_more_than_it_can(keeper: Keeper) -> None:
    again(keeper, sage(keeper), spirit(300))
    with without_rules(keeper.store.path) as db:
        db.execute("UPDATE pour SET volume_ml = 100 WHERE kind = 'held back'")
    (finding,) = check(keeper)
    assert finding.what.startswith("The volume held back of 26-002 is stored as 100 mL,")


def on_new_herb(keeper: Keeper, *pours: PourDraft, mass_g: float, herb: str = "Mullein") -> JarView:
    charge = ChargeDraft(herb, Part.LEAF, Condition.DRIED, mass_g)
    return jar_view(keeper, filled(keeper, [charge], *pours, days=0))


def test_double_extraction_gives_the_ratio_of_the_published_example(keeper: Keeper) -> None:
    """The Forager's Path, School of Botanical Studies, "Double maceration", worked example: 1 oz of
    dried mullein leaf in 10 fl oz makes 1:10; that tincture, topped up to 10 fl oz, on a further
    1 oz counts as 1:5."""
    first = on_new_herb(keeper, spirit(10 * FL_OZ_ML), mass_g=OZ_G)
    once = strained(keeper, first.jar_id, 8.5 * FL_OZ_ML, Pressing.PRESSED)
    assert first.outlook.ratio == pytest.approx(10 * FL_OZ_ML / OZ_G)
    waits = PourDraft(LiquidKind.TINCTURE, once.volume_ml, source_id=once.tincture_id)
    second = on_new_herb(keeper, waits, spirit(1.5 * FL_OZ_ML), mass_g=OZ_G)
    assert second.outlook.ratio == pytest.approx(5 * FL_OZ_ML / OZ_G)
    (poured,) = (pour for pour in second.pours if pour.kind == LiquidKind.TINCTURE)
    assert poured.herb_g == pytest.approx(OZ_G)  # the calculator's row has it from here
    twice = strained(keeper, second.jar_id, 8.5 * FL_OZ_ML, Pressing.PRESSED)
    assert twice.ratio == pytest.approx(5 * FL_OZ_ML / OZ_G)
    # Of the first ounce, what stayed in the first marc isn't in the second jar.
    carried_g = OZ_G * once.volume_ml / first.outlook.volume_ml
    per_ml = g_per_ml(keeper, twice.tincture_id, "Mullein")
    assert per_ml == pytest.approx((carried_g + OZ_G) / second.outlook.volume_ml)
    assert tincture_view(keeper, once.tincture_id).loose_ml == 0
    assert check(keeper) == []


def test_a_ratio_counts_the_herb_that_a_second_pour_carried_over(keeper: Keeper) -> None:
    """100 g in 509.7 mL, of which 330 came; the rest went on with 300 mL, of which 350 came."""
    first = sage(keeper)
    second = strained(keeper, again(keeper, first, spirit(300)).jar_id, 350)
    both = make_blend(
        keeper,
        joined(keeper, tuple(all_of(None, t.tincture_id) for t in (first, second)), keeper.today),
        confirmed=True,
    )
    waits = PourDraft(LiquidKind.TINCTURE, 100, source_id=both.tincture_id)
    jar = on_new_herb(keeper, waits, spirit(50), mass_g=30)

    liquid_ml, abv = mixed((500, 40), (10 / PERRY[0], 0))
    held_ml = liquid_ml - 330
    again_ml, _ = mixed((held_ml, abv), (300, 40))
    sage_g = 100 / liquid_ml * (330 + held_ml * 350 / again_ml) / 680
    assert jar.outlook.ratio == pytest.approx(150 / (30 + 100 * sage_g), rel=2e-3)
    made = strained(keeper, jar.jar_id, 100)
    assert made.ratio == pytest.approx(jar.outlook.ratio)
    assert check(keeper) == []


def test_pouring_tincture_on_herb_debits_the_bottle_and_counts_both_herbs_and_cautions(
    keeper: Keeper, bottled: Bottled
) -> None:
    """150 mL of 40 g of seed in 200 mL of 40 %; 60 mL of it, and 40 mL of 60 %, on 20 g of leaf."""
    (one,) = bottled("Fennel", sizes_ml=(100,), write_off_rest=False)
    pour = PourDraft(LiquidKind.TINCTURE, 60, bottle_id=one.bottle_id)
    jar = on_new_herb(keeper, pour, spirit(40, 60), mass_g=20, herb="Thyme")
    assert bottle_row(keeper, one.bottle_id).left_ml == pytest.approx(40)
    liquid_ml, abv = mixed((200, 40), (4 / PERRY[0], 0))
    (poured, _) = sorted(jar.pours, key=lambda p: p.kind, reverse=True)
    assert (poured.source, poured.name) == (one.code, "Fennel")
    volume, strength = mixed((60, abv), (40, 60), (2 / PERRY[0], 0))
    assert jar.outlook.strength_abv == pytest.approx(strength, abs=0.1)
    made = strained(keeper, jar.jar_id, 70)
    herbs = {e.herb: e.g_per_ml for e in herb_equivalents(keeper, made.tincture_id)}
    assert herbs["Fennel"] == pytest.approx(60 * 40 / liquid_ml / volume, rel=2e-3)
    assert herbs["Thyme"] == pytest.approx(20 / volume, rel=2e-3)
    # All herb that was used: 60 of the 150 mL that came of 40 g, and 20 g, in 100 mL.
    assert made.ratio == pytest.approx(100 / (60 * 40 / 150 + 20))
    assert {h.herb for h in made.herbs} == {"Fennel", "Thyme"}
    label = label_lines(BottleDraft(50, 50), made, settings_of(keeper), code="x")
    said = "\n".join(line.text for line in label.lines)
    assert "Fennel" in said
    assert "Thyme" in said
    assert check(keeper) == []
    undo(keeper)
    undo(keeper)
    assert bottle_row(keeper, one.bottle_id).left_ml == pytest.approx(100)


def test_batches_extracted_twice_at_one_ratio_blend_to_that_ratio(keeper: Keeper) -> None:
    once = strained(keeper, on_new_herb(keeper, spirit(200), mass_g=20).jar_id, 160)
    pour = PourDraft(LiquidKind.TINCTURE, 100, source_id=once.tincture_id)
    twice = strained(keeper, on_new_herb(keeper, pour, mass_g=20).jar_id, 65)
    content = contents_of(keeper, [twice.tincture_id])[twice.tincture_id]
    herb_g = sum(e.g_per_ml or 0 for e in equivalents(content))
    assert (content["poured", None] or 0) / herb_g == pytest.approx(twice.ratio)


def test_no_more_is_poured_than_there_is(keeper: Keeper, bottled: Bottled) -> None:
    (one,) = bottled("Fennel", sizes_ml=(100,), write_off_rest=False)
    for pour in (
        PourDraft(LiquidKind.TINCTURE, 120, bottle_id=one.bottle_id),
        PourDraft(LiquidKind.TINCTURE, 60, source_id=one.tincture_id),
    ):
        with pytest.raises(Refused, match=r"100.* mL|50.* mL"):
            on_new_herb(keeper, pour, mass_g=20)


def codes(node: Node) -> set[str]:
    return {each.label.removeprefix("Jar ").split()[0] for each in node.walk()}


def test_trace_and_recall_follow_both_jars(keeper: Keeper, bottled: Bottled) -> None:
    """Sage, its second pour, a bottle of which goes on thyme that still steeps."""
    first = sage(keeper)
    second = strained(keeper, again(keeper, first, spirit(300, 60)).jar_id, 350)
    bottle_up(keeper, BottlingDraft(second.tincture_id, (BottleDraft(100, 100),), keeper.today))
    (row,) = bottle_rows(keeper)
    pour = PourDraft(LiquidKind.TINCTURE, 60, bottle_id=row.bottle_id)
    third = on_new_herb(keeper, pour, spirit(40, 60), mass_g=20, herb="Thyme")
    back = trace(keeper, third.card.code)
    assert {third.card.code, second.code, first.code, "Sage", "Thyme"} <= codes(back)
    (ahead,) = recall_words(keeper, "Sage")
    assert {first.code, second.code, row.code, third.card.code} <= codes(ahead)
    steeping = [n for n in ahead.walk() if n.jar_id == third.jar_id]
    # All of the first and second batch is tincture of the sage: 60 mL of it are in the third jar.
    assert [n.contains_ml for n in steeping] == [pytest.approx(60)]


def test_a_second_pour_is_recorded_as_on_marc_and_not_as_filled_by_eye(keeper: Keeper) -> None:
    jar = again(keeper, sage(keeper), spirit(300))
    assert unpredictable(jar).startswith("A second pour has no weight of herb")
    made = strained(keeper, jar.jar_id, 250)
    history = batch_history(keeper, made.tincture_id)
    for said in (
        str(trace(keeper, jar.card.code)),
        str(recall_words(keeper, "Sage")),
        str(jar_label(jar, settings_of(keeper))),
        str(batch_record(history, settings_of(keeper), keeper.clock.now())),
    ):
        assert "by eye" not in said
        assert "dried" in said


@pytest.mark.parametrize("simmered", [False, True])
def test_the_label_of_a_second_pour_states_why_it_has_no_ratio(
    keeper: Keeper, simmered: bool
) -> None:
    jar = again(keeper, sage(keeper), spirit(300), simmered=simmered)
    made = strained(keeper, jar.jar_id, 250, confirmed=True)
    assert made.ratio is None
    label = label_lines(BottleDraft(50, 50), made, settings_of(keeper), code="x")
    assert label.ratio == "Second pour, no ratio: herb counted with the first"


def test_a_correction_that_leaves_less_than_was_poured_on_herb_names_that_pour(
    keeper: Keeper,
) -> None:
    once = strained(keeper, on_new_herb(keeper, spirit(500), mass_g=50).jar_id, 400)
    pour = PourDraft(LiquidKind.TINCTURE, 350, source_id=once.tincture_id)
    code = on_new_herb(keeper, spirit(100), pour, mass_g=40).card.code
    assert once.jar_id is not None
    with pytest.raises(Refused, match=rf"Correct what it went into too, such as {code}:pour-2"):
        correct(keeper, Subject(SubjectKind.JAR, once.jar_id), {"yield": "300 ml"}, confirmed=True)
    changes = {"yield": "300 ml", f"{code}:pour-2.volume": "250 ml"}
    correct(keeper, Subject(SubjectKind.JAR, once.jar_id), changes, confirmed=True)
    assert check(keeper) == []


def test_the_share_of_honey_in_a_second_pour_counts_that_its_liquid_contracts(
    keeper: Keeper,
) -> None:
    """Honey is added without contraction; the spirit held back and the new mix by the table."""
    honey = add_liquid(keeper, LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42, bought_ml=500))
    poured = spirit(500), PourDraft(LiquidKind.LIQUID, 100, liquid_id=honey)
    first = on_new_herb(keeper, *poured, mass_g=50)
    strained(keeper, first.jar_id, 500)
    day = keeper.today
    card = pour_again(keeper, AgainDraft(first.jar_id, (spirit(300, 96),), day, day))
    made = strained(keeper, card.jar_id, 300)
    held = jar_view(keeper, card.jar_id).pours[0]
    (in_held,) = held.others.liquids
    honey_ml = held.volume_ml * in_held.share
    of_spirit_ml = held.volume_ml - honey_ml
    held_abv = held.volume_ml * held.strength_abv / of_spirit_ml
    mass_g = of_spirit_ml * printed.g_per_ml(held_abv) + 300 * printed.g_per_ml(96)
    ethanol_g = (of_spirit_ml * held_abv + 300 * 96) / 100 * printed.ETHANOL
    percent = 100 * ethanol_g / mass_g
    volume_ml = mass_g / printed.between(percent, printed.WEIGHT_PERCENT, printed.G_PER_ML)
    (share,) = made.others.liquids
    # What was held back shrinks as spirit of its strength would, the honey in it left out of that.
    assert share.share == pytest.approx(honey_ml / (volume_ml + honey_ml), rel=0.004)
    assert share.share > 1.005 * honey_ml / (held.volume_ml + 300)


def test_a_second_pour_stores_every_field_that_a_first_one_does(keeper: Keeper) -> None:
    """For every fact of a jar that has a usual value: words, yes or no, and figures."""
    other: dict[object, object] = {str: "in words", bool: True, int: 3, float | None: 750.0}
    asked = {
        field.name: other[field.type]
        for field in fields(JarDraft)
        if field.default is not MISSING and field.name != "shelf_id"
    }
    jar = again(keeper, sage(keeper), spirit(300), **asked)
    plan = JarDraft(
        (), (), jar.card.filled_on, jar.card.strain_on,
        **asked,  # type: ignore[arg-type]
    )  # fmt: skip
    stored = Jar.get_by_id(jar.jar_id)
    wanted = jar_columns(plan)
    assert asked.keys() < wanted.keys()
    assert {name: getattr(stored, name) for name in wanted} == wanted
