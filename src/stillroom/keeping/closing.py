"""Months and batch records that are closed: from then on they change only for a reason."""

from dataclasses import dataclass
from datetime import date, datetime

from stillroom.dates import show_month
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.words import UNSIGNED
from stillroom.records.tables import Closing

_FORMS = ("%Y-%m", "%B %Y", "%b %Y", "%m/%Y")


@dataclass(frozen=True)
class ClosingView:
    """When something was closed, and by whom."""

    month: date | None
    """Its first day; None for a batch."""
    batch: str
    """Batch code; blank for a month."""
    day: date
    maker: str


def month_typed(text: str) -> date | None:
    """The first day of a month as it was typed, such as `2026-10` or `October 2026`.

    None where it is no month, as where it is a code.
    """
    plain = " ".join(text.split())
    for form in _FORMS:
        try:
            return datetime.strptime(plain, form).date()
        except ValueError:
            continue
    return None


def close_month(keeper: Keeper, month: date) -> str:
    """Close a month that is over; returns its name."""
    month = month.replace(day=1)
    name = show_month(month)
    if month >= keeper.today.replace(day=1):
        raise Refused(f"{name} isn't over yet.")
    _refuse_unsigned(keeper)
    with keeper.act(f"Closed {name}") as act:
        _close(keeper, act, name, month=f"{month:%Y-%m}")
    return name


def close_batch(keeper: Keeper, tincture_id: int) -> str:
    """Close the record of a batch; returns its code."""
    found = keeper.rows("SELECT code FROM tincture WHERE id = ?", tincture_id)
    if not found:
        raise Refused("That tincture no longer exists.")
    code = str(found[0][0])
    _refuse_unsigned(keeper)
    with keeper.act(f"Closed the record of {code}") as act:
        _close(keeper, act, code, tincture_id=tincture_id)
    return code


def _refuse_unsigned(keeper: Keeper) -> None:
    if not keeper.maker:
        raise Refused(UNSIGNED)


def _close(
    keeper: Keeper,
    act: Act,
    name: str,
    *,
    month: str | None = None,
    tincture_id: int | None = None,
) -> None:
    if keeper.rows(
        "SELECT 1 FROM closing WHERE month IS ? AND tincture_id IS ?", month, tincture_id
    ):
        raise Refused(f"{name} is already closed.")
    Closing.insert(
        month=month, tincture=tincture_id, at=act.at, day=act.day, maker=act.maker
    ).execute()
    act.note("closed", name, tincture_id=tincture_id)


def closings(keeper: Keeper) -> list[ClosingView]:
    """What is closed, in the order in which it was."""
    return [
        ClosingView(
            date.fromisoformat(f"{month}-01") if month else None,
            code or "",
            date.fromisoformat(day),
            maker,
        )
        for month, code, day, maker in keeper.rows(
            """SELECT c.month, t.code, c.day, c.maker FROM closing c
               LEFT JOIN tincture t ON t.id = c.tincture_id ORDER BY c.id"""
        )
    ]


def closing_of(keeper: Keeper, batch: str) -> ClosingView | None:
    """When the record of a batch was closed; None where it is open."""
    return next((each for each in closings(keeper) if each.batch == batch), None)


def read_month(text: str) -> date:
    """A month as typed; NotUnderstood where it is none."""
    month = month_typed(text)
    if month is None:
        raise NotUnderstood("Enter a month, such as 2026-10 or October 2026.")
    return month
