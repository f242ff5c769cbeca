"""Facts and movements of lots of herb, and liquids of the cupboard, corrected afterwards."""

import random
from datetime import date

import pytest

from stillroom.clock import SetClock
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.fact_reader import show_value
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Fact, FactKind, Subject, SubjectKind
from stillroom.keeping.correcting.subjects import subject_of_code, title_of
from stillroom.keeping.cupboard.liquids import add_liquid, liquids
from stillroom.keeping.cupboard.lot_reading import herb_lot, own_shrinkage
from stillroom.keeping.cupboard.lots import (
    discard_herb,
    dry,
    give_herb,
    lay_out,
    use_up,
    weigh_lot,
)
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import LiquidDraft, PourDraft
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import events
from stillroom.keeping.ledger_views import Mark
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import undo
from stillroom.keeping.wording import wording
from stillroom.reckoning.charge import Part
from stillroom.reckoning.states import HerbMovementKind, LiquidKind, OtherLiquidKind

from ..builders import LOT_CAME_ON, filled, gathered, spirit, strained


def of(lot_id: int) -> Subject:
    return Subject(SubjectKind.LOT, lot_id)


def left(keeper: Keeper, lot_id: int) -> float | None:
    return herb_lot(keeper, lot_id).left_g


def test_a_weighing_stays_as_seen_and_what_was_missing_is_recalculated(keeper: Keeper) -> None:
    """900 g at first, 100 g given, 780 g seen: 20 g were missing; of 950 g it was 70 g."""
    lot_id = gathered(keeper).lot_id
    give_herb(keeper, lot_id, 100.0)
    weigh_lot(keeper, lot_id, 780.0)
    plan = correct(keeper, of(lot_id), {"weight": "950 g"}, why="Read the scale wrong")
    assert [(c.label, c.before, c.after) for c in plan.changes] == [
        ("Weight at first", "900 g", "950 g")
    ]
    assert left(keeper, lot_id) == pytest.approx(780)
    missing = keeper.rows("SELECT mass_g FROM herb_movement WHERE kind = 'weigh in'")
    assert missing == [(pytest.approx(780 - 850),)]
    correct(keeper, of(lot_id), {"movement-2.seen": "800 g"})
    assert left(keeper, lot_id) == pytest.approx(800)
    correct(keeper, of(lot_id), {"movement-2.seen": "none", "movement-1.weight": "120 g"})
    assert left(keeper, lot_id) == pytest.approx(950 - 120)
    assert keeper.rows("SELECT why FROM journal WHERE kind = 'correction'")[0] == (
        "Read the scale wrong",
    )
    assert check(keeper) == []


def test_a_dried_lot_keeps_its_measured_dry_weight(keeper: Keeper) -> None:
    lot_id = gathered(keeper).lot_id
    lay_out(keeper, lot_id)
    dry(keeper, lot_id, 160.0)
    correct(keeper, of(lot_id), {"weight": "1 kg", "dry-weight": "180 g"})
    lot = herb_lot(keeper, lot_id)
    assert (lot.mass_g, lot.laid_out_g, lot.dry_g, lot.left_g) == pytest.approx(
        (1000, 1000, 180, 180)
    )
    shrunk = own_shrinkage(keeper, lot.herb_id, Part.FLOWER)
    assert shrunk is not None
    assert shrunk.share == pytest.approx(0.18)
    with pytest.raises(Refused, match=r"would hold 170 g fresh and 180 g dry.*dry-weight"):
        correct(keeper, of(lot_id), {"weight": "170 g"})
    with pytest.raises(Refused, match="after it was dry"):
        correct(keeper, of(lot_id), {"laid-out": "26 Nov 2026", "dry": "25 Nov 2026"})
    assert herb_lot(keeper, lot_id) == lot
    undo(keeper)
    assert herb_lot(keeper, lot_id).laid_out_g == 900


