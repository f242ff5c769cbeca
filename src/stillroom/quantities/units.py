"""Units of volume and mass under each system of units; pint is loaded on first need."""

from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from stillroom.reckoning.kinds import (
    Kind,
)

if TYPE_CHECKING:
    import pint


class UnitSystem(StrEnum):
    """Whose units a bare number, a fluid ounce or a cup is in."""

    METRIC = "metric"
    US = "us"
    IMPERIAL = "imperial"


# What pint may know. Everything else a person could type stays outside it, and so does the
# cost of its own list of a thousand units.
#   US measures: NIST Handbook 44, Appendix C (gallon of 231 cubic inches, 1 in = 25.4 mm).
#   Imperial measures, pound: UK Units of Measurement Regulations 1995, Schedule.
DEFINITIONS = """
milliliter = [volume]
gram = [mass]
us_gallon = 3785.411784 * milliliter
us_quart = us_gallon / 4
us_pint = us_gallon / 8
us_cup = us_gallon / 16
us_gill = us_gallon / 32
us_fluid_ounce = us_gallon / 128
us_tablespoon = us_gallon / 256
us_teaspoon = us_gallon / 768
imperial_gallon = 4546.09 * milliliter
imperial_quart = 1136.5225 * milliliter
imperial_pint = 568.26125 * milliliter
imperial_gill = 142.0653125 * milliliter
imperial_fluid_ounce = 28.4130625 * milliliter
pound = 453.59237 * gram
ounce = pound / 16
grain = pound / 7000
"""

# Metric units need no conversion table, so a metric kitchen never waits for pint.
#   Cup of 250 mL: the standard metric cup of the Standards Association of Australia (NSW Health,
#   Healthy Kids, conversion chart). Its tablespoon of 20 mL is Australia's alone; the 5 and 15 mL
#   spoons used here are also those of 21 CFR 101.9(b)(5)(viii).
_VOLUMES = {
    "milliliter": 1.0,
    "centiliter": 10.0,
    "deciliter": 100.0,
    "liter": 1000.0,
    "metric_teaspoon": 5.0,
    "metric_tablespoon": 15.0,
    "metric_cup": 250.0,
}
_MASSES = {"milligram": 0.001, "gram": 1.0, "kilogram": 1000.0}
_PINT_MASSES = ("ounce", "pound", "grain")

_SPELLINGS = {
    "milliliter": "ml mls milliliter milliliters millilitre millilitres cc ccm cm³",
    "centiliter": "cl cls centiliter centiliters centilitre centilitres",
    "deciliter": "dl dls deciliter deciliters decilitre decilitres",
    "liter": "l ls lt ltr ltrs liter liters litre litres",
    "milligram": "mg mgs milligram milligrams milligramme milligrammes",
    "gram": "g gm gms gs gram grams gramme grammes",
    "kilogram": "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
    "ounce": "oz ozs ounce ounces",
    "pound": "lb lbs pound pounds",
    "grain": "grain grains",
    "fluid_ounce": "floz flozs fluidoz fluidounce fluidounces flounce flounces",
    "teaspoon": "tsp tsps teaspoon teaspoons teaspoonful teaspoonfuls",
    "tablespoon": "tbsp tbsps tbs tblsp tablespoon tablespoons tablespoonful tablespoonfuls",
    "cup": "cup cups cupful cupfuls",
    "gill": "gill gills",
    "pint": "pt pts pint pints",
    "quart": "qt qts quart quarts",
    "gallon": "gal gals gallon gallons",
}
NAMES = {word: name for name, words in _SPELLINGS.items() for word in words.split()}

SPOKEN_FOR = {
    "us": UnitSystem.US,
    "usa": UnitSystem.US,
    "american": UnitSystem.US,
    "uk": UnitSystem.IMPERIAL,
    "imp": UnitSystem.IMPERIAL,
    "imperial": UnitSystem.IMPERIAL,
    "british": UnitSystem.IMPERIAL,
    "metric": UnitSystem.METRIC,
}

# One name, several sizes. Under METRIC a fluid ounce is the US one (the imperial is 4 % less,
# within what a kitchen jug can show); a pint is 20 % apart between the two, so there one asks.
# Cups and spoons under METRIC and IMPERIAL are the metric ones sold today.
BY_SYSTEM: dict[str, dict[UnitSystem, str]] = {
    "fluid_ounce": {
        UnitSystem.METRIC: "us_fluid_ounce",
        UnitSystem.US: "us_fluid_ounce",
        UnitSystem.IMPERIAL: "imperial_fluid_ounce",
    },
    **{
        name: {UnitSystem.US: f"us_{name}", UnitSystem.IMPERIAL: f"imperial_{name}"}
        for name in ("gill", "pint", "quart", "gallon")
    },
    **{
        name: {
            UnitSystem.METRIC: f"metric_{name}",
            UnitSystem.US: f"us_{name}",
            UnitSystem.IMPERIAL: f"metric_{name}",
        }
        for name in ("teaspoon", "tablespoon", "cup")
    },
}

ASK_AGAIN = {
    "gr": 'Not clear: write g for grams; "gr" is also short for grain.',
    "drop": "A drop has no fixed size: write ml, and measure your dropper first.",
    "drops": "A drop has no fixed size: write ml, and measure your dropper first.",
    "gtt": "A drop has no fixed size: write ml, and measure your dropper first.",
}

