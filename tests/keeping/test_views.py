"""Rows and views with one herb or several, with or without a name or day."""

from collections.abc import Callable
from datetime import date

import pytest

from stillroom.errors import Refused
from stillroom.keeping.bottles.blends import make_blend, shared_out
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.stock import take_out
from stillroom.keeping.bottles.stocktake import settle_stocktake
from stillroom.keeping.contents import blend_ratios
from stillroom.keeping.cupboard.cupboard import add_spirit, keep_bottle_size
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    ChargeDraft,
    PourDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.learning import own_strainings
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.recall import recall_gathering
from stillroom.keeping.trace.views import Node
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind, MovementKind
from stillroom.reckoning.yields import Pressing

from ..builders import bottled as fill_bottles
from ..builders import filled, spirit, strained

Bottled = Callable[..., list[BottleRow]]

FENNEL = ChargeDraft(
    "Fennel", Part.SEED, Condition.DRIED, 40, botanical="Foeniculum vulgare",
    gathered_on=date(2026, 8, 3), origin="Own garden",
)  # fmt: skip
GINGER = ChargeDraft("Ginger", Part.ROOT, Condition.FRESH, 30, botanical="Zingiber officinale")


def test_a_bottle_of_one_herb_has_its_botanical_name(bottled: Bottled) -> None:
    (bottle,) = bottled(FENNEL)
    assert (bottle.botanical, bottle.part, bottle.condition) == (
        "Foeniculum vulgare", "seed", "dried",
    )  # fmt: skip


def test_a_bottle_of_two_herbs_lists_parts_and_conditions(bottled: Bottled) -> None:
    (bottle,) = bottled(FENNEL, GINGER)
    assert (bottle.herb, bottle.botanical) == ("Fennel and Ginger", "")
    assert (bottle.part, bottle.condition) == ("seed and root", "dried and fresh")


def test_bottles_are_numbered_in_order_and_the_tincture_is_returned(keeper: Keeper) -> None:
    tincture = strained(keeper, filled(keeper, [FENNEL], spirit(200), days=0), 150)
    first = fill_bottles(keeper, tincture, BottleDraft(50, 50))
    assert first.loose_ml == pytest.approx(100)
    second = fill_bottles(keeper, tincture, BottleDraft(50, 50), BottleDraft(30, 30))
    assert second.loose_ml == pytest.approx(20)
    codes = [code for (code,) in keeper.rows("SELECT code FROM bottle ORDER BY id")]
    assert codes == [f"{tincture.code}.{number}" for number in (1, 2, 3)]


def test_a_bottling_is_on_the_day_of_straining_or_later(keeper: Keeper) -> None:
    day = date(2026, 11, 20)
    tincture = strained(keeper, filled(keeper, [FENNEL], spirit(200), on=day, days=0), 150, on=day)
    with pytest.raises(Refused, match="before the straining"):
        fill_bottles(keeper, tincture, BottleDraft(50, 50), on=date(2026, 11, 19))
    assert fill_bottles(keeper, tincture, BottleDraft(50, 50), on=day).loose_ml < 150


@pytest.mark.parametrize(
    ("seen_ml", "said"), [(90.0, "10 mL less than recorded"), (100.0, "all as recorded")]
)
def test_a_stock_take_lists_only_differences(
    keeper: Keeper, bottled: Bottled, seen_ml: float, said: str
) -> None:
    (bottle,) = bottled(FENNEL, place="Larder")
    text = settle_stocktake(keeper, "Larder", {bottle.bottle_id: seen_ml}).text
    assert text.endswith(said)
    assert "more" not in text


def test_a_missing_jar_is_refused(keeper: Keeper) -> None:
    with pytest.raises(Refused, match="no longer exists"):
        jar_view(keeper, 99)


@pytest.mark.parametrize(
    ("origin", "bought_on", "lot"),
    [
        ("Still & Sons, lot 7", date(2026, 11, 3), "Still & Sons, lot 7; bought 3 Nov 2026"),
        ("", date(2026, 11, 3), "bought 3 Nov 2026"),
        ("Still & Sons", None, "Still & Sons"),
        ("", None, ""),
    ],
)
def test_a_pour_names_the_purchase_it_came_from(
    keeper: Keeper, origin: str, bought_on: date | None, lot: str
) -> None:
    draft = SpiritDraft("Grain spirit", 40, bought_on=bought_on, origin=origin)
    pour = PourDraft(LiquidKind.SPIRIT, 200, 40, add_spirit(keeper, draft))
    assert jar_view(keeper, filled(keeper, [FENNEL], pour)).pours[0].lot == lot


