"""Readers of what people type, one for each kind of number."""

import math
import re
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise, product

from stillroom.errors import NotUnderstood
from stillroom.quantities.limits import limit_and_example, refusal
from stillroom.quantities.numbers import (
    LONGEST,
    exactly,
    no_minus,
    normalized,
    parts_of,
    settled,
    single_number,
)
from stillroom.quantities.units import (
    ASK_AGAIN,
    BY_SYSTEM,
    HOME_UNIT,
    NAMES,
    PER,
    PRICED_BY,
    SPOKEN_FOR,
    UnitSystem,
    kind_of,
    per_unit,
    size_of,
)
from stillroom.reckoning.kinds import (
    AS_WRITTEN,
    Figure,
    Kind,
)


def _unit_named(words: str, kind: Kind, system: UnitSystem) -> str:
    """The unit that words name under a system of units."""
    names = words.split()
    owner = next((SPOKEN_FOR[name] for name in (names[0], names[-1]) if name in SPOKEN_FOR), None)
    word = "".join(name for name in names if name not in SPOKEN_FOR)
    if word in ASK_AGAIN:
        raise NotUnderstood(ASK_AGAIN[word])
    name = NAMES.get(word)
    if name is None or len(names) - (owner is not None) > 2:
        raise refusal(kind, system)
    if name not in BY_SYSTEM:
        return name
    unit = BY_SYSTEM[name].get(owner or system)
    if unit is None:
        raise NotUnderstood(f"US and UK {name}s differ: write e.g. 1 US {name}, 1 UK {name} or ml.")
    return unit


def _measure(text: str, system: UnitSystem, kinds: Sequence[Kind]) -> Figure:
    """A volume or mass in one or more falling units; a bare number is of the first kind."""
    kind = kinds[0]
    parts = parts_of(no_minus(normalized(text, kind, system), kind), kind, system)
    if len(parts) == 1 and not parts[0].unit:
        units = [HOME_UNIT[kind, system][0]]
    elif all(part.unit for part in parts):
        units = [_unit_named(part.unit, kind, system) for part in parts]
    else:
        raise NotUnderstood("Write the unit after every number.")
    kind = _one_kind(units, kinds, system)
    sizes = [size_of(unit) for unit in units]
    # "2 lb 3 oz" falls; "1 l 5 l" or "1 l 1500 ml" is more likely a slip than a sum.
    for (above, below), part in zip(pairwise(sizes), parts[1:], strict=True):
        if float(part.readings[0]) * below >= above:
            raise refusal(kind, system)
    sums = (
        math.fsum(float(reading) * size for reading, size in zip(choice, sizes, strict=True))
        for choice in product(*(part.readings for part in parts))
    )
    return Figure(kind, settled(parts, sums, kind, system))


def _one_kind(units: Sequence[str], kinds: Sequence[Kind], system: UnitSystem) -> Kind:
    """The kind all units share; refuses another kind than asked for, or a mixture."""
    found = {kind_of(unit) for unit in units}
    if len(found) > 1:
        raise NotUnderstood("Volume and weight do not add up: write one of the two.")
    kind = found.pop()
    if kind in kinds:
        return kind
    if "ounce" in units:
        raise NotUnderstood("oz is a weight: write fl oz for volume, e.g. 8 fl oz.")
    if kind is Kind.MASS:
        _, example = limit_and_example(Kind.VOLUME, system)
        raise NotUnderstood(f"That is a weight: write a volume, e.g. {example}.")
    _, example = limit_and_example(Kind.MASS, system)
    raise NotUnderstood(f"That is a volume: write a weight, e.g. {example}.")


