"""The round: along the jars that want shaking, one large jar at a time, one key each."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

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
from stillroom.quantities import how_many
from stillroom.screens.drawing.big_jar import BigJar
from stillroom.screens.drawing.letters import big
from stillroom.screens.host import host_of
from stillroom.screens.kit.keyline import HeadLine, KeyLine
from stillroom.screens.kit.lines import show

if TYPE_CHECKING:
    from stillroom.keeping.trace.views import ScannedThing


class RoundScreen(Screen[None]):
    """For wet hands: space shakes and goes on."""

    HELP = (
        "The day's round. Shake the jar on the screen, check that its herb is covered, and press "
        "space for the next one; or scan the code of a jar to record its shake. A jar to be shaken "
        "twice comes up again. esc ends the round; the shakes you recorded are saved."
    )
    BINDINGS = [
        Binding("space,enter", "shaken", "Shaken, next", key_display="space", id="round.shaken",
                tooltip="Record a shake and go to the next jar"),
        Binding("right,n", "step(1)", "Skip", key_display="→", id="round.skip",
                tooltip="Go to the next jar without shaking"),
        Binding("left,b", "step(-1)", "Back", key_display="←", id="round.back",
                tooltip="Go back to the previous jar"),
        Binding("o", "uncovered", "Not covered", id="round.uncovered",
                tooltip="Mark the herb as uncovered, or as covered again"),
        Binding("u", "undo", "Undo", id="round.undo", tooltip="Undo the last shake"),
        Binding("question_mark,f1", "app.explain", "Help", key_display="?", id="round.help",
                tooltip="Show what the round is for, and its keys"),
        Binding("escape,q", "leave", "End", key_display="esc", id="round.leave",
                tooltip="End the round"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    RoundScreen > BigJar { height: 1fr; }
    RoundScreen > #done {
        display: none; height: 1fr; content-align: center middle; text-align: center;
    }
    RoundScreen.-done > BigJar { display: none; }
    RoundScreen.-done > #done { display: block; }
    RoundScreen > #where { height: 1; text-align: center; color: $text-muted; }
    """

    def __init__(self, keeper: Keeper, *, is_plain: bool = False) -> None:
        super().__init__()
        self.keeper = keeper
        self.is_plain = is_plain
        shelves = shelves_view(keeper)
        self.names = {shelf.shelf_id: shelf.name for shelf in shelves.shelves}
        self.round = _with_repeats(shelves.to_shake)
        """The jars by id, one that wants several shakes as often."""
        self.position = 0
        """Which of them is on the screen; past the last one the round is done."""
        self._ticked: set[int] = set()
        """The positions that were ticked off."""
        self._acts: list[int] = []
        """The positions at which something was written, in order, to undo it there."""

    def compose(self) -> ComposeResult:
        """The jar, its shelf, the keys."""
        yield HeadLine()
        yield BigJar(is_plain=self.is_plain)
        yield Static("", id="done", markup=False)
        yield Static("", id="where", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Begin at the first."""
        self._show()

    @property
    def card(self) -> JarCard | None:
        """The current jar, as it is now; None once the round is done."""
        return None if self.is_done else jar_card(self.keeper, self.round[self.position])

    @property
    def is_done(self) -> bool:
        """Whether the last jar has been passed."""
        return self.position >= len(self.round)

    def take_scan(self, thing: "ScannedThing") -> None:
        """Tick off the jar that was scanned, and no other."""
        card = None if thing.jar_id is None else jar_card(self.keeper, thing.jar_id)
        if card is None or not (card.is_steeping and card.shakes_per_day):
            host_of(self).complain(f"{thing.code} isn't a jar to shake.")
        elif not card.shakes_left:
            host_of(self).complain(f"{card.herb} {card.code} has been shaken today.")
        else:
            self.position = self._place_of(card.jar_id)
            if self._tick(card):
                host_of(self).say(f"Shaken: {card.herb} {card.code}")
            self._show()

    def _place_of(self, jar_id: int) -> int:
        """Where a jar is next in the round; added to it where it is not."""
        places = [at for at, each in enumerate(self.round) if each == jar_id]
        for at in places:
            if at not in self._ticked:
                return at
        self.round.append(jar_id)
        return len(self.round) - 1

    def _show(self) -> None:
        card = self.card
        head = self.query_one(HeadLine)
        wanting = [jar for jar in shelves_view(self.keeper).to_shake if jar.jar_id in self.round]
        at = "done" if self.is_done else f"jar {self.position + 1} of {len(self.round)}"
        head.left = Text(f"Round: {at}", style="bold")
        head.right = Text(f"{len(wanting)} still to shake" if wanting else "all shaken")
        self.set_class(self.is_done, "-done")
        self.query_one(BigJar).show(card, self.keeper.today, wording(self.keeper))
        show(self.query_one("#done", Static), self._end_words(wanting) if self.is_done else "")
        where = f"{card.code} · {self.names.get(card.shelf_id, '')}" if card else ""
        show(self.query_one("#where", Static), where)

    def _end_words(self, wanting: list[JarCard]) -> str:
        letters = big("DONE", 2, is_plain=self.is_plain) or ()
        shaken = how_many(len(self._ticked), "shake")
        said = f"The round is done: {shaken} recorded."
        if wanting:
            missed = ", ".join(f"{jar.herb} {jar.code}" for jar in wanting)
            said += f"\n\nStill to shake: {missed}. Press ← to go back to them."
        return "\n".join([*letters, "", said, "", "Press esc to go back to the shelves."])

    def action_shaken(self) -> None:
        """Tick it off and go on; after the last jar the round is done."""
        card = self.card
        is_to_tick = card and card.shakes_left and self.position not in self._ticked
        if not (card and is_to_tick) or self._tick(card):
            self.action_step(1)

    def _tick(self, card: JarCard) -> bool:
        if not self._do(lambda: shake(self.keeper, card.jar_id)):
            return False
        self._ticked.add(self.position)
        self._acts.append(self.position)
        return True

    def action_step(self, step: int) -> None:
        """Go on or back, without ticking; past the last jar the round is done."""
        self.position = min(len(self.round), max(0, self.position + step))
        self._show()

    def action_uncovered(self) -> None:
        """Note that herb is out of the liquid, or no longer is."""
        if card := self.card:
            if self._do(lambda: mark_covered(self.keeper, card.jar_id, not card.covered)):
                self._acts.append(self.position)
            self._show()

    def action_undo(self) -> None:
        """Undo the last action and return to its jar."""
        if self._do(lambda: undo(self.keeper)):
            if self._acts:
                self.position = self._acts.pop()
                self._ticked.discard(self.position)
            self._show()

    def _do(self, use_case: Callable[[], object]) -> bool:
        try:
            use_case()
        except StillroomError as error:
            host_of(self).refuse(error)
            return False
        return True

    def action_leave(self) -> None:
        """End the round."""
        self.dismiss(None)


def _with_repeats(to_shake: Sequence[JarCard]) -> list[int]:
    """The jars in order, then those again that want another shake, and so on."""
    most = max((card.shakes_left for card in to_shake), default=0)
    return [card.jar_id for n in range(most) for card in to_shake if card.shakes_left > n]