def test_the_weight_of_a_part_laid_out_is_deducted_from_its_lot(keeper: Keeper) -> None:
    lot_id = gathered(keeper).lot_id
    part_id = lay_out(keeper, lot_id, 600.0).lot_id
    dry(keeper, part_id, 110.0)
    correct(keeper, of(part_id), {"laid-out-weight": "650 g", "dry-weight": "120 g"})
    assert (left(keeper, lot_id), left(keeper, part_id)) == pytest.approx((250, 120))
    assert herb_lot(keeper, part_id).laid_out_g == 650
    with pytest.raises(Refused, match=r"is 50(\.0)? g short"):
        correct(keeper, of(part_id), {"laid-out-weight": "950 g"})
    names = {fact.name for fact in facts_of(keeper, of(part_id))}
    assert "laid-out-weight" in names
    assert not {"herb", "origin", "weight", "price"} & names


def test_jars_and_parts_get_the_corrected_facts_of_their_lot(
    keeper: Keeper, clock: SetClock
) -> None:
    """Water of fresh herb thins the tincture: 200 g at 80 % bring 160 mL, at 60 % 120 mL."""
    lot_id = gathered(keeper).lot_id
    part_id = lay_out(keeper, lot_id, 500.0).lot_id
    lot = herb_lot(keeper, lot_id)
    jar_id = filled(keeper, [charge_of_lot(lot, 200.0)], spirit(400, 60), on=LOT_CAME_ON)
    clock.advance(days=20)
    made = strained(keeper, jar_id, 420)
    correct(
        keeper,
        of(lot_id),
        {
            "herb": "Fennel",
            "part": "leaf",
            "got": "8 Nov 2026",
            "origin": "the upper bed",
            "water": "60 %",
        },
    )
    (line,) = jar_view(keeper, jar_id).charges
    assert (line.herb, line.part, line.gathered_on, line.origin) == (
        "Fennel", Part.LEAF, date(2026, 11, 8), "the upper bed",
    )  # fmt: skip
    assert line.water_fraction == pytest.approx(0.6)
    part = herb_lot(keeper, part_id)
    assert (part.herb, part.part, part.origin) == ("Fennel", Part.LEAF, "the upper bed")
    # By volume, without contraction, as a bound from outside: 240 mL of ethanol in 520 mL.
    after = tincture_view(keeper, made.tincture_id).strength_abv
    assert after == pytest.approx(100 * 240 / 520, abs=1.2)
    assert check(keeper) == []
    correct(keeper, of(lot_id), {"came": "bought", "lot": "77-B"})
    (line,) = jar_view(keeper, jar_id).charges
    assert (line.gathered_on, line.origin) == (None, "the upper bed, lot 77-B")
    with pytest.raises(Refused, match="before it was gathered or bought"):
        correct(keeper, of(lot_id), {"got": "12 Nov 2026"})


def test_a_fact_entered_for_the_jar_itself_is_kept(keeper: Keeper) -> None:
    from dataclasses import replace

    lot_id = gathered(keeper).lot_id
    own = replace(charge_of_lot(herb_lot(keeper, lot_id), 50.0), origin="the far corner")
    jar_id = filled(keeper, [own], spirit(300), on=LOT_CAME_ON)
    correct(keeper, of(lot_id), {"origin": "the upper bed"})
    assert jar_view(keeper, jar_id).charges[0].origin == "the far corner"


def test_a_weighing_is_kept_when_a_jar_is_corrected(keeper: Keeper) -> None:
    lot_id = gathered(keeper).lot_id
    jar_id = filled(keeper, [charge_of_lot(herb_lot(keeper, lot_id), 100.0)], spirit(500))
    weigh_lot(keeper, lot_id, 780.0)
    correct(keeper, Subject(SubjectKind.JAR, jar_id), {"weight": "150 g"})
    assert left(keeper, lot_id) == pytest.approx(780)


def test_the_day_a_lot_was_used_up_is_changed_and_removed(keeper: Keeper) -> None:
    lot_id = gathered(keeper, 250.0).lot_id
    use_up(keeper, lot_id)
    correct(keeper, of(lot_id), {"weight": "300 g"})
    assert left(keeper, lot_id) == pytest.approx(0)
    correct(keeper, of(lot_id), {"used-up": "20 Nov 2026"})
    assert keeper.rows("SELECT day, mass_g FROM herb_movement") == [("2026-11-20", -300)]
    correct(keeper, of(lot_id), {"used-up": ""})
    assert (left(keeper, lot_id), herb_lot(keeper, lot_id).is_in_store) == (300, True)
    assert check(keeper) == []