def parse_volume(text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a volume as mL; a bare number is mL, or fl oz under US and IMPERIAL."""
    return _measure(text, system, (Kind.VOLUME,)).value


def parse_mass(text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a mass as g; a bare number is g, or oz under US and IMPERIAL."""
    return _measure(text, system, (Kind.MASS,)).value


def parse_volume_or_mass(text: str, system: UnitSystem = UnitSystem.METRIC) -> Figure:
    """Read what was measured by jug or by scale; a bare number is a volume, plain oz a mass."""
    return _measure(text, system, (Kind.VOLUME, Kind.MASS))


_PERCENT_WORDS = ("%", "percent", "per cent", "pct")
_STRENGTH_WORDS = (
    *_PERCENT_WORDS, "% vol", "%vol", "vol %", "vol%", "vol", "% v/v", "%v/v", "v/v", "% abv",
    "%abv", "abv", "% alc", "%alc", "% alc/vol", "% by volume",
)  # fmt: skip
_WEIGHT_WORDS = ("w/w", "by weight", "m/m", "mass", "w/v")

# US proof: twice the % by volume (27 CFR 5.1). UK proof: 100° is 57.1 % v/v; published values run
# from 57.06 to 57.15. Both are defined near 60 °F; the step to 20 °C is under 0.1 % and left out.
_US_PROOF = 0.5
_UK_PROOF = 0.571
_US_PROOF_WORDS = ("us proof", "american proof")
_UK_PROOF_WORDS = ("uk proof", "british proof", "imperial proof")


def _share(
    text: str, kind: Kind, units: Mapping[str, float], system: UnitSystem = UnitSystem.METRIC
) -> float:
    """A percentage; refuses a bare fraction of one, which could be meant as a share of 1."""
    plain = no_minus(normalized(text, kind, system), kind)
    value = single_number(plain, kind, units, system)
    if 0 < value < 1 and not re.search(r"[a-z%]", plain):
        one, other = exactly(value), exactly(value * 100)
        raise NotUnderstood(f"Could be {one} % or {other} %: write the % sign.")
    return value


def parse_percent(text: str) -> float:
    """Read a percentage, 0 to 100."""
    return _share(text, Kind.PERCENT, dict.fromkeys(("", *_PERCENT_WORDS), 1.0))


def _proof_units(system: UnitSystem) -> dict[str, float]:
    """% v/v in a degree of proof, by the words for it; under IMPERIAL not by plain proof."""
    units: dict[str, float] = {}
    for degree in ("", "° ", "°"):
        units |= {f"{degree}{words}": _US_PROOF for words in _US_PROOF_WORDS}
        units |= {f"{degree}{words}": _UK_PROOF for words in _UK_PROOF_WORDS}
        if system is not UnitSystem.IMPERIAL:
            units[f"{degree}proof"] = _US_PROOF
    return units


def parse_strength(text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a strength as % v/v; plain proof is US proof, and refused under IMPERIAL.

    There it could be either: 80 proof is 40 % on any bottle sold today, 45.7 % on an old one.
    """
    plain = normalized(text, Kind.STRENGTH, system)
    if any(words in plain for words in _WEIGHT_WORDS):
        raise NotUnderstood("Strength is by volume here: write % v/v, e.g. 40 %.")
    units = dict.fromkeys(("", *_STRENGTH_WORDS), 1.0) | _proof_units(system)
    if system is UnitSystem.IMPERIAL and re.fullmatch(r"[^a-z]*proof", plain):
        raise NotUnderstood("US and UK proof differ: write e.g. 80 US proof, 70 UK proof or 40 %.")
    return _share(text, Kind.STRENGTH, units, system)


def _scale_written(text: str) -> str:
    """The scale of a reading by the way it is written: `percent` where it has no proof."""
    plain = normalized(text, Kind.STRENGTH)
    if plain.endswith(_UK_PROOF_WORDS):
        return "uk_proof"
    return "us_proof" if plain.endswith("proof") else "percent"


def _parse_reading(text: str, scale: str, system: UnitSystem) -> float:
    """A reading as % v/v; a bare number, and plain proof, are degrees of the scale."""
    words = {"us_proof": " US proof", "uk_proof": " UK proof"}.get(scale, "")
    plain = normalized(text, Kind.STRENGTH, system)
    if words and not plain.endswith((*_US_PROOF_WORDS, *_UK_PROOF_WORDS)):
        number = plain.removesuffix("proof").removesuffix(" ").removesuffix("°")
        if not re.search(r"[a-z%]", number):
            return parse_strength(number + words, system)
    return parse_strength(text, system)


def read_instrument(
    text: str, scale: str, true_at: str, system: UnitSystem, setting: str = ""
) -> tuple[float, str, str]:
    """Read an alcoholometer: % v/v on its own scale, the scale, and where it is true.

    Scale and place of truth are keys of the calculator's choices. Where they are left open, the
    way the reading is written decides: proof and US % are true at 60 °F (27 CFR 30.11), other % at
    20 °C (OIML R 22), or at `setting`, which overrides both.

    >>> read_instrument("193 proof", "auto", "auto", UnitSystem.US)
    (96.5, 'us_proof', '60f')
    >>> read_instrument("40", "auto", "auto", UnitSystem.METRIC, "15c")
    (40.0, 'percent', '15c')
    """
    if scale == AS_WRITTEN:
        scale = _scale_written(text)
    if true_at == AS_WRITTEN:
        is_at_60f = scale != "percent" or system is UnitSystem.US
        true_at = setting or ("60f" if is_at_60f else "20c")
    return _parse_reading(text, scale, system), scale, true_at


def parse_ratio(text: str) -> float:
    """Read the n of 1:n, written in full or as n alone."""
    plain = no_minus(normalized(text, Kind.RATIO), Kind.RATIO)
    # "½" turns into 1/2 on the way, and is no ratio: what was typed has to start with the 1.
    if text.lstrip().startswith(("1", "１")):
        plain = re.sub(r"^1 ?(?::|/| to | in ) ?", "", plain)
    if re.search(r":|^\d+ ?/", plain):
        raise NotUnderstood("Not a ratio: write herb first as 1, e.g. 1:5 or 1:2.5.")
    return single_number(plain, Kind.RATIO, {"": 1.0})


def parse_temperature(text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a temperature as °C; a bare number is °F under US, °C elsewhere."""
    kind = Kind.TEMPERATURE
    plain = normalized(text, kind, system)
    sign = -1 if plain.startswith("-") else 1
    parts = parts_of(re.sub(r"^[+-] ?", "", plain), kind, system)
    unit = parts[0].unit.replace("°", "").strip() if len(parts) == 1 else "several"
    if unit not in ("", "c", "f", "celsius", "fahrenheit"):
        raise refusal(kind, system)
    fahrenheit = unit.startswith("f") or (not unit and system is UnitSystem.US)
    degrees = [sign * float(reading) for reading in parts[0].readings]
    if fahrenheit:
        degrees = [(degree - 32) / 1.8 for degree in degrees]
    return settled(parts, degrees, kind, system)


def _simple(
    kind: Kind, units: dict[str, float], system: UnitSystem = UnitSystem.METRIC
) -> Callable[[str], float]:
    def read(text: str) -> float:
        plain = no_minus(normalized(text, kind, system), kind)
        plain = plain.replace(" per ", "/").replace(" / ", "/")
        return single_number(plain, kind, units, system)

    return read


def _read_per(kind: Kind, text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """One quantity to another, as g to the mL; a bare number is in the system's own units."""
    size, suffix = per_unit(kind, system)
    units = PER[kind] | {"": size, suffix.strip().lower(): size}
    return _simple(kind, units, system)(text)


_read_us_proof = _simple(Kind.US_PROOF, {"": 1.0, "proof": 1.0, "us proof": 1.0})
_read_uk_proof = _simple(Kind.UK_PROOF, {"": 1.0, "proof": 1.0, "uk proof": 1.0})
_read_count = _simple(Kind.COUNT, {"": 1.0})
_read_number = _simple(Kind.NUMBER, {"": 1.0})
_read_days = _simple(
    Kind.DAYS,
    dict.fromkeys(("", "d", "day", "days"), 1.0)
    | dict.fromkeys(("w", "wk", "wks", "week", "weeks"), 7.0)
    | dict.fromkeys(("fortnight", "fortnights"), 14.0),
)


def parse_count(text: str) -> int:
    """Read a whole number of things."""
    return int(_read_count(text))


def parse_shakes(text: str) -> int:
    """Read how often a jar is shaken a day, 0 to 9."""
    count = parse_count(text)
    if count > 9:
        raise NotUnderstood("Write a number from 0 to 9.")
    return count


def parse_days(text: str) -> int:
    """Read a number of whole days, written in days, weeks or fortnights."""
    if re.search(r"month|year", text[:LONGEST].lower()):
        raise NotUnderstood("Months and years differ in length: write days or weeks, e.g. 6 weeks.")
    return int(_read_days(text))


def parse_money(text: str) -> float:
    """Read an amount of the user's currency; a currency sign is read over."""
    plain = no_minus(normalized(text, Kind.MONEY), Kind.MONEY)
    return single_number(re.sub(r"^[$€£¥] ?| ?[$€£¥]$", "", plain, count=1), Kind.MONEY, {"": 1.0})


def _parse_price(text: str, kind: Kind, system: UnitSystem) -> float:
    """A price per mL or g: bare per the system's own unit, or "22.50 per 700 ml"."""
    measured = Kind.VOLUME if kind is Kind.MONEY_PER_ML else Kind.MASS
    plain = no_minus(normalized(text, kind, system), kind)
    money, *amounts = re.split(r" ?/ ?(?=[a-z])| per | for ", plain)
    if len(amounts) > 1:
        raise refusal(kind, system)
    if not amounts:
        price = parse_money(money) / size_of(PRICED_BY[kind, system][0])
    else:
        amount = amounts[0] if re.match(r"[\d.,]|an? |half ", amounts[0]) else f"1 {amounts[0]}"
        size = _measure(amount, system, (measured,)).value
        # Below a thousandth of a mL or g the quotient could pass every limit.
        if size < 0.001:
            raise refusal(kind, system)
        price = parse_money(money) / size
    return settled((), (price,), kind, system)


_READERS: dict[Kind, Callable[[str, UnitSystem], float]] = {
    Kind.VOLUME: parse_volume,
    Kind.MASS: parse_mass,
    Kind.STRENGTH: parse_strength,
    Kind.RATIO: lambda text, system: parse_ratio(text),
    Kind.PERCENT: lambda text, system: parse_percent(text),
    Kind.TEMPERATURE: parse_temperature,
    Kind.US_PROOF: lambda text, system: _read_us_proof(text),
    Kind.UK_PROOF: lambda text, system: _read_uk_proof(text),
    Kind.DENSITY: lambda text, system: _read_per(Kind.DENSITY, text, system),
    Kind.RETENTION: lambda text, system: _read_per(Kind.RETENTION, text, system),
    Kind.CONCENTRATION: lambda text, system: _read_per(Kind.CONCENTRATION, text, system),
    Kind.DROPS: lambda text, system: _read_per(Kind.DROPS, text, system),
    Kind.COUNT: lambda text, system: parse_count(text),
    Kind.NUMBER: lambda text, system: _read_number(text),
    Kind.MONEY: lambda text, system: parse_money(text),
    Kind.MONEY_PER_ML: lambda text, system: _parse_price(text, Kind.MONEY_PER_ML, system),
    Kind.MONEY_PER_G: lambda text, system: _parse_price(text, Kind.MONEY_PER_G, system),
    Kind.DAYS: lambda text, system: parse_days(text),
}


def parse(kind: Kind, text: str, system: UnitSystem = UnitSystem.METRIC) -> float:
    """Read a text as a number of a kind, in the unit the kind is held in."""
    reader = _READERS.get(kind)
    if reader is None:
        raise NotUnderstood(f"A {kind.value} is not a number.")
    return float(reader(text, system))
