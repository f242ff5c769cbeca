"""Batch codes: the year and a running number, short enough to write on glass."""

import re
import unicodedata
from datetime import date

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.keeper import Keeper

CODE_LENGTH = 40
"""The most letters a batch code has; a bottle's has its number in addition."""
_FORM = re.compile(r"[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*(?:\.[0-9]+)?")
_LINK = re.compile(r"[:/\\@]|www\.|[.\u3002\uff61][^.]*[^\W\d_]|(?:\d+[.\u3002\uff61]){3}\d", re.I)
"""A scheme, a path, an address of mail, or a dot with letters somewhere after it, as in a domain;
or four numbers, as in the address of a computer."""


def clean_code(text: str) -> str:
    """A new batch code, in the form that the program's own have; NotUnderstood in any other form.

    >>> clean_code(" 26-041 ")
    '26-041'
    """
    code = text.strip()
    is_in_form = len(code) <= CODE_LENGTH and _FORM.fullmatch(code)
    if not is_in_form or could_be_link(bottle_code(code, 1)):  # as www is, before its bottle's dot
        raise NotUnderstood(
            "A code is letters, digits and -, at the end perhaps a dot and a number, such as "
            f"26-041; at most {CODE_LENGTH} characters."
        )
    return code


def could_be_link(code: str) -> bool:
    """Whether a phone that reads a code might open something: codes of another form may be old.

    >>> could_be_link("26-041.2"), could_be_link("example.org")
    (False, True)
    """
    return bool(_LINK.search(unicodedata.normalize("NFKC", code)))


def next_batch_code(keeper: Keeper, today: date) -> str:
    """The next free code of this year, such as `26-041`; jars and blends share one series."""
    year = f"{today:%y}-"
    pattern = f"{year}[0-9]*"
    taken = keeper.rows(
        "SELECT code FROM jar WHERE code GLOB ? UNION SELECT code FROM tincture WHERE code GLOB ?",
        pattern,
        pattern,
    )
    numbers = [code.removeprefix(year) for (code,) in taken]
    highest = max((int(n) for n in numbers if n.isdecimal()), default=0)
    return f"{year}{highest + 1:03d}"


def next_lot_code(keeper: Keeper, got_on: date) -> str:
    """The next free code of a lot of herb of that year, such as `H-26-003`."""
    year = f"H-{got_on:%y}-"
    taken = keeper.rows("SELECT code FROM herb_lot WHERE code GLOB ?", f"{year}[0-9]*")
    numbers = [code.removeprefix(year) for (code,) in taken]
    highest = max((int(n) for n in numbers if n.isdecimal()), default=0)
    return f"{year}{highest + 1:03d}"


def refuse_taken(keeper: Keeper, code: str | None, table: str, row_id: int | None = None) -> None:
    """Refuse a code that something else of the cupboard has; one is found by it alone."""
    if not code:
        return
    for other, found_id, name in keeper.rows(
        """SELECT 'spirit', id, name FROM spirit WHERE lower(code) = ?
           UNION ALL SELECT 'liquid', id, name FROM liquid WHERE lower(code) = ?
           UNION ALL SELECT 'herb_lot', id, 'a lot of herb' FROM herb_lot WHERE lower(code) = ?""",
        *[code.casefold()] * 3,
    ):
        if (other, found_id) != (table, row_id):
            raise Refused(f"{code} is the code of {name} already.")


def bottle_code(batch: str, number: int) -> str:
    """The code of a bottle: its batch and its number in it, such as `26-041.2`."""
    return f"{batch}.{number}"
