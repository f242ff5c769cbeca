"""A bottle's label as plain text."""

from stillroom.keeping.bottles.labels import Label
from stillroom.paper.plain import wrap


def plain_text_label(label: Label, width: int = 40) -> str:
    """A label as lines of text no wider than `width`."""
    return "\n".join(row for line in label.lines for row in wrap(line.text, width))
