"""The shelves: jars on their planks, what the day asks of them, and what is done to them.

What is not needed to draw them is imported where it is used: this page is what a start waits for.
"""

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.keeping.cards import JarCard, OffShelf, ShelvesView
from stillroom.keeping.jars.shelves import jars_off_shelves, shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.screens.jar.keys import JarKeys
from stillroom.screens.kit.find_page import FindPage
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe
from stillroom.screens.shelves.board import Board
from stillroom.screens.shelves.finding import matching

MOST_ELSEWHERE = 6
"""Batches off the shelves that are named."""
FIRST_STEPS = (
    "There are no jars yet. Press n to fill one.\n\n"
    "A herb, its part, fresh or dried, and the liquid are enough.\n"
    "Press 4 to add spirits and shelves to the cupboard, ? for help and cautions.\n\n"
    "Press R to restore a backup, or a shelf from another computer.\n"
    "To look around first, quit with q and start  stillroom --sample  for a sample shelf."
)
LEVEL_MEANS = "; the level is full when due"
"""What the drawn level shows."""


class ShelvesPage(FindPage, JarKeys):
    """The page of the day's work: every jar on its shelf."""

    HELP = (
        "Your day's work: each jar on its shelf, with its herb, the days left until straining, and "
        "whether it has been shaken today. Words show what a jar needs: due today, late, "
        "uncovered, to press, to bottle; on a late jar, + comes before the days it is late. The "
        "level drawn in a jar shows how much of its time has passed: empty on the day it is "
        "filled, full on the day it is due. tab goes to the next jar that needs more than its "
        "shake."
    )
    FIND_HINT = "herb, code, part or shelf"
    BINDINGS = [
        Binding("a", "shake_all", "Shake all", id="jar.shake_all",
                tooltip="Record a shake of every jar still to shake"),
        Binding("r", "round", "Round", id="jar.round",
                tooltip="Go round the jars still to shake, one key each"),
        Binding("n", "fill", "New jar", id="jar.fill", tooltip="Fill a jar"),
        Binding("R", "restore_backup", "Restore", id="shelves.restore",
                tooltip="Replace this empty shelf with a backup or another shelf"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    ShelvesPage > #first-steps { display: none; padding: 1 2; height: auto; }
    ShelvesPage.-empty > #first-steps { display: block; }
    ShelvesPage > #chosen { height: auto; max-height: 2; padding: 0 1; background: $surface; }
    ShelvesPage.-empty > #chosen { display: none; }
    """

    def __init__(self, keeper: Keeper) -> None:
        super().__init__(keeper)
        self._shelves: ShelvesView | None = None
        self._entered = ""
        """The words after which enter was pressed once."""
        self._elsewhere: list[OffShelf] = []
        """Batches with the sought words that are on no shelf any more, the newest first."""

    def compose_page(self) -> ComposeResult:
        """The board and the find line."""
        yield Static(FIRST_STEPS, id="first-steps", markup=False)
        yield Board(is_plain=self.host.is_plain, id="board", when_chosen=self._show_chosen)
        yield Static("", id="chosen", markup=False)
        yield self.find_line()

    @property
    def board(self) -> Board:
        """The board of jars."""
        return self.query_one(Board)

    @property
    def found(self) -> Board:
        """The board, which finds jars as well."""
        return self.board

    def read(self) -> None:
        """Read all shelves; the first time, what takes longest follows the first picture."""
        is_first = self._shelves is None
        self._shelves = shelves_view(self.keeper, with_press=not is_first)
        if is_first and self._shelves.to_press:
            self.call_after_refresh(self.attempt, self.read)
        self.show_rows()
        self.refresh_bindings()

    def show_rows(self) -> None:
        """Show the jars with the sought words."""
        shelves = self._shelves
        if shelves is None:
            return
        words = self.sought
        self.set_class(not shelves.shelves, "-empty")
        self.board.show(
            matching(shelves, words),
            hint=self._elsewhere_words() if words else "",
            notation=self.wording,
        )
        self.offer(has_chosen=self.board.selected is not None)
        self._show_day(shelves)
        self._show_chosen()

    def seek(self, text: str) -> None:
        """Look for these words from now on, among the jars that are off the shelves as well."""
        super().seek(text)
        self._entered = ""
        self._elsewhere = jars_off_shelves(self.keeper, text) if text.strip() else []

    def _elsewhere_words(self) -> str:
        """What no jar on the shelves has, and which batches have it."""
        said = f"No jar matches “{self.sought}”. Press esc to show all."
        if not self._elsewhere:
            return said
        named = [f"{jar.code} {jar.name}, {jar.state}" for jar in self._elsewhere[:MOST_ELSEWHERE]]
        if more := len(self._elsewhere) - len(named):
            named.append(f"and {more} more: type more of the code or name")
        return "\n".join(
            [said, "", "Off the shelves; press enter twice to open the first:", *named]
        )

    def go_to_found(self) -> None:
        """Give the keys to the jars; where no jar was found, a second enter opens a batch."""
        if not self._elsewhere or self.board.selected is not None:
            super().go_to_found()
        elif self._entered != self.sought:
            self._entered = self.sought
        else:
            self._open_elsewhere()

    @work
    async def _open_elsewhere(self) -> None:
        batch = self._elsewhere[0]
        if batch.jar_id is not None:
            self.host.open_jar(batch.jar_id)
        elif batch.bottle_id is not None:
            self.host.open_bottle(batch.bottle_id)
        else:  # a blend that waits to be bottled
            await self.run_action("app.turn_to('bottles')")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer a round only where jars are shaken, and to find only where there are jars."""
        shelves = self._shelves
        if shelves is not None and action in {"shake_all", "round"} and not shelves.wanting_shakes:
            return False
        if shelves is not None and action == "find" and not shelves.shelves:
            return False
        if action == "restore_backup" and (shelves is None or shelves.shelves):
            return False
        return super().check_action(action, parameters)

    def _show_chosen(self) -> None:
        """Show the chosen jar's name in full, and what its level means."""
        card = self.board.selected
        line = Text()
        if card is not None:
            name = f"{safe(card.herb)} +{card.more_herbs}" if card.more_herbs else safe(card.herb)
            line.append(f"{card.code} {name}", "bold")
            line.append(f", {card.part}, {card.condition}")
            if card.is_steeping:
                line.append(f" · {card.steep(self.keeper.today)}")
                # What the drawn level means, where it doesn't take another line.
                longer = line + Text(LEVEL_MEANS)
                console, width = self.app.console, self.app.size.width - 2
                fits = len(longer.wrap(console, width)) == len(line.wrap(console, width))
                if card.strain_on > self.keeper.today and fits:
                    line = longer
        show(self.query_one("#chosen", Static), line)

    def _show_day(self, shelves: ShelvesView) -> None:
        left, wanting = len(shelves.to_shake), shelves.wanting_shakes
        if not wanting:
            shakes = "no jars to shake"
        elif left:
            shakes = f"○ {left} of {wanting} to shake"
        else:
            shakes = f"✓ all {wanting} shaken" if wanting > 1 else "✓ shaken"
        facts = [shakes]
        if self.sought and self._elsewhere:
            facts.insert(0, f"{len(self._elsewhere)} more off the shelves")
        if shelves.due_today:
            facts.append(f"{len(shelves.due_today)} due")
        if shelves.over:
            facts.append(f"{len(shelves.over)} late")
        if shelves.to_press:
            facts.append(f"{len(shelves.to_press)} to press")
        if shelves.to_bottle:
            facts.append(f"{shelves.to_bottle} to bottle")
        self.head(Text(" · ".join(facts), style="bold"))

    def chosen_jar(self) -> JarCard | None:
        """The jar at the cursor."""
        card = self.board.selected
        if card is None:
            self.host.complain("Choose a jar first.")
        return card

    def jar_changed(self, card: JarCard) -> None:
        """Show one jar that changed, without reading the others again."""
        if self._shelves is not None:
            self._shelves = self._shelves.with_jar(card)
            self.show_rows()

    def action_shake_all(self) -> None:
        """Shake every jar still to shake."""
        from stillroom.keeping.jars.jar import shake_all

        count = self.attempt(lambda: shake_all(self.keeper))
        if count:
            self.host.changed(f"{count} shaken")

    @on(Board.Opened)
    def _open(self, event: Board.Opened) -> None:
        from stillroom.screens.jar.page import JarPage

        self.open_over(JarPage(self.keeper, event.jar_id))

    @work
    async def action_round(self) -> None:
        """Start the day's round."""
        from stillroom.screens.shelves.round import RoundScreen

        if not self._shelves or not self._shelves.to_shake:
            self.host.say("Every jar has been shaken today.")
            return
        await self.app.push_screen_wait(RoundScreen(self.keeper, is_plain=self.host.is_plain))
        self.host.changed()

    @work
    async def action_fill(self) -> None:
        """Open the form that fills a jar."""
        from stillroom.screens.jar.fill import FillDialog

        card = await self.app.push_screen_wait(FillDialog(self.keeper))
        if card:
            self.host.changed(f"Filled {card.herb} {card.code}")
            self.show_jar(card.jar_id)

    def show_jar(self, jar_id: int) -> None:
        """Put the cursor on a jar, all jars shown."""
        self.action_stop_finding()
        self.read()
        self.board.select(jar_id)

    async def action_restore_backup(self) -> None:
        """Open the form that restores a backup."""
        await self.run_action("app.restore")
