"""One bottle in full: its facts, what went in and out, and where it came from."""

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.keeping.bottles.bottle_views import bottle_view
from stillroom.keeping.bottles.status import UNUSABLE
from stillroom.keeping.contents import herb_equivalents
from stillroom.keeping.correcting.kinds import Start, Subject, SubjectKind
from stillroom.keeping.correcting.starting import of_entry, of_node
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import struck_from_bottle
from stillroom.keeping.ledger_views import EventView
from stillroom.keeping.trace.ancestry import trace_bottle
from stillroom.keeping.views import BottleRow, BottleView, MovementView
from stillroom.keeping.wording import wording
from stillroom.keeping.words import for_whom
from stillroom.reckoning.states import MovementKind
from stillroom.screens.bottles.keys import BottleKeys
from stillroom.screens.kit.columns import Cell, Column, Heading, bar
from stillroom.screens.kit.list_page import OverPage
from stillroom.screens.kit.table import Table
from stillroom.screens.kit.text import safe
from stillroom.screens.trace.page import TreeLine, about_node, node_words, open_node, tree_lines

Line = MovementView | EventView | TreeLine


class BottlePage(BottleKeys, OverPage):
    """Everything about one bottle."""

    HELP = (
        "What this bottle holds, everything that went in or out, what was undone or corrected, and "
        "where its liquid came from, down to each gathering and each spirit. Press enter on a jar "
        "or bottle to open it, on a herb or spirit to see everything else it went into."
    )
    FIND_HINT = "kind, name, note, code or herb"
    BINDINGS = [
        Binding("r", "batch_record", "Batch record", id="bottle.record",
                tooltip="Show the record of its batch, and write it to a PDF file"),
        Binding("f", "keep_formula", "Save formula", id="bottle.formula",
                tooltip="Save what went into this blend as a formula to make again"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    BottlePage > #facts { height: auto; max-height: 50%; padding: 0 1; margin-bottom: 1; }
    """

    def __init__(self, keeper: Keeper, bottle_id: int) -> None:
        super().__init__(keeper)
        self.bottle_id = bottle_id
        self._bottle: BottleView | None = None

    def compose_list(self) -> ComposeResult:
        """Facts, then movements and tree."""
        columns = (
            Column("", share=5),
            Column("", share=7),
            Column("Moved", 11, is_right=True),
            Column("Left", 10, is_right=True),
            Column("By", 5, from_width=96),
        )
        yield Static("", id="facts", markup=False)
        yield Table[Line](
            columns, self._cells, _key,
            is_plain=self.host.is_plain, id="history", when_chosen=self._tell,
        )  # fmt: skip

    @property
    def history(self) -> Table[Line]:
        """The table of movements and sources."""
        return self.query_one("#history", Table)

    def chosen_bottle(self) -> BottleRow | None:
        """The bottle that the page shows."""
        return self._bottle.row if self._bottle else None

    def to_correct(self) -> Start | None:
        """The movement, entry or source at the cursor, or else this bottle."""
        line = self.history.selected
        this = Subject(SubjectKind.BOTTLE, self.bottle_id)
        if isinstance(line, MovementView):
            is_fill = line.kind is MovementKind.FILL
            return this, None if is_fill else ("movement", line.movement_id)
        if isinstance(line, EventView):
            return of_entry(self.keeper, line)
        if line is not None:
            return of_node(self.keeper, line.node), None
        return this, None

    def read(self) -> None:
        """Read the bottle; where undo has removed it, go back."""
        view = self.attempt(lambda: bottle_view(self.keeper, self.bottle_id))
        self._bottle = view
        if view is None:
            self.action_back()
            return
        self.head(Text(f"{safe(view.row.name)} {view.row.code}", style="bold"))
        self.query_one("#facts", Static).update(self._facts(view))
        moves = [
            m for m in reversed(view.movements) if self.matches(m.kind, m.person, m.note, m.maker)
        ]
        struck = [
            event
            for event in struck_from_bottle(self.keeper, self.bottle_id)
            if self.matches(event.kind, event.text, event.maker, self.wording.later(event))
        ]
        tree = [
            line
            for line in tree_lines(trace_bottle(self.keeper, self.bottle_id))
            if self.matches(node_words(line.node), line.node.detail)
        ]
        lines: list[Line | Heading] = []
        if moves:
            lines += [Heading("In and out", "newest first"), *moves]
        if struck:
            lines += [Heading("Undone or corrected", "as entered, newest first"), *struck]
        if tree:
            lines += [Heading("Where it came from", "press enter to open"), *tree]
        self.history.show(lines, "Nothing matches. Press esc to show all.")
        self.refresh_bindings()

    def show_rows(self) -> None:
        """Show the lines that match the words."""
        self.attempt(self.read)

    def _facts(self, view: BottleView) -> Text:
        row, tincture = view.row, view.tincture
        held, whole = (self.wording.volume(ml) for ml in (row.left_ml, row.size_ml))
        text = Text()
        text.append(f"{bar(row.left_ml / row.size_ml, 20)} ")
        text.append(f"holds {held} of {whole}", "bold")
        text.append(f" · {safe(row.place) or 'no place given'}\n")
        named = [safe(row.botanical), safe(f"{row.part}, {row.condition}"), f"batch {row.batch}"]
        if row.status:
            named.append(row.status.upper() if row.status in UNUSABLE else str(row.status))
        text.append(" · ".join(filter(None, named)) + "\n")
        strength = self.wording.finished_percent(row) or "strength unknown"
        meaning = "all herb to all liquid poured" if tincture.is_blend else "herb to liquid poured"
        ratio = f"{self.wording.ratio(row.ratio)} {meaning}" if row.ratio else "ratio unknown"
        facts = [
            f"{strength} {row.strength_by if row.strength_abv is not None else ''}".strip(),
            ratio,
            f"made {self.wording.day_known(row.made_on, row.made_by)}",
            f"filled {self.wording.day(view.filled_on)}",
        ]
        text.append(" · ".join(facts) + "\n")
        if row.keep_until is None:
            text.append("No keep-until date.")
        elif row.is_past(self.keeper.today):
            text.append(f"! Past its keep-until date, {self.wording.day(row.keep_until)}.", "bold")
        else:
            text.append(f"Keep until {self.wording.day(row.keep_until)}.")
        stands_for = wording(self.keeper).stands_for(
            herb_equivalents(self.keeper, tincture.tincture_id)
        )
        if stands_for:
            text.append(f"\n{safe(stands_for)}")
        text.append(f"\nBatch cost {safe(self._cost(view))}")
        for caution in tincture.to_mind:
            text.append(f"\n! {safe(caution)}", "bold")
        if tincture.note:
            text.append(f"\n{safe(tincture.note)}", "italic")
        return text

    def _cost(self, view: BottleView) -> str:
        """Of the batch, of 100 mL and of what was filled in here; what has no price is named."""
        from stillroom.keeping.year.costs import cost_of_batch
        from stillroom.keeping.year.words import cost

        found = cost_of_batch(self.keeper, view.tincture.tincture_id)
        filled_ml = sum(m.volume_ml for m in view.movements if m.kind is MovementKind.FILL)
        here = f"; this bottle {self.wording.money(filled_ml * found.per_ml)}"
        return cost(found, self.wording) + (here if found.is_priced else "")

    def _cells(self, line: Line) -> tuple[Cell, ...]:
        if isinstance(line, MovementView):
            sign = "+" if line.volume_ml > 0 else "−"
            return (
                Cell(line.kind, "strong", lead=f"{self.wording.day(line.day):>11} "),
                Cell(for_whom(line.person, line.note)),
                Cell(f"{sign}{self.wording.volume(abs(line.volume_ml))}"),
                Cell(self.wording.volume(line.left_ml)),
                Cell(line.maker, "quiet"),
            )
        if isinstance(line, EventView):
            lead = f"{self.wording.day(line.day):>11} {line.mark} "
            entered = Cell(f"{line.kind} {line.text}", "struck", lead=lead, is_wide=True)
            return (entered, Cell(""), Cell(""), Cell(""), Cell(line.maker, "quiet"))
        left = self.wording.volume(line.node.left_ml or None)
        return (line.cell, Cell(""), Cell(""), Cell(left), Cell(""))

    def _tell(self) -> None:
        line = self.history.selected
        if isinstance(line, MovementView):
            by = f" by {safe(line.maker)}" if line.maker else ""
            said = safe(for_whom(line.person, line.note))
            self.about(f"{line.kind} on {self.wording.day(line.day)}{by}. {said}")
        elif isinstance(line, EventView):
            by = f" by {safe(line.maker)}" if line.maker else ""
            entered = f"{safe(line.kind)} on {self.wording.day(line.day)}{by}. {safe(line.text)}"
            self.about(f"{entered}\n{safe(self.wording.later(line))}")
        else:
            self.about(about_node(line.node) if line else "")

    @on(Table.Opened)
    def _open(self) -> None:
        line = self.history.selected
        if not isinstance(line, TreeLine) or line.node.bottle_id == self.bottle_id:
            return
        open_node(self, line.node)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only a blend has a formula."""
        if action == "keep_formula":
            return self._bottle is not None and self._bottle.tincture.is_blend
        return super().check_action(action, parameters)

    @work
    async def action_batch_record(self) -> None:
        """The record of its batch, as it will be printed."""
        from stillroom.screens.papers.paper_dialogs import batch_record_dialog

        if self._bottle is not None:
            tincture = self._bottle.tincture
            saved = await self.app.push_screen_wait(batch_record_dialog(self.keeper, tincture))
            if saved:
                self.host.say(f"Written: {saved}")

    @work
    async def action_keep_formula(self) -> None:
        """Open the form that saves what went into this blend."""
        from stillroom.keeping.bottles.formulas import formula_from_blend
        from stillroom.screens.bottles.formula_dialogs import SaveFormulaDialog

        if self._bottle is not None:
            tincture_id = self._bottle.tincture.tincture_id
            draft = self.attempt(lambda: formula_from_blend(self.keeper, tincture_id))
            form = SaveFormulaDialog(self.keeper, draft) if draft else None
            if form and (kept := await self.app.push_screen_wait(form)):
                self.host.changed(f"Saved the formula {kept.name}. On Bottles, b makes it again.")


def _key(line: Line) -> object:
    if isinstance(line, MovementView):
        return ("movement", line.movement_id)
    if isinstance(line, EventView):
        return ("entry", line.event_id)
    return ("tree", line.number)
