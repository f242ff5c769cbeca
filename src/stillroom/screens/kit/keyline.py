"""The line of keys at the foot of every screen, and the line of facts at its head."""

from collections.abc import Sequence

from rich.cells import cell_len
from rich.text import Text
from textual.app import RenderResult
from textual.binding import Binding
from textual.events import Click, Resize
from textual.reactive import reactive
from textual.screen import Screen

from stillroom.screens.kit.placed_once import PlacedOnce
from stillroom.screens.pages import key_range, marked_range


class KeyLine(PlacedOnce):
    """The keys that matter here, drawn in one piece.

    Textual's own footer keeps every key it ever drew alive; this one is a single widget, so a
    program that stays open for months does not grow.
    """

    COMPONENT_CLASSES = {"keyline--key", "keyline--word"}
    DEFAULT_CSS = """
    KeyLine {
        dock: bottom; height: 1; max-height: 3; padding: 0 1;
        background: $panel; color: $foreground;
        & > .keyline--key { color: $footer-key-foreground; text-style: bold; background: $panel; }
        & > .keyline--word { color: $foreground; background: $panel; }
    }
    """

    shown: reactive[tuple[Binding, ...]] = reactive(())
    """The bindings to draw."""

    def on_mount(self) -> None:
        """Follow what the screen can do."""
        self.screen.bindings_updated_signal.subscribe(self, self._read)
        # At once, so that the first layout has the right height already.
        self._take(self.screen)

    def _read(self, screen: Screen[object]) -> None:
        if screen.is_current:
            self._take(screen)

    def _take(self, screen: Screen[object]) -> None:
        active = [entry.binding for entry in screen.active_bindings.values() if entry.binding.show]
        # One word for one thing, however many keys do it.
        words: dict[str, Binding] = {}
        for binding in active:
            words.setdefault(binding.description, binding)
        self.shown = tuple(sorted(words.values(), key=_is_common))

    def watch_shown(self) -> None:
        """Take as many lines as the keys need; as many as before move nothing else."""
        self.styles.height = max(1, len(self._lines()))

    def render(self) -> RenderResult:
        """Draw as many keys as the lines hold; the rest is in the help."""
        key_style = self.get_component_rich_style("keyline--key")
        word_style = self.get_component_rich_style("keyline--word")
        text = Text(no_wrap=False, overflow="ellipsis")
        for number, line in enumerate(self._lines()):
            if number:
                text.append("\n")
            for at, binding in enumerate(line):
                if at:
                    text.append("  ", word_style)
                start = len(text)
                text.append(self._shown_key(binding), key_style)
                text.append(f" {binding.description}", word_style)
                text.apply_meta({"pressed": binding.key}, start)
                if binding.id == FIRST_PAGE:  # each of the pages can be tapped
                    for at_key, key in enumerate(self._shown_key(binding), start):
                        if key.isdigit():
                            text.apply_meta({"pressed": key}, at_key, at_key + 1)
        return text

    def _lines(self) -> list[list[Binding]]:
        """The keys line by line: all that fit, the ones that are always needed among them."""
        width = max(1, self.content_size.width or self.app.size.width - 2)
        most = MOST_LINES if width >= NARROW else MOST_LINES + 1
        bindings = list(self.shown)
        lines = self._broken(bindings, width)
        while len(lines) > most:
            spare = [each for each in bindings if not is_always_shown(each)]
            if not spare:
                break
            first_to_go = [each for each in spare if each.id == WHERE_THERE_IS_ROOM]
            bindings.remove((first_to_go or spare)[-1])
            lines = self._broken(bindings, width)
        return lines[:most]

    def _broken(self, bindings: Sequence[Binding], width: int) -> list[list[Binding]]:
        """Keys broken into lines of a width."""
        lines: list[list[Binding]] = []
        used = width
        for binding in bindings:
            length = cell_len(self._shown_key(binding)) + 1 + cell_len(binding.description)
            if used + 2 + length > width:
                lines.append([])
                used = -2
            lines[-1].append(binding)
            used += 2 + length
        return lines

    def _shown_key(self, binding: Binding) -> str:
        """The key as it is drawn; of the keys of the pages, the page that is open is marked."""
        if binding.key == "f1":  # alone, as where a field takes the other key of the same act
            return binding.key
        key = self.app.get_key_display(binding)
        return marked_range(type(self.screen).__name__) if key == key_range() else key

    def on_resize(self, event: Resize) -> None:
        """Break the line again."""
        self.watch_shown()
        self.refresh()

    def on_click(self, event: Click) -> None:
        """A key that is clicked is a key pressed."""
        key = event.style.meta.get("pressed")
        if key:
            event.stop()
            self.app.simulate_key(key)


WHERE_THERE_IS_ROOM = "page.correct"
"""A key that is drawn only where the lines hold all the others as well."""
MOST_LINES = 2
"""Lines of keys; one more where they are shorter than `NARROW`."""
NARROW = 60
FIRST_PAGE = "page.shelves"
_ALWAYS = (".help", ".quit", ".undo", ".leave", ".keep", ".back", ".close", "page.shelves")


def is_always_shown(binding: Binding) -> bool:
    """Whether a key has its place in the line however narrow the screen is."""
    return (binding.id or "").endswith(_ALWAYS)


def _is_common(binding: Binding) -> bool:
    """Keys that every page has come last."""
    return (binding.id or "").startswith("page.")


class HeadLine(PlacedOnce):
    """One line of facts above a page: words at the left, the day at the right."""

    DEFAULT_CSS = """
    HeadLine { dock: top; height: 1; padding: 0 1; background: $panel; color: $foreground; }
    """

    left: reactive[Text] = reactive(Text)
    right: reactive[Text] = reactive(Text)
    shorter: reactive[tuple[Text, ...]] = reactive(())
    """What is at the right where all of it has no room beside the facts, the longest first."""
    who: reactive[str] = reactive("")
    """Initials of who is at the shelf, shown where there is room."""

    def render(self) -> RenderResult:
        """Left part cut to what the right part leaves."""
        width = self.content_size.width or self.app.size.width - 2
        has_room = self.left.cell_len + 1 + self.right.cell_len <= width
        fitting = [each for each in self.shorter if self.left.cell_len + 1 + each.cell_len <= width]
        shorter = [*fitting, *self.shorter[-1:], self.right]
        right = (self.right if has_room else shorter[0]).copy()
        if (
            has_room
            and self.who
            and self.left.cell_len + cell_len(self.who) + 4 + right.cell_len <= width
        ):
            right = Text.assemble((self.who, "bold"), " · ", right)
        room = max(0, width - right.cell_len - 1)
        left = self.left.copy()
        left.truncate(room, overflow="ellipsis", pad=True)
        return Text.assemble(left, " ", right, no_wrap=True)
