"""The herb in a millilitre, against books kept separately from an exported folder.

The books use nothing of the program but its CSV files: masses and ethanol are balanced with the
printed coefficients of OIML R 22, herb is followed from jar to bottle, blend, glass and marc, and
at the end all of it must be there again.
"""

import csv
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from random import Random

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.stock import put_right, take_out
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.contents import (
    grams_by_herb,
    herb_equivalents,
    herb_equivalents_of,
    herb_g_per_ml,
)
from stillroom.keeping.cupboard.cupboard import herbs
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    StrainDraft,
)
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.jars.jar import fill_jar, top_up
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.states import InputKind, LiquidKind
from stillroom.reckoning.yields import Pressing

Bottled = Callable[..., list[BottleRow]]

TABLES = Path(__file__).parents[1] / "reckoning" / "tables"

WATER = {
    ("leaf", "fresh"): 0.80, ("aerial parts", "fresh"): 0.75, ("flower", "fresh"): 0.80,
    ("fruit", "fresh"): 0.80, ("seed", "fresh"): 0.50, ("root", "fresh"): 0.70,
    ("bark", "fresh"): 0.50, ("resin", "fresh"): 0.10, ("whole plant", "fresh"): 0.75,
}  # fmt: skip
"""Rounded from USDA SR28 and growers' drying losses; dried herb holds a tenth."""


class Amounts(dict[str, float]):
    """Sums by code or herb; what was never added to is nothing."""

    def __missing__(self, key: str) -> float:
        return 0.0


@cache
def coefficients() -> tuple[float, ...]:
    """The A coefficients of OIML R 22, for 20 °C, from the printed table."""
    lines = (TABLES / "oiml_r22_coefficients.csv").read_text().splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return tuple(float(row["value"]) for row in rows if row["group"] == "A")


def density(p: float) -> float:
    """g/mL at 20 °C of ethanol and water, p the share of ethanol by mass."""
    return sum(a * p**k for k, a in enumerate(coefficients())) / 1000


def weighed(volume_ml: float, abv: float) -> tuple[float, float]:
    """Grams in all, and of ethanol, in a volume: p found by halving."""
    low, high = 0.0, 1.0
    for _ in range(60):
        p = (low + high) / 2
        low, high = (p, high) if p * density(p) / density(1) < abv / 100 else (low, p)
    return volume_ml * density(low), volume_ml * density(low) * low


