"""The round: along the jars that want shaking, one large jar at a time, one key each."""

from collections.abc import Callable

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Static

from stillroom.errors import StillroomError
from stillroom.keeping.cards import JarCard
from stillroom.keeping.jars.jar import mark_covered, shake
from stillroom.keeping.jars.shelves import jar_card, shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undo
from stillroom.keeping.wording import wording
from stillroom.screens.drawing.big_jar import BigJar
from stillroom.screens.host import host_of
from stillroom.screens.kit.keyline import HeadLine, KeyLine
from stillroom.screens.kit.lines import show


class RoundScreen(Screen[None]):
    """For wet hands: space shakes and goes on."""

    HELP = (
        "The day's round. Shake the jar on the screen, check that its herb is covered, and press "
        "space for the next one. esc ends the round; the shakes you ticked off stay ticked off."
    )
    BINDINGS = [
        Binding("space,enter", "shaken", "Shaken, next", key_display="space", id="round.shaken",
                tooltip="Tick off a shake and go to the next jar"),
        Binding("right,n", "step(1)", "Skip", key_display="→", id="round.skip",
                tooltip="Go to the next jar without shaking"),
        Binding("left,b", "step(-1)", "Back", key_display="←", id="round.back",
                tooltip="Go back to the previous jar"),
        Binding("o", "uncovered", "Not covered", id="round.uncovered",
                tooltip="Mark the herb as uncovered, or as covered again"),
        Binding("u", "undo", "Undo", id="round.undo", tooltip="Undo the last shake"),
        Binding("question_mark", "app.explain", "Help", key_display="?", id="round.help",
                tooltip="Show what the round is for, and its keys"),
        Binding("escape,q", "leave", "End", key_display="esc", id="round.leave",
                tooltip="End the round"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    RoundScreen > BigJar { height: 1fr; }
    RoundScreen > #where { dock: bottom; height: 1; text-align: center; color: $text-muted; }
    """

    def __init__(self, keeper: Keeper, *, is_plain: bool = False) -> None:
        super().__init__()
        self.keeper = keeper
        self.is_plain = is_plain
        shelves = shelves_view(keeper)
        self.names = {shelf.shelf_id: shelf.name for shelf in shelves.shelves}
        self.round = [card.jar_id for card in shelves.to_shake]
        self.position = 0

    def compose(self) -> ComposeResult:
        """The jar, its shelf, the keys."""
        yield HeadLine()
        yield BigJar(is_plain=self.is_plain)
        yield Static("", id="where", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Begin at the first."""
        self._show()

    @property
    def card(self) -> JarCard | None:
        """The current jar, as it is now."""
        return jar_card(self.keeper, self.round[self.position])

    def _show(self) -> None:
        card = self.card
        head = self.query_one(HeadLine)
        head.left = Text(f"Round: jar {self.position + 1} of {len(self.round)}", style="bold")
        wanting = {jar.jar_id for jar in shelves_view(self.keeper).to_shake}
        left = len(wanting.intersection(self.round))
        head.right = Text("all shaken" if not left else f"{left} still to shake")
        self.query_one(BigJar).show(card, self.keeper.today, wording(self.keeper))
        where = f"{card.code} · {self.names.get(card.shelf_id, '')}" if card else ""
        show(self.query_one("#where", Static), where)

    def action_shaken(self) -> None:
        """Tick it off; after the last jar the round ends."""
        card = self.card
        if card and card.shakes_left and not self._do(lambda: shake(self.keeper, card.jar_id)):
            return
        if self.position + 1 == len(self.round):
            self.dismiss(None)
        else:
            self.action_step(1)

    def action_step(self, step: int) -> None:
        """Go on or back, without ticking."""
        self.position = min(len(self.round) - 1, max(0, self.position + step))
        self._show()

    def action_uncovered(self) -> None:
        """Note that herb is out of the liquid, or no longer is."""
        if card := self.card:
            self._do(lambda: mark_covered(self.keeper, card.jar_id, not card.covered))
            self._show()

    def action_undo(self) -> None:
        """Undo the last action and return to its jar."""
        if self._do(lambda: undo(self.keeper)):
            self.action_step(-1)

    def _do(self, use_case: Callable[[], object]) -> bool:
        try:
            use_case()
        except StillroomError as error:
            host_of(self).refuse(error)
            return False
        return True

    def action_leave(self) -> None:
        """End it."""
        self.dismiss(None)
