"""Colours and glyphs of the program, by the settings and by what the terminal can show."""

import sys
from collections.abc import Sequence

from textual.app import App
from textual.binding import Binding
from textual.filter import LineFilter

from stillroom.errors import StillroomError
from stillroom.keeping.keeper import Keeper
from stillroom.screens import terminal, themes
from stillroom.screens.glyphs import PlainGlyphs
from stillroom.screens.steady_ink import SteadyInk


class FitsTerminal(App[None]):
    """An app that draws what its terminal can show."""

    keeper: Keeper
    is_plain = False
    """Whether only the plainest glyphs can be relied on."""

    def fit_to_terminal(self) -> None:
        """Choose the theme and the glyphs."""
        themes.register(self)
        # A terminal without colours has chosen its theme before the app is made.
        self._chooses_theme = self.theme == "textual-dark"
        self.use_theme()
        encoding = getattr(sys.__stderr__, "encoding", None)  # Textual writes to it
        glyphs = self.keeper.setting("glyphs")
        is_plain = glyphs == "plain" or (glyphs != "full" and terminal.is_plain(encoding))
        self.is_plain = is_plain or not terminal.is_unicode(encoding)
        self._plain_glyphs = PlainGlyphs(encoding or "utf-8")
        self._steady_ink = SteadyInk()

    def use_theme(self) -> None:
        """Use the theme of the settings, in the colours that the terminal has."""
        if self._chooses_theme:
            few = terminal.has_few_colours(self.console.color_system)
            self.theme = themes.fitting(self.keeper.setting("theme"), has_few_colours=few)

    def refuse(self, error: StillroomError) -> None:
        """Show what a use case refused."""
        raise NotImplementedError

    def action_change_theme(self) -> None:
        """Change between the dark theme and the light one, and remember which."""
        from stillroom.keeping.settings import remember

        try:
            other = "noon" if self.keeper.setting("theme") != "noon" else "dusk"
            remember(self.keeper, "theme", other)
        except StillroomError as error:
            self.refuse(error)
            return
        self.keeper.forget_settings()
        self.use_theme()

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Draw in the glyphs and the inks that the terminal has."""
        filters = list(super().get_line_filters())
        if self.is_plain:
            filters.append(self._plain_glyphs)
        if themes.is_of_few_colours(self.theme):
            filters.append(self._steady_ink)
        return filters

    def get_key_display(self, binding: Binding) -> str:
        """How a key is called on screen."""
        shown = super().get_key_display(binding)
        return "enter" if self.is_plain and shown == "⏎" else shown