HOME_UNIT = {
    (Kind.VOLUME, UnitSystem.METRIC): ("milliliter", "mL"),
    (Kind.VOLUME, UnitSystem.US): ("us_fluid_ounce", "fl oz"),
    (Kind.VOLUME, UnitSystem.IMPERIAL): ("imperial_fluid_ounce", "fl oz"),
    (Kind.MASS, UnitSystem.METRIC): ("gram", "g"),
    (Kind.MASS, UnitSystem.US): ("ounce", "oz"),
    (Kind.MASS, UnitSystem.IMPERIAL): ("ounce", "oz"),
}


# What a price is for, large enough to read like a price in a shop; and how many of the system's
# own units go into it.
PRICED_BY = {
    (Kind.MONEY_PER_ML, UnitSystem.METRIC): ("liter", "L", 1000),
    (Kind.MONEY_PER_ML, UnitSystem.US): ("us_quart", "qt", 32),
    (Kind.MONEY_PER_ML, UnitSystem.IMPERIAL): ("imperial_pint", "pint", 20),
    (Kind.MONEY_PER_G, UnitSystem.METRIC): ("kilogram", "kg", 1000),
    (Kind.MONEY_PER_G, UnitSystem.US): ("pound", "lb", 16),
    (Kind.MONEY_PER_G, UnitSystem.IMPERIAL): ("pound", "lb", 16),
}


@lru_cache(maxsize=1)
def _registry() -> "pint.UnitRegistry[Any]":
    """The one registry of units, built on first need from `DEFINITIONS` alone."""
    import pint  # Costs a fifth of a second: most metric shelves never need it.

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None)
    registry.load_definitions(DEFINITIONS.splitlines())
    return registry


def warm_up() -> None:
    """Load the unit registry ahead of its first use, for an idle moment after start."""
    _registry()


@lru_cache(maxsize=64)
def size_of(unit: str) -> float:
    """mL or g in one of a unit."""
    metric = _VOLUMES.get(unit) or _MASSES.get(unit)
    if metric:
        return metric
    return float(_registry().convert(1.0, unit, "gram" if unit in _PINT_MASSES else "milliliter"))


def kind_of(unit: str) -> Kind:
    return Kind.MASS if unit in _MASSES or unit in _PINT_MASSES else Kind.VOLUME


PER = {
    Kind.DENSITY: {
        "g/ml": 1.0,
        "g/cc": 1.0,
        "g/cm³": 1.0,
        "kg/l": 1.0,
        "kg/m³": 0.001,
        "g/l": 0.001,
    },
    Kind.RETENTION: {"ml/g": 1.0, "l/kg": 1.0},
    Kind.CONCENTRATION: {"g/ml": 1.0, "kg/l": 1.0, "mg/ml": 0.001, "g/l": 0.001},
    Kind.DROPS: {"drops/ml": 1.0},
}  # fmt: skip


_SUFFIXES = {
    Kind.STRENGTH: " %",
    Kind.PERCENT: " %",
    Kind.US_PROOF: " proof",
    Kind.UK_PROOF: " UK proof",
}


def per_unit(kind: Kind, system: UnitSystem) -> tuple[float, str]:
    """How much of a kind the system's own unit of it is, and what to write after a number of them.

    >>> per_unit(Kind.DENSITY, UnitSystem.METRIC)
    (1.0, ' g/mL')
    """
    volume, mass = HOME_UNIT[Kind.VOLUME, system], HOME_UNIT[Kind.MASS, system]
    if kind is Kind.DROPS:
        return 1.0 / size_of(volume[0]), f" drops/{volume[1]}"
    if kind is Kind.RETENTION:
        return size_of(volume[0]) / size_of(mass[0]), f" {volume[1]}/{mass[1]}"
    return size_of(mass[0]) / size_of(volume[0]), f" {mass[1]}/{volume[1]}"


def in_units(kind: Kind, value: float, system: UnitSystem) -> tuple[float, str]:
    """A value in the system's own unit of its kind, and what to write after it."""
    if (kind, system) in HOME_UNIT:
        home, symbol = HOME_UNIT[kind, system]
        return value / size_of(home), f" {symbol}"
    if kind in PER:
        size, suffix = per_unit(kind, system)
        return value / size, suffix
    if (kind, system) in PRICED_BY:
        unit, symbol, _ = PRICED_BY[kind, system]
        return value * size_of(unit), f"/{symbol}"
    if kind is Kind.TEMPERATURE:
        return (value * 1.8 + 32, " °F") if system is UnitSystem.US else (value, " °C")
    return value, _SUFFIXES.get(kind, "")


def held_in(kind: Kind) -> str:
    """The unit a kind is held in, as programs are given it."""
    return {Kind.MONEY_PER_ML: "/mL", Kind.MONEY_PER_G: "/g"}.get(kind) or unit_of(kind)


def unit_of(kind: Kind, system: UnitSystem = UnitSystem.METRIC) -> str:
    """The unit of a bare number of a kind, for a heading or beside a field."""
    if kind is Kind.RATIO:
        return "1:"
    return "days" if kind is Kind.DAYS else in_units(kind, 0.0, system)[1].strip()
