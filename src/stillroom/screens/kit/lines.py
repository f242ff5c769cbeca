"""Lines of text that change while a person types."""

from rich.text import Text
from textual.widgets import Static


def show(line: Static, text: Text | str) -> None:
    """Show a text; where it shows already the screen isn't laid out and drawn again."""
    if line.content != text:
        line.update(text)