class Books:
    """A shelf's books, from the files it wrote."""

    def __init__(self, keeper: Keeper, folder: Path) -> None:
        export_folder(keeper, folder)
        self.folder = folder
        self.herb_lines = self.rows("herbs_in_jars")
        self.strained = {row["jar"]: row for row in self.rows("strainings")}
        self.simmered = {row["code"] for row in self.rows("jars") if row["simmered"] == "yes"}
        self.poured_ml = Amounts()
        self.liquid_ml = self.liquids()
        self.tinctures = {row["code"]: row for row in self.rows("tinctures")}
        self.bottles = {row["code"]: row for row in self.rows("bottles")}
        self.parts: dict[str, list[tuple[str, float]]] = defaultdict(list)
        self.left_ml = Amounts()
        self.not_blended_ml = Amounts()
        for code, row in self.tinctures.items():
            self.not_blended_ml[code] = float(row["volume_ml"])
        moved = {(row["bottle"], row["number"]): row for row in self.rows("movements")}
        for row in moved.values():
            self.left_ml[row["bottle"]] += float(row["volume_ml"])
        again = {row["code"]: row["marc_of"] for row in self.rows("jars") if row["marc_of"]}
        self.beyond = {*again, *again.values()}
        """Jars and batches made in ways that these books don't follow: a second pour, a tincture on
        herb, batches joined or thinned, honey. `test_herb_mass.py` and `materials.py` do."""
        self.beyond |= self.strained.keys() - {row["jar"] for row in self.tinctures.values()}
        usual = {LiquidKind.SPIRIT, LiquidKind.WATER, LiquidKind.DECOCTION}
        self.beyond |= {row["jar"] for row in self.rows("pours") if row["kind"] not in usual}
        for row in self.rows("batch_inputs"):
            if row["kind"] != InputKind.BOTTLE:
                self.beyond |= {row["batch"], row["from_batch"]} - {""}
                continue
            source = self.bottles[row["bottle"]]["tincture"]
            drawn_ml = -float(moved[row["bottle"], row["movement"]]["volume_ml"])
            self.parts[row["batch"]].append((source, drawn_ml))
            self.not_blended_ml[source] -= drawn_ml
        fed = {row["from_batch"] for row in self.rows("pours")} - {""}
        fed |= {self.bottles[r["bottle"]]["tincture"] for r in self.rows("pours") if r["bottle"]}
        unfollowed = {code for code in self.tinctures if self.is_beyond(code)}
        jars = {jar for code in unfollowed for jar in self.origins(code)} | self.beyond | fed
        self.beyond_herbs = {row["herb"] for row in self.herb_lines if row["jar"] in jars}

    def origins(self, code: str) -> set[str]:
        """The batches that a tincture goes back to, itself included."""
        return {code}.union(*(self.origins(source) for source, _ in self.parts[code]))

    def is_beyond(self, code: str) -> bool:
        """Whether any of a tincture comes from what these books don't follow."""
        return bool(self.origins(code) & self.beyond)

    def rows(self, name: str) -> list[dict[str, str]]:
        with (self.folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    def water(self, row: dict[str, str]) -> float:
        if row["water_fraction"]:
            return float(row["water_fraction"])
        return 0.1 if row["condition"] == "dried" else WATER[row["part"], row["condition"]]

    def dried_g(self, row: dict[str, str]) -> float:
        return float(row["mass_g"]) * (1 - self.water(row)) / 0.9

    def liquids(self) -> dict[str, float]:
        """All the liquid in each jar, from masses; a simmered root holds 1.75 mL per g dried."""
        mass, ethanol = Amounts(), Amounts()
        for row in self.rows("pours"):
            volume = float(row["volume_ml"])
            grams, alcohol = weighed(volume, float(row["strength_abv"] or 0))
            mass[row["jar"]] += grams
            ethanol[row["jar"]] += alcohol
            self.poured_ml[row["jar"]] += volume
        for row in self.herb_lines:
            if row["mass_g"]:
                water_g = float(row["mass_g"]) * self.water(row)
                if row["jar"] in self.simmered:
                    water_g = max(water_g, 1.75 * self.dried_g(row) * density(0))
                mass[row["jar"]] += water_g
        return {jar: grams / density(ethanol[jar] / grams) for jar, grams in mass.items()}

    def put_in_g(self, *, dried: bool) -> tuple[Amounts, set[str]]:
        """Grams of each herb that went into strained jars, and the herbs that none can weigh."""
        grams, by_eye = Amounts(), set[str]()
        for row in self.herb_lines:
            if row["jar"] not in self.strained:
                continue
            if row["mass_g"]:
                grams[row["herb"]] += self.dried_g(row) if dried else float(row["mass_g"])
            else:
                by_eye.add(row["herb"])
        return grams, by_eye

    def marc_ml(self, jar: str) -> float:
        return max(0.0, self.liquid_ml[jar] - float(self.strained[jar]["yield_ml"]))

    def shares(self, of_jar: Callable[[str], dict[str, float]]) -> dict[str, dict[str, float]]:
        """What is in a millilitre of every tincture, from what is in one of each jar's."""
        found: dict[str, dict[str, float]] = {}

        def share(code: str) -> dict[str, float]:
            if code not in found:
                row = self.tinctures[code]
                if row["jar"]:
                    found[code] = of_jar(row["jar"])
                else:
                    amounts = Amounts()
                    for source, drawn_ml in self.parts[code]:
                        for herb, per_ml in share(source).items():
                            amounts[herb] += drawn_ml * per_ml / float(row["volume_ml"])
                    found[code] = dict(amounts)
            return found[code]

        return {code: share(code) for code in self.tinctures}


def ids_by_code(keeper: Keeper) -> dict[str, int]:
    return dict(keeper.rows("SELECT code, id FROM tincture"))


def check_that_no_herb_comes_or_goes(keeper: Keeper, books: Books) -> None:
    """Everything that is not in a blend, what is in the blends, and the marcs: all the herb."""
    ids = ids_by_code(keeper)
    for dried in (False, True):
        found = Amounts()
        for code, row in books.tinctures.items():
            volume_ml = books.not_blended_ml[code]
            if row["jar"]:
                volume_ml += books.marc_ml(row["jar"])
            for herb in () if books.is_beyond(code) else herb_equivalents(keeper, ids[code]):
                found[herb.herb] += volume_ml * (
                    (herb.dried_g_per_ml if dried else herb.g_per_ml) or 0.0
                )
        put_in, by_eye = books.put_in_g(dried=dried)
        assert put_in
        for name in put_in.keys() - by_eye - books.beyond_herbs:
            assert found[name] == pytest.approx(put_in[name], rel=0.001), name


def check_what_is_shown(keeper: Keeper, books: Books) -> None:
    """Each tincture's grams, its ratio, and the tincture of each herb that is in stock."""
    ids = ids_by_code(keeper)
    by_eye = {(row["jar"], row["herb"]) for row in books.herb_lines if not row["mass_g"]}

    def grams(jar: str) -> dict[str, float]:
        liquid_ml = max(books.liquid_ml[jar], float(books.strained[jar]["yield_ml"]))
        amounts = Amounts()
        for row in books.herb_lines:
            if row["jar"] == jar:
                is_known = (jar, row["herb"]) not in by_eye
                amounts[row["herb"]] += float(row["mass_g"]) / liquid_ml if is_known else -1e9
        return dict(amounts)

    def poured(jar: str) -> dict[str, float]:
        liquid_ml = max(books.liquid_ml[jar], float(books.strained[jar]["yield_ml"]))
        return {"poured": books.poured_ml[jar] / liquid_ml}

    herb_shares, pour_shares = books.shares(grams), books.shares(poured)
    for code, expected in herb_shares.items():
        if books.is_beyond(code):
            continue
        told = grams_by_herb(herb_equivalents(keeper, ids[code]))
        assert told.keys() == expected.keys()
        for name, amount in expected.items():
            if amount < 0:
                assert told[name] is None
            else:
                assert told[name] == pytest.approx(amount, rel=0.001), (code, name)
        total = herb_g_per_ml(herb_equivalents(keeper, ids[code]))
        ratio = tincture_view(keeper, ids[code]).ratio
        if min(expected.values()) < 0:
            assert (total, ratio) == (None, None)
        else:
            assert total == pytest.approx(sum(expected.values()), rel=0.001)
            n = pour_shares[code]["poured"] / sum(expected.values())
            assert ratio == pytest.approx(n, rel=0.001), code
    for row in bottle_rows(keeper, empties=True):
        assert row.ratio == tincture_view(keeper, row.tincture_id).ratio

    tincture_of = books.shares(
        lambda jar: {row["herb"]: 1.0 for row in books.herb_lines if row["jar"] == jar}
    )
    in_stock = Amounts()
    for bottle, left_ml in books.left_ml.items():
        for name, share in tincture_of[books.bottles[bottle]["tincture"]].items():
            in_stock[name] += left_ml * share
    for herb in herbs(keeper):
        if herb.name in books.beyond_herbs:
            continue
        assert herb.in_stock_ml == pytest.approx(in_stock[herb.name], abs=0.01)


def test_every_gram_of_herb_in_the_sample_shelf_is_accounted_for(tmp_path: Path) -> None:
    keeper = open_sample(SetClock(datetime(2026, 11, 26, 5, tzinfo=UTC)), tmp_path)
    books = Books(keeper, tmp_path / "out")
    assert any(books.parts.values())
    assert len(books.beyond_herbs) < len({row["herb"] for row in books.herb_lines}) / 2
    check_that_no_herb_comes_or_goes(keeper, books)
    check_what_is_shown(keeper, books)
    keeper.store.close()


def random_shelf(keeper: Keeper, chance: Random) -> None:
    """Jars of one to three herbs, topped up, strained, bottled, drawn from, blended and blended
    again; some yields are above what was calculated to be there."""
    names = ("Sage", "Thyme", "Valerian", "Fennel", "Ginger", "Yarrow")
    today = keeper.today
    for _ in range(7):
        charges = tuple(
            ChargeDraft(
                name,
                chance.choice(KNOWN_PARTS),
                chance.choice(KNOWN_CONDITIONS),
                round(chance.uniform(5, 200), 1),
                water_fraction=chance.choice((None, None, round(chance.uniform(0.05, 0.9), 3))),
            )
            for name in chance.sample(names, chance.randint(1, 3))
        )
        simmered = chance.random() < 0.25
        pours = [
            PourDraft(LiquidKind.SPIRIT, chance.uniform(100, 900), chance.choice((40, 60, 96)))
        ]
        if simmered:
            pours.append(PourDraft(LiquidKind.DECOCTION, chance.uniform(50, 500)))
        draft = JarDraft(charges, tuple(pours), today, today, simmered=simmered)
        jar = fill_jar(keeper, draft)
        if chance.random() < 0.5:
            top_up(keeper, jar.jar_id, PourDraft(LiquidKind.WATER, chance.uniform(10, 200)))
        in_jar_ml = sum(volume for (volume,) in keeper.rows(
            "SELECT volume_ml FROM pour WHERE jar_id = ?", jar.jar_id
        ))  # fmt: skip
        out_ml = in_jar_ml * chance.choice((0.5, 0.7, 0.9, 1.0, 1.6))
        made = strain(
            keeper, StrainDraft(jar.jar_id, today, out_ml, Pressing.PRESSED, confirmed=True)
        )
        sizes = (BottleDraft(out_ml * 0.5, out_ml * 0.5), BottleDraft(out_ml * 0.4, out_ml * 0.35))
        bottle_up(
            keeper, BottlingDraft(made.tincture_id, sizes, today, chance.random() < 0.5)
        )  # fmt: skip
    for number in range(5):
        stock = [row for row in bottle_rows(keeper) if row.left_ml > 10]
        first = chance.choice(stock)
        others = [row for row in stock if row.tincture_id != first.tincture_id]
        parts = tuple(
            BlendPartDraft(row.bottle_id, row.left_ml * chance.uniform(0.05, 1))
            for row in (first, *chance.sample(others, min(len(others), 2)))
        )
        blend = make_blend(keeper, BlendDraft(f"Blend {number}", parts, today))
        half = BottleDraft(blend.volume_ml / 2, blend.volume_ml / 2)
        bottle_up(keeper, BottlingDraft(blend.tincture_id, (half,), today))
        drawn = chance.choice(bottle_rows(keeper))
        take_out(keeper, drawn.bottle_id, drawn.left_ml * 0.3)
        seen = chance.choice(bottle_rows(keeper))
        put_right(keeper, seen.bottle_id, seen.left_ml * 0.9)


@pytest.mark.parametrize("seed", range(8))
def test_every_gram_of_herb_in_random_shelves_is_accounted_for(
    keeper: Keeper, tmp_path: Path, seed: int
) -> None:
    random_shelf(keeper, Random(seed))
    books = Books(keeper, tmp_path / "out")
    # Where more came out than went in by the books, the marc has none and the yield has it all.
    check_that_no_herb_comes_or_goes(keeper, books)
    check_what_is_shown(keeper, books)


def test_a_hundred_grams_in_the_jar_are_never_more_in_the_bottles(
    keeper: Keeper, bottled: Bottled
) -> None:
    """100 g of fresh herb at 85 % water, 200 mL of 96 % and 50 mL of 40 %: 327 mL of liquid by a
    balance of masses with CoolProp's densities, so 0.306 g in each mL, 0.051 g of it dried."""
    sage = ChargeDraft("Sage", Part.LEAF, Condition.FRESH, 100, 0.85)
    draft = JarDraft(
        (sage,),
        (PourDraft(LiquidKind.SPIRIT, 200, 96), PourDraft(LiquidKind.SPIRIT, 50, 40)),
        keeper.today,
        keeper.today,
    )
    jar = fill_jar(keeper, draft)
    made = strain(keeper, StrainDraft(jar.jar_id, keeper.today, 290, Pressing.PRESSED))
    (herb,) = herb_equivalents(keeper, made.tincture_id)
    assert herb.g_per_ml == pytest.approx(0.306, abs=0.001)
    assert herb.dried_g_per_ml == pytest.approx(0.306 * 0.15 / 0.9, abs=0.0002)
    assert herb.g_per_ml is not None
    assert herb.g_per_ml * 290 < 100


def test_each_herb_of_a_blend_counts_by_its_share(keeper: Keeper, bottled: Bottled) -> None:
    (sage,) = bottled("Sage", measured_abv=40)
    (anise,) = bottled("Anise", sizes_ml=(150,), measured_abv=40)
    parts = (BlendPartDraft(sage.bottle_id, 2), BlendPartDraft(anise.bottle_id, 98))
    blend = make_blend(keeper, BlendDraft("Digestive", parts, keeper.today))
    bottle_up(keeper, BottlingDraft(blend.tincture_id, (BottleDraft(100, 100),), keeper.today))
    assert {h.name: h.in_stock_ml for h in herbs(keeper)} == pytest.approx(
        {"Sage": 100, "Anise": 150}
    )
    (made,) = [row for row in bottle_rows(keeper) if row.tincture_id == blend.tincture_id]
    take_out(keeper, made.bottle_id, 50)
    assert {h.name: h.in_stock_ml for h in herbs(keeper)} == pytest.approx(
        {"Sage": 99, "Anise": 101}
    )


def test_equal_ratios_blend_to_the_same_ratio_whatever_the_plant_water(
    keeper: Keeper, bottled: Bottled
) -> None:
    fresh = ChargeDraft("Sage", Part.LEAF, Condition.FRESH, 100)
    (one,) = bottled(fresh, poured_ml=200, spirit_abv=96, yield_ml=230)
    dried = ChargeDraft("Thyme", Part.LEAF, Condition.DRIED, 100)
    (two,) = bottled(dried, poured_ml=200, yield_ml=110)
    parts = (BlendPartDraft(one.bottle_id, 40), BlendPartDraft(two.bottle_id, 60))
    blend = make_blend(keeper, BlendDraft("Digestive", parts, keeper.today))
    assert blend.ratio == pytest.approx(2)


def test_a_ratio_of_a_blend_that_an_earlier_version_wrote_is_not_shown(
    keeper: Keeper, bottled: Bottled
) -> None:
    """It was the volume of the blend to herb by the volume poured, and neither of the two."""
    (one,) = bottled("Sage")
    (two,) = bottled("Thyme")
    parts = (BlendPartDraft(one.bottle_id, 40), BlendPartDraft(two.bottle_id, 60))
    blend = make_blend(keeper, BlendDraft("Digestive", parts, keeper.today))
    bottle_up(keeper, BottlingDraft(blend.tincture_id, (BottleDraft(100, 90),), keeper.today))
    with keeper.act("Wrote a ratio") as act:
        act.db.execute_sql("UPDATE tincture SET ratio = 2.85 WHERE id = ?", (blend.tincture_id,))
    (made,) = [row for row in bottle_rows(keeper) if row.tincture_id == blend.tincture_id]
    assert tincture_view(keeper, blend.tincture_id).ratio == pytest.approx(5)
    assert bottle_row(keeper, made.bottle_id).ratio == pytest.approx(5)


def test_a_weighed_herb_beside_one_by_eye_is_an_upper_limit(
    keeper: Keeper, bottled: Bottled
) -> None:
    by_eye = ChargeDraft("Sage", Part.LEAF, Condition.FRESH)
    weighed_one = ChargeDraft("Thyme", Part.LEAF, Condition.DRIED, 20)
    (row,) = bottled(by_eye, weighed_one)
    found = {h.herb: h for h in herb_equivalents_of(keeper, [row.tincture_id])[row.tincture_id]}
    assert (found["Sage"].g_per_ml, found["Sage"].dried_g_per_ml) == (None, None)
    assert found["Thyme"].is_at_most
    assert found["Thyme"].g_per_ml == pytest.approx(20 / 202, rel=0.01)
    assert herb_g_per_ml(tuple(found.values())) is None
