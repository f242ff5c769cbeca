"""What a calculation begins with: the jars, bottles, spirits and strainings of this shelf.

A calculator that can begin with them has one entry in `STARTS`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.cards import JarCard
from stillroom.keeping.contents import herb_equivalents, herb_g_per_ml
from stillroom.keeping.cupboard.cupboard import bottle_sizes, spirits
from stillroom.keeping.cupboard.lot_reading import herb_lots, own_shrinkage, price_of_lot
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.twins import MARK, twin_mark
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.learning import chief_condition, own_strainings
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.views import BottleRow, ChargeView, JarView, TinctureView
from stillroom.keeping.wording import wording
from stillroom.reckoning.calculators.straining import OTHER_HERBS, SAME_HERB
from stillroom.reckoning.charge import Condition, Part, dried_mass_g
from stillroom.reckoning.drying import DRIED_WATER_FRACTION, water_fraction_from_drying
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.registry import Scalar, Value
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing

Values = dict[str, Value]
Row = dict[str, Scalar]


@dataclass(frozen=True)
class Asked:
    """Contents of a calculator's form that the shelf's answer depends on."""

    pressing: Pressing = Pressing.SQUEEZED
    condition: Condition | None = None
    jar_id: int | None = None
    """The jar that the calculation was begun with."""


@dataclass(frozen=True)
class Offer:
    """Something on the shelf that a calculation can begin with."""

    key: str
    words: str
    """What it is called, and after a mark its code or what else tells it apart."""
    note: str
    """What distinguishes it from others of its name."""
    values: Callable[[], Values]
    adds: bool = False
    """Whether it is one more row beside those that are there."""
    jar_id: int | None = None


@dataclass(frozen=True)
class Start:
    """How one calculator begins with what is on this shelf."""

    known: Callable[[Keeper, Asked], Values] = lambda _keeper, _asked: {}
    """What the shelf knows without being asked about any one jar or bottle."""
    follows: tuple[str, ...] = ()
    """The fields of the form that `known` depends on."""
    of_jar: Callable[[Keeper, JarView], Values] | None = None
    of_bottle: Callable[[Keeper, BottleRow], Values] | None = None
    of_spirit: Callable[[SpiritView], Values] | None = None
    of_tincture: Callable[[TinctureView], Values] | None = None
    """Of one that waits to be bottled."""
    of_lot: Callable[[Keeper, HerbLotView], Values] | None = None
    adds: bool = False
    """Whether each is one more row beside those that are there."""

    def offers(self, keeper: Keeper) -> list[Offer]:
        """What on this shelf the calculator can begin with."""
        found: list[Offer] = []
        if of_jar := self.of_jar:
            found += [self._jar(keeper, of_jar, card) for card in shelves_view(keeper).jars]
        if of_bottle := self.of_bottle:
            found += [self._bottle(keeper, of_bottle, row) for row in bottle_rows(keeper)]
        if of_spirit := self.of_spirit:
            found += [self._spirit(keeper, of_spirit, each) for each in _left(keeper)]
        if of_tincture := self.of_tincture:
            found += [self._tincture(keeper, of_tincture, each) for each in unbottled(keeper)]
        if of_lot := self.of_lot:
            lots = herb_lots(keeper, with_empty=False)
            found += [self._lot(keeper, of_lot, lot) for lot in lots]
        return found

    @property
    def nothing_to_offer(self) -> str:
        """What to say where the shelf has none; empty where none is ever offered."""
        if self.of_jar:
            return "There are no jars yet. Press 1, then n to fill one."
        if self.of_bottle:
            return "There are no bottles in stock."
        if self.of_spirit:
            return "There are no spirits yet. Press 4, then n to add one."
        if self.of_lot:
            return "There are no herbs in store."
        return "There is nothing to bottle." if self.of_tincture else ""

    def _jar(
        self, keeper: Keeper, values: Callable[[Keeper, JarView], Values], card: JarCard
    ) -> Offer:
        more = f" + {card.more_herbs} more" if card.more_herbs else ""
        return Offer(
            f"jar {card.jar_id}",
            MARK.join((f"{card.herb}{more}", card.code)),
            f"{card.part}, {card.condition}",
            lambda: values(keeper, jar_view(keeper, card.jar_id)),
            self.adds,
            jar_id=card.jar_id,
        )

    def _bottle(
        self, keeper: Keeper, values: Callable[[Keeper, BottleRow], Values], row: BottleRow
    ) -> Offer:
        return Offer(
            f"bottle {row.bottle_id}",
            MARK.join((row.name, row.code)),
            f"{wording(keeper).volume(row.left_ml)} left",
            lambda: values(keeper, row),
            self.adds,
        )

    def _spirit(
        self, keeper: Keeper, values: Callable[[SpiritView], Values], spirit: SpiritView
    ) -> Offer:
        strength = wording(keeper).of(Kind.STRENGTH, spirit.strength_abv)
        mark = twin_mark(spirit, spirits(keeper), wording(keeper))
        left = f", {wording(keeper).volume(spirit.left_ml)} left" if spirit.left_ml else ""
        return Offer(
            f"spirit {spirit.spirit_id}",
            MARK.join(filter(None, (spirit.name, mark))),
            f"{strength}{left}",
            lambda: values(spirit),
            self.adds,
        )

    def _tincture(
        self, keeper: Keeper, values: Callable[[TinctureView], Values], tincture: TinctureView
    ) -> Offer:
        return Offer(
            f"tincture {tincture.tincture_id}",
            MARK.join((tincture.name, tincture.code)),
            f"{wording(keeper).volume(tincture.loose_ml)} to bottle",
            lambda: values(tincture),
            self.adds,
        )

    def _lot(
        self, keeper: Keeper, values: Callable[[Keeper, HerbLotView], Values], lot: HerbLotView
    ) -> Offer:
        return Offer(
            f"lot {lot.lot_id}",
            MARK.join((lot.herb, lot.code)),
            f"{lot.part}, {lot.condition}",
            lambda: values(keeper, lot),
            self.adds,
        )


def from_shelf(keeper: Keeper, name: str, asked: Asked = Asked()) -> Values:
    """What this shelf knows that a calculator asks for; nothing where it knows nothing."""
    return start_of(name).known(keeper, asked)


def offers(keeper: Keeper, name: str) -> list[Offer]:
    """What on this shelf a calculator can begin with."""
    return start_of(name).offers(keeper)


def start_of(name: str) -> Start:
    """How a calculator begins; with nothing of the shelf where it has no entry."""
    return STARTS.get(name, _NOTHING)


def calculator_for(start: JarCard | BottleRow) -> str:
    """Which calculator to open from a jar or a bottle."""
    return FOR_BOTTLE if isinstance(start, BottleRow) else FOR_JAR


def values_from(keeper: Keeper, name: str, start: JarCard | BottleRow) -> Values:
    """A jar or a bottle as a calculator asks for it."""
    if isinstance(start, BottleRow):
        return bottle_values(keeper, name, start)
    return jar_values(keeper, name, jar_view(keeper, start.jar_id))


def jar_values(keeper: Keeper, name: str, jar: JarView) -> Values:
    """A jar as a calculator asks for it."""
    of_jar = start_of(name).of_jar
    return of_jar(keeper, jar) if of_jar else {}


def bottle_values(keeper: Keeper, name: str, row: BottleRow) -> Values:
    """A bottle as a calculator asks for it."""
    of_bottle = start_of(name).of_bottle
    return of_bottle(keeper, row) if of_bottle else {}


def spirits_to_pour(keeper: Keeper) -> list[SpiritView]:
    """The spirits that are left, bottles already in use first, then the oldest lot first."""
    left = _left(keeper)
    left.sort(key=lambda s: (s.bought_on is None, s.bought_on or date.max, s.spirit_id))
    left.sort(key=_is_untouched)
    return left


def _is_untouched(spirit: SpiritView) -> bool:
    return spirit.left_ml is None or spirit.left_ml == spirit.bought_ml


def _left(keeper: Keeper) -> list[SpiritView]:
    return [s for s in spirits(keeper) if s.left_ml is None or s.left_ml > 0]


def _some(key: str, rows: list[Row]) -> Values:
    return {key: rows} if rows else {}


def _spirits_on_hand(keeper: Keeper, _: Asked) -> Values:
    return _some(
        "spirits",
        [{"strength": s.strength_abv, "on_hand": s.left_ml} for s in spirits_to_pour(keeper)],
    )


def _empty_bottles(keeper: Keeper, _: Asked) -> Values:
    return _some("sizes", [{"size": s.size_ml, "empties": s.empties} for s in bottle_sizes(keeper)])


def _own_strainings(keeper: Keeper, asked: Asked) -> Values:
    jar = jar_view(keeper, asked.jar_id) if asked.jar_id is not None else None
    own = own_strainings(keeper, asked.pressing, jar, asked.condition)
    # Newest first: those are the ones that get fields to be looked at.
    return {
        "pressing": asked.pressing.value,
        "own_of": SAME_HERB if all(each.is_same_herb for each in own) else OTHER_HERBS,
        "own": [
            {"liquid": each.liquid_ml, "dried": each.dried_g, "yield": each.yield_ml}
            for each in reversed(own)
        ],
    }


def _own_drops(keeper: Keeper, _: Asked) -> Values:
    per_ml = settings_of(keeper).drops_per_ml
    return {"counted": per_ml, "counted_volume": 1.0} if per_ml else {}


def _all_of_jar(_: Keeper, jar: JarView) -> Values:
    herbs: list[Row] = [
        {
            "mass": charge.mass_g,
            **({} if charge.part is Part.NOT_KNOWN else {"part": charge.part}),
            **({} if charge.condition is Condition.NOT_KNOWN else {"condition": charge.condition}),
            "water": _water_percent(charge),
            "simmered": "yes" if charge.simmered else "no",
        }
        for charge in jar.charges
    ]
    pours: list[Row] = [
        {"volume": pour.volume_ml, "strength": pour.strength_abv, "temperature": 20.0,
         "herb": pour.herb_g or None}
        for pour in jar.pours
    ]  # fmt: skip
    return {"herbs": herbs, "pours": pours, "jar": jar.capacity_ml}


def _water_percent(charge: ChargeView) -> float | None:
    return 100.0 * charge.water_fraction if charge.water_is_measured else None


def _jar_to_strain(_: Keeper, jar: JarView) -> Values:
    return {"liquid": jar.outlook.volume_ml, **_one_charge(jar)}


def _one_charge(jar: JarView) -> Values:
    """The herbs of a jar as the one that the yield calculator asks for."""
    first, *others = jar.charges
    if not others:
        return {
            "mass": first.mass_g,
            "part": first.part,
            "condition": first.condition,
            "water": _water_percent(first),
        }
    # Several herbs are put together by what they weigh dried, with a tenth of water left.
    dried_g = dried_mass_g([c.charge for c in jar.charges])
    return {
        "mass": dried_g,
        "part": first.part,
        "condition": chief_condition(jar).value,
        "water": 100.0 * DRIED_WATER_FRACTION,
    }


def _cost_of_jar(keeper: Keeper, jar: JarView) -> Values:
    bought = {spirit.spirit_id: spirit for spirit in spirits(keeper)}
    used: list[Row] = []
    for pour in jar.pours:
        spirit = bought.get(pour.spirit_id) if pour.spirit_id is not None else None
        if pour.kind == LiquidKind.SPIRIT:
            of, price = (spirit.bought_ml, spirit.price) if spirit else (None, None)
            used.append({"used": pour.volume_ml, "bought": of, "price": price})
    herbs: list[Row] = []
    for charge in jar.charges:
        if charge.mass_g:
            of, price = None, None
            if charge.lot_id is not None:
                of, price = price_of_lot(keeper, charge.lot_id, charge.condition)
            herbs.append({"used": charge.mass_g, "bought": of, "price": price})
    got_ml = jar.straining.yield_ml if jar.straining else None
    return {"spirits": used, "herbs": herbs, "yield": got_ml}


def _lot_to_dry(keeper: Keeper, lot: HerbLotView) -> Values:
    """A lot, with the water that one's own weighings of this herb's part showed, if it is fresh."""
    percent = None if lot.water_fraction is None else 100.0 * lot.water_fraction
    learned = own_shrinkage(keeper, lot.herb_id, lot.part)
    if percent is None and learned and lot.condition is Condition.FRESH:
        percent = 100.0 * water_fraction_from_drying(1.0, learned.share)
    return {
        "part": lot.part,
        "condition": lot.condition,
        "water": percent,
        "mass": lot.left_g,
    }


def _strength_of_bottle(_: Keeper, row: BottleRow) -> Values:
    return {"strength": row.strength_abv}


def _amount_of_bottle(keeper: Keeper, row: BottleRow) -> Values:
    return {"strength": row.strength_abv, "ratio": row.ratio, "herb": _herb(keeper, row)}


def _part_of_blend(keeper: Keeper, row: BottleRow) -> Values:
    part: Row = {
        "name": row.name,
        "volume": row.left_ml,
        "strength": row.strength_abv,
        "ratio": row.ratio,
        "herb": _herb(keeper, row),
    }
    return {"parts": [part]}


def _herb(keeper: Keeper, row: BottleRow) -> float | None:
    return herb_g_per_ml(herb_equivalents(keeper, row.tincture_id))


def _spirit_to_dilute(spirit: SpiritView) -> Values:
    return {"strength": spirit.strength_abv, "volume": spirit.left_ml}


def _spirit_to_mix(spirit: SpiritView) -> Values:
    liquid: Row = {
        "volume": spirit.left_ml,
        "strength": spirit.strength_abv,
        "temperature": 20.0,
    }
    return {"liquids": [liquid]}


_NOTHING = Start()

STARTS: dict[str, Start] = {
    "fill": Start(known=_spirits_on_hand),
    "fresh-dried": Start(of_lot=_lot_to_dry),
    "jar-strength": Start(of_jar=_all_of_jar),
    "yield": Start(known=_own_strainings, follows=("pressing", "condition"), of_jar=_jar_to_strain),
    "cost": Start(of_jar=_cost_of_jar),
    "bottles": Start(known=_empty_bottles, of_tincture=lambda t: {"volume": t.loose_ml}),
    "weigh": Start(of_bottle=_strength_of_bottle),
    "drops": Start(known=_own_drops, of_bottle=_strength_of_bottle),
    "amount": Start(of_bottle=_amount_of_bottle),
    "blend": Start(of_bottle=_part_of_blend, adds=True),
    "dilute": Start(of_spirit=_spirit_to_dilute),
    "mix": Start(of_spirit=_spirit_to_mix, adds=True),
    "simmer": Start(of_spirit=lambda spirit: {"spirit": spirit.strength_abv}),
}
"""How each calculator begins with this shelf, by its name. The others ask for nothing that is on
a shelf."""

FOR_JAR = "jar-strength"
"""The calculator that a jar's own key opens."""
FOR_BOTTLE = "amount"
"""The calculator that a bottle's own key opens."""
