"""Where something went, or came from: trees in a list, and the page of a herb."""

from collections.abc import Callable
from dataclasses import dataclass

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.keeping.bottles.status import how_many_batches, made_with, withdraw
from stillroom.keeping.correcting.kinds import Start, Subject, SubjectKind
from stillroom.keeping.correcting.starting import of_node
from stillroom.keeping.cupboard.cupboard import herbs
from stillroom.keeping.cupboard.herb_history import HerbStraining, herb_strainings
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.recall import (
    gatherings,
    recall_gathering,
    recall_liquid,
    recall_lot,
    recall_spirit,
    source_name,
)
from stillroom.keeping.trace.views import Gathering, Node
from stillroom.keeping.wording import Wording
from stillroom.quantities import how_many
from stillroom.screens.kit.columns import Cell, Column, Heading, gauge
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, words
from stillroom.screens.kit.list_page import OverPage
from stillroom.screens.kit.page import Page
from stillroom.screens.kit.table import Table
from stillroom.screens.kit.text import safe

_BAR = 16


@dataclass(frozen=True)
class TreeLine:
    """One thing of a tree as a line of a list."""

    number: int
    lead: str
    """The branches that lead to it."""
    node: Node

    @property
    def cell(self) -> Cell:
        """The name and detail in one cell."""
        again = ", as above" if self.node.is_repeat else ""
        detail = f" · {self.node.detail}" if self.node.detail else ""
        return Cell(f"{node_words(self.node)}{detail}{again}", lead=self.lead, is_wide=True)


def tree_lines(root: Node) -> list[TreeLine]:
    """A tree from the top down, drawn with branches."""
    lines: list[TreeLine] = []
    waiting = [(root, "", "")]
    while waiting:
        node, lead, below = waiting.pop()
        lines.append(TreeLine(len(lines), lead, node))
        last = len(node.children) - 1
        for at, child in reversed(list(enumerate(node.children))):
            branch, rest = ("└ ", "  ") if at == last else ("├ ", "│ ")
            waiting.append((child, below + branch, below + rest))
    return lines


def node_words(node: Node) -> str:
    """What a thing in a tree is, with its name."""
    if node.kind == "jar" or node.kind == node.label.casefold():
        return node.label
    return f"{node.kind} {node.label}"


def open_node(page: Page, node: Node) -> None:
    """Open the page of a thing in a tree over this one, where it has a page."""
    keeper = page.keeper
    if node.bottle_id is not None:
        page.host.open_bottle(node.bottle_id)
    elif node.jar_id is not None:
        page.host.open_jar(node.jar_id)
    elif node.spirit_id is not None:
        page.open_over(RecallPage(keeper, node.label, _spirit_recall(keeper, node.spirit_id)))
    elif node.liquid_id is not None:
        page.open_over(liquid_page(keeper, node.label, node.liquid_id))
    elif node.lot_id is not None:
        page.open_over(lot_page(keeper, node.label, node.lot_id))
    elif node.herb_id is not None:
        herb_id, day, origin = node.herb_id, node.gathered_on, node.origin
        page.open_over(
            RecallPage(keeper, node.label, lambda: recall_gathering(keeper, herb_id, day, origin))
        )


def _spirit_recall(keeper: Keeper, spirit_id: int) -> Callable[[], Node]:
    return lambda: recall_spirit(keeper, spirit_id)


def spirit_page(keeper: Keeper, spirit: SpiritView) -> "RecallPage":
    """The recall list of a spirit."""
    return RecallPage(keeper, spirit.name, _spirit_recall(keeper, spirit.spirit_id))


def liquid_page(keeper: Keeper, name: str, liquid_id: int) -> "RecallPage":
    """The recall list of another liquid of the cupboard."""
    return RecallPage(keeper, name, lambda: recall_liquid(keeper, liquid_id))


def lot_page(keeper: Keeper, name: str, lot_id: int) -> "RecallPage":
    """The recall list of a lot of herb."""
    return RecallPage(keeper, name, lambda: recall_lot(keeper, lot_id))


