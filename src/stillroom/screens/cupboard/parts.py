"""The parts of the cupboard: what each lists, shows about a row, and opens to change it."""

from collections.abc import Sequence
from typing import Any

from rich.text import Text

from stillroom.keeping.cupboard.cupboard import (
    bottle_sizes,
    drop_bottle_size,
    remove_shelf,
    remove_spirit,
    shelf_rows,
    spirits,
)
from stillroom.keeping.cupboard.twins import number_mark, twin_mark
from stillroom.keeping.cupboard_views import ShelfRow, SizeView, SpiritView
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind
from stillroom.screens.buying.spirit import SpiritDialog
from stillroom.screens.cupboard.dialogs import (
    ShelfDialog,
    SizeDialog,
)
from stillroom.screens.cupboard.herbs_part import HerbsPart
from stillroom.screens.cupboard.liquids_part import LiquidsPart
from stillroom.screens.cupboard.part import BAR, CupboardTab, words_about
from stillroom.screens.cupboard.settings_part import SettingsPart
from stillroom.screens.cupboard.store_part import StorePart
from stillroom.screens.kit.columns import Cell, Column, gauge
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.text import safe


class SpiritsPart(CupboardTab[SpiritView]):
    """Spirits, with what is left of them."""

    title = "Spirits"
    _kept: Sequence[SpiritView] = ()
    columns = (
        Column("Spirit"),
        Column("Strength", 8, is_right=True),
        Column("", BAR, is_bar=True),
        Column("Left", 11, is_right=True),
        Column("Bought", 10, is_right=True, from_width=96),
        Column("Lot", 11),
        Column("Bought on", 11, is_right=True),
        Column("Price", 12, is_right=True, from_width=110),
    )
    hint = (
        "There are no spirits yet. Press n to add one you bought.\n\nIts strength goes into every "
        "jar it fills, and what is left of it is counted for you."
    )

    def rows(self) -> Sequence[SpiritView]:
        """The spirits, newest purchase first."""
        self._kept = spirits(self.keeper)
        return self._kept

    def key(self, row: SpiritView) -> object:
        """The spirit's id."""
        return row.spirit_id

    def cells(self, row: SpiritView) -> tuple[Cell, ...]:
        """Name, strength, what is left, lot and day; price where there is room."""
        wording = self.page.wording
        share, left = None, Cell("not counted", "quiet")
        if row.left_ml is not None and row.bought_ml:
            left_ml = max(0.0, row.left_ml)
            share = left_ml / row.bought_ml
            left = Cell(wording.volume(left_ml), "strong")
        return (
            Cell(row.name, "strong"),
            Cell(wording.of(Kind.STRENGTH, row.strength_abv)),
            gauge(share, BAR),
            left,
            Cell(wording.volume(row.bought_ml)),
            Cell(self._lot(row)),
            Cell(self.page.wording.day(row.bought_on) if row.bought_on else ""),
            Cell(wording.of(Kind.MONEY_PER_ML, row.price_per_ml)),
        )

    def _lot(self, row: SpiritView) -> str:
        """Its code or lot, or the number that pickers call it by where nothing else differs."""
        mark = twin_mark(row, self._kept, self.page.wording)
        return mark if mark == number_mark(row.spirit_id) else row.code or row.lot

    def words(self, row: SpiritView) -> tuple[str, ...]:
        """Name, seller, note."""
        return (row.name, row.origin, row.lot, row.code, row.note)

    def about(self, row: SpiritView) -> Text:
        """Price, seller, lot, note."""
        facts = [self.page.wording.of(Kind.STRENGTH, row.strength_abv)]
        if row.bought_ml is not None:
            facts.append(f"{self.page.wording.volume(row.bought_ml)} bought")
        if row.price is not None:
            facts.append(f"paid {self.page.wording.money(row.price)}")
        if row.origin:
            facts.append(f"origin: {safe(row.origin)}")
        if row.lot:
            facts.append(f"lot {safe(row.lot)}")
        if row.bought_on is not None:
            facts.append(f"bought {self.page.wording.day(row.bought_on)}")
        note = safe(row.note) or "Press enter to see every jar and bottle it went into."
        return words_about(row.name, " · ".join(facts), note)

    def form(self, row: SpiritView | None) -> Dialog[Any]:
        """The form of a new or chosen spirit."""
        return SpiritDialog(self.keeper, row)

    def remove(self, row: SpiritView) -> None:
        """Delete it, where it was never poured."""
        remove_spirit(self.keeper, row.spirit_id)


