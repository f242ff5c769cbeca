"""The parts of the cupboard: what each lists, says of a row, and opens to change it."""

from collections.abc import Sequence
from typing import Any, ClassVar, Generic, NamedTuple, TypeVar

from rich.text import Text

from stillroom.dates import show_day
from stillroom.errors import Refused
from stillroom.keeping.cupboard.cupboard import (
    bottle_sizes,
    drop_bottle_size,
    herbs,
    remove_herb,
    remove_shelf,
    remove_spirit,
    shelf_rows,
    spirits,
)
from stillroom.keeping.cupboard.herb_history import herb_strainings
from stillroom.keeping.preferences import ALCOHOLOMETERS
from stillroom.keeping.trace.recall import gatherings
from stillroom.keeping.views import HerbView, ShelfRow, SizeView, SpiritView
from stillroom.quantities import UnitSystem, how_many
from stillroom.reckoning.kinds import Kind
from stillroom.screens.cupboard.dialogs import (
    HerbDialog,
    SettingsDialog,
    ShelfDialog,
    SizeDialog,
    SpiritDialog,
)
from stillroom.screens.drawing.jar_art import safe
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.list_page import ListPage
from stillroom.screens.kit.table import Cell, Column, gauge

T = TypeVar("T")

_BAR = 8
_SPARKS = "▁▂▃▄▅▆▇█"


class Part(Generic[T]):
    """One part of the cupboard."""

    title: ClassVar[str]
    columns: ClassVar[tuple[Column, ...]]
    hint: ClassVar[str] = ""
    """What is said while it is empty."""
    is_fixed: ClassVar[bool] = False
    """Whether nothing can be added or removed."""

    def __init__(self, page: ListPage) -> None:
        self.page = page
        self.keeper = page.keeper

    def rows(self) -> Sequence[T]:
        """What it lists."""
        raise NotImplementedError

    def key(self, row: T) -> object:
        """What a row is known by, which is also what its form gives back for a new one."""
        raise NotImplementedError

    def cells(self, row: T) -> tuple[Cell, ...]:
        """A row in its columns."""
        raise NotImplementedError

    def words(self, row: T) -> tuple[str, ...]:
        """What of a row can be found."""
        raise NotImplementedError

    def about(self, row: T) -> Text:
        """What is said of the chosen row."""
        raise NotImplementedError

    def form(self, row: T | None) -> Dialog[Any]:
        """The form for a row, or for a new one."""
        raise NotImplementedError

    def remove(self, row: T) -> None:
        """Take a row out."""
        raise Refused("Nothing is removed here.")


class SpiritsPart(Part[SpiritView]):
    """Spirits, with what is left of them."""

    title = "Spirits"
    columns = (
        Column("Spirit"),
        Column("Strength", 8, is_right=True),
        Column("", _BAR),
        Column("Left", 11, is_right=True),
        Column("Bought", 10, is_right=True),
        Column("Price", 12, is_right=True),
        Column("Bought on", 11, is_right=True, from_width=96),
    )
    hint = (
        "No spirits yet.\n\nPress n to write down a spirit you bought: its strength goes into "
        "every jar it fills, and what is left of it is counted for you."
    )

    def rows(self) -> Sequence[SpiritView]:
        """Newest purchase first."""
        return spirits(self.keeper)

    def key(self, row: SpiritView) -> object:
        """Its id."""
        return row.spirit_id

    def cells(self, row: SpiritView) -> tuple[Cell, ...]:
        """Name, strength, what is left, price for a unit of volume."""
        shown = self.page.shown
        share, left = None, Cell("not counted", "quiet")
        if row.left_ml is not None and row.bought_ml:
            left_ml = max(0.0, row.left_ml)
            share = left_ml / row.bought_ml
            left = Cell(shown(Kind.VOLUME, left_ml), "strong")
        return (
            Cell(row.name, "strong"),
            Cell(shown(Kind.STRENGTH, row.strength_abv)),
            gauge(share, _BAR),
            left,
            Cell(shown(Kind.VOLUME, row.bought_ml)),
            Cell(shown(Kind.MONEY_PER_ML, row.price_per_ml)),
            Cell(show_day(row.bought_on) if row.bought_on else ""),
        )

    def words(self, row: SpiritView) -> tuple[str, ...]:
        """Name, seller, note."""
        return (row.name, row.origin, row.note)

    def about(self, row: SpiritView) -> Text:
        """Price, seller, note."""
        facts = [self.page.shown(Kind.STRENGTH, row.strength_abv)]
        if row.price is not None:
            facts.append(f"paid {self.page.shown(Kind.MONEY, row.price)}")
        if row.origin:
            facts.append(f"from {safe(row.origin)}")
        if row.bought_on is not None:
            facts.append(f"bought {show_day(row.bought_on)}")
        note = safe(row.note) or "enter: every jar and bottle it went into."
        return _told(row.name, " · ".join(facts), note)

    def form(self, row: SpiritView | None) -> Dialog[Any]:
        """A spirit."""
        return SpiritDialog(self.keeper, row)

    def remove(self, row: SpiritView) -> None:
        """Out of the cupboard, where it was never poured."""
        remove_spirit(self.keeper, row.spirit_id)