class RecallPage(OverPage):
    """Everything that a spirit, liquid, lot or gathering went into, and what is left where."""

    HELP = (
        "Every jar, tincture, bottle and blend that this went into, as a tree. The column Left "
        "shows what each holds now, and From this how much of that came from here: for a liquid "
        "its own volume, for a herb the tincture made with it. Press enter to open a jar or "
        "bottle, W to withdraw every batch of the tree. To print the list of what was withdrawn, "
        "press P."
    )
    FIND_HINT = "code, place or kind"
    BINDINGS = [
        Binding("W", "withdraw", "Withdraw", id="recall.withdraw",
                tooltip="Withdraw every batch that this went into"),
    ]  # fmt: skip

    def __init__(self, keeper: Keeper, name: str, make: Callable[[], Node]) -> None:
        super().__init__(keeper)
        self._named = name
        self._make = make

    def compose_list(self) -> ComposeResult:
        """The tree."""
        columns = (
            Column("Went into"),
            Column("Left", 10, is_right=True),
            Column("From this", 10, is_right=True),
        )
        yield Table[TreeLine](
            columns, self._cells, lambda line: line.number,
            is_plain=self.host.is_plain, id="tree", when_chosen=self._tell,
        )  # fmt: skip

    CORRECTS = True

    def to_correct(self) -> Start | None:
        """The thing at the cursor."""
        line = self.branches.selected
        return (of_node(self.keeper, line.node), None) if line else None

    @property
    def branches(self) -> Table[TreeLine]:
        """The table that draws the tree."""
        return self.query_one("#tree", Table)

    def read(self) -> None:
        """Trace it again, as the shelf is now."""
        root = self.attempt(self._make)
        if root is None:
            self.action_back()
            return
        lines = [
            line
            for line in tree_lines(root)
            if self.matches(node_words(line.node), line.node.detail)
        ]
        self.branches.show(lines, "Nothing matches. Press esc to show all.")
        holding = [
            node
            for node in root.walk()
            if node.bottle_id is not None and node.left_ml and not node.is_repeat
        ]
        count = how_many(len(holding), "bottle") if holding else "no bottles"
        self.head(Text(f"{safe(self._named)} · in {count} now", style="bold"))

    def show_rows(self) -> None:
        """Show what passes the words."""
        self.attempt(self.read)

    @work
    async def action_withdraw(self) -> None:
        """Ask before every batch of the tree is withdrawn."""
        root = self.attempt(self._make)
        if root is None:
            return
        form = WithdrawDialog(self.keeper, root)
        if not form.batches:
            self.host.complain("There is no batch to withdraw.")
        elif said := await self.app.push_screen_wait(form):
            self.host.changed(said)

    def _cells(self, line: TreeLine) -> tuple[Cell, ...]:
        return (
            line.cell,
            Cell(self.wording.volume(line.node.left_ml or None)),
            Cell(self.wording.volume(line.node.contains_ml or None)),
        )

    def _tell(self) -> None:
        line = self.branches.selected
        self.about(about_node(line.node) if line else "")

    @on(Table.Opened)
    def _open(self) -> None:
        line = self.branches.selected
        # The first line is what this page is about.
        if line and line.number:
            open_node(self, line.node)


class WithdrawDialog(Dialog[str]):
    """Withdraws every batch of a tree, for a reason."""

    ACT = "Withdraw"
    TITLE_TEXT = "Withdraw"

    def __init__(self, keeper: Keeper, root: Node) -> None:
        super().__init__()
        self.keeper = keeper
        self.root = root
        ids = {node.tincture_id for node in root.walk() if node.tincture_id is not None}
        self.batches = made_with(keeper, ids)

    def compose_form(self) -> ComposeResult:
        """What will be withdrawn, and why."""
        named = ", ".join(f"{batch.code} {batch.name}" for batch in self.batches)
        yield Static(
            f"{how_many_batches(len(self.batches))}: {named}. After that, nothing can be drawn, "
            "blended or labelled from them; bottles can still be discarded.",
            markup=False,
        )
        if steeping := [n.label for n in self.root.walk() if n.kind == "jar" and not n.children]:
            yield Static(f"Not withdrawn, as it still steeps: {', '.join(steeping)}.", markup=False)
        yield Entry("Reason", words, id="why", required=False, classes="-wide", max_length=2000)

    def keep(self) -> str:
        """Withdraw the batches."""
        what = source_name(self.keeper, self.root)
        ids = [batch.tincture_id for batch in self.batches]
        done = withdraw(self.keeper, ids, what, self.query_one("#why", Entry).read() or "")
        return f"Withdrew {how_many_batches(len(done))}"


def about_node(node: Node) -> Text:
    """A thing of a tree in full."""
    text = Text.assemble((safe(node_words(node)), "bold"))
    if node.detail:
        text.append(f"\n{safe(node.detail)}")
    return text