class ShelvesPart(CupboardTab[ShelfRow]):
    """Shelves, in the order they are drawn."""

    title = "Shelves"
    columns = (Column("Shelf", share=2), Column("Note", share=3), Column("Jars", 5, is_right=True))
    hint = (
        "There are no shelves yet. Press n to add one by the name you call it.\n\nFilling your "
        "first jar adds one automatically."
    )

    def rows(self) -> Sequence[ShelfRow]:
        """The shelves from the top."""
        return shelf_rows(self.keeper)

    def key(self, row: ShelfRow) -> object:
        """The shelf's id."""
        return row.shelf_id

    def cells(self, row: ShelfRow) -> tuple[Cell, ...]:
        """Name, note, jars."""
        return (Cell(row.name, "strong"), Cell(row.note), Cell(str(row.jars or "none")))

    def words(self, row: ShelfRow) -> tuple[str, ...]:
        """Name and note."""
        return (row.name, row.note)

    def about(self, row: ShelfRow) -> Text:
        """Jars and note."""
        jars = how_many(row.jars, "steeping jar") if row.jars else "no steeping jars"
        return words_about(
            row.name, jars, safe(row.note) or "Press - to move it up, + to move it down."
        )

    def form(self, row: ShelfRow | None) -> Dialog[Any]:
        """The form of a new or chosen shelf."""
        return ShelfDialog(self.keeper, row)

    def remove(self, row: ShelfRow) -> None:
        """Delete it, where no jar was ever on it."""
        remove_shelf(self.keeper, row.shelf_id)


class SizesPart(CupboardTab[SizeView]):
    """Bottle sizes, with how many are empty."""

    title = "Bottle sizes"
    columns = (
        Column("Size", 12, is_right=True),
        Column("Empty bottles", 14, is_right=True),
        Column(""),
    )
    hint = (
        "There are no bottle sizes yet. Press n to add the sizes you fill.\n\nStraining then "
        "suggests bottles of these sizes, as many as you have empty."
    )

    def rows(self) -> Sequence[SizeView]:
        """The sizes, largest first."""
        return bottle_sizes(self.keeper)

    def key(self, row: SizeView) -> object:
        """The size in mL, which no two rows share."""
        return row.size_ml

    def cells(self, row: SizeView) -> tuple[Cell, ...]:
        """Size and empties."""
        empties = "not counted" if row.empties is None else str(row.empties or "none")
        size = self.page.wording.volume(row.size_ml)
        return (Cell(size, "strong"), Cell(empties, "" if row.empties else "quiet"), Cell(""))

    def words(self, row: SizeView) -> tuple[str, ...]:
        """The size as shown."""
        return (self.page.wording.volume(row.size_ml),)

    def about(self, row: SizeView) -> Text:
        """How the count is kept."""
        return Text("Bottling updates this count. Press e to correct it.")

    def form(self, row: SizeView | None) -> Dialog[Any]:
        """The form of a new or chosen size."""
        return SizeDialog(self.keeper, row)

    def remove(self, row: SizeView) -> None:
        """Delete this size."""
        drop_bottle_size(self.keeper, row.size_id)


PARTS: tuple[type[CupboardTab[Any]], ...] = (
    SpiritsPart,
    HerbsPart,
    ShelvesPart,
    SizesPart,
    LiquidsPart,
    StorePart,
    SettingsPart,
)
