"""Honey and the like are weighed in practice: a weight is taken wherever one has a density.

Honey of about 20 % water weighs 1.42 g/mL (USDA): 355 g are 250 mL. A US ounce is 28.349523125 g.
"""

from pathlib import Path
from typing import Any

import pytest

from .answers import Say


def left(say: Say, shelf: Path) -> float:
    rows: list[dict[str, Any]] = say("liquids", "--json", "--shelf", shelf).json
    return float(rows[0]["left_ml"])


def test_honey_is_bought_poured_blended_counted_and_spilled_by_weight(
    say: Say, stocked: Path
) -> None:
    def give(*words: str) -> str:
        answer = say(*words, "--shelf", stocked)
        assert answer.code == 0, answer.err
        return answer.out

    give("liquids", "add", "name=Honey", "kind=honey", "bought=710 g")
    assert left(say, stocked) == pytest.approx(500)
    give("fill", "herb=Thyme;leaf;fresh;100g", "pour=200ml;Vodka", "pour=142 g;Honey")
    assert left(say, stocked) == pytest.approx(400)
    code = say("bottles", "--json", "--shelf", stocked).json[0]["code"]
    give("blend", "name=Sweet", f"part={code};50 ml", "part=Honey;14.2 g")
    assert left(say, stocked) == pytest.approx(390)
    give("cupboard", "Honey", "left=497 g")
    assert left(say, stocked) == pytest.approx(350)
    give("cupboard", "Honey", "volume=71 g", "kind=spill")
    assert left(say, stocked) == pytest.approx(300)
    give("settings", "units=US")
    give("cupboard", "Honey", "volume=10 oz", "kind=give")
    assert left(say, stocked) == pytest.approx(300 - 10 * 28.349523125 / 1.42)
    assert "No problems found" in give("check")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("fill", "herb=Sage;leaf;dried;20g", "pour=200 g;Vodka"), "needs a volume"),
        (("fill", "herb=Sage;leaf;dried;20g", "pour=200 g;water"), "needs a volume"),
        (("cupboard", "Vodka", "left=200 g"), "That is a weight"),
        (("cupboard", "Vodka", "volume=8 oz", "kind=spill"), "write fl oz"),
    ],
)
def test_spirit_and_water_are_measured_by_volume(
    say: Say, stocked: Path, words: tuple[str, ...], said: str
) -> None:
    answer = say(*words, "--shelf", stocked)
    assert answer.code == 2
    assert said in answer.err
