"""Lines of text that change while a person types."""

from rich.text import Text
from textual.widgets import Static


def show(line: Static, text: Text | str) -> None:
    """Show a text; the screen is laid out again only where the text takes another room."""
    if line.content == text:
        return
    line.update(text, layout=False)
    if _takes_another_room(line):
        line.refresh(layout=True)


def _takes_another_room(line: Static) -> bool:
    """Whether it has another height than it was given, or another width where it has its own."""
    width, size = line.styles.width, line.content_size
    if not size.width or (width is not None and width.is_auto):
        return True
    return line.visual.get_height(line.styles.get_rules(), size.width) != size.height
