"""Two lots of one spirit told apart by their code, lot, day or number."""

from datetime import date

import pytest

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.cupboard.cupboard import add_spirit, change_spirit, spirits
from stillroom.keeping.cupboard.liquids import add_liquid, liquids
from stillroom.keeping.cupboard.twins import liquid_words, spirit_words
from stillroom.keeping.drafts import LiquidDraft, SpiritDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import OtherLiquidKind

SEPTEMBER, OCTOBER = date(2026, 9, 3), date(2026, 10, 26)


def said(keeper: Keeper) -> list[str]:
    cupboard = sorted(spirits(keeper), key=lambda each: each.spirit_id)
    return [spirit_words(each, cupboard, wording(keeper)) for each in cupboard]


@pytest.mark.parametrize(
    ("one", "other", "words"),
    [
        ({"code": "V1"}, {"code": "V2"}, ["40 % Vodka · V1", "40 % Vodka · V2"]),
        ({"lot": "4417"}, {"lot": "5120"}, ["40 % Vodka · 4417", "40 % Vodka · 5120"]),
        (
            {"lot": "4417", "bought_on": SEPTEMBER},
            {"lot": "4417", "bought_on": OCTOBER},
            ["40 % Vodka · 3 Sep 2026", "40 % Vodka · 26 Oct 2026"],
        ),
        ({}, {}, ["40 % Vodka · number 1", "40 % Vodka · number 2"]),
        ({}, {"strength_abv": 45.0}, ["40 % Vodka", "45 % Vodka"]),
    ],
)
def test_lots_of_one_name_are_told_apart_by_as_little_as_is_needed(
    keeper: Keeper, one: dict, other: dict, words: list[str]
) -> None:
    for more in (one, other):
        add_spirit(keeper, SpiritDraft(**{"name": "Vodka", "strength_abv": 40.0} | more))
    assert said(keeper) == words


def test_each_code_belongs_to_one_thing(keeper: Keeper) -> None:
    first = add_spirit(keeper, SpiritDraft("Vodka", 40, code="V1", density_g_per_ml=0.948))
    with pytest.raises(Refused, match="v1 is the code of Vodka already"):
        add_liquid(keeper, LiquidDraft("Honey", OtherLiquidKind.HONEY, 1.42, code="v1"))
    with pytest.raises(Refused, match="V1 is the code of Vodka already"):
        add_spirit(keeper, SpiritDraft("Gin", 40, code="V1"))
    with pytest.raises(NotUnderstood, match=r"from 0\.5 g/mL to 2\.5"):
        add_spirit(keeper, SpiritDraft("Gin", 40, density_g_per_ml=13.6))
    change_spirit(keeper, first, SpiritDraft("Vodka", 40, code="V1", lot="77"))
    (vodka,) = spirits(keeper)
    assert (vodka.code, vodka.lot, vodka.density_g_per_ml) == ("V1", "77", None)


def test_two_lots_of_honey_are_told_apart_too(keeper: Keeper) -> None:
    for name, lot, code in (("Honey", "H1", ""), ("honey", "H2", ""), ("Syrup", "S9", "S")):
        kind = OtherLiquidKind.HONEY
        add_liquid(keeper, LiquidDraft(name, kind, 1.42, lot=lot, code=code))
    kept = liquids(keeper)
    assert sorted(liquid_words(each, kept, wording(keeper)) for each in kept) == [
        "Honey · H1", "Syrup S", "honey · H2",
    ]  # fmt: skip


def test_the_lots_of_a_spirit_are_recalled_by_lot_and_code(keeper: Keeper) -> None:
    for lot, code in (("4417", "V1"), ("5120", "V2")):
        add_spirit(keeper, SpiritDraft("Vodka", 40.0, origin="Mill", lot=lot, code=code))
        kind = OtherLiquidKind.HONEY
        add_liquid(keeper, LiquidDraft("Honey", kind, 1.42, origin="Hive", lot=f"H{lot}"))
    both = recall_words(keeper, "vodka")
    assert ["Mill, 5120, V2" in each.detail for each in both] == [True, False]
    for wanted, detail in (("4417 vodka", "Mill, 4417, V1"), ("v2", "Mill, 5120, V2"),
                           ("H5120", "Hive, H5120")):  # fmt: skip
        (found,) = recall_words(keeper, wanted)
        assert detail in found.detail