def test_tinctures_without_alcohol_make_a_blend_without_alcohol(keeper: Keeper) -> None:
    rows = []
    for _ in range(2):
        jar = filled(keeper, [FENNEL], PourDraft(LiquidKind.WATER, 300), days=0)
        tincture = fill_bottles(keeper, strained(keeper, jar, 200), BottleDraft(100, 100))
        ((bottle_id,),) = keeper.rows(
            "SELECT id FROM bottle WHERE tincture_id = ?", tincture.tincture_id
        )
        rows.append(bottle_row(keeper, bottle_id))
    parts = tuple(BlendPartDraft(row.bottle_id, 50) for row in rows)
    blend = make_blend(keeper, BlendDraft("Tea", parts, keeper.today), confirmed=True)
    assert blend.strength_abv == 0
    assert blend.volume_ml == pytest.approx(100, abs=0.01)


def below(node: Node) -> list[Node]:
    return [node, *(each for child in node.children for each in below(child))]


def test_a_recall_names_the_blend_and_how_much_went_into_it(
    keeper: Keeper, bottled: Bottled
) -> None:
    (fennel,) = bottled(FENNEL)
    (anise,) = bottled("Anise")
    parts = (BlendPartDraft(fennel.bottle_id, 30), BlendPartDraft(anise.bottle_id, 50))
    make_blend(keeper, BlendDraft("Evening", parts, keeper.today))
    take_out(keeper, fennel.bottle_id, 10, kind=MovementKind.GIVE)
    ((herb_id,),) = keeper.rows("SELECT id FROM herb WHERE name = 'Fennel'")
    nodes = below(recall_gathering(keeper, herb_id, FENNEL.gathered_on, FENNEL.origin))
    (blended,) = [node for node in nodes if "Evening" in node.label]
    assert blended.detail.startswith("30 mL blended in; ")
    assert blended.volume_ml == pytest.approx(30)
    made = [node for node in nodes if node.kind == "tincture" and node is not blended]
    assert [" squeezed" in f" {node.detail}" for node in made] == [True] * len(made)
    assert made
    assert not any("blended in" in node.detail for node in made)
    (bottle,) = [node for node in nodes if node.label == fennel.code]
    assert "10 mL given" in bottle.detail
    assert "()" not in bottle.detail


def test_a_jar_is_compared_with_strainings_of_its_main_herb(keeper: Keeper) -> None:
    """A jar of 38 g fennel and 2 g anise is one of fennel, and one the other way round isn't."""
    mostly = {"Fennel": ("Fennel", "Anise"), "Anise": ("Anise", "Fennel")}
    for more, less in mostly.values():
        charges = [
            ChargeDraft(more, Part.SEED, Condition.DRIED, 38),
            ChargeDraft(less, Part.SEED, Condition.DRIED, 2),
        ]
        strained(keeper, filled(keeper, charges, spirit(200), days=0), 140)
    jar = jar_view(keeper, filled(keeper, [FENNEL], spirit(200)))
    (own,) = own_strainings(keeper, Pressing.SQUEEZED, jar)
    assert own.is_same_herb


def test_without_blends_there_are_no_ratios(keeper: Keeper) -> None:
    assert blend_ratios(keeper, []) == {}


def test_an_infinite_total_volume_is_refused() -> None:
    for total_ml in (0.0, float("inf")):
        with pytest.raises(Refused, match="greater than zero"):
            shared_out(total_ml, [(1, 50.0), (2, 50.0)])


def test_a_yield_may_be_less_than_a_millilitre_but_not_zero(keeper: Keeper) -> None:
    jar_id = filled(keeper, [FENNEL], spirit(200), days=0)
    with pytest.raises(Refused, match="greater than zero"):
        strained(keeper, jar_id, 0.0, confirmed=True)
    assert strained(keeper, jar_id, 0.8, confirmed=True).volume_ml == 0.8


def test_each_bottle_filled_takes_one_from_the_empties(keeper: Keeper) -> None:
    keep_bottle_size(keeper, 50, 3)
    tincture = strained(keeper, filled(keeper, [FENNEL], spirit(200), days=0), 150)
    fill_bottles(keeper, tincture, BottleDraft(50, 50), BottleDraft(50, 50))
    assert keeper.rows("SELECT empties FROM bottle_size WHERE size_ml = 50") == [(1,)]
