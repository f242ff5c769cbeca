"""The bottles: the stock by herb, what is left of it, and what is done with it."""

from collections import Counter
from itertools import groupby

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.print_log import OldLabel, old_labels
from stillroom.keeping.bottles.status import UNUSABLE, waits
from stillroom.keeping.bottles.stock import first_to_expire
from stillroom.keeping.bottles.stock_outlook import stock_outlook
from stillroom.keeping.bottles.stock_views import HerbOutlook
from stillroom.keeping.bottles.tinctures import unbottled
from stillroom.keeping.correcting.kinds import Start
from stillroom.keeping.correcting.starting import of_stock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.quantities import how_many
from stillroom.screens.bottles.dialogs import DrawDialog
from stillroom.screens.bottles.keys import BottleKeys
from stillroom.screens.bottles.stock_list import (
    STOCK_COLUMNS,
    Line,
    about_bottle,
    age_of,
    lasts,
    stock_cells,
)
from stillroom.screens.kit.columns import Cell, Heading
from stillroom.screens.kit.list_page import as_sought
from stillroom.screens.kit.table import Table
from stillroom.screens.kit.text import safe

NONE_YET = (
    "There are no bottles yet. Press 1, then s on a jar, to strain and bottle it.\n\n"
    "Its bottles are listed here with their strength, their dates and every drop in or out."
)
OLD_LABEL = "old label"
"""The mark of a bottle whose label is to be printed again."""
NONE_LEFT = "All bottles are empty. Press e to show them."
NONE_FOUND = "No bottle matches. Press esc to show all, or e to include empty ones."


