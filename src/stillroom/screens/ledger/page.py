"""The ledger: everything that happened, newest first, to be searched and carried away."""

from datetime import datetime, timedelta
from itertools import groupby

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.closing import close_month, closings, read_month
from stillroom.keeping.correcting.kinds import Start
from stillroom.keeping.correcting.starting import of_entry
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, event_kinds, ledger
from stillroom.keeping.ledger_views import EventView
from stillroom.keeping.wording import wording
from stillroom.screens.kit.columns import Cell, Column, Heading
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry
from stillroom.screens.kit.list_page import ListPage
from stillroom.screens.kit.table import Table
from stillroom.screens.kit.text import safe

AT_A_TIME = 1000
"""Lines read at once; going to the last of them reads as many again."""

_WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

_ROOMY = 110
"""Columns from which on what became of an entry is in its row, too."""
_COLUMNS = (
    Column("Time", 5),
    Column("Kind", 13),
    Column("About", share=2),
    Column("What", share=3),
    Column("By", 4),
    Column("Later", from_width=_ROOMY, share=3),
)

NOTHING_YET = (
    "There are no entries yet. Press 1, then n to fill a jar.\n\n"
    "Everything you do with jars, bottles and the cupboard is recorded here automatically."
)
NOTHING_FOUND = "No entry matches. Press esc to show all."


