"""The command palette: what the keys of the screen in sight do, by name."""

from collections.abc import Callable, Iterable
from typing import Any

from textual.app import App
from textual.command import CommandPalette, DiscoveryHit, Hit, Hits, Provider
from textual.widgets import OptionList


class Commands(Provider):
    """What the keys of the present screen do, by name, then what has no key.

    Moving the cursor needs no name, and the day's acts come first.
    """

    async def discover(self) -> Hits:
        """All of them, before anything is typed."""
        for title, help_text, run in self._commands():
            yield DiscoveryHit(title, run, help=help_text)

    async def search(self, query: str) -> Hits:
        """Those whose words match."""
        matcher = self.matcher(query)
        for title, help_text, run in self._commands():
            score = matcher.match(f"{title} {help_text}")
            if score > 0:
                yield Hit(score, matcher.highlight(title), run, help=help_text)

    def _commands(self) -> Iterable[tuple[str, str, Callable[[], Any]]]:
        from stillroom.screens.help import acts_of

        for act in acts_of(self.screen):
            if act.heading != "Move":
                yield act.words, f"key {act.shown_key}", RunKey(self.app, act.key)
        for command in self.app.get_system_commands(self.screen):
            yield command.title, command.help, command.callback


class RunKey:
    """Press a key on behalf of the palette."""

    def __init__(self, app: App[object], key: str) -> None:
        self.app = app
        self.key = key

    def __call__(self) -> None:
        """Press the key."""
        self.app.simulate_key(self.key)


class Palette(CommandPalette):
    """The command palette, safe where its list has no room to show."""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Textual fails when it is to turn a page of a list that it has not laid out."""
        if action == "command_list":
            return bool(self.query_one(OptionList).scrollable_content_region)
        return super().check_action(action, parameters)
