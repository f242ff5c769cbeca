"""The glass of a jar: lid, shoulder, walls, base, and the liquid between the walls."""

from collections.abc import Sequence

from rich.cells import cell_len

from stillroom.keeping.cards import JarCard
from stillroom.screens.drawing.look import CLEAR, Line, Look, Span, centred
from stillroom.screens.kit.text import fit

_EIGHTHS = " ▁▂▃▄▅▆▇█"


def _wet(line: Line, eighths: int, liquid: str, clear: str, look: Look) -> Line:
    """A line inside the glass, the lowest eighths of which are under liquid."""
    line = tuple(span._replace(ground=clear) if span.ground == CLEAR else span for span in line)
    behind = liquid if eighths >= 4 else "inside"
    if eighths in (0, 8):
        return tuple(span if span.ground else span._replace(ground=behind) for span in line)
    surface = look.marks.ripple if look.shows_level_by_glyph else _EIGHTHS[eighths]
    ink = "tincture-surface" if liquid == "tincture" else "surface"
    wet: list[Span] = []
    for span in line:
        if span.ground:
            wet.append(span)
        elif span.text.strip():
            wet.append(span._replace(ground=behind))
        else:
            wet.append(Span(surface * len(span.text), ink, "inside"))
    return tuple(wet)


def depths(level: float, lines: int) -> list[int]:
    """How many eighths of each line are under liquid that rises to `level`, 0 to 1.

    Short of full its surface is always to be seen, as a line that is wet in part.

    >>> depths(0.5, 4)
    [0, 0, 7, 8]
    """
    wet = round(level * lines * 8)
    if level > 0 and level < 1:
        wet = max(1, wet - (wet % 8 == 0))
    return [min(8, max(0, wet - 8 * (lines - 1 - at))) for at in range(lines)]


def glazed(
    inside: Sequence[Line], level: float, liquid: str, is_chosen: bool, look: Look
) -> list[Line]:
    """Lines between two walls, with liquid in them up to `level`, 0 to 1."""
    marks = look.marks
    wall = (marks.cursor_outline if is_chosen else marks.outline)[3]
    ink = "cursor" if is_chosen else "glass"
    depth = depths(level, len(inside))
    figures = [at for at, line in enumerate(inside) if any(s.ground == CLEAR for s in line)]
    is_under = all(depth[at] == 8 for at in figures)
    lines: list[Line] = []
    for at, line in enumerate(inside):
        is_wet = look.shows_level_by_glyph and depth[at] >= 4
        edge = Span(marks.wet_wall if is_wet and not is_chosen else wall, ink, "air")
        within = _wet(line, depth[at], liquid, liquid if is_under else "inside", look)
        lines.append((edge, *within, edge))
    return lines


def shoulder(card: JarCard, inner: int, is_chosen: bool, look: Look) -> Line:
    """The top of the glass, meeting the lid; it holds a warning."""
    corners = look.marks.cursor_outline if is_chosen else look.marks.outline
    edge = "cursor" if is_chosen else "glass"
    neck = look.marks.necks[is_chosen]
    text = warning(card, inner - 4)
    text = f" {text} " if text and cell_len(text) + 6 <= inner else text
    space = inner - 4 - cell_len(text)
    before, after = space // 2, space - space // 2
    return (
        Span(f"{corners[0]}{corners[1]}{neck}{corners[1] * before}", edge, "air"),
        Span(text, "warning", "air"),
        Span(f"{corners[1] * after}{neck}{corners[1]}{corners[2]}", edge, "air"),
    )


def base(text: str, inner: int, is_chosen: bool, look: Look) -> Line:
    """The bottom of the glass, with the age of the steep set in it."""
    corners = look.marks.cursor_outline if is_chosen else look.marks.outline
    edge = "cursor" if is_chosen else "glass"
    text = f" {text} " if cell_len(text) + 2 <= inner else fit(text, inner, look.marks.ellipsis)
    space = inner - cell_len(text)
    before, after = space // 2, space - space // 2
    return (
        Span(corners[4] + corners[1] * before, edge, "air"),
        Span(text, "faint", "air"),
        Span(corners[1] * after + corners[5], edge, "air"),
    )


def lid(card: JarCard, inner: int, look: Look) -> Line:
    """The lid, with the batch code written on it."""
    code = fit(card.code, inner - 2, look.marks.ellipsis)
    lid = centred(code, inner - 2, "", "lid")
    if look.shows_level_by_glyph:
        lid = (Span("[", "glass", "air"), *lid, Span("]", "glass", "air"))
        return (Span(" ", "", "air"), *lid, Span(" ", "", "air"))
    return (Span("  ", "", "air"), *lid, Span("  ", "", "air"))


def warning(card: JarCard, room: int) -> str:
    """What a jar warns of, in the room there is for it."""
    if card.covered or not card.is_steeping:
        return ""
    return "! herb uncovered" if room >= 18 else "! uncovered"