class HerbsPart(Part[HerbView]):
    """Herbs, with the keeper's own cautions and yields."""

    title = "Herbs"
    columns = (
        Column("Herb", share=3),
        Column("Botanical name", share=3),
        Column("Jars", 5, is_right=True),
        Column("In bottles", 11, is_right=True),
        Column("Cautions", 8),
    )
    hint = (
        "No herbs yet.\n\nA herb is written down by itself when you fill a jar with it. Press n to "
        "write one down now, with its botanical name and your own cautions, which are printed on "
        "its labels."
    )

    def __init__(self, page: ListPage) -> None:
        super().__init__(page)
        self._origins: dict[int, list[str]] = {}

    def rows(self) -> Sequence[HerbView]:
        """By name."""
        self._origins = {}
        for each in gatherings(self.keeper):
            self._origins.setdefault(each.herb_id, []).append(each.origin)
        return herbs(self.keeper)

    def key(self, row: HerbView) -> object:
        """Its id."""
        return row.herb_id

    def cells(self, row: HerbView) -> tuple[Cell, ...]:
        """Names, jars, stock, and whether there are cautions."""
        held = self.page.shown(Kind.VOLUME, row.in_stock_ml) if row.in_stock_ml > 0 else "none"
        return (
            Cell(row.name, "strong"),
            Cell(row.botanical),
            Cell(str(row.jars)),
            Cell(held),
            Cell("own" if row.cautions else ""),
        )

    def words(self, row: HerbView) -> tuple[str, ...]:
        """Names, cautions, note, and where or in which lots it was got."""
        origins = self._origins.get(row.herb_id, ())
        return (row.name, row.botanical, row.cautions, row.note, *origins)

    def about(self, row: HerbView) -> Text:
        """Yields, cautions, note."""
        text = _told(row.name, safe(row.botanical), self._yields(row.herb_id))
        for label, said in (("Cautions", row.cautions), ("Note", row.note)):
            if said:
                text.append(f"\n{label}: {safe(said)}")
        return text

    def _yields(self, herb_id: int) -> str:
        """The herb's yields over the years on one line, drawn as a little plot."""
        known = [
            straining.percent
            for straining in herb_strainings(self.keeper, herb_id)
            if straining.percent is not None
        ]
        if not known:
            return "No yields yet: they stand here once a weighed jar of it is strained."
        plot = "" if self.page.host.is_plain else f" {spark(known)}"
        mean, first, last = (
            self.page.shown(Kind.PERCENT, value)
            for value in (sum(known) / len(known), known[0], known[-1])
        )
        count = how_many(len(known), "straining")
        return f"Yield{plot} first {first}, last {last}, mean {mean} of {count}; enter shows them."

    def form(self, row: HerbView | None) -> Dialog[Any]:
        """A herb."""
        return HerbDialog(self.keeper, row)

    def remove(self, row: HerbView) -> None:
        """Out of the list, where no jar was filled with it."""
        remove_herb(self.keeper, row.herb_id)


class ShelvesPart(Part[ShelfRow]):
    """Shelves, in the order they are drawn."""

    title = "Shelves"
    columns = (Column("Shelf", share=2), Column("Note", share=3), Column("Jars", 5, is_right=True))
    hint = (
        "No shelves yet.\n\nThe first jar puts one up by itself. Press n to put up shelves by the "
        "names you know them by."
    )

    def rows(self) -> Sequence[ShelfRow]:
        """From the top."""
        return shelf_rows(self.keeper)

    def key(self, row: ShelfRow) -> object:
        """Its id."""
        return row.shelf_id

    def cells(self, row: ShelfRow) -> tuple[Cell, ...]:
        """Name, note, jars."""
        return (Cell(row.name, "strong"), Cell(row.note), Cell(str(row.jars or "none")))

    def words(self, row: ShelfRow) -> tuple[str, ...]:
        """Name and note."""
        return (row.name, row.note)

    def about(self, row: ShelfRow) -> Text:
        """Jars and note."""
        jars = "1 jar steeps here" if row.jars == 1 else f"{row.jars or 'no'} jars steep here"
        return _told(row.name, jars, safe(row.note) or "- and + move it up and down.")

    def form(self, row: ShelfRow | None) -> Dialog[Any]:
        """A shelf."""
        return ShelfDialog(self.keeper, row)

    def remove(self, row: ShelfRow) -> None:
        """Down, where no jar was ever on it."""
        remove_shelf(self.keeper, row.shelf_id)


