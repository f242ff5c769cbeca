"""Liquids of the cupboard that are no spirits: the list, and the form of one."""

from collections.abc import Sequence
from typing import Any

from rich.text import Text

from stillroom.keeping.cupboard.liquids import (
    LiquidView,
    liquids,
    remove_liquid,
)
from stillroom.keeping.cupboard.twins import liquid_words
from stillroom.reckoning.other_liquids import NO_CONTRACTION
from stillroom.screens.buying.liquid import LiquidDialog
from stillroom.screens.cupboard.part import BAR, CupboardTab, words_about
from stillroom.screens.kit.columns import Cell, Column, gauge
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.text import safe


class LiquidsPart(CupboardTab[LiquidView]):
    """Glycerine, vinegar, honey and the like, with what is left of them."""

    title = "Liquids"
    _kept: Sequence[LiquidView] = ()
    columns = (
        Column("Liquid"),
        Column("Kind", 10),
        Column("", BAR, is_bar=True),
        Column("Left", 11, is_right=True),
        Column("Density", 11, is_right=True),
        Column("Bought", 10, is_right=True, from_width=96),
        Column("Bought on", 11, is_right=True, from_width=96),
    )
    hint = (
        "There are no other liquids yet. Press n to add glycerine, vinegar, honey, syrup or "
        "juice.\n\nThey can be poured on herb and into a blend."
    )

    def rows(self) -> Sequence[LiquidView]:
        """The liquids, newest purchase first."""
        self._kept = liquids(self.keeper)
        return self._kept

    def key(self, row: LiquidView) -> object:
        """The liquid's id."""
        return row.liquid_id

    def cells(self, row: LiquidView) -> tuple[Cell, ...]:
        """Name, kind, what is left, density."""
        said = self.page.wording
        share, left = None, Cell("not counted", "quiet")
        if row.left_ml is not None and row.bought_ml:
            left_ml = max(0.0, row.left_ml)
            share = left_ml / row.bought_ml
            left = Cell(said.volume(left_ml), "strong")
        return (
            Cell(liquid_words(row, self._kept, said), "strong", is_marked=True),
            Cell(row.kind),
            gauge(share, BAR),
            left,
            Cell(said.density(row.density_g_per_ml)),
            Cell(said.volume(row.bought_ml)),
            Cell(said.day(row.bought_on) if row.bought_on else ""),
        )

    def words(self, row: LiquidView) -> tuple[str, ...]:
        """Name, kind, seller, lot, code, note."""
        return (row.name, row.kind, row.origin, row.lot, row.code, row.note)

    def about(self, row: LiquidView) -> Text:
        """Density and its source, shares, seller and lot."""
        said = self.page.wording
        facts = [said.density(row.density_g_per_ml)]
        if row.density_source:
            facts.append(safe(row.density_source))
        if row.glycerol is not None:
            facts.append(f"glycerol {said.percent(row.glycerol)}")
        if row.acidity is not None:
            facts.append(f"acid {said.percent(row.acidity)}")
        rest = [safe(each) for each in (row.origin, row.lot, " ".join(row.note.split())) if each]
        return words_about(row.name, " · ".join(facts), " · ".join(rest) or NO_CONTRACTION)

    def form(self, row: LiquidView | None) -> Dialog[Any]:
        """The form of a new or chosen liquid."""
        return LiquidDialog(self.keeper, row)

    def remove(self, row: LiquidView) -> None:
        """Delete it, where it was never used."""
        remove_liquid(self.keeper, row.liquid_id)