class LedgerPage(ListPage):
    """What was done, by day."""

    HELP = (
        "Everything that was done, newest first, with the time on this computer's clock and the "
        "initials of who did it. An entry that was undone or corrected stays, struck through and "
        "marked, with the day, the initials and the reason. Press / to find words, f to show one "
        "kind, enter to open the jar or bottle an entry is about, C to correct it, w to write the "
        "entries to a CSV file, K to close a month that is over."
    )
    FIND_HINT = "words, code, herb or initials"
    BINDINGS = [
        Binding("f", "next_kind(1)", "Kind", id="ledger.kind",
                tooltip="Show only one kind of entry, each in turn"),
        Binding("F", "next_kind(-1)", "Previous kind", show=False, id="ledger.kind_before",
                tooltip="Go back to the previous kind of entry"),
        Binding("K", "close_month", "Close a month", show=False, id="ledger.close",
                tooltip="Close a month: changing it then needs a reason"),
        Binding("N", "app.forget", "Remove a name", show=False, id="ledger.forget",
                tooltip="Remove a person's name from the shelf for good"),
        Binding("w", "write_file", "Write file", id="ledger.write",
                tooltip="Write the entries on this page to a CSV file"),
    ]  # fmt: skip

    def __init__(self, keeper: Keeper) -> None:
        super().__init__(keeper)
        self._kind = ""
        self._limit = AT_A_TIME
        self._events: list[EventView] = []

    NEED_CHOSEN = frozenset({"write_file"})
    CORRECTS = True

    def compose_list(self) -> ComposeResult:
        """The entries."""
        yield Table[EventView](
            _COLUMNS,
            self._cells,
            lambda event: event.event_id,
            is_plain=self.host.is_plain,
            id="lines",
            when_chosen=self._tell,
        )

    def _cells(self, event: EventView) -> tuple[Cell, ...]:
        local = datetime.fromisoformat(event.at).astimezone()
        time, maker = Cell(f"{local:%H:%M}", "quiet"), Cell(event.maker, "quiet")
        if not event.mark:
            kind = Cell(event.kind, "strong")
            return time, kind, Cell(event.subject), Cell(event.text), maker, Cell("")
        kind, subject = Cell(event.kind, "struck"), Cell(event.subject, "struck")
        text = Cell(event.text, "struck", lead=f"{event.mark} ", lead_ink="strong")
        return time, kind, subject, text, maker, Cell(self.wording.later(event))

    @property
    def lines(self) -> Table[EventView]:
        """The table of entries."""
        return self.query_one("#lines", Table)

    @property
    def _filter(self) -> LedgerFilter:
        return LedgerFilter(text=self.sought, kind=self._kind)

    def read(self) -> None:
        """Read the newest lines that pass the filter."""
        self._events = ledger(self.keeper, self._filter, limit=self._limit)
        by_day: list[EventView | Heading] = []
        for day, events in groupby(self._events, key=lambda event: event.day):
            by_day.append(Heading(f"{_WEEKDAYS[day.weekday()]} {self.wording.day(day)}"))
            by_day.extend(events)
        is_filtered = bool(self._kind or self.sought)
        self.lines.show(by_day, NOTHING_FOUND if is_filtered else NOTHING_YET)
        self.offer(has_chosen=self.lines.selected is not None)
        count = f"{len(self._events)}{'+' if self._is_cut else ''}"
        shown = f"{count} {'entry' if count == '1' else 'entries'}"
        kind = self._kind or "all kinds"
        self.head(Text(f"Ledger · {kind} · {shown}", style="bold"))

    @property
    def _is_cut(self) -> bool:
        """Whether there may be older lines than those read."""
        return len(self._events) == self._limit

    def show_rows(self) -> None:
        """Show what passes the words."""
        self._limit = AT_A_TIME
        self.attempt(self.read)

    def _tell(self) -> None:
        event = self.lines.selected
        if event is None:
            self.about("")
            return
        if self._is_cut and event is self._events[-1]:
            self._limit += AT_A_TIME
            self.attempt(self.read)
        by = f" by {event.maker}" if event.maker else ""
        self.about(
            Text.assemble(
                (safe(f"{event.kind}{by}"), "bold"),
                f" · {self.wording.day(event.day)} · ",
                safe(event.subject),
                "\n",
                safe(event.text) or "no details",
                (f"\n{safe(later)}" if (later := self.wording.later(event)) else "", "bold"),
            )
        )

    def to_correct(self) -> Start | None:
        """What the entry at the cursor is about, and the part of it that it wrote."""
        event = self.lines.selected
        return of_entry(self.keeper, event) if event else None

    @on(Table.Opened)
    def _open(self) -> None:
        event = self.lines.selected
        if event is None:
            return
        bottle_id = event.bottle_id
        if bottle_id is None and event.jar_id is None:
            bottle_id = self._a_bottle_of(event.tincture_id)
        if bottle_id is not None:
            self.host.open_bottle(bottle_id)
        elif event.jar_id is not None:
            self.host.open_jar(event.jar_id)
        else:
            self.host.say("This entry isn't about one jar or bottle.")

    def _a_bottle_of(self, tincture_id: int | None) -> int | None:
        """The first bottle of a tincture, whose page shows the whole batch."""
        bottles = bottle_rows(self.keeper, empties=True)
        return next((b.bottle_id for b in bottles if b.tincture_id == tincture_id), None)

    def action_next_kind(self, step: int) -> None:
        """The next kind of line, and every kind again after the last."""
        kinds = ["", *event_kinds(self.keeper)]
        here = kinds.index(self._kind) if self._kind in kinds else 0
        self._kind = kinds[(here + step) % len(kinds)]
        self.show_rows()

    def action_stop_finding(self) -> None:
        """Show every entry of every kind."""
        self._kind = ""
        super().action_stop_finding()

    @work
    async def action_write_file(self) -> None:
        """Write all entries that pass the filter to a file."""
        from stillroom.screens.kit.saving import SaveDialog

        wanted = self._filter
        kind = f"of the kind {wanted.kind}" if wanted.kind else "of all kinds"
        words = f" with “{safe(wanted.text)}”" if wanted.text else ""
        preview = f"Entries {kind}{words}, newest first, as a CSV table for a spreadsheet."
        saved = await self.app.push_screen_wait(
            SaveDialog("Write the ledger", preview, "ledger.csv", lambda: self._as_csv(wanted))
        )
        if saved:
            self.host.say(f"Written: {saved}")

    def _as_csv(self, wanted: LedgerFilter) -> bytes:
        from stillroom.paper.ledger_csv import ledger_csv

        return ledger_csv(ledger(self.keeper, wanted, limit=-1))

    @work
    async def action_close_month(self) -> None:
        """Open the form that closes a month."""
        if said := await self.app.push_screen_wait(CloseMonthDialog(self.keeper)):
            self.host.changed(said)


class CloseMonthDialog(Dialog[str]):
    """Closes a month that is over."""

    ACT = "Close month"
    TITLE_TEXT = "Close a month"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    def compose_form(self) -> ComposeResult:
        """Which month; the last one is proposed."""
        last = self.keeper.today.replace(day=1) - timedelta(days=1)
        yield Static(
            "What was done in a closed month can't be undone any more. Correcting it, or adding an "
            "entry dated in it, needs a reason.",
            markup=False,
        )
        yield Entry("Month", read_month, f"{last:%Y-%m}", id="month", hint="such as 2026-10")
        for closing in closings(self.keeper)[-6:]:
            what = wording(self.keeper).month(closing.month) if closing.month else closing.batch
            closed = f"{what} closed {wording(self.keeper).day(closing.day)}, {closing.maker}"
            yield Static(closed, classes="quiet", markup=False)

    def keep(self) -> str:
        """Close the month."""
        return f"Closed {close_month(self.keeper, self.query_one('#month', Entry).needed())}"
