"""Ancestry both ways: trees down to herbs and spirits, recall lists, and codes."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.stock import discard_bottle, take_out
from stillroom.keeping.cupboard.cupboard import add_spirit
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.jar import discard_jar, fill_jar
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.trace.ancestry import find_code, trace, trace_bottle, trace_tincture
from stillroom.keeping.trace.recall import gatherings, recall_gathering, recall_spirit, recall_words
from stillroom.keeping.trace.views import Found, Node
from stillroom.keeping.undo import undo
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.quantities import UnitSystem
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind, MovementKind

Bottled = Callable[..., list[BottleRow]]

AUGUST = date(2026, 8, 3)
FENNEL = ChargeDraft(
    "Fennel", Part.SEED, Condition.DRIED, 40, gathered_on=AUGUST, origin="Own garden"
)


def blend(keeper: Keeper, name: str, *parts: tuple[BottleRow, float]) -> TinctureView:
    drafts = tuple(BlendPartDraft(bottle.bottle_id, ml) for bottle, ml in parts)
    return make_blend(keeper, BlendDraft(name, drafts, keeper.today))


def bottle(keeper: Keeper, tincture: TinctureView, volume_ml: float) -> BottleRow:
    bottles = (BottleDraft(volume_ml, volume_ml, "Case"),)
    bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, keeper.today))
    return next(row for row in bottle_rows(keeper) if row.tincture_id == tincture.tincture_id)


def lines(node: Node, depth: int = 0) -> list[str]:
    """The tree as an outline."""
    below = [line for child in node.children for line in lines(child, depth + 1)]
    return [f"{'  ' * depth}{node.kind}: {node.label}: {node.detail}", *below]


LOT = "Lot 7; bought 1 Oct 2026"


@pytest.fixture
def vodka(keeper: Keeper) -> int:
    return add_spirit(
        keeper, SpiritDraft("Vodka", 40, 2000, bought_on=date(2026, 10, 1), origin="Lot 7")
    )


@pytest.fixture
def two_level(keeper: Keeper, bottled: Bottled, vodka: int) -> BottleRow:
    """A blend in a blend, bottled, with Fennel in it on two ways."""
    fennel, spare = bottled(FENNEL, sizes_ml=(100, 50), spirit_id=vodka, measured_abv=39)
    (anise,) = bottled("Anise", spirit_abv=60, measured_abv=58)
    (ginger,) = bottled("Ginger", spirit_id=vodka, measured_abv=38)
    first = bottle(keeper, blend(keeper, "Seeds", (fennel, 60), (anise, 40)), 90)
    second = blend(keeper, "Digestive", (first, 50), (ginger, 40), (spare, 10))
    return bottle(keeper, second, 80)


def test_a_bottle_is_traced_to_each_gathering_and_each_spirit(
    keeper: Keeper, two_level: BottleRow
) -> None:
    take_out(keeper, two_level.bottle_id, 30)
    assert lines(trace_bottle(keeper, two_level.bottle_id)) == [
        "bottle: 26-005.1: holds 50 mL of 80 mL, Case",
        "  blend: 26-005 Digestive: 100 mL blended 26 Nov 2026, 42.4 % v/v",
        "    bottle: 26-004.1: 50 mL drawn 26 Nov 2026",
        "      blend: 26-004 Seeds: 99.9 mL blended 26 Nov 2026, 46.7 % v/v",
        "        bottle: 26-001.1: 60 mL drawn 26 Nov 2026",
        "          tincture: 26-001 Fennel: 150 mL strained 26 Nov 2026, squeezed, 39 % v/v",
        "            jar: Jar 26-001: filled 26 Nov 2026, strained 26 Nov 2026",
        "              herb: Fennel: 40 g seed, dried, gathered 3 Aug 2026, Own garden",
        f"              spirit: Vodka: 200 mL of 40 % v/v poured 26 Nov 2026, {LOT}",
        "        bottle: 26-002.1: 40 mL drawn 26 Nov 2026",
        "          tincture: 26-002 Anise: 150 mL strained 26 Nov 2026, squeezed, 58 % v/v",
        "            jar: Jar 26-002: filled 26 Nov 2026, strained 26 Nov 2026",
        "              herb: Anise: 40 g seed, dried",
        "              spirit: Spirit: 200 mL of 60 % v/v poured 26 Nov 2026",
        "    bottle: 26-003.1: 40 mL drawn 26 Nov 2026",
        "      tincture: 26-003 Ginger: 150 mL strained 26 Nov 2026, squeezed, 38 % v/v",
        "        jar: Jar 26-003: filled 26 Nov 2026, strained 26 Nov 2026",
        "          herb: Ginger: 40 g seed, dried",
        f"          spirit: Vodka: 200 mL of 40 % v/v poured 26 Nov 2026, {LOT}",
        "    bottle: 26-001.2: 10 mL drawn 26 Nov 2026",
        "      tincture: 26-001 Fennel: 150 mL strained 26 Nov 2026, squeezed, 39 % v/v",
    ]


def test_a_spirit_is_listed_with_what_is_left_where_that_is_known(keeper: Keeper) -> None:
    known = add_spirit(keeper, SpiritDraft("Vodka", 40, 2000))
    unknown = add_spirit(keeper, SpiritDraft("Rum", 55))
    assert recall_spirit(keeper, known).detail == "40 % v/v, 2 L left"
    assert recall_spirit(keeper, unknown).detail == "55 % v/v"


def test_a_branch_already_shown_in_full_is_marked_as_a_repeat(
    keeper: Keeper, two_level: BottleRow
) -> None:
    repeats = [n.label for n in trace_bottle(keeper, two_level.bottle_id).walk() if n.is_repeat]
    assert repeats == ["26-001 Fennel"]


def test_the_volumes_of_a_trace_agree_with_the_ledger(
    keeper: Keeper, two_level: BottleRow, vodka: int
) -> None:
    tree = trace_tincture(keeper, two_level.tincture_id)
    for node in tree.walk():
        if node.kind == "bottle":
            blended = keeper.rows(
                "SELECT -sum(volume_ml) FROM movement WHERE bottle_id = ? AND kind = 'blend'",
                node.bottle_id,
            )[0][0]
            assert node.volume_ml == pytest.approx(blended, abs=0.01)
    poured = sum(node.volume_ml or 0 for node in tree.walk() if node.spirit_id == vodka)
    assert poured == 400


def test_a_blend_of_many_generations_is_traced(keeper: Keeper, bottled: Bottled) -> None:
    (last,) = bottled("Fennel")
    (anise,) = bottled("Anise")
    for _ in range(40):
        last = bottle(keeper, blend(keeper, "Solera", (last, 50), (anise, 0.5)), 50)
    tree = trace_bottle(keeper, last.bottle_id)
    assert sum(1 for node in tree.walk() if node.kind == "blend") == 40
    assert {node.label for node in tree.walk() if node.kind == "herb"} == {"Fennel", "Anise"}
    gathering = next(node for node in tree.walk() if node.label == "Fennel")
    recalled = recall_gathering(keeper, gathering.herb_id or 0, None)
    assert last.code in {node.label for node in recalled.walk()}


def test_a_recall_lists_each_place_a_spirit_went_once(
    keeper: Keeper, two_level: BottleRow, vodka: int
) -> None:
    steeping = fill_jar(
        keeper,
        JarDraft(
            (replace(FENNEL, mass_g=None),),
            (PourDraft(LiquidKind.SPIRIT, 300, 40, vodka),),
            keeper.today,
            keeper.today,
        ),
    )
    take_out(keeper, two_level.bottle_id, 20, kind=MovementKind.GIVE, person="A neighbour")
    take_out(keeper, two_level.bottle_id, 5, kind=MovementKind.GIVE, person="Bo", note="a cold")
    take_out(keeper, two_level.bottle_id, 6)
    take_out(keeper, two_level.bottle_id, 4, person="Cleo")
    tree = recall_spirit(keeper, vodka)
    assert (tree.label, tree.volume_ml, tree.left_ml) == ("Vodka", 2000, 1300)
    shown = [node for node in tree.walk() if not node.is_repeat]
    assert [node.label for node in shown] == [
        "Vodka",
        "Jar 26-001", "26-001 Fennel", "26-001.1", "26-004 Seeds", "26-004.1", "26-005 Digestive",
        "26-005.1", "26-001.2",
        "Jar 26-003", "26-003 Ginger", "26-003.1",
        f"Jar {steeping.code}",
    ]  # fmt: skip
    given = next(node for node in shown if node.label == "26-005.1")
    assert given.detail == (
        "45 mL left, Case, 10 mL drawn (4 mL 26 Nov 2026 for Cleo), "
        "20 mL given 26 Nov 2026 (A neighbour), 5 mL given 26 Nov 2026 (Bo · a cold)"
    )
    assert (given.left_ml, given.volume_ml) == (45, 80)
    still = shown[-1]
    assert (still.contains_ml, still.left_ml, still.detail) == (
        300,
        None,
        "300 mL poured, filled 26 Nov 2026, steeping",
    )


def contained(tree: Node, label: str) -> float:
    node = next(n for n in tree.walk() if n.label == label and not n.is_repeat)
    assert node.contains_ml is not None
    return node.contains_ml


def test_the_contents_listed_by_a_recall_add_up_to_what_was_poured(
    keeper: Keeper, two_level: BottleRow, vodka: int
) -> None:
    """Of 400 mL poured, all is in the marc, in bottles, loose, or was taken out and lost."""
    take_out(keeper, two_level.bottle_id, 30)
    tree = recall_spirit(keeper, vodka)
    liquid = dict(
        keeper.rows("SELECT j.code, s.liquid_ml FROM straining s JOIN jar j ON j.id = s.jar_id")
    )
    fennel, ginger = 200 / liquid["26-001"], 200 / liquid["26-003"]
    seeds = 60 * fennel / _volume_of(keeper, "26-004")
    digestive = (50 * seeds + 40 * ginger + 10 * fennel) / _volume_of(keeper, "26-005")

    assert contained(tree, "26-001.1") == pytest.approx(40 * fennel, abs=0.01)
    assert contained(tree, "26-001.2") == pytest.approx(40 * fennel, abs=0.01)
    assert contained(tree, "26-004.1") == pytest.approx(40 * seeds, abs=0.01)
    assert contained(tree, "26-005.1") == pytest.approx(50 * digestive, abs=0.01)

    there = sum(node.contains_ml or 0 for node in tree.children for node in node.walk())
    in_marc = fennel * (liquid["26-001"] - 150) + ginger * (liquid["26-003"] - 150)
    lost = ginger * 50  # bottled 100 of 150 mL
    assert there + in_marc + lost + 30 * digestive == pytest.approx(400, abs=0.01)


def _volume_of(keeper: Keeper, code: str) -> float:
    return float(keeper.rows("SELECT volume_ml FROM tincture WHERE code = ?", code)[0][0])


def test_what_a_recall_lists_as_left_agrees_with_the_ledger(
    keeper: Keeper, two_level: BottleRow, vodka: int
) -> None:
    take_out(keeper, two_level.bottle_id, 12.34)
    by_ledger = dict(
        keeper.rows(
            "SELECT b.code, sum(m.volume_ml) FROM bottle b JOIN movement m ON m.bottle_id = b.id"
            " GROUP BY b.id"
        )
    )
    shown = [n for n in recall_spirit(keeper, vodka).walk() if n.kind == "bottle"]
    assert {n.label for n in shown} == set(by_ledger) - {"26-002.1"}
    for node in shown:
        assert node.left_ml == pytest.approx(by_ledger[node.label], abs=0.01)


def test_a_recall_shows_when_an_amount_cannot_be_calculated(
    keeper: Keeper, bottled: Bottled, vodka: int
) -> None:
    (by_eye,) = bottled(replace(FENNEL, mass_g=None), spirit_id=vodka)
    (anise,) = bottled("Anise", spirit_id=vodka)
    mixed = bottle(keeper, blend(keeper, "Seeds", (by_eye, 50), (anise, 50)), 90)
    tree = {node.label: node for node in recall_spirit(keeper, vodka).walk()}
    assert (tree[by_eye.code].left_ml, tree[by_eye.code].contains_ml) == (50, None)
    assert (tree[mixed.code].left_ml, tree[mixed.code].contains_ml) == (90, None)
    assert tree[anise.code].contains_ml is not None


def test_a_gathering_is_followed_through_blends_in_ml_of_its_tincture(
    keeper: Keeper, two_level: BottleRow
) -> None:
    (found,) = [g for g in gatherings(keeper) if g.herb == "Fennel"]
    assert (found.gathered_on, found.origin, found.jars) == (AUGUST, "Own garden", 1)
    tree = recall_gathering(keeper, found.herb_id, AUGUST, "Own garden")
    assert (tree.label, tree.detail) == ("Fennel", "gathered 3 Aug 2026, Own garden")
    assert tree.children[0].detail == ("40 g seed, dried, filled 26 Nov 2026, strained 26 Nov 2026")
    seeds = 60 / _volume_of(keeper, "26-004")
    assert contained(tree, "26-001.1") == 40
    assert contained(tree, "26-004.1") == pytest.approx(40 * seeds)
    share = (50 * seeds + 10) / _volume_of(keeper, "26-005")
    assert contained(tree, "26-005.1") == pytest.approx(80 * share)
    (loose,) = [n for n in tree.walk() if n.label == "26-005 Digestive" and not n.is_repeat]
    assert loose.contains_ml == pytest.approx((loose.left_ml or 0) * share)


def test_different_gatherings_of_one_herb_are_kept_apart(keeper: Keeper, bottled: Bottled) -> None:
    bottled(FENNEL)
    bottled(replace(FENNEL, gathered_on=None, origin=""))
    bottled(replace(FENNEL, origin="Market"), FENNEL)
    told = [(g.gathered_on, g.origin, g.jars) for g in gatherings(keeper)]
    assert told == [(AUGUST, "Market", 1), (AUGUST, "Own garden", 2), (None, "", 1)]
    herb_id = gatherings(keeper)[0].herb_id
    tree = recall_gathering(keeper, herb_id, None)
    assert [child.label for child in tree.children] == ["Jar 26-002"]
    with pytest.raises(Refused, match="No jar was filled with that herb"):
        recall_gathering(keeper, herb_id, AUGUST + timedelta(days=1), "Own garden")


def test_what_to_recall_is_found_by_lot_origin_or_day(
    keeper: Keeper, bottled: Bottled, vodka: int
) -> None:
    bottled(FENNEL, spirit_id=vodka)
    bottled(replace(FENNEL, herb="Fennel leaf", part=Part.LEAF, origin="Market, lot 7"))

    def found(text: str) -> list[tuple[str, str]]:
        return [(node.label, node.origin) for node in recall_words(keeper, text)]

    assert found("LOT 7") == [("Vodka", ""), ("Fennel leaf", "Market, lot 7")]
    assert found("7 market") == [("Fennel leaf", "Market, lot 7")]
    assert found("fennel") == [("Fennel", "Own garden")]
    assert found("fennel aug 2026") == [
        ("Fennel", "Own garden"),
        ("Fennel leaf", "Market, lot 7"),
    ]
    for nothing in ("lot 8", "  "):
        with pytest.raises(Refused, match="Nothing found for"):
            recall_words(keeper, nothing)


def test_trees_are_shown_in_the_units_of_the_shelf(
    keeper: Keeper, two_level: BottleRow, vodka: int
) -> None:
    save_settings(keeper, replace(settings_of(keeper), units=UnitSystem.US))
    told = lines(trace_bottle(keeper, two_level.bottle_id)) + lines(recall_spirit(keeper, vodka))
    assert told[0] == "bottle: 26-005.1: holds 2.7 fl oz of 2.7 fl oz, Case"
    assert any("herb: Fennel: 1.4 oz seed" in line for line in told)
    assert any("spirit: Vodka: 6.8 fl oz of 40 % v/v poured" in line for line in told)
    assert not any(" mL" in line or " g " in line for line in told)


def test_a_strength_that_is_at_most_so_much_is_marked_in_trees(
    keeper: Keeper, bottled: Bottled
) -> None:
    by_eye = replace(FENNEL, part=Part.LEAF, condition=Condition.FRESH, mass_g=None)
    (made,) = bottled(by_eye)
    assert made.strength_by == "estimated"
    # Doubtful, so a year: its water is not in the figure.
    assert made.keep_until == made.made_on.replace(year=made.made_on.year + 1)
    assert ", at most 40 % v/v" in lines(trace_bottle(keeper, made.bottle_id))[1]


def test_discarded_jars_and_bottles_stay_on_the_list_with_nothing_left(
    keeper: Keeper, bottled: Bottled, vodka: int
) -> None:
    (fennel,) = bottled(FENNEL, spirit_id=vodka)
    discard_bottle(keeper, fennel.bottle_id, "Cloudy")
    pours = (PourDraft(LiquidKind.SPIRIT, 100, 40, vodka),)
    jar = fill_jar(keeper, JarDraft((FENNEL,), pours, keeper.today, keeper.today))
    discard_jar(keeper, jar.jar_id, "Mould")
    tree = {node.label: node for node in recall_spirit(keeper, vodka).walk()}
    assert tree[fennel.code].detail == "empty, 100 mL discarded"
    assert (tree[fennel.code].left_ml, tree[fennel.code].contains_ml) == (0, 0)
    thrown = tree[f"Jar {jar.code}"]
    assert (thrown.left_ml, thrown.contains_ml) == (0, 0)
    assert thrown.detail.endswith("discarded 26 Nov 2026")


def test_a_steeping_jar_is_recalled_with_all_its_liquid(keeper: Keeper) -> None:
    pours = (PourDraft(LiquidKind.SPIRIT, 200, 40),)
    fill_jar(keeper, JarDraft((FENNEL,), pours, keeper.today, keeper.today))
    (found,) = gatherings(keeper)
    (jar,) = recall_gathering(keeper, found.herb_id, AUGUST, "Own garden").children
    assert jar.left_ml == jar.contains_ml
    assert jar.left_ml == pytest.approx(204, abs=0.5)  # 4 g of water in 40 g of dried seed


def test_a_recall_leaves_out_a_blend_that_was_undone(
    keeper: Keeper, bottled: Bottled, vodka: int
) -> None:
    (fennel,) = bottled(FENNEL, spirit_id=vodka)
    (anise,) = bottled("Anise")
    before = recall_spirit(keeper, vodka)
    blend(keeper, "Seeds", (fennel, 50), (anise, 50))
    assert recall_spirit(keeper, vodka) != before
    undo(keeper)
    assert recall_spirit(keeper, vodka) == before


def test_a_recall_of_an_unused_spirit_is_empty_and_of_a_deleted_one_refused(
    keeper: Keeper, vodka: int
) -> None:
    assert recall_spirit(keeper, vodka).children == ()
    with pytest.raises(Refused, match="no longer in the cupboard"):
        recall_spirit(keeper, vodka + 1)


@pytest.fixture
def codes(keeper: Keeper, bottled: Bottled) -> tuple[BottleRow, int]:
    """A bottled tincture, 26-001, and a jar that steeps, 26-002."""
    (row,) = bottled("Fennel")
    pours = (PourDraft(LiquidKind.SPIRIT, 200, 40),)
    jar = fill_jar(keeper, JarDraft((FENNEL,), pours, keeper.today, keeper.today))
    with keeper.act("Renamed") as act:
        act.db.execute_sql("UPDATE jar SET code = 'Wb-9' WHERE id = ?", (jar.jar_id,))
    return row, jar.jar_id


def test_any_code_finds_what_it_names(keeper: Keeper, codes: tuple[BottleRow, int]) -> None:
    row, steeping = codes
    bottle_found = Found("bottle", "26-001.1", None, row.tincture_id, row.bottle_id)
    assert find_code(keeper, "26-001.1") == bottle_found
    assert find_code(keeper, " 26-001 ") == Found("tincture", "26-001", 1, row.tincture_id)
    assert find_code(keeper, "wB-9") == Found("jar", "Wb-9", steeping)


@pytest.mark.parametrize(
    "text", ["26-001.1 Fennel 1:5", "26-001.1\nFennel", "26-001.1.", "26-001.1; keep dark"]
)
def test_a_code_is_found_at_the_start_of_the_text_on_a_label(
    keeper: Keeper, codes: tuple[BottleRow, int], text: str
) -> None:
    assert find_code(keeper, text).code == "26-001.1"


@pytest.mark.parametrize("text", ["", "26-0", "26-0011", "26-001.12", "26-001-7", "x 26-001.1"])
def test_an_unknown_code_is_refused(
    keeper: Keeper, codes: tuple[BottleRow, int], text: str
) -> None:
    with pytest.raises(Refused, match="No jar, batch or bottle"):
        find_code(keeper, text)


def test_a_trace_begins_at_what_the_code_names(
    keeper: Keeper, codes: tuple[BottleRow, int]
) -> None:
    assert trace(keeper, "26-001.1").kind == "bottle"
    assert trace(keeper, "26-001").kind == "tincture"
    jar = trace(keeper, "wb-9")
    assert (jar.kind, [child.kind for child in jar.children]) == ("jar", ["herb", "spirit"])


def test_what_no_longer_exists_cannot_be_traced(keeper: Keeper) -> None:
    with pytest.raises(Refused, match="bottle no longer exists"):
        trace_bottle(keeper, 1)
    with pytest.raises(Refused, match="tincture no longer exists"):
        trace_tincture(keeper, 1)
