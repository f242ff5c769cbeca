"""Read what was typed for a fact."""

from datetime import date

from stillroom.dates import parse_day
from stillroom.errors import NotUnderstood
from stillroom.keeping.correcting.columns import (
    KEEP_UNTIL,
    MAY_BE_AHEAD,
    NUMBERS,
    REMOVES,
    SHAKES_OF_DAYS,
    USUAL,
)
from stillroom.keeping.correcting.kinds import Fact, FactKind, Value
from stillroom.keeping.cupboard.lot_reading import herb_lot_of_code
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.keeping.words import clean_name, clean_note

NONE = "none"


def read_fact(keeper: Keeper, fact: Fact, text: str) -> Value:
    """The value that a text stands for; NotUnderstood names the fact and what would be valid."""
    text = text.strip()
    if text == fact.shown:  # figures are shown rounded
        return fact.value
    try:
        return _read(keeper, fact, text)
    except NotUnderstood as error:
        raise NotUnderstood(f"{fact.name}: {error}") from error


def _read(keeper: Keeper, fact: Fact, text: str) -> Value:
    is_none = not text or (text.casefold() == NONE and fact.kind is not FactKind.TEXT)
    if is_none and fact.can_be_blank:
        return "" if fact.kind is FactKind.TEXT and fact.value is not None else None
    if fact.hint == REMOVES and text.casefold() in (NONE, "0"):
        return 0.0
    if is_none:
        raise NotUnderstood(f"{fact.label} is needed.")
    if fact.kind in NUMBERS:
        return _number(keeper, fact, text)
    if fact.kind is FactKind.DAY:
        return _day(keeper, fact, text)
    if fact.cell.column == "lot_id":
        return _lot(keeper, fact, text)
    if fact.kind in (FactKind.CHOICE, FactKind.YES_NO):
        return _choice(fact, text)
    if fact.cell.column == SHAKES_OF_DAYS:
        return text
    if "note" in fact.cell.column or fact.cell.column == "cautions":
        return clean_note(text, fact.label, limit=2000 if fact.cell.record == "movement" else 20000)
    limit = _LIMITS.get(fact.cell.column, 200)
    if fact.cell.record == "herb_lot":
        limit = min(limit, 1500)
    return clean_name(text, fact.label, required=not fact.can_be_blank, limit=limit)


def _day(keeper: Keeper, fact: Fact, text: str) -> date | str:
    if fact.cell.column == KEEP_UNTIL and text.casefold() == USUAL:
        return USUAL
    is_past = fact.cell.column not in MAY_BE_AHEAD
    day = parse_day(text, keeper.today, past=is_past)
    if is_past and day > keeper.today:
        raise NotUnderstood("That day is in the future.")
    return day


def _number(keeper: Keeper, fact: Fact, text: str) -> float:
    number = wording(keeper).read(NUMBERS[fact.kind], text)
    if fact.kind is FactKind.PERCENT:
        if not number < 100:
            raise NotUnderstood(f"{fact.label} must be under 100 %.")
        return number / 100
    if fact.kind is FactKind.COUNT:
        return int(number)
    can_be_zero = fact.cell.column in _MAY_BE_ZERO or fact.hint == REMOVES
    if number <= 0 and not can_be_zero:
        raise NotUnderstood(f"{fact.label} must be greater than zero.")
    return number


_MAY_BE_ZERO = (
    "strength_abv", "measured_abv", "lost_ml", "price", "seen", "shakes_per_day", "glycerol",
    "acidity",
)  # fmt: skip
_LIMITS = {"origin": 2000, "density_source": 2000, "code": 40}
"""Most letters of a text, where that isn't 200."""


def _lot(keeper: Keeper, fact: Fact, text: str) -> str:
    """The code of a lot: any may be typed, and one that can't be is refused with the reason."""
    labels = {label.casefold(): code for code, label in fact.choices}
    return labels.get(text.casefold()) or herb_lot_of_code(keeper, text).code


def _choice(fact: Fact, text: str) -> Value:
    wanted = text.casefold()
    exact = [key for key, label in fact.choices if wanted in (key.casefold(), label.casefold())]
    found = exact or [key for key, label in fact.choices if label.casefold().startswith(wanted)]
    if len(found) != 1:
        labels = ", ".join(label for _, label in fact.choices)
        raise NotUnderstood(f"Choose from {labels}." if labels else "There is nothing to choose.")
    return found[0] == "yes" if fact.kind is FactKind.YES_NO else found[0]


def read_shakes(keeper: Keeper, text: str) -> list[tuple[str, int]]:
    """Days with the number of shakes each had, from `3 Oct: 2; 4 Oct: 0`."""
    found = []
    for piece in text.split(";"):
        day, colon, count = piece.rpartition(":")
        if not colon or not count.strip().isdecimal() or int(count) > 9:
            raise NotUnderstood("shakes: Write a day and how many shakes it had, such as 3 Oct: 2.")
        shaken_on = parse_day(day.strip(), keeper.today, past=True)
        if shaken_on > keeper.today:
            raise NotUnderstood("shakes: That day is in the future.")
        found.append((shaken_on.isoformat(), int(count)))
    return found