class SizesPart(Part[SizeView]):
    """Bottle sizes, with how many stand empty."""

    title = "Bottle sizes"
    columns = (
        Column("Size", 12, is_right=True),
        Column("Empty ones", 14, is_right=True),
        Column(""),
    )
    hint = (
        "No bottle sizes yet.\n\nPress n to name the sizes you fill. Straining then proposes "
        "bottles of these sizes, as far as the empty ones go."
    )

    def rows(self) -> Sequence[SizeView]:
        """Largest first."""
        return bottle_sizes(self.keeper)

    def key(self, row: SizeView) -> object:
        """The size itself."""
        return row.size_ml

    def cells(self, row: SizeView) -> tuple[Cell, ...]:
        """Size and empties."""
        empties = "not counted" if row.empties is None else str(row.empties or "none")
        size = self.page.shown(Kind.VOLUME, row.size_ml)
        return (Cell(size, "strong"), Cell(empties, "" if row.empties else "quiet"), Cell(""))

    def words(self, row: SizeView) -> tuple[str, ...]:
        """The size as shown."""
        return (self.page.shown(Kind.VOLUME, row.size_ml),)

    def about(self, row: SizeView) -> Text:
        """How the count is kept."""
        return Text("Bottling takes the filled ones off the count by itself. e counts anew.")

    def form(self, row: SizeView | None) -> Dialog[Any]:
        """A size."""
        return SizeDialog(self.keeper, row)

    def remove(self, row: SizeView) -> None:
        """No longer offered."""
        drop_bottle_size(self.keeper, row.size_id)


class SettingRow(NamedTuple):
    """One setting as the list shows it."""

    field: str
    """Its name in Preferences."""
    label: str
    value: str
    meaning: str


class SettingsPart(Part[SettingRow]):
    """How the people of this shelf like things."""

    title = "Settings"
    columns = (Column("", 14), Column("", 24), Column(""))
    is_fixed = True

    def rows(self) -> Sequence[SettingRow]:
        """Every preference."""
        wanted = self.page.wanted
        units = {
            UnitSystem.METRIC: "metric: mL and g",
            UnitSystem.US: "US: fl oz and oz",
            UnitSystem.IMPERIAL: "imperial: fl oz and oz",
        }[wanted.units]
        mark = "comma, 1,5" if wanted.decimal_comma else "point, 1.5"
        drops = self.page.shown(Kind.NUMBER, wanted.drops_per_ml, "not counted")
        instrument = "by its scale"
        if wanted.alcoholometer:
            instrument = f"true at {ALCOHOLOMETERS[wanted.alcoholometer]}"
        new_jar = "what a new jar begins with"
        return [
            SettingRow("units", "Units", units, "how amounts are shown and read"),
            SettingRow("decimal_comma", "Decimal mark", mark, "in every figure"),
            SettingRow("maker", "Initials", wanted.maker or "none", "who did it, in the ledger"),
            SettingRow("maker_name", "Maker", wanted.maker_name or "none", "printed on labels"),
            SettingRow("steep_days", "Days to steep", str(wanted.steep_days), new_jar),
            SettingRow("shakes_per_day", "Shakes a day", str(wanted.shakes_per_day), new_jar),
            SettingRow("drops_per_ml", "Drops per mL", drops, "counted with your own dropper"),
            SettingRow("alcoholometer", "Alcoholometer", instrument, "proof at 60 °F, % at 20 °C"),
            SettingRow(
                "label_caution", "Own caution", wanted.label_caution or "none",
                "printed beside the usual ones on every label",
            ),
            SettingRow(
                "backup_folder", "Backups go to", wanted.backup_folder or "beside the shelf",
                "one a day, by itself",
            ),
        ]  # fmt: skip

    def key(self, row: SettingRow) -> object:
        """Its name in Preferences."""
        return row.field

    def cells(self, row: SettingRow) -> tuple[Cell, ...]:
        """Label, value, meaning."""
        return (Cell(row.label), Cell(row.value, "strong"), Cell(row.meaning, "quiet"))

    def words(self, row: SettingRow) -> tuple[str, ...]:
        """All of it."""
        return (row.label, row.value, row.meaning)

    def about(self, row: SettingRow) -> Text:
        """The whole value."""
        return _told(row.label, row.meaning, safe(row.value))

    def form(self, row: SettingRow | None) -> Dialog[Any]:
        """All settings, beginning at this one."""
        return SettingsDialog(self.keeper, row.field if row else "")


PARTS: tuple[type[Part[Any]], ...] = (SpiritsPart, HerbsPart, ShelvesPart, SizesPart, SettingsPart)


def _told(name: str, facts: str, rest: str) -> Text:
    """A name, facts beside it, and a line below."""
    text = Text.assemble((safe(name), "bold"))
    if facts:
        text.append(f" · {facts}")
    if rest:
        text.append(f"\n{rest}")
    return text


def spark(values: Sequence[float]) -> str:
    """Shares in percent as columns on a scale from nothing to all; the last twenty of them.

    >>> spark([0, 50, 100])
    '▁▅█'
    """
    top = len(_SPARKS) - 1
    return "".join(_SPARKS[round(min(100.0, max(0.0, v)) / 100 * top)] for v in values[-20:])
