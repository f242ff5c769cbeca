"""The colours of the program: two themes, each as well for terminals of few colours."""

from textual.app import App
from textual.theme import Theme

DUSK = Theme(
    name="larder-dusk",
    dark=True,
    primary="#e0a04a",  # amber glass
    secondary="#b88552",  # the plank
    accent="#f2c879",
    success="#a3be7b",  # green herb
    warning="#f5b83d",
    error="#b8402b",
    foreground="#f0e6d4",
    background="#191410",
    surface="#241d17",
    panel="#302824",
    variables={
        "primary-muted": "#5e3c14",
        "secondary-muted": "#403530",
        "success-muted": "#33411f",
        "text-muted": "#c9b799",
        "text-disabled": "#d6c6aa",
        "text-error": "#e58d78",
        "block-cursor-foreground": "#191410",
        "block-cursor-background": "#f2c879",
        "block-cursor-blurred-background": "#403530",
        "border": "#b88552",
        "border-blurred": "#8a6c4c",
        "footer-key-foreground": "#f2c879",
        "input-selection-background": "#705040",
        "scrollbar": "#8a6c4c",
        "scrollbar-hover": "#b88552",
        "scrollbar-active": "#b88552",
        "scrollbar-background": "#201a15",
        "scrollbar-background-hover": "#201a15",
        "scrollbar-background-active": "#201a15",
    },
)

NOON = Theme(
    name="larder-noon",
    dark=False,
    primary="#9a5c0a",
    secondary="#6f4826",
    accent="#6b3f06",
    success="#3f6120",
    warning="#f0ab1f",
    error="#b3331f",
    foreground="#2e2318",
    background="#f3ebdc",
    surface="#fbf6ec",
    panel="#e8dac2",
    variables={
        "primary-muted": "#efcb8c",
        "secondary-muted": "#c9a47c",
        "success-muted": "#d3dfb8",
        "text-muted": "#443b34",
        "text-disabled": "#443b34",
        "text-warning": "#6e3c00",
        "text-success": "#35541a",
        "text-error": "#9a2413",
        "block-cursor-foreground": "#fbf6ec",
        "block-cursor-background": "#6b3f06",
        "border": "#8a5f3a",
        "border-blurred": "#84704f",
        "footer-key-foreground": "#6b3f06",
        "input-selection-background": "#dcc09a",
        "scrollbar": "#8a6a43",
        "scrollbar-hover": "#6f4826",
        "scrollbar-active": "#6f4826",
        "scrollbar-background": "#e8dac2",
        "scrollbar-background-hover": "#e8dac2",
        "scrollbar-background-active": "#e8dac2",
    },
)

# Themes of sixteen colours use only pairs that can be read in the palettes of both xterm and the
# Linux console, and as grounds only the eight colours that every terminal can put behind text.
_BLACK, _RED, _BLUE, _MAGENTA, _CYAN, _GREY = (
    "#000000", "#aa0000", "#0000aa", "#aa00aa", "#00aaaa", "#aaaaaa",
)  # fmt: skip
_BRIGHT_RED, _BRIGHT_GREEN, _YELLOW, _BRIGHT_CYAN, _WHITE = (
    "#ff5555", "#55ff55", "#ffff55", "#55ffff", "#ffffff",
)  # fmt: skip

DUSK_16 = Theme(
    name="larder-dusk-16",
    dark=True,
    primary=_BRIGHT_CYAN,
    secondary=_GREY,
    accent=_YELLOW,
    success=_BRIGHT_GREEN,
    warning=_CYAN,
    error=_RED,
    foreground=_WHITE,
    background=_BLACK,
    surface=_BLACK,
    panel=_BLUE,
    text_alpha=1.0,
    variables={
        "primary-muted": _BLUE,
        "secondary-muted": _BLUE,
        "success-muted": _BLUE,
        "text-muted": _GREY,
        "text-disabled": _GREY,
        "text-warning": _YELLOW,
        "text-success": _BRIGHT_GREEN,
        "text-error": _YELLOW,
        "block-cursor-foreground": _BLACK,
        "block-cursor-background": _GREY,
        "block-cursor-blurred-foreground": _WHITE,
        "block-cursor-blurred-background": _BLUE,
        "border": _GREY,
        "border-blurred": _GREY,
        "footer-key-foreground": _YELLOW,
        "input-cursor-foreground": _BLACK,
        "input-cursor-background": _GREY,
        "input-selection-background": _MAGENTA,
        "scrollbar": _GREY,
        "scrollbar-hover": _GREY,
        "scrollbar-active": _GREY,
        "scrollbar-background": _BLACK,
        "scrollbar-background-hover": _BLACK,
        "scrollbar-background-active": _BLACK,
        "panel-lighten-1": _BLUE,
        "panel-darken-1": _BLACK,
    },
)

NOON_16 = Theme(
    name="larder-noon-16",
    dark=False,
    primary=_BLUE,
    secondary=_BLUE,
    accent=_BLUE,
    success=_BLUE,
    warning=_MAGENTA,
    error=_RED,
    foreground=_BLACK,
    background=_GREY,
    surface=_GREY,
    panel=_CYAN,
    text_alpha=1.0,
    variables={
        "primary-muted": _CYAN,
        "secondary-muted": _CYAN,
        "success-muted": _CYAN,
        "text-muted": _BLACK,
        "text-disabled": _BLACK,
        "text-warning": _BLACK,
        "text-success": _BLACK,
        "text-error": _BLACK,
        "block-cursor-foreground": _WHITE,
        "block-cursor-background": _BLUE,
        "block-cursor-blurred-foreground": _BLACK,
        "block-cursor-blurred-background": _CYAN,
        "border": _BLUE,
        "border-blurred": _BLUE,
        "footer-key-foreground": _BLACK,
        "input-cursor-foreground": _WHITE,
        "input-cursor-background": _BLUE,
        "input-selection-background": _CYAN,
        "scrollbar": _BLUE,
        "scrollbar-hover": _BLUE,
        "scrollbar-active": _BLUE,
        "scrollbar-background": _GREY,
        "scrollbar-background-hover": _GREY,
        "scrollbar-background-active": _GREY,
        "panel-lighten-1": _CYAN,
        "panel-darken-1": _CYAN,
    },
)

_MANY = {"dusk": DUSK, "noon": NOON}
_FEW = {"dusk": DUSK_16, "noon": NOON_16}


def fitting(theme: str, *, has_few_colours: bool) -> str:
    """The name of a theme of the settings, in as many colours as the terminal has; dusk if blank.

    Asked for at every start, so before the settings are understood.
    """
    return (_FEW if has_few_colours else _MANY)[theme if theme in _MANY else "dusk"].name


def is_of_few_colours(name: str) -> bool:
    """Whether a theme is one of those made for sixteen colours."""
    return name in {theme.name for theme in _FEW.values()}


def register(app: App[None]) -> None:
    """Make the themes known to an app."""
    for theme in (*_MANY.values(), *_FEW.values()):
        app.register_theme(theme)
