"""The shelves: jars on their planks, what the day asks of them, and what is done to them.

What is not needed to draw them is imported where it is used: this page is what a start waits for.
"""

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, Static

from ..keeping.cards import JarCard, ShelvesView
from ..keeping.keeper import Keeper
from ..keeping.shelves import shelves_view
from .board import Board, matching
from .page import Page

FIRST_STEPS = (
    "This stillroom is empty.\n\n"
    "Press n to fill your first jar: a herb, its part, fresh or dried, and the liquid are enough.\n"
    "Press 4 to put spirits and shelves into the cupboard, ? for help and cautions.\n\n"
    "To look around first, quit with q and start  stillroom --sample  for a throw-away shelf."
)


class ShelvesPage(Page):
    """Where the day's work is done."""

    HELP = (
        "Jars stand on their shelves. Each shows its herb, how many days are left to straining, "
        "and whether it has been shaken today. What is due, over, uncovered or waiting to be "
        "bottled says so in words."
    )
    BINDINGS = [
        Binding("space", "shake", "Shake", id="jar.shake", tooltip="Tick off one shake of the jar"),
        Binding("a", "shake_all", "Shake all", id="jar.shake_all",
                tooltip="Tick off one shake for every jar that still wants one"),
        Binding("r", "round", "Round", id="jar.round",
                tooltip="Walk along the jars that want shaking, one key each"),
        Binding("n", "fill", "New jar", id="jar.fill", tooltip="Fill a jar"),
        Binding("s", "strain", "Strain", id="jar.strain",
                tooltip="Strain this jar, or bottle what was strained"),
        Binding("t", "top_up", "Top up", id="jar.top_up", tooltip="Pour more liquid on"),
        Binding("m", "move", "Move", id="jar.move", tooltip="Stand this jar on another shelf"),
        Binding("e", "dates", "Dates", id="jar.dates",
                tooltip="Change the day of filling, the strain date, the shakes a day"),
        Binding("o", "covered", "Covered?", show=False, id="jar.covered",
                tooltip="Mark the herb as uncovered, or covered again"),
        # With priority, so that words typed in the same breath are words and not keys.
        Binding("slash", "find", "Find", id="jar.find", key_display="/", priority=True,
                tooltip="Show only jars with these words"),
        Binding("escape", "stop_finding", "Show all", show=False, id="jar.show_all",
                tooltip="Show every jar again"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    ShelvesPage > #find { display: none; height: 1; background: $surface; }
    ShelvesPage > #first-steps { display: none; padding: 1 2; height: auto; }
    ShelvesPage.-empty > #first-steps { display: block; }
    """

    def __init__(self, keeper: Keeper) -> None:
        super().__init__(keeper)
        self._shelves: ShelvesView | None = None

    def compose_page(self) -> ComposeResult:
        """The board, and a line to find with."""
        yield Static(FIRST_STEPS, id="first-steps", markup=False)
        yield Board(is_plain=self.host.is_plain, id="board")
        yield Input(placeholder="herb, code, part or shelf", compact=True, id="find")

    @property
    def board(self) -> Board:
        """The shelves."""
        return self.query_one(Board)

    def read(self) -> None:
        """Read all shelves."""
        self._shelves = shelves_view(self.keeper)
        self._show()

    def _show(self) -> None:
        shelves = self._shelves
        if shelves is None:
            return
        words = self.query_one("#find", Input).value
        self.set_class(not shelves.shelves, "-empty")
        self.board.show(
            matching(shelves, words), hint=f"No jar matches “{words}”." if words else ""
        )
        self._show_day(shelves)

    def _show_day(self, shelves: ShelvesView) -> None:
        left, wanting = len(shelves.to_shake), shelves.wanting_shakes
        if not wanting:
            shakes = "no jar to shake"
        elif left:
            shakes = f"○ {left} of {wanting} still to shake"
        else:
            shakes = f"✓ all {wanting} shaken"
        facts = [shakes]
        if shelves.due_today:
            facts.append(f"{len(shelves.due_today)} to strain today")
        if shelves.over:
            facts.append(f"{len(shelves.over)} over")
        if shelves.to_bottle:
            facts.append(f"{len(shelves.to_bottle)} to bottle")
        self.head(Text(" · ".join(facts), style="bold"))

    def _put_card(self, card: JarCard) -> None:
        """Show one jar that changed, without reading the others again."""
        if self._shelves is not None:
            self._shelves = self._shelves.with_jar(card)
            self._show()

    # --- Keys ---

    def _chosen(self) -> JarCard | None:
        card = self.board.selected
        if card is None:
            self.host.complain("Choose a jar first.")
        return card

    def action_shake(self) -> None:
        """One shake of this jar."""
        from ..keeping.jars import shake

        if card := self._chosen():
            after = self.attempt(lambda: shake(self.keeper, card.jar_id))
            if after:
                self._put_card(after)

    def action_shake_all(self) -> None:
        """One shake for all that still want it."""
        from ..keeping.jars import shake_all

        count = self.attempt(lambda: shake_all(self.keeper))
        if count:
            self.host.changed(f"{count} shaken")

    def action_covered(self) -> None:
        """Uncovered, or covered again."""
        from ..keeping.jars import mark_covered

        if card := self._chosen():
            after = self.attempt(lambda: mark_covered(self.keeper, card.jar_id, not card.covered))
            if after:
                self._put_card(after)

    @on(Board.Opened)
    def _open(self, event: Board.Opened) -> None:
        from .jar import JarPage

        self.app.push_screen(JarPage(self.keeper, event.jar_id))

    @work
    async def action_round(self) -> None:
        """The daily walk."""
        from .round import RoundScreen

        if not self._shelves or not self._shelves.to_shake:
            self.host.say("Every jar has had its shake today.")
            return
        await self.app.push_screen_wait(RoundScreen(self.keeper, is_plain=self.host.is_plain))
        self.host.changed()

    @work
    async def action_fill(self) -> None:
        """A new jar."""
        from .fill import FillDialog

        card = await self.app.push_screen_wait(FillDialog(self.keeper))
        if card:
            self.host.changed(f"Filled {card.herb} {card.code}")
            self.board.select(card.jar_id)

    @work
    async def action_strain(self) -> None:
        """Strain, or bottle what was strained."""
        from .strain import strain_or_bottle

        if card := self._chosen():
            await strain_or_bottle(self.host, self.keeper, card)

    @work
    async def action_top_up(self) -> None:
        """More liquid."""
        from .jar_dialogs import TopUpDialog

        card = self._chosen()
        if card and await self.app.push_screen_wait(TopUpDialog(self.keeper, card)):
            self.host.changed()

    @work
    async def action_move(self) -> None:
        """Another shelf."""
        from .jar_dialogs import MoveDialog

        card = self._chosen()
        if card and await self.app.push_screen_wait(MoveDialog(self.keeper, card)):
            self.host.changed()

    @work
    async def action_dates(self) -> None:
        """Other dates."""
        from .jar_dialogs import DatesDialog

        card = self._chosen()
        if card and await self.app.push_screen_wait(DatesDialog(self.keeper, card)):
            self.host.changed()

    # --- Finding ---

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Within a line to type in, a slash is a letter like any other."""
        return action != "find" or not isinstance(self.focused, Input)

    def action_find(self) -> None:
        """Open the line to find with."""
        line = self.query_one("#find", Input)
        line.display = True
        self.set_focus(line)

    def action_stop_finding(self) -> None:
        """Show every jar again."""
        line = self.query_one("#find", Input)
        line.value = ""
        line.display = False
        self.board.focus()

    @on(Input.Changed, "#find")
    def _finding(self) -> None:
        self._show()

    @on(Input.Submitted, "#find")
    def _found(self) -> None:
        self.board.focus()
