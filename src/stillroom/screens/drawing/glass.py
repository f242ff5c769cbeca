"""The glass of a jar: lid, shoulder, walls, base, and the liquid between the walls."""

from collections.abc import Sequence

from rich.cells import cell_len

from stillroom.keeping.cards import JarCard
from stillroom.screens.drawing.look import Line, Look, Span, centred
from stillroom.screens.kit.text import fit

_EIGHTHS = " ▁▂▃▄▅▆▇"


def _wet(line: Line, depth: float, liquid: str, look: Look) -> Line:
    """A line inside the glass whose lowest `depth`, 0 to 1, is under liquid."""
    if depth >= 1:
        return tuple(span if span.ground else span._replace(ground=liquid) for span in line)
    eighth = int(depth * 8)
    dry = "inside"
    if not eighth:
        return tuple(span if span.ground else span._replace(ground=dry) for span in line)
    surface = look.marks.ripple if look.shows_level_by_glyph else _EIGHTHS[eighth]
    ink = "tincture-surface" if liquid == "tincture" else "surface"
    behind = liquid if depth >= 0.5 else dry
    wet: list[Span] = []
    for span in line:
        if span.ground:
            wet.append(span)
        elif span.text.strip():
            wet.append(span._replace(ground=behind))
        else:
            wet.append(Span(surface * len(span.text), ink, dry))
    return tuple(wet)


def glazed(
    inside: Sequence[Line], level: float, liquid: str, is_chosen: bool, look: Look
) -> list[Line]:
    """Lines between two walls, with liquid standing in them to `level`, 0 to 1."""
    marks = look.marks
    wall = (marks.cursor_outline if is_chosen else marks.outline)[3]
    ink = "cursor" if is_chosen else "glass"
    lines: list[Line] = []
    for at, line in enumerate(inside):
        depth = min(1.0, max(0.0, level * len(inside) - (len(inside) - 1 - at)))
        is_wet = look.shows_level_by_glyph and depth >= 0.5
        edge = Span(marks.wet_wall if is_wet and not is_chosen else wall, ink, "air")
        lines.append((edge, *_wet(line, depth, liquid, look), edge))
    return lines


def shoulder(card: JarCard, inner: int, is_chosen: bool, look: Look) -> Line:
    """The top of the glass, meeting the lid; it holds a warning."""
    corners = look.marks.cursor_outline if is_chosen else look.marks.outline
    edge = "cursor" if is_chosen else "glass"
    neck = look.marks.necks[is_chosen]
    text = _warning(card, inner - 4)
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


def _warning(card: JarCard, room: int) -> str:
    """What the shoulder of the jar warns of."""
    if card.covered or not card.is_steeping:
        return ""
    return "! herb uncovered" if room >= 18 else "! uncovered"