def test_a_lot_used_up_without_a_weight_takes_what_is_left(keeper: Keeper) -> None:
    lot_id = gathered(keeper, 250.0).lot_id
    give_herb(keeper, lot_id, 250.0)
    use_up(keeper, lot_id)
    correct(keeper, of(lot_id), {"weight": "300 g"})
    kinds = keeper.rows("SELECT kind, mass_g FROM herb_movement ORDER BY id")
    assert kinds == [("give", -250), ("used up", -50)]


def test_a_correction_that_leaves_less_than_was_taken_is_refused(keeper: Keeper) -> None:
    lot_id = gathered(keeper, 250.0).lot_id
    give_herb(keeper, lot_id, 200.0, person="Ada")
    with pytest.raises(Refused, match=r"H-26-001 is 50(\.0)? g short"):
        correct(keeper, of(lot_id), {"weight": "150 g"})
    correct(keeper, of(lot_id), {"movement-1.kind": "spoiled", "movement-1.for": ""})
    assert keeper.rows("SELECT kind, person FROM herb_movement") == [("spoiled", "")]
    correct(keeper, of(lot_id), {"movement-1.weight": "0"})
    assert left(keeper, lot_id) == 250


def test_the_ledger_lines_of_the_corrected_facts_are_struck_through(
    keeper: Keeper, clock: SetClock
) -> None:
    lot_id = gathered(keeper, 250.0).lot_id
    clock.advance(minutes=1)
    give_herb(keeper, lot_id, 20.0)
    clock.advance(minutes=1)
    give_herb(keeper, lot_id, 30.0)
    clock.advance(minutes=1)
    correct(keeper, of(lot_id), {"movement-1.weight": "25 g"})

    def struck() -> list[str]:
        return [line.text for line in events(keeper, "1") if line.mark is Mark.CORRECTED]

    assert struck() == ["−20 g"]
    correct(keeper, of(lot_id), {"price": "12"})
    assert [text[:5] for text in struck()] == ["−20 g", "250 g"]


def test_lots_and_liquids_are_found_by_their_codes(keeper: Keeper) -> None:
    lot_id = gathered(keeper).lot_id
    honey = LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42)
    first, second = add_liquid(keeper, honey), add_liquid(keeper, honey)
    assert subject_of_code(keeper, "h-26-001") == of(lot_id)
    assert title_of(keeper, of(lot_id)) == "Yarrow H-26-001"
    with pytest.raises(Refused, match=f"liquid number {first}, liquid number {second}"):
        subject_of_code(keeper, "honey")
    one = subject_of_code(keeper, f"liquid number {second}")
    assert one == Subject(SubjectKind.LIQUID, second)
    correct(keeper, one, {"code": "HO2"})
    assert subject_of_code(keeper, "ho2") == one
    with pytest.raises(Refused, match="HO2 is the code of Honey already"):
        correct(keeper, Subject(SubjectKind.LIQUID, first), {"code": "HO2"})


def test_the_density_of_a_liquid_in_use_is_corrected(keeper: Keeper) -> None:
    """Mass is conserved: 100 mL weigh what the density says, wherever they went."""
    draft = LiquidDraft("Syrup", OtherLiquidKind.SYRUP, 1.30, "USP 32", bought_ml=500)
    liquid_id = add_liquid(keeper, draft)
    lot_id = gathered(keeper).lot_id
    filled(
        keeper,
        [charge_of_lot(herb_lot(keeper, lot_id), 50.0)],
        PourDraft(LiquidKind.LIQUID, 100, liquid_id=liquid_id),
        spirit(100, 60),
    )
    subject = Subject(SubjectKind.LIQUID, liquid_id)
    correct(keeper, subject, {"density": "1.25", "volume": "400 ml"})
    (syrup,) = liquids(keeper)
    assert (syrup.density_g_per_ml, syrup.density_source, syrup.left_ml) == (1.25, "", 300)
    with pytest.raises(NotUnderstood, match=r"from 0\.5 g/mL to 2\.5"):
        correct(keeper, subject, {"density": "12.5"})
    with pytest.raises(Refused, match="only 50 mL would be bought"):
        correct(keeper, subject, {"volume": "50 ml"})
    assert "Syrup: Density 1.3 → 1.25" in events(keeper, "1")[0].text
    assert check(keeper) == []


