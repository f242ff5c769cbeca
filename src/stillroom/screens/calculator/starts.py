"""What a calculation begins with: the spirits, bottles and strainings of this shelf."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from stillroom.keeping.bottles.stock import bottle_rows
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.cards import JarCard
from stillroom.keeping.contents import herb_equivalents, herb_g_per_ml
from stillroom.keeping.cupboard.cupboard import bottle_sizes, spirits
from stillroom.keeping.drafts import PourDraft
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import chief_condition, own_strainings
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.preferences import Preferences, preferences
from stillroom.keeping.views import BottleRow, ChargeView, JarView, SpiritView
from stillroom.quantities import parse, show
from stillroom.reckoning.calculators.straining import OTHER_HERBS, SAME_HERB
from stillroom.reckoning.charge import Condition, Part, dried_mass_g
from stillroom.reckoning.drying import DRIED_WATER_FRACTION
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.registry import FillPlan, Scalar, Value
from stillroom.reckoning.yields import Pressing
from stillroom.screens.jar.fill import HerbStart, JarStart

SAME_STRENGTH = 0.005
"""% v/v within which a figure typed from a label is that of the bottle in the cupboard."""
ROUNDING = 0.005
"""Share of a pour that rounding it to what a jug shows may add."""

Values = dict[str, Value]
Row = dict[str, Scalar]


def from_shelf(
    keeper: Keeper,
    name: str,
    pressing: Pressing = Pressing.SQUEEZED,
    jar_id: int | None = None,
    condition: Condition | None = None,
) -> Values:
    """What this shelf knows that a calculator asks for; nothing where it knows nothing."""
    if name == "fill":
        return _some("spirits", [_on_hand(spirit) for spirit in _to_pour_from(keeper)])
    if name == "bottles":
        sizes = bottle_sizes(keeper)
        return _some("sizes", [{"size": s.size_ml, "empties": s.empties} for s in sizes])
    if name == "yield":
        jar = jar_view(keeper, jar_id) if jar_id is not None else None
        own = own_strainings(keeper, pressing, jar, condition)
        # Newest first: those are the ones that get fields to be looked at.
        return {
            "pressing": pressing.value,
            "own_of": SAME_HERB if all(each.is_same_herb for each in own) else OTHER_HERBS,
            "own": [
                {"liquid": each.liquid_ml, "dried": each.dried_g, "yield": each.yield_ml}
                for each in reversed(own)
            ],
        }
    if name == "drops" and (per_ml := preferences(keeper).drops_per_ml):
        return {"counted": per_ml, "counted_volume": 1.0}
    return {}


def _some(key: str, rows: list[Row]) -> Values:
    return {key: rows} if rows else {}


def _left(keeper: Keeper) -> list[SpiritView]:
    return [s for s in spirits(keeper) if s.left_ml is None or s.left_ml > 0]


def _to_pour_from(keeper: Keeper) -> list[SpiritView]:
    """The spirits that are left, bottles already in use first, then the oldest lot first."""
    left = _left(keeper)
    left.sort(key=lambda s: (s.bought_on is None, s.bought_on or date.max, s.spirit_id))
    left.sort(key=_is_untouched)
    return left


def _is_untouched(spirit: SpiritView) -> bool:
    return spirit.left_ml is None or spirit.left_ml == spirit.bought_ml


def _on_hand(spirit: SpiritView) -> Row:
    return {"strength": spirit.strength_abv, "on_hand": spirit.left_ml}


@dataclass(frozen=True)
class Offer:
    """Something on the shelf that a calculation can begin with."""

    key: str
    words: str
    """What it is called."""
    note: str
    """What tells it from others of its name."""
    values: Callable[[], Values]
    adds: bool = False
    """Whether it is one more row beside those that are there."""
    jar_id: int | None = None


def offers(keeper: Keeper, name: str) -> list[Offer]:
    """What on this shelf a calculator can begin with."""
    if name in ("jar-strength", "yield", "cost"):
        return [_jar_offer(keeper, name, card) for card in shelves_view(keeper).jars]
    if name in ("weigh", "drops", "amount", "blend"):
        return [_bottle_offer(keeper, name, row) for row in bottle_rows(keeper)]
    if name in ("dilute", "mix", "simmer"):
        return [_spirit_offer(keeper, name, spirit) for spirit in _left(keeper)]
    if name == "bottles":
        return [
            Offer(
                f"tincture {t.tincture_id}",
                f"{t.name} {t.code}",
                f"{_shown(keeper, Kind.VOLUME, t.loose_ml)} to bottle",
                lambda ml=t.loose_ml: {"volume": ml},  # type: ignore[misc]
            )
            for t in unbottled(keeper)
        ]
    return []


def _shown(keeper: Keeper, kind: Kind, value: float | None) -> str:
    wanted = preferences(keeper)
    if value is None:
        return ""
    return show(kind, value, wanted.units, decimal_comma=wanted.decimal_comma)


def _jar_offer(keeper: Keeper, name: str, card: JarCard) -> Offer:
    more = f" + {card.more_herbs} more" if card.more_herbs else ""
    return Offer(
        f"jar {card.jar_id}",
        f"{card.herb}{more} {card.code}",
        f"{card.part}, {card.condition}",
        lambda: jar_values(keeper, name, jar_view(keeper, card.jar_id)),
        jar_id=card.jar_id,
    )


def jar_values(keeper: Keeper, name: str, jar: JarView) -> Values:
    """A jar as the calculators for a strength in the jar, a yield, or a cost ask for it."""
    if name == "yield":
        return {"liquid": jar.outlook.volume_ml, **_one_charge(jar)}
    if name == "cost":
        return _cost_values(keeper, jar)
    herbs: list[Row] = [
        {
            "mass": charge.mass_g,
            "part": charge.part,
            "condition": charge.condition,
            "water": _water_percent(charge),
            "simmered": "yes" if charge.simmered else "no",
        }
        for charge in jar.charges
    ]
    pours: list[Row] = [
        {"volume": pour.volume_ml, "strength": pour.strength_abv, "temperature": 20.0}
        for pour in jar.pours
    ]
    return {"herbs": herbs, "pours": pours, "jar": jar.capacity_ml}


def values_from(keeper: Keeper, name: str, start: JarCard | BottleRow) -> Values:
    """A jar or a bottle as a calculator asks for it."""
    if isinstance(start, BottleRow):
        return bottle_values(keeper, name, start)
    return jar_values(keeper, name, jar_view(keeper, start.jar_id))


def _water_percent(charge: ChargeView) -> float | None:
    return 100.0 * charge.water_fraction if charge.water_is_measured else None


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


def _cost_values(keeper: Keeper, jar: JarView) -> Values:
    bought = {spirit.spirit_id: spirit for spirit in spirits(keeper)}
    used: list[Row] = []
    for pour in jar.pours:
        spirit = bought.get(pour.spirit_id) if pour.spirit_id is not None else None
        if pour.kind == "spirit":
            of, price = (spirit.bought_ml, spirit.price) if spirit else (None, None)
            used.append({"used": pour.volume_ml, "bought": of, "price": price})
    herbs: list[Row] = [
        {"used": c.mass_g, "bought": None, "price": None} for c in jar.charges if c.mass_g
    ]
    got_ml = jar.straining.yield_ml if jar.straining else None
    return {"spirits": used, "herbs": herbs, "yield": got_ml}


def _bottle_offer(keeper: Keeper, name: str, row: BottleRow) -> Offer:
    return Offer(
        f"bottle {row.bottle_id}",
        f"{row.name} {row.code}",
        f"{_shown(keeper, Kind.VOLUME, row.left_ml)} left",
        lambda: bottle_values(keeper, name, row),
        adds=name == "blend",
    )


def bottle_values(keeper: Keeper, name: str, row: BottleRow) -> Values:
    """A bottle as the calculators for finished tinctures ask for it."""
    if name not in ("blend", "amount"):
        return {"strength": row.strength_abv}
    herb = herb_g_per_ml(herb_equivalents(keeper, row.tincture_id))
    if name == "blend":
        part: Row = {
            "name": row.name,
            "volume": row.left_ml,
            "strength": row.strength_abv,
            "ratio": row.ratio,
            "herb": herb,
        }
        return {"parts": [part]}
    return {"strength": row.strength_abv, "ratio": row.ratio, "herb": herb}


def _spirit_offer(keeper: Keeper, name: str, spirit: SpiritView) -> Offer:
    strength = _shown(keeper, Kind.STRENGTH, spirit.strength_abv)
    left = f", {_shown(keeper, Kind.VOLUME, spirit.left_ml)} left" if spirit.left_ml else ""
    return Offer(
        f"spirit {spirit.spirit_id}",
        spirit.name,
        f"{strength}{left}",
        lambda: spirit_values(name, spirit),
        adds=name == "mix",
    )


def spirit_values(name: str, spirit: SpiritView) -> Values:
    """A spirit of the cupboard as the calculators that pour it ask for it."""
    if name == "simmer":
        return {"spirit": spirit.strength_abv}
    if name == "mix":
        liquid: Row = {
            "volume": spirit.left_ml,
            "strength": spirit.strength_abv,
            "temperature": 20.0,
        }
        return {"liquids": [liquid]}
    return {"strength": spirit.strength_abv, "volume": spirit.left_ml}


def jar_start(plan: FillPlan, values: Mapping[str, Value], keeper: Keeper) -> JarStart:
    """A reckoned plan as the fill form begins with it, its spirits out of the cupboard."""
    wanted = preferences(keeper)
    charge = plan.charges[0]
    herb = HerbStart(
        part=Part(str(values["part"])),
        condition=Condition(str(values["condition"])),
        mass_g=None if charge.mass_g is None else _measured(Kind.MASS, charge.mass_g, wanted),
        water_fraction=charge.water_fraction if values["water"] is not None else None,
    )
    cupboard = _to_pour_from(keeper)
    pours: list[PourDraft] = []
    for pour in plan.pours:
        volume_ml = _measured(Kind.VOLUME, pour.volume_ml, wanted)
        pours += _out_of(cupboard, Liquid(volume_ml, pour.strength_abv))
    if plan.water_ml > 0:
        pours.append(PourDraft("water", _measured(Kind.VOLUME, plan.water_ml, wanted)))
    capacity = values["jar"]
    return JarStart(
        herbs=(herb,),
        pours=tuple(pours),
        capacity_ml=float(capacity) if isinstance(capacity, int | float) else None,
    )


def _out_of(cupboard: Sequence[SpiritView], pour: Liquid) -> list[PourDraft]:
    """A pour shared among the spirits of its strength, and what they lack from elsewhere.

    One bottle that holds it all is enough; of several such, the first of the cupboard.
    """
    alike = [s for s in cupboard if abs(s.strength_abv - pour.strength_abv) < SAME_STRENGTH]
    enough = [s for s in alike if s.left_ml is None or s.left_ml >= pour.volume_ml]
    drafts = []
    left_ml = pour.volume_ml
    for spirit in enough[:1] or alike:
        if left_ml > 0:
            taken_ml = left_ml if spirit.left_ml is None else min(left_ml, spirit.left_ml)
            drafts.append(PourDraft("spirit", taken_ml, spirit.strength_abv, spirit.spirit_id))
            left_ml -= taken_ml
    # A last spoonful is the rounding of the jug, not another bottle.
    if not drafts or left_ml > ROUNDING * pour.volume_ml:
        drafts.append(PourDraft("spirit", left_ml, pour.strength_abv))
    return drafts


def _measured(kind: Kind, value: float, wanted: Preferences) -> float:
    """A value rounded to what a jug or a scale shows."""
    return parse(kind, show(kind, value, wanted.units), wanted.units)
