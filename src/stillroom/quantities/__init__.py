"""The boundary of numbers: reads quantities as people write them and prints them back."""

from stillroom.errors import NotUnderstood
from stillroom.quantities.notation import METRIC, Notation
from stillroom.quantities.printing import PLAIN, Style, fill_in, how_many, show, whole_percent
from stillroom.quantities.reading import (
    parse,
    parse_count,
    parse_days,
    parse_mass,
    parse_money,
    parse_percent,
    parse_ratio,
    parse_shakes,
    parse_strength,
    parse_temperature,
    parse_volume,
    parse_volume_or_mass,
    read_instrument,
)
from stillroom.quantities.units import DEFINITIONS, UnitSystem, held_in, in_units, unit_of, warm_up

__all__ = [
    "DEFINITIONS",
    "METRIC",
    "PLAIN",
    "NotUnderstood",
    "Notation",
    "Style",
    "UnitSystem",
    "fill_in",
    "held_in",
    "how_many",
    "in_units",
    "parse",
    "parse_count",
    "parse_days",
    "parse_mass",
    "parse_money",
    "parse_percent",
    "parse_ratio",
    "parse_shakes",
    "parse_strength",
    "parse_temperature",
    "parse_volume",
    "parse_volume_or_mass",
    "read_instrument",
    "show",
    "unit_of",
    "warm_up",
    "whole_percent",
]
