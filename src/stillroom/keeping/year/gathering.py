"""When each part of a herb is gathered and how many months of its use to have, as typed."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import MOST_MONTHS
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import folded, old_and_new
from stillroom.reckoning.charge import Part
from stillroom.reckoning.planning import Window, learned_window
from stillroom.records.tables import GatheringWindow, Herb

DayOfYear = tuple[int, int]
"""Month and day."""

_TYPED = """
    SELECT h.name, w.part, w.first_day, w.last_day FROM gathering_window w
    JOIN herb h ON h.id = w.herb_id
"""
_GATHERED = """
    SELECT h.name, l.part, l.gathered_on FROM charge_line l
    JOIN herb h ON h.id = l.herb_id WHERE l.gathered_on IS NOT NULL
    UNION
    SELECT h.name, l.part, l.got_on FROM herb_lot l
    JOIN herb h ON h.id = l.herb_id WHERE l.came = 'gathered'
"""
_MONTHS = "SELECT name, months_in_hand FROM herb WHERE months_in_hand IS NOT NULL"


@dataclass(frozen=True)
class SeasonDraft:
    """What the user types about one part of a herb."""

    herb: str
    part: Part
    first: DayOfYear | None = None
    last: DayOfYear | None = None
    """Both None where no window is typed."""
    months_in_hand: float | None = None
    """Of the herb; None for the setting."""


@dataclass(frozen=True)
class SeasonView:
    """One part of a herb: when it is gathered, and how much of it to have."""

    herb: str
    part: Part
    typed: Window | None
    learned: Window | None
    months_in_hand: float | None
    """None where the setting decides."""

    @property
    def window(self) -> Window | None:
        """The one that counts: typed, or else learned."""
        return self.typed or self.learned


def windows_typed(keeper: Keeper) -> dict[tuple[str, str], Window]:
    """The windows that were typed, by herb and part."""
    return {
        (herb, part): typed_window(_month_day(first), _month_day(last))
        for herb, part, first, last in keeper.rows(_TYPED)
    }


def windows_learned(keeper: Keeper) -> dict[tuple[str, str], Window]:
    """When each part was gathered so far, by its herb and part."""
    days: dict[tuple[str, str], list[date]] = defaultdict(list)
    for herb, part, day in keeper.rows(_GATHERED):
        days[herb, part].append(date.fromisoformat(day))
    return {key: window for key, each in days.items() if (window := learned_window(each))}


def months_typed(keeper: Keeper) -> dict[str, float]:
    """Months in hand of the herbs that have their own."""
    return dict(keeper.rows(_MONTHS))


def typed_window(first: DayOfYear, last: DayOfYear) -> Window:
    """A window without a usual day of its own: its middle is taken."""
    days = (_number(last) - _number(first)) % 366
    middle = date.fromordinal(date(2024, *first).toordinal() + days // 2)
    return Window(first, (middle.month, middle.day), last, 0)


def _number(day: DayOfYear) -> int:
    return date(2024, *day).timetuple().tm_yday


def _month_day(text: str) -> DayOfYear:
    month, _, day = text.partition("-")
    return int(month), int(day)


def seasons(keeper: Keeper) -> list[SeasonView]:
    """Every part with a window or months of its own, by herb."""
    typed, learned, months = windows_typed(keeper), windows_learned(keeper), months_typed(keeper)
    parts = {*typed, *learned}
    parts |= {(h, p) for h, p in keeper.rows(_PARTS) if h in months}
    return [
        SeasonView(herb, Part(part), typed.get((herb, part)), learned.get((herb, part)),
                   months.get(herb))
        for herb, part in sorted(parts, key=lambda key: (key[0].casefold(), key[1]))
    ]  # fmt: skip


_PARTS = """
    SELECT h.name, l.part FROM charge_line l JOIN herb h ON h.id = l.herb_id
    UNION SELECT h.name, l.part FROM herb_lot l JOIN herb h ON h.id = l.herb_id
"""


def season_of_part(keeper: Keeper, herb: str, part: Part) -> SeasonView:
    """What is known of one part of a herb; Refused where no herb is called that."""
    names = [name for (name,) in keeper.rows("SELECT name FROM herb")]
    name = next((each for each in names if folded(each) == folded(herb.strip())), None)
    if name is None:
        raise Refused(f"No herb is called {herb.strip()}.")
    key = (name, part)
    return SeasonView(
        name, part, windows_typed(keeper).get(key), windows_learned(keeper).get(key),
        months_typed(keeper).get(name),
    )  # fmt: skip


def set_season(keeper: Keeper, draft: SeasonDraft) -> SeasonView:
    """Save when a part is gathered, and how many months of the herb to have in hand."""
    if (draft.first is None) != (draft.last is None):
        raise NotUnderstood("Give both the first and the last day, or neither.")
    months = draft.months_in_hand
    if months is not None and not 0 < months <= MOST_MONTHS:
        raise NotUnderstood(f"Months in hand must be above 0 and at most {MOST_MONTHS}.")
    before = season_of_part(keeper, draft.herb, draft.part)
    with keeper.act(f"Changed the season of {before.herb}") as act:
        herb_id = Herb.get(Herb.name == before.herb).id
        Herb.update(months_in_hand=months).where(Herb.id == herb_id).execute()
        is_it = (GatheringWindow.herb == herb_id) & (GatheringWindow.part == draft.part)
        if draft.first is None or draft.last is None:
            GatheringWindow.delete().where(is_it).execute()
        else:
            days = {
                "first_day": "{:02d}-{:02d}".format(*draft.first),
                "last_day": "{:02d}-{:02d}".format(*draft.last),
            }
            if not GatheringWindow.update(**days).where(is_it).execute():
                GatheringWindow.insert(herb=herb_id, part=draft.part, **days).execute()
        after = season_of_part(keeper, before.herb, draft.part)
        said = wording(keeper)
        changes = old_and_new(_facts(before, said), _facts(after, said))
        act.note("herb", f"{draft.part}: {changes or 'nothing changed'}", herb_id=herb_id)
    return after


def _facts(view: SeasonView, said: Wording) -> dict[str, str]:
    return {
        "Gathered": "" if view.typed is None else window_words(view.typed, said),
        "Months in hand": said.number(view.months_in_hand),
    }


def window_words(window: Window, said: Wording) -> str:
    """The days of a window, in any year."""
    first, last = said.day_of_year(window.earliest), said.day_of_year(window.latest)
    return first if first == last else f"{first} to {last}"
