"""Spans turned into segments with the colours of the theme."""

from typing import NamedTuple

from rich.segment import Segment
from rich.style import Style
from textual.color import Color
from textual.widget import Widget

from stillroom.screens.drawing.look import Line


class Tint(NamedTuple):
    """A colour by the name of a theme variable, and the weight of what is written in it."""

    variable: str
    is_bold: bool = False
    strength: float = 1.0
    """How much of it shows over the ground."""
    stands_out: bool = False
    """Whether a theme without coloured grounds turns it over instead."""


GROUNDS = {
    "air": Tint("background"),
    "inside": Tint("surface"),
    "label": Tint("panel"),
    "pick": Tint("block-cursor-background", stands_out=True),
    "liquid": Tint("primary-muted"),
    "tincture": Tint("success-muted"),
    "due": Tint("warning", stands_out=True),
    "over": Tint("error", stands_out=True),
    "lid": Tint("secondary-muted"),
    "plank": Tint("secondary-muted"),
}


_INKS = {
    "herb": Tint("foreground", is_bold=True),
    "faint": Tint("text-muted"),
    "hint": Tint("foreground"),
    "glass": Tint("foreground", strength=0.6),
    "cursor": Tint("accent", is_bold=True),
    "count": Tint("foreground", is_bold=True),
    "done": Tint("text-success"),
    "wanted": Tint("foreground"),
    "warning": Tint("text-error", is_bold=True, stands_out=True),
    "surface": Tint("primary"),
    "tincture-surface": Tint("success"),
    "plank-name": Tint("foreground", is_bold=True),
    "plank-note": Tint("foreground"),
    "plank-line": Tint("secondary"),
}


_FLAT_INKS = {"surface": "warning", "tincture-surface": "success", "cursor": "accent"}
"""What keeps a colour of its own where the theme is made of the terminal's colours."""


BLACK_READS_BETTER_FROM = 0.179
"""Relative luminance at which black and white have the same contrast (WCAG 2)."""


def _readable_on(ground: Color) -> Color:
    """Black or white, whichever has more contrast."""
    red, green, blue = (((share + 0.055) / 1.055) ** 2.4 for share in ground.normalized)
    luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    return Color.parse("black" if luminance > BLACK_READS_BETTER_FROM else "white")


class JarPainter:
    """Turns spans into segments with the colours of the present theme.

    Straight from the theme's variables: a component class for each of two dozen tints would be
    matched against the style sheet again at every change of any style, and at every start.
    """

    def __init__(self, widget: Widget) -> None:
        self._widget = widget
        self._styles: dict[tuple[str, str], Style] = {}

    def forget(self) -> None:
        """Drop all styles: the theme has changed."""
        self._styles.clear()

    def style(self, ink: str, ground: str) -> Style:
        """The style of an ink on a ground."""
        key = (ink, ground)
        if key not in self._styles:
            is_flat = self._widget.app.native_ansi_color
            make = self._flat_style if is_flat else self._tinted_style
            self._styles[key] = make(ink, GROUNDS[ground or "air"])
        return self._styles[key]

    def _over(self, ground: Color, variable: str, strength: float = 1.0) -> Color:
        """A theme's colour over a ground. A value may carry a share, and `auto` means contrast."""
        name, _, share = self._widget.app.theme_variables[variable].partition(" ")
        colour = ground.get_contrast_text(1.0) if name == "auto" else Color.parse(name)
        return ground.blend(colour, strength * (float(share.rstrip("%")) / 100 if share else 1.0))

    def _tinted_style(self, ink: str, ground: Tint) -> Style:
        below = self._over(Color.parse("black"), ground.variable)
        if ink:
            tint = _INKS[ink]
            above = self._over(below, tint.variable, tint.strength)
            return Style(color=above.rich_color, bgcolor=below.rich_color, bold=tint.is_bold)
        if ground.variable.startswith("block-cursor"):
            above = self._over(below, "block-cursor-foreground")
        else:
            above = below.blend(_readable_on(below), 0.95)
        return Style(
            color=above.rich_color, bgcolor=below.rich_color, bold=ground.stands_out or None
        )

    def _flat_style(self, ink: str, ground: Tint) -> Style:
        """A terminal's own colours leave backgrounds bare; what should stand out is reversed."""
        tint = _INKS[ink] if ink else ground
        stands_out = ground.stands_out or tint.stands_out
        named = _FLAT_INKS.get(ink) or ("warning" if ground.variable == "warning" else "")
        color = Color.parse(self._widget.app.theme_variables[named]).rich_color if named else None
        return Style(color=color, bold=tint.is_bold or stands_out, reverse=stands_out)

    def segments(self, line: Line) -> list[Segment]:
        """A line as segments."""
        return [Segment(span.text, self.style(span.ink, span.ground)) for span in line if span.text]