class BottlesPage(BottleKeys):
    """The bottles in stock."""

    HELP = (
        "The bottles by herb, oldest batch first, with what is left in each. A bottle is marked "
        "past after its keep-until date, soon if that date is near, and old label if its label "
        "would now read differently: press L to print it again. Mark several bottles with "
        "space to print their labels or blend them. Tinctures still to be bottled are at the top: "
        "press enter on one to bottle it."
    )
    FIND_HINT = "herb, code, place, part; also past, soon, low or old label"
    PAPER = "stock"
    BINDINGS = [
        Binding("space", "mark", "Mark", id="bottles.mark",
                tooltip="Mark this bottle for labels or a blend"),
        Binding("b", "blend", "Blend", id="bottles.blend",
                tooltip="Blend the marked bottles, or make up a formula"),
        Binding("D", "draw_by_herb", "Draw by herb", show=False, id="bottles.draw_by_herb",
                tooltip="Draw from the bottle of this herb that expires first"),
        Binding("t", "thin", "Thin", show=False, id="bottles.thin",
                tooltip="Bring this bottle or batch to a strength with water or spirit"),
        Binding("j", "join", "Join", show=False, id="bottles.join",
                tooltip="Join marked bottles, and batches to be bottled, into one batch"),
        Binding("y", "lose", "Loss", show=False, id="bottles.lose",
                tooltip="Record what was lost of a batch before bottling"),
        Binding("s", "stock_take", "Stock-take", id="bottles.stock_take",
                tooltip="Check the bottles of one place against the record"),
        Binding("L", "old_labels", "Old labels", id="bottles.old_labels",
                tooltip="Print labels again whose text has changed, or dismiss them"),
        Binding("e", "empties", "Empty ones", id="bottles.empties",
                tooltip="Show or hide empty bottles"),
    ]  # fmt: skip

    def __init__(self, keeper: Keeper) -> None:
        super().__init__(keeper)
        self._shows_empties = False
        self._bottles: list[BottleRow] = []
        self._waiting: list[TinctureView] = []
        self._outlooks: dict[str, HerbOutlook] = {}
        self._old_labels: dict[int, OldLabel] = {}
        """By bottle, the labels whose text has changed since they were printed."""
        self._texts: dict[int, str] = {}
        """What can be found of each bottle, made when first sought."""

    NEED_CHOSEN = BottleKeys.NEED_CHOSEN | {
        "mark",
        "blend",
        "draw_by_herb",
        "stock_take",
        "thin",
        "join",
        "lose",
    }

    def compose_list(self) -> ComposeResult:
        """The list of bottles."""
        yield Table[Line](
            STOCK_COLUMNS, self._cells, _key,
            is_plain=self.host.is_plain, id="stock", when_chosen=self._tell,
        )  # fmt: skip

    @property
    def stock(self) -> Table[Line]:
        """The table of bottles."""
        return self.query_one("#stock", Table)

    def read(self) -> None:
        """Read the stock."""
        self._bottles = bottle_rows(self.keeper, empties=self._shows_empties)
        self._texts.clear()
        self._waiting = unbottled(self.keeper)
        self._old_labels = {old.bottle.bottle_id: old for old in old_labels(self.keeper)}
        self._outlooks = {outlook.herb: outlook for outlook in stock_outlook(self.keeper)}
        self.show_rows()

    def show_rows(self) -> None:
        """Show the lines that match the words."""
        lines: list[Line | Heading] = []
        waiting = [t for t in self._waiting if self.matches(t.name, t.code, "waiting to bottle")]
        if waiting:
            lines += [Heading("To be bottled", "press enter to bottle"), *waiting]
        found = [row for row in self._bottles if self._passes(row)]
        for herb, group in groupby(found, key=lambda row: row.herb):
            rows = list(group)
            lines += [self._heading(herb, rows), *rows]
        lines += self._used_up({row.herb for row in self._bottles})
        none = NONE_LEFT if self._outlooks else NONE_YET
        self.stock.show(lines, NONE_FOUND if self.sought else none)
        self.offer(has_chosen=self.stock.selected is not None)
        self._show_head()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to show empty bottles, and to find, only once there has been a bottle."""
        if action in {"empties", "find"} and not (self._bottles or self._outlooks):
            return False
        if action == "old_labels" and not self._old_labels:
            return False
        return super().check_action(action, parameters)

    def _used_up(self, in_stock: set[str]) -> list[Heading]:
        """Herbs that were used in the last year and of which nothing is left."""
        return [
            Heading(
                herb,
                f"none left · {self.wording.volume(outlook.went_out_ml)} used a year",
                "warning",
            )
            for herb, outlook in self._outlooks.items()
            if herb not in in_stock and outlook.went_out_ml and self.matches(herb, "low")
        ]

    def _passes(self, row: BottleRow) -> bool:
        if not self.sought:
            return True
        if row.bottle_id not in self._texts:
            self._texts[row.bottle_id] = as_sought(
                row.herb, row.name, row.botanical, row.code, row.part, row.condition, row.place,
                age_of(row.keep_until, self.keeper.today), "low" if self._is_low(row.herb) else "",
                self._status_mark(row), OLD_LABEL if row.bottle_id in self._old_labels else "",
            )  # fmt: skip
        return self.matches_folded(self._texts[row.bottle_id])

    def _is_low(self, herb: str) -> bool:
        return herb in self._outlooks and self._outlooks[herb].is_low

    def _heading(self, herb: str, rows: list[BottleRow]) -> Heading:
        count = how_many(len(rows), "bottle")
        left = self.wording.volume(sum(row.left_ml for row in rows))
        facts = [f"{count}, {left}"]
        outlook = self._outlooks.get(herb)
        if outlook is not None and outlook.went_out_ml and not self.sought:
            facts.append(f"{self.wording.volume(outlook.went_out_ml)} used a year")
            if how_long := lasts(outlook.runs_out_on, rows, self.keeper.today, self.wording):
                facts.append(f"{'LOW, ' if outlook.is_low else ''}{how_long}")
        return Heading(herb, " · ".join(facts), "warning" if self._is_low(herb) else "heading-note")

    def _show_head(self) -> None:
        held = [row for row in self._bottles if row.left_ml > EMPTY_ML]
        facts = [how_many(len(held), "bottle")]
        if held:
            facts.append(self.wording.volume(sum(row.left_ml for row in held)))
        ages = [age_of(row.keep_until, self.keeper.today) for row in held]
        if past := ages.count("past"):
            facts.append(f"{past} past")
        if soon := ages.count("soon"):
            facts.append(f"{soon} soon")
        if low := sum(outlook.is_low for outlook in self._outlooks.values()):
            facts.append(f"{low} low")
        if self._waiting:
            facts.append(f"{len(self._waiting)} to bottle")
        marks = Counter(filter(None, map(self._status_mark, held)))
        facts += [f"{count} {mark}" for mark, count in marks.items()]
        if self._old_labels:
            facts.append(how_many(len(self._old_labels), OLD_LABEL))
        if self._shows_empties:
            facts.append("with empty ones")
        if marked := len(self._marked()):
            facts.append(f"{marked} marked")
        self.head(Text(" · ".join(facts), style="bold"))

    def _status_mark(self, row: BottleRow) -> str:
        """Whether its batch waits, was rejected or withdrawn; blank where it may be used."""
        is_marked = row.status in UNUSABLE or waits(self.keeper, row)
        return str(row.status) if is_marked else ""

    def _cells(self, line: Line) -> tuple[Cell, ...]:
        part = self._part(line) if isinstance(line, BottleRow) else Cell("")
        return stock_cells(line, part, self.keeper.today, self.wording)

    def _part(self, row: BottleRow) -> Cell:
        part = f"{row.part}, {row.condition}"
        if mark := self._status_mark(row):
            return Cell(f"{mark}: {part}", "problem" if row.status in UNUSABLE else "warning")
        is_old = row.bottle_id in self._old_labels
        return Cell(f"{OLD_LABEL}: {part}", "warning") if is_old else Cell(part)

    def _tell(self) -> None:
        line = self.stock.selected
        if line is None:
            self.about("")
        elif isinstance(line, TinctureView):
            loose = self.wording.volume(line.loose_ml)
            made = self.wording.day_known(line.made_on, line.made_by)
            self.about(
                Text.assemble(
                    (safe(line.name), "bold"),
                    f" · batch {line.code}\n{loose} made {made} "
                    "is still to be bottled: press enter.",
                )
            )
        else:
            self.about(about_bottle(line, self.wording))

    def chosen_bottle(self) -> BottleRow | None:
        """The bottle at the cursor."""
        line = self.stock.selected
        if isinstance(line, BottleRow):
            return line
        unbottled = "This is still to be bottled. Press enter to bottle it."
        self.host.complain(unbottled if line else "Choose a bottle first.")
        return None

    def to_correct(self) -> Start | None:
        """The bottle at the cursor, or what a tincture to be bottled was made from."""
        line = self.stock.selected
        return of_stock(self.keeper, line) if line else None

    def chosen_bottles(self) -> list[BottleRow]:
        """The marked bottles, or else the one at the cursor."""
        return self._marked() or super().chosen_bottles()

    def _marked(self) -> list[BottleRow]:
        return [row for row in self._bottles if _key(row) in self.stock.marked]

    @work
    async def action_thin(self) -> None:
        """Open the form that brings it to a strength."""
        from stillroom.screens.bottles.batch_dialogs import Offered, ThinDialog

        line = self.stock.selected
        if line and (
            made := await self.app.push_screen_wait(ThinDialog(self.keeper, Offered.of(line)))
        ):
            self.host.changed(f"{made.code} {made.name} is to be bottled.")

    @work
    async def action_join(self) -> None:
        """Open the form that makes one batch of several."""
        from stillroom.screens.bottles.batch_dialogs import JoinDialog, Offered

        line = self.stock.selected
        chosen: list[Line] = [*self._marked()] or ([line] if line else [])
        if line and line not in chosen:
            chosen.append(line)
        others = [each for each in self._waiting if each not in chosen]
        form = JoinDialog(self.keeper, [*map(Offered.of, chosen)], [*map(Offered.of, others)])
        if made := await self.app.push_screen_wait(form):
            self.stock.unmark_all()
            self.host.changed(f"{made.code} {made.name} is to be bottled.")

    @work
    async def action_lose(self) -> None:
        """Open the form for a loss of a batch; of a bottle it is drawn."""
        from stillroom.screens.bottles.batch_dialogs import LossDialog

        line = self.stock.selected
        if isinstance(line, TinctureView):
            if await self.app.push_screen_wait(LossDialog(self.keeper, line)):
                self.host.changed()
        elif line:
            self.action_draw()

    def action_mark(self) -> None:
        """Mark the bottle, or unmark it, and go on."""
        if self.chosen_bottle():
            self.stock.mark()
            self._show_head()

    def action_stop_finding(self) -> None:
        """Show every bottle again; where all show, remove the marks."""
        if not self.sought:
            self.stock.unmark_all()
            self._show_head()
        super().action_stop_finding()

    def action_empties(self) -> None:
        """Show empty bottles too, or not."""
        self._shows_empties = not self._shows_empties
        self.attempt(self.read)

    @on(Table.Opened)
    def _open(self) -> None:
        line = self.stock.selected
        if isinstance(line, BottleRow):
            from stillroom.screens.bottles.bottle import BottlePage

            self.open_over(BottlePage(self.keeper, line.bottle_id))
        elif line is not None:
            self._bottle_up(line.tincture_id)

    @work
    async def _bottle_up(self, tincture_id: int) -> None:
        from stillroom.screens.bottles.bottling import BottlingDialog

        if await self.app.push_screen_wait(BottlingDialog(self.keeper, tincture_id)):
            self.host.changed()

    @work
    async def action_blend(self) -> None:
        """Blend the marked bottles, or make a formula again; then bottle it."""
        from stillroom.screens.bottles.blend import blend_bottles

        if await blend_bottles(self.host, self.keeper, self._marked()):
            self.stock.unmark_all()
            self._show_head()

    @work
    async def action_draw_by_herb(self) -> None:
        """Open the form that draws, for the bottle of the chosen herb that expires first."""
        chosen = self.chosen_bottle()
        if chosen is None:
            return
        of_herb = [row for row in self._bottles if row.herb == chosen.herb]
        first = first_to_expire(self.keeper, of_herb)
        if first is None:
            self.host.complain(f"No bottle of {chosen.herb} may be drawn from.")
        elif await self.app.push_screen_wait(DrawDialog(self.keeper, first)):
            self.host.changed()

    @work
    async def action_old_labels(self) -> None:
        """Print the labels again whose text has changed, or dismiss them."""
        from stillroom.screens.papers.old_labels import OldLabelsDialog

        old = list(self._old_labels.values())
        marked = [self._old_labels.get(row.bottle_id) for row in self._marked()]
        old = [each for each in marked if each] or old
        chosen = await self.app.push_screen_wait(OldLabelsDialog(self.keeper, old))
        if chosen == "print":
            await self.print_labels([each.bottle for each in old])
        elif chosen:
            self.host.changed(chosen)

    @work
    async def action_stock_take(self) -> None:
        """Check the bottles of one place, proposing that of the chosen bottle."""
        from stillroom.screens.bottles.stock_take import take_stock

        line = self.stock.selected
        start = line.place if isinstance(line, BottleRow) else None
        await take_stock(self.host, self.keeper, start)


def _key(line: Line) -> object:
    if isinstance(line, TinctureView):
        return ("tincture", line.tincture_id)
    return ("bottle", line.bottle_id)
