"""The herbs of the cupboard."""

from collections.abc import Sequence
from typing import Any

from rich.text import Text

from stillroom.keeping.cupboard.cupboard import herbs, remove_herb
from stillroom.keeping.cupboard.herb_history import herb_strainings
from stillroom.keeping.cupboard_views import HerbView
from stillroom.keeping.trace.recall import gatherings
from stillroom.quantities import how_many
from stillroom.screens.cupboard.dialogs import HerbDialog
from stillroom.screens.cupboard.part import CupboardTab, words_about
from stillroom.screens.kit.columns import Cell, Column
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.list_page import ListPage
from stillroom.screens.kit.text import safe

_SPARKS = "▁▂▃▄▅▆▇█"


class HerbsPart(CupboardTab[HerbView]):
    """Herbs, with your own cautions and yields."""

    title = "Herbs"
    columns = (
        Column("Herb", share=3),
        Column("Botanical name", share=3),
        Column("Jars", 5, is_right=True),
        Column("In bottles", 11, is_right=True),
        Column("Cautions", 8),
    )
    hint = (
        "There are no herbs yet. Press n to add one.\n\nA herb is also added automatically when "
        "you fill a jar with it. You can add its botanical name, and cautions of your own to print "
        "on its labels."
    )

    def __init__(self, page: ListPage) -> None:
        super().__init__(page)
        self._origins: dict[int, list[str]] = {}

    def rows(self) -> Sequence[HerbView]:
        """The herbs by name."""
        self._origins = {}
        for each in gatherings(self.keeper):
            self._origins.setdefault(each.herb_id, []).append(each.origin)
        return herbs(self.keeper)

    def key(self, row: HerbView) -> object:
        """The herb's id."""
        return row.herb_id

    def cells(self, row: HerbView) -> tuple[Cell, ...]:
        """Names, jars, stock, and whether there are cautions."""
        held = self.page.wording.volume(row.in_stock_ml) if row.in_stock_ml > 0 else "none"
        return (
            Cell(row.name, "strong"),
            Cell(row.botanical),
            Cell(str(row.jars)),
            Cell(held),
            Cell("yes" if row.cautions else ""),
        )

    def words(self, row: HerbView) -> tuple[str, ...]:
        """Names, cautions, note, and where or in which lots it was got."""
        origins = self._origins.get(row.herb_id, ())
        return (row.name, row.botanical, row.cautions, row.note, *origins)

    def about(self, row: HerbView) -> Text:
        """Yields, cautions, note."""
        text = words_about(row.name, safe(row.botanical), self._yields(row.herb_id))
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
            return "No yields yet: they are shown here once a weighed jar of it is strained."
        plot = "" if self.page.host.is_plain else f" {spark(known)}"
        mean, first, last = (
            self.page.wording.percent(value)
            for value in (sum(known) / len(known), known[0], known[-1])
        )
        count = how_many(len(known), "straining")
        return f"Yield{plot} first {first}, last {last}, mean of {count} {mean}."

    def form(self, row: HerbView | None) -> Dialog[Any]:
        """The form of a new or chosen herb."""
        return HerbDialog(self.keeper, row)

    def remove(self, row: HerbView) -> None:
        """Delete it, where no jar was filled with it."""
        remove_herb(self.keeper, row.herb_id)


def spark(values: Sequence[float]) -> str:
    """Shares in percent as columns on a scale from nothing to all; the last twenty of them.

    >>> spark([0, 50, 100])
    '▁▅█'
    """
    top = len(_SPARKS) - 1
    return "".join(_SPARKS[round(min(100.0, max(0.0, v)) / 100 * top)] for v in values[-20:])