def _another(keeper: Keeper, fact: Fact, rng: random.Random) -> str:
    if fact.can_be_blank and rng.random() < 0.2:
        return ""
    if fact.choices:
        return rng.choice(fact.choices)[0]
    if fact.kind is FactKind.DAY:
        return date.fromordinal(LOT_CAME_ON.toordinal() + rng.randrange(-2, 16)).isoformat()
    if fact.kind is FactKind.TEXT:
        return rng.choice(("Fennel", "Yarrow", "77-B"))
    value = fact.value if isinstance(fact.value, float) else 0.5
    changed = value * rng.choice((0, 0.5, 0.9, 1.1, 2))
    return show_value(fact.kind, changed, (), wording(keeper))


def _held_by_hand(keeper: Keeper, lot_id: int) -> float | None:
    """What a lot holds, added up from its rows alone."""
    ((mass_g,),) = keeper.rows("SELECT mass_g FROM herb_lot WHERE id = ?", lot_id)
    if mass_g is None:
        return None
    total: float = mass_g
    for sql, sign in (
        ("SELECT mass_g FROM herb_movement WHERE lot_id = ?", 1),
        ("SELECT mass_g FROM charge_line WHERE lot_id = ?", -1),
        ("SELECT mass_g FROM herb_lot WHERE from_lot_id = ?", -1),
    ):
        total += sign * sum(each or 0.0 for (each,) in keeper.rows(sql, lot_id))
    return total


@pytest.mark.parametrize("seed", range(5))
def test_every_fact_of_a_lot_is_corrected_consistently_or_refused(
    keeper: Keeper, seed: int
) -> None:
    """Weighings stay as seen, endings at nothing, dry weights below fresh; undo restores all."""
    rng = random.Random(seed)
    lot_id = gathered(keeper).lot_id
    filled(keeper, [charge_of_lot(herb_lot(keeper, lot_id), 100.0)], spirit(500), on=LOT_CAME_ON)
    give_herb(keeper, lot_id, 50.0, person="Ada")
    part_id = lay_out(keeper, lot_id, 400.0).lot_id
    dry(keeper, part_id, 80.0)
    weigh_lot(keeper, part_id, 78.0)
    discard_herb(keeper, part_id, 8.0, kind=HerbMovementKind.SPOILED)
    whole_id = gathered(keeper, None if seed % 2 else 300.0).lot_id
    lay_out(keeper, whole_id, 280.0 if seed % 2 else None)
    dry(keeper, whole_id, 60.0)
    use_up(keeper, whole_id)
    lots = (lot_id, part_id, whole_id)
    done, refusals = 0, []
    for _ in range(30):
        subject = of(rng.choice(lots))
        facts = facts_of(keeper, subject)
        fact = rng.choice(facts)
        seen = {f.name: f.value for f in facts if f.name.endswith(".seen")}
        before = [herb_lot(keeper, each) for each in lots]
        try:
            correct(keeper, subject, {fact.name: _another(keeper, fact, rng)}, confirmed=True)
        except (Refused, NotUnderstood) as error:
            refusals.append(str(error))
            assert [herb_lot(keeper, each) for each in lots] == before
            continue
        done += 1
        assert check(keeper) == []
        for each in lots:
            lot, by_hand = herb_lot(keeper, each), _held_by_hand(keeper, each)
            if by_hand is not None:
                assert lot.left_g == pytest.approx(by_hand, abs=1e-6)
            if lot.used_up_on is not None and lot.left_g is not None:
                assert lot.left_g == pytest.approx(0, abs=0.006)
        if not fact.name.startswith("movement"):
            now = {f.name: f.value for f in facts_of(keeper, subject)}
            assert {name: now.get(name) for name in seen} == pytest.approx(seen)
        if rng.random() < 0.7:
            undo(keeper)
            assert [herb_lot(keeper, each) for each in lots] == before
    assert done > 5
    assert not [said for said in refusals if "CHECK" in said or "constraint" in said]
