"""The two colour themes of the larder: dusk and noon."""

from textual.app import App
from textual.theme import Theme

DUSK = Theme(
    name="larder-dusk",
    dark=True,
    primary="#e0a04a",  # amber glass
    secondary="#a5764a",  # the plank
    accent="#f2c879",
    success="#a3be7b",  # green herb
    warning="#f5b83d",
    error="#b8402b",
    foreground="#f0e6d4",
    background="#191410",
    surface="#241d17",
    panel="#34291f",
    variables={
        "primary-muted": "#5e3c14",
        "secondary-muted": "#4a3322",
        "success-muted": "#33411f",
        "text-muted": "#c9b799",
        "block-cursor-foreground": "#191410",
        "block-cursor-background": "#f2c879",
        "border": "#a5764a",
        "border-blurred": "#4a3a2b",
        "footer-key-foreground": "#f2c879",
        "input-selection-background": "#a5764a 45%",
        "scrollbar": "#6b4f37",
        "scrollbar-background": "#201a15",
    },
)

NOON = Theme(
    name="larder-noon",
    dark=False,
    primary="#9a5c0a",
    secondary="#8a5f3a",
    accent="#7d4a06",
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
        "text-muted": "#65523d",
        "text-warning": "#7a4300",
        "text-success": "#35541a",
        "text-error": "#9a2413",
        "block-cursor-foreground": "#fbf6ec",
        "block-cursor-background": "#6b3f06",
        "border": "#8a5f3a",
        "border-blurred": "#cdbb9f",
        "footer-key-foreground": "#7d4a06",
        "input-selection-background": "#c9a47c 60%",
        "scrollbar": "#b9986f",
        "scrollbar-background": "#e8dac2",
    },
)

DEFAULT = DUSK.name
"""The theme a new shelf opens in."""


def register(app: App[None]) -> None:
    """Make both themes known to an app.

    The look is written with the variables every Textual theme has, so that any of the built-in
    themes can be chosen as well and no defaults have to be declared.
    """
    app.register_theme(DUSK)
    app.register_theme(NOON)