class HerbPage(OverPage):
    """A herb's yields over the years, and its gatherings."""

    HELP = (
        "What each straining of this herb gave, as a share of all the liquid that was in the jar, "
        "and every gathering or purchase of it. Press enter on a straining to open its jar, on a "
        "gathering to see every bottle it went into."
    )
    FIND_HINT = "code, part, day or place"

    def __init__(self, keeper: Keeper, herb_id: int) -> None:
        super().__init__(keeper)
        self.herb_id = herb_id

    def compose_list(self) -> ComposeResult:
        """Strainings and gatherings."""
        columns = (
            Column("", 12),
            Column("", share=2),
            Column("", share=3),
            Column("", 10, is_right=True),
            Column("", _BAR, is_bar=True),
            Column("", 11, is_right=True),
        )
        yield Table[HerbStraining | Gathering](
            columns, self._cells, _key,
            is_plain=self.host.is_plain, id="history", when_chosen=self._tell,
        )  # fmt: skip

    CORRECTS = True

    def to_correct(self) -> Start | None:
        """The jar of the straining at the cursor, or else the herb."""
        row = self.history.selected
        if isinstance(row, HerbStraining):
            return Subject(SubjectKind.JAR, row.jar_id), None
        return Subject(SubjectKind.HERB, self.herb_id), None

    @property
    def history(self) -> Table[HerbStraining | Gathering]:
        """The table of strainings and gatherings."""
        return self.query_one("#history", Table)

    def read(self) -> None:
        """Read the herb."""
        herb = next((h for h in herbs(self.keeper) if h.herb_id == self.herb_id), None)
        if herb is None:
            self.action_back()
            return
        self.head(Text(f"{safe(herb.name)} · {safe(herb.botanical)}".strip(" ·"), style="bold"))
        strainings = list(reversed(herb_strainings(self.keeper, self.herb_id)))
        gathered = [g for g in gatherings(self.keeper) if g.herb_id == self.herb_id]
        lines: list[HerbStraining | Gathering | Heading] = []
        if found := [s for s in strainings if self.matches(*_straining_words(self.wording, s))]:
            lines += [Heading("Yields", "share of the liquid that was in the jar"), *found]
        if sources := [g for g in gathered if self.matches(_gathered(self.wording, g), g.origin)]:
            lines += [
                Heading("Gatherings and purchases", "press enter to see where it went"),
                *sources,
            ]
        hint = "Nothing matches. Press esc to show all."
        self.history.show(lines, hint if self.sought else "No jar has been filled with it yet.")

    def show_rows(self) -> None:
        """Show what passes the words."""
        self.attempt(self.read)

    def _cells(self, row: HerbStraining | Gathering) -> tuple[Cell, ...]:
        if isinstance(row, Gathering):
            jars = how_many(row.jars, "jar")
            blank = Cell("")
            return (
                Cell(_gathered(self.wording, row)),
                Cell(jars),
                Cell(row.origin),
                blank,
                blank,
                blank,
            )
        percent = row.percent
        shared = f", with {row.other_herbs} more" if row.other_herbs else ""
        return (
            Cell(self.wording.day(row.strained_on)),
            Cell(row.code, "strong"),
            Cell(f"{row.part}, {row.condition}, {row.pressing}{shared}"),
            Cell(self.wording.volume(row.yield_ml)),
            gauge(None if percent is None else percent / 100, _BAR),
            Cell(self.wording.percent(percent) or "not weighed"),
        )

    def _tell(self) -> None:
        row = self.history.selected
        if row is None:
            self.about("")
        elif isinstance(row, Gathering):
            self.about(Text(f"{_gathered(self.wording, row)} · {safe(row.origin)}".strip(" ·")))
        else:
            self.about(
                Text(
                    safe(" · ".join(filter(None, [*_straining_words(self.wording, row), row.note])))
                )
            )

    @on(Table.Opened)
    def _open(self) -> None:
        row = self.history.selected
        if isinstance(row, HerbStraining):
            self.host.open_jar(row.jar_id)
        elif row is not None:
            gathering = row
            name = f"{gathering.herb}, {_gathered(self.wording, gathering)}"
            self.open_over(
                RecallPage(
                    self.keeper,
                    name,
                    lambda: recall_gathering(
                        self.keeper, gathering.herb_id, gathering.gathered_on, gathering.origin
                    ),
                )
            )


def _key(row: HerbStraining | Gathering) -> object:
    if isinstance(row, Gathering):
        return ("gathering", row.gathered_on, row.origin)
    return ("jar", row.jar_id)


def _gathered(wording: Wording, row: Gathering) -> str:
    return wording.day(row.gathered_on) or "no day"


def _straining_words(wording: Wording, row: HerbStraining) -> list[str]:
    return [
        wording.day(row.strained_on),
        row.code,
        f"{row.part}, {row.condition}",
        row.pressing,
    ]
