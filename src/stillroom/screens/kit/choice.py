"""A field that offers a few options in a line, or picks one from a longer list."""

from collections.abc import Iterable, Mapping

from rich.text import Text
from textual.app import RenderResult
from textual.binding import Binding
from textual.events import Click, Key
from textual.message import Message
from textual.reactive import reactive
from textual.screen import ModalScreen

from stillroom.screens.kit.named_field import NamedField, Taker
from stillroom.screens.kit.text import fit_marked

TYPING_PAUSE_S = 1.0
"""After which a letter begins a new word."""


LETTERS_ENOUGH = 3


class Choice(Taker, can_focus=True):
    """One of a few words, turned with the arrow keys, space, a click, or what it begins with."""

    DEFAULT_CSS = """
    Choice { height: 1; width: 24; background: $surface; color: $foreground; }
    Choice:focus { background: $primary-muted; text-style: bold; }
    """
    BINDINGS = [
        Binding("right,space", "turn(1)", "Next option", show=False, id="choice.next",
                tooltip="Choose the next option"),
        Binding("left", "turn(-1)", "Previous option", show=False, id="choice.before",
                tooltip="Choose the previous option"),
    ]  # fmt: skip

    position: reactive[int] = reactive(0)
    unmatched: reactive[str] = reactive("")
    """Letters that were typed and that no option begins with."""

    class Changed(Message):
        """Another option was chosen."""

        def __init__(self, choice: "Choice") -> None:
            super().__init__()
            self.choice = choice

        @property
        def control(self) -> "Choice":
            """The choice that was turned."""
            return self.choice

    def __init__(
        self,
        options: Iterable[tuple[str, str]],
        value: str | None = None,
        *,
        also: Mapping[str, str] | None = None,
        id: str | None = None,
    ) -> None:
        """Make it; `also` holds further words for an option, by its key."""
        super().__init__(id=id)
        self.also = {key: words.casefold().split() for key, words in (also or {}).items()}
        self.options = list(options)
        self._typed = ""
        self._typed_at = 0.0
        self._stood = self._matched = 0
        keys = [key for key, _ in self.options]
        self.set_reactive(Choice.position, keys.index(value) if value in keys else 0)

    @property
    def value(self) -> str:
        """The key of the option that shows."""
        return self.options[self.position][0]

    @value.setter
    def value(self, key: str) -> None:
        self.position = [each for each, _ in self.options].index(key)

    def offer(self, options: Iterable[tuple[str, str]], value: str) -> None:
        """Offer other options, and choose one of them."""
        self.options = list(options)
        keys = [key for key, _ in self.options]
        self.set_reactive(Choice.position, keys.index(value) if value in keys else 0)
        self.refresh()
        self.post_message(self.Changed(self))

    def render(self) -> RenderResult:
        """The word between two marks that say it can be turned."""
        label = self.options[self.position][1]
        if self.unmatched:
            label = f"no “{self.unmatched}”: {label}"
        return Text(f"‹ {fit_marked(label, self.size.width - 4)} ›", no_wrap=True)

    def watch_position(self) -> None:
        """Notify the form."""
        self.post_message(self.Changed(self))

    def action_turn(self, step: int) -> None:
        """Go to the next or the one before, round and round."""
        self.unmatched = ""
        self.position = (self.position + step) % len(self.options)

    def on_key(self, event: Key) -> None:
        """A word goes to the option that begins so; the same letter again, to the next such.

        Of a word that is none of the options, as `leaves`, three letters are enough; else all stays
        as it was.
        """
        character = (event.character or "").casefold()
        if event.time - self._typed_at > TYPING_PAUSE_S:
            self._typed = ""
        typed = self._typed + character
        is_word = len(set(self._typed)) > 1 or (self._typed and self._beginning(typed) is not None)
        if not (character.isalnum() or (character and character.isprintable() and is_word)):
            self._typed = ""
            return
        there = self._beginning(character if len(set(typed)) == 1 else typed)
        if not self._typed:
            self._stood, self._matched = self.position, 0
        if there is not None and (self._matched or not self._typed):
            self.position, self._matched = there, len(typed)
        elif self._matched < LETTERS_ENOUGH:
            self.position = self._stood
        self._typed, self._typed_at = typed, event.time
        # On a page the letter is one of its keys; in a form it was meant for the choice.
        is_lost = there is None and self._matched < LETTERS_ENOUGH
        self.unmatched = typed if is_lost and isinstance(self.screen, ModalScreen) else ""
        # A digit is meant for a field, not for another page; any other may be a key of the page.
        if self._matched or character.isdigit():
            event.stop()

    def _beginning(self, typed: str) -> int | None:
        """The option that begins so; where it is one letter, the next after the present one."""
        count = len(self.options)
        first = 1 if len(typed) == 1 else 0
        for step in range(first, count + first):
            there = (self.position + step) % count
            key, label = self.options[there]
            label = label.casefold()
            # A spirit's strength comes before its name.
            if label.startswith(typed) or label.lstrip("0123456789.,% ").startswith(typed):
                return there
            if any(word.startswith(typed) for word in self.also.get(key, ())):
                return there
        return None

    def on_blur(self) -> None:
        """After coming back, typing starts a new search."""
        self._typed = self.unmatched = ""

    def on_click(self, event: Click) -> None:
        """Left half back, right half on."""
        self.action_turn(-1 if event.x < self.size.width // 2 and event.x < 2 else 1)


class Pick(NamedField):
    """A choice with its name, as one line of a form."""

    def __init__(
        self,
        label: str,
        options: Iterable[tuple[str, str]],
        value: str | None = None,
        *,
        also: Mapping[str, str] | None = None,
        hint: str = "",
        id: str | None = None,
        classes: str | None = None,
    ) -> None:
        self.choice = Choice(options, value, also=also)
        super().__init__(label, self.choice, hint=hint, id=id, classes=classes)

    @property
    def value(self) -> str:
        """The key of the option that shows."""
        return self.choice.value
