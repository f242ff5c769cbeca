"""What a scanner reads: a code of this shelf, typed in whatever layout the computer has."""

import json
import re
from collections.abc import Iterator

from stillroom.errors import Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import AmbiguousCode, find_code
from stillroom.keeping.trace.views import ScannedThing

_CODED = ("bottle", "tincture", "jar", "herb_lot", "liquid", "spirit")
"""The tables with codes."""
_LOTS = {"herb_lot": "herb_lot_id", "liquid": "liquid_id", "spirit": "spirit_id"}

_LAYOUTS = tuple(
    str.maketrans(*pair)
    for pair in (
        ("ßyzYZ", "-zyZY"),  # the scanner is set to US, the computer to German
        ("/yzYZ", "-zyZY"),  # the other way round
        ("&é\"'(-è_çà):qawzQAWZm;", "1234567890-.aqzwAQZW,m"),  # US, and the computer French
    )
)
"""Where the keys of a scanner's layout are on another. A scanner presses keys, as a person does;
which letters come of them depends on the layout the computer has."""

_OWN_FORM = re.compile(
    r"(?P<code>(?:H-)?\d\d-\d{3,}(?:\.\d+)?)(?=[ ,;]|$)", re.ASCII | re.IGNORECASE
)
_BEGINS_OWN_FORM = re.compile(
    r"(?:H-?)?(?P<year>\d{0,2})(?:(?<=\d\d)-(?:\d*|\d{3,}\.\d*|\d{3,}(?:\.\d+)?[ ,;].*))?",
    re.ASCII | re.IGNORECASE,
)
_YEARS_BACK = 50
"""How old a label of another shelf may be."""


def could_begin(keeper: Keeper, text: str) -> bool:
    """Whether a code of this shelf begins like this, or this begins with a code and goes on."""
    readings = _readings(text)
    heads = [head for each in readings for head in _heads(each)]
    begins = " OR ".join(
        f"EXISTS (SELECT 1 FROM typed JOIN {table} t ON t.code >= text "
        "AND t.code < text || char(1114111))"
        for table in _CODED
    )
    whole = " OR ".join(
        f"EXISTS (SELECT 1 FROM head JOIN {table} t ON t.code = text)" for table in _CODED
    )
    ((found,),) = keeper.rows(
        f"""WITH typed AS (SELECT value AS text FROM json_each(?)),
                 head AS (SELECT value AS text FROM json_each(?))
            SELECT {begins} OR {whole}""",
        json.dumps(readings), json.dumps(heads),
    )  # fmt: skip
    return bool(found)


def could_begin_any(text: str, this_year: int) -> bool:
    """Whether a code in the program's own form begins like this, on this shelf or on another.

    A code begins with its year, which is next year at the latest. So most keys that open a page
    begin no code, and none of those waits.

    >>> could_begin_any("25-0", 2026), could_begin_any("25ß041", 2026), could_begin_any("n", 2026)
    (True, True, False)
    >>> could_begin_any("6", 2026), could_begin_any("28-0", 2026)
    (False, False)
    """
    found = (_BEGINS_OWN_FORM.fullmatch(each) for each in _readings(text))
    years = [f"{year % 100:02}" for year in range(this_year - _YEARS_BACK, this_year + 2)]
    return any(year.startswith(each["year"]) for each in found if each for year in years)


def is_any_code(text: str) -> bool:
    """Whether it begins with a complete code in the program's own form, known here or not.

    >>> is_any_code("25-041.2 Calendula"), is_any_code("25-0")
    (True, False)
    """
    return any(_OWN_FORM.match(each) for each in _readings(text))


def code_in(text: str) -> str:
    """The code in the program's own form that a scan begins with; the scan where it has none.

    >>> code_in("26ß041.2 Calendula")
    '26-041.2'
    """
    for each in _readings(text):
        if found := _OWN_FORM.match(each):
            return found["code"].upper()
    return " ".join(text.split())[:40]


def scanned_thing(keeper: Keeper, text: str) -> ScannedThing | None:
    """What was scanned: alone, or followed by the text of a label. None if it isn't here."""
    for reading in _readings(text):
        for head in reversed(_heads(reading)):
            for table, column in _LOTS.items():
                for row_id, code in keeper.rows(
                    f"SELECT id, code FROM {table} WHERE code = ?", head
                ):
                    return ScannedThing(code, **{column: row_id})
        try:
            found = find_code(keeper, reading)
        except AmbiguousCode:
            raise
        except Refused:
            continue
        return ScannedThing(found.code, found.jar_id, found.tincture_id, found.bottle_id)
    return None


def _readings(text: str) -> list[str]:
    """A text as it was typed, and as it was meant on other layouts, in capitals and not."""
    meant = [text, *(text.translate(layout) for layout in _LAYOUTS)]
    ways = (way for each in meant for way in (each, each.upper(), each.swapcase()))
    return list(dict.fromkeys(ways))


def _heads(text: str) -> list[str]:
    """The beginnings of a text that may be a code, the shortest first: codes may have spaces."""
    return [*_ends(text), text]


def _ends(text: str) -> Iterator[str]:
    for found in re.finditer(r"[ ,;]", text[:60]):
        if found.start():
            yield text[: found.start()]
