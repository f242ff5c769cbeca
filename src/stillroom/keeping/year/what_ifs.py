"""Who is to get more or less in a what-if, as it is typed."""

import re
from collections.abc import Iterable

from stillroom.errors import NotUnderstood
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import Wording
from stillroom.keeping.words import folded
from stillroom.keeping.year.people import names
from stillroom.reckoning.kinds import Kind

MOST_MORE = 10.0
"""Ten times as much again is as much as anybody asks. Judgement."""
_CHANGE = re.compile(
    r"(?P<sign>[-+\u2212]?)\s*(?P<number>[^-+\u2212%]*?)\s*%?\s*(?P<word>more|less)?", re.IGNORECASE
)


def read_share(text: str, said: Wording) -> float:
    """Returns a change as a share: 0.5 for `50 %`, -0.2 for `-20 %` and for `20 % less`.

    Raises NotUnderstood if it isn't a percentage from -100 to 1000.
    """
    found = _CHANGE.fullmatch(text.strip())
    word = (found["word"] or "").casefold() if found else ""
    if found is None or (found["sign"] and word):
        raise NotUnderstood("Write a percentage such as 50, or -20 or 20 % less.")
    share = said.read(Kind.NUMBER, found["number"]) / 100
    if found["sign"] in ("-", "\u2212") or word == "less":
        share = -share
    if not -1 <= share <= MOST_MORE:
        raise NotUnderstood("Enter a percentage from -100 to 1000.")
    return share


def herbs_asked(keeper: Keeper, typed: Iterable[str]) -> tuple[str, ...]:
    """Each herb to leave out, by its name as recorded; raises NotUnderstood for an unknown one."""
    known = {folded(name): str(name) for (name,) in keeper.rows("SELECT name FROM herb")}
    found: dict[str, None] = {}
    for name in filter(None, map(str.strip, typed)):
        if folded(name) not in known:
            raise NotUnderstood(f"No herb is called {name}.")
        found[known[folded(name)]] = None
    return tuple(found)


def people_asked(
    keeper: Keeper, shares: Iterable[tuple[str, float]]
) -> tuple[tuple[str, float], ...]:
    """Each person by the name as recorded, and how much more they are to get, as a share.

    Raises NotUnderstood for a name that got nothing yet, or comes twice.
    """
    known = {folded(name): name for name in reversed(names(keeper))}
    asked: dict[str, float] = {}
    for typed, share in shares:
        name = known.get(folded(typed.strip()))
        if name is None:
            raise NotUnderstood(f"Nobody called {typed.strip()} got anything.")
        if name in asked:
            raise NotUnderstood(f"{name} is named twice.")
        asked[name] = share
    return tuple(asked.items())
