"""A label as plain text."""

from stillroom.keeping.label_text import AnyLabel, Role
from stillroom.paper.document import ticks
from stillroom.paper.plain import wrap


def plain_text_label(label: AnyLabel, width: int = 40) -> str:
    """A label as lines of text no wider than `width`."""
    texts = (ticks(line.text) if line.role is Role.SHAKES else line.text for line in label.lines)
    return "\n".join(row for text in texts for row in wrap(text, width))
