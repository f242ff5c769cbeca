"""How one jar is drawn: lines of spans that name their colours and never hold any."""

import unicodedata
from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from rich.cells import cell_len

from stillroom.keeping.cards import JarCard


class Span(NamedTuple):
    """A stretch of one line, with the names of its ink and of the ground under it."""

    text: str
    ink: str = ""
    ground: str = ""


Line = tuple[Span, ...]

INKS = (
    "herb",
    "faint",
    "hint",
    "glass",
    "cursor",
    "count",
    "done",
    "wanted",
    "warning",
    "surface",
    "tincture-surface",
    "plank-name",
    "plank-note",
    "plank-line",
)
"""Names an ink can have; a widget maps each to a style."""

GROUNDS = ("air", "inside", "label", "pick", "liquid", "tincture", "due", "over", "lid", "plank")
"""Names a ground can have; a widget maps each to a style."""


class Marks(NamedTuple):
    """The glyphs a jar is drawn with."""

    outline: str
    """Corners and edges: top left, flat, top right, wall, bottom left, bottom right."""
    cursor_outline: str
    necks: str
    """Where the lid's edge meets the glass, of a jar and of the chosen jar."""
    wet_wall: str
    """A wall with liquid behind it, where colour cannot tell."""
    ripple: str
    shaken: str
    to_shake: str
    part_shaken: str
    pointers: str
    board: str
    dot: str
    ellipsis: str


FINE = Marks("╭─╮│╰╯", "┏━┓┃┗┛", "┴┻", "║", "~", "✓", "○", "◐", "▶◀", "━", "·", "…")
PLAIN = Marks("┌─┐│└┘", "+=+|++", "┴+", "#", "~", "[x]", "[ ]", "[/]", "><", "=", "-", "~")
"""For consoles whose fonts hold little more than ASCII and single-line boxes."""


class Look(NamedTuple):
    """How jars are drawn on this screen."""

    cell_width: int = 19
    """Columns a jar takes on its plank, with the gap at either side."""
    scale: int = 1
    """Size of the countdown: 1 is three lines high, 2 is six."""
    is_flat: bool = False
    """Whether grounds have no colours of their own, so that glyphs must show the level."""
    is_plain: bool = False
    """Whether only ASCII and single-line boxes can be relied on."""

    @property
    def marks(self) -> Marks:
        """The glyphs to use."""
        return PLAIN if self.is_plain else FINE

    @property
    def shows_level_by_glyph(self) -> bool:
        """Whether walls and ripples stand in for a coloured ground."""
        return self.is_flat or self.is_plain

    @property
    def jar_height(self) -> int:
        """Lines from lid to base."""
        return 6 + self.figure_height

    @property
    def figure_height(self) -> int:
        """Lines kept for the countdown, with air above it where there is room to spare."""
        return 3 * self.scale + (self.scale > 1)


# --- Text that comes from people -------------------------------------------------------------


@lru_cache(4096)
def safe(text: str) -> str:
    """The text as it may stand in a cell grid: one line, nothing invisible, no stray marks.

    >>> safe("Mug\\twort\\ufe0f \\x1b[31m")
    'Mug wort [31m'
    """
    kept: list[str] = []
    marks = 0
    for character in unicodedata.normalize("NFC", text):
        category = unicodedata.category(character)
        if category in ("Cc", "Zl", "Zp", "Zs"):
            kept.append(" ")
        elif category in ("Mn", "Me") and not _is_variation(character):
            # A mark needs a base, and more than two on one base would climb out of the line.
            if kept and kept[-1] != " " and marks < 2:
                kept.append(character)
            marks += 1
            continue
        elif category in ("Cn", "Co", "Cs"):
            kept.append("?")
        elif category != "Cf" and not _is_variation(character):
            kept.append(character)
        marks = 0
    return " ".join("".join(kept).split())


def _is_variation(character: str) -> bool:
    """Whether it is a variation selector, on whose width terminals do not agree."""
    return "\ufe00" <= character <= "\ufe0f" or "\U000e0100" <= character <= "\U000e01ef"


def fit(text: str, width: int, ellipsis: str = "…") -> str:
    """Safe text cut to a width in cells.

    >>> fit("Meadowsweet", 8)
    'Meadows…'
    """
    text = safe(text)
    if cell_len(text) <= width:
        return text
    if width <= 0:
        return ""
    cut = text[:width]
    while cut and cell_len(cut) > width - 1:
        cut = cut[:-1]
    return cut.rstrip() + ellipsis


def _centred(text: str, width: int, ink: str, ground: str = "") -> Line:
    """A line of `width` cells with the text in its middle."""
    text = text if cell_len(text) <= width else fit(text, width)
    space = width - cell_len(text)
    left = space // 2
    return (
        Span(" " * left, "", ground),
        Span(text, ink, ground),
        Span(" " * (space - left), "", ground),
    )


# --- Big letters -----------------------------------------------------------------------------

_SHEETS = (
    (
        "0123456789",
        """
        .####. ..##. .####. .####. ##..## ###### .####. ###### .####. .####.
        ##..## ####. ##..## ##..## ##..## ##.... ##.... ....## ##..## ##..##
        ##..## ..##. ...##. ...##. ###### #####. #####. ...##. .####. .#####
        ##..## ..##. ..##.. ....## ....## ....## ##..## ..##.. ##..## ....##
        ##..## ..##. .##... ##..## ....## ##..## ##..## ..##.. ##..## ...##.
        .####. ##### ###### .####. ....## .####. .####. ..##.. .####. .###..
        """,
    ),
    (
        "ABCDEFGHIJKLM",
        """
        .####. #####. .####. ####.. ###### ###### .####. ##..## #### ....## ##..## ##.... ##...##
        ##..## ##..## ##..## ##.##. ##.... ##.... ##..## ##..## .##. ....## ##.##. ##.... ###.###
        ##..## #####. ##.... ##..## #####. #####. ##.... ###### .##. ....## ####.. ##.... #######
        ###### ##..## ##.... ##..## ##.... ##.... ##.### ##..## .##. ....## ####.. ##.... ##.#.##
        ##..## ##..## ##..## ##.##. ##.... ##.... ##..## ##..## .##. ##..## ##.##. ##.... ##...##
        ##..## #####. .####. ####.. ###### ##.... .##### ##..## #### .####. ##..## ###### ##...##
        """,
    ),
    (
        "NOPQRSTUVWXYZ",
        """
        ##..## .####. #####. .####. #####. .##### ###### ##..## ##..## ##...## ##..## ##..## ######
        ###.## ##..## ##..## ##..## ##..## ##.... ..##.. ##..## ##..## ##...## ##..## ##..## ....##
        ###### ##..## ##..## ##..## ##..## .####. ..##.. ##..## ##..## ##.#.## .####. .####. ...##.
        ##.### ##..## #####. ##..## #####. ....## ..##.. ##..## ##..## ####### .####. ..##.. .##...
        ##..## ##..## ##.... ##.##. ##.##. ....## ..##.. ##..## .####. ###.### ##..## ..##.. ##....
        ##..## .####. ##.... .###.# ##..## #####. ..##.. .####. ..##.. ##...## ##..## ..##.. ######
        """,
    ),
    (
        "-'/+",
        """
        .... ## ....# ......
        .... ## ...## ..##..
        #### .. ..##. ######
        #### .. .##.. ..##..
        .... .. ##... ......
        .... .. #.... ......
        """,
    ),
)


def _cut(sheets: tuple[tuple[str, str], ...]) -> dict[str, tuple[str, ...]]:
    """Each letter's six rows of dots."""
    letters: dict[str, tuple[str, ...]] = {" ": ("...",) * 6}
    for names, sheet in sheets:
        rows = [row.split() for row in sheet.split("\n") if row.strip()]
        letters |= {name: tuple(row[at] for row in rows) for at, name in enumerate(names)}
    return letters


_DOTS = _cut(_SHEETS)
_QUADRANTS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
"""By the bits of a cell's four dots: upper left 1, upper right 2, lower left 4, lower right 8."""
_SEGMENTS: dict[str, tuple[str, ...]] = {
    "0": (" _ ", "| |", "|_|"),
    "1": ("   ", "  |", "  |"),
    "2": (" _ ", " _|", "|_ "),
    "3": (" _ ", " _|", " _|"),
    "4": ("   ", "|_|", "  |"),
    "5": (" _ ", "|_ ", " _|"),
    "6": (" _ ", "|_ ", "|_|"),
    "7": (" _ ", "  |", "  |"),
    "8": (" _ ", "|_|", "|_|"),
    "9": (" _ ", "|_|", " _|"),
}


@lru_cache(1024)
def big(text: str, scale: int = 1, *, is_plain: bool = False) -> tuple[str, ...] | None:
    """The text in letters of `3 * scale` lines; None where a letter is not to be had.

    >>> big("0")
    ('▟▀▙', '█ █', '▜▄▛')
    """
    bare = unicodedata.normalize("NFKD", safe(text)).upper()
    bare = "".join(character for character in bare if not unicodedata.combining(character))
    font = _SEGMENTS if is_plain and scale == 1 else _DOTS
    if not bare or any(character not in font for character in bare):
        return None
    if font is _SEGMENTS:
        return tuple(" ".join(font[character][row] for character in bare) for row in range(3))
    # Figures stand a whole cell apart, so that they are told apart from afar; letters half a cell.
    gap = ".." if bare.isdigit() else "."
    dots = [gap.join(font[character][row] for character in bare) for row in range(6)]
    return _hashes(dots, scale // 2) if is_plain else _quadrants(dots, scale)


def _hashes(dots: Sequence[str], scale: int) -> tuple[str, ...]:
    """Dots as `#`, each a cell."""
    rows = ["".join(("#" if d == "#" else " ") * scale for d in row) for row in dots]
    return tuple(row for row in rows for _ in range(scale))


def _quadrants(dots: Sequence[str], scale: int) -> tuple[str, ...]:
    """Dots two by two in a cell."""
    rows = ["".join(dot * scale for dot in row) for row in dots for _ in range(scale)]
    rows = [row + "." * (len(row) % 2) for row in rows]
    return tuple(
        "".join(
            _QUADRANTS[
                (upper[at] == "#")
                + 2 * (upper[at + 1] == "#")
                + 4 * (lower[at] == "#")
                + 8 * (lower[at + 1] == "#")
            ]
            for at in range(0, len(upper), 2)
        )
        for upper, lower in zip(rows[::2], rows[1::2], strict=True)
    )


# --- What a jar says ------------------------------------------------------------------------


class Countdown(NamedTuple):
    """A countdown in its parts."""

    figure: str
    """The part to draw big."""
    words: tuple[str, ...]
    """What stands beside it, from above."""
    ground: str
    """`due`, `over`, or empty while there is time."""


def countdown(card: JarCard, today: date) -> Countdown:
    """The countdown of a steeping jar."""
    left = card.days_left(today)
    if left == 0:
        return Countdown("DUE", ("today",), "due")
    day = "day" if abs(left) == 1 else "days"
    if left < 0:
        return Countdown(str(-left), (day, "over"), "over")
    return Countdown(str(left), (day,), "")


def herbs(card: JarCard) -> str:
    """The herb's name, with how many more are in the jar."""
    return f"{safe(card.herb)} +{card.more_herbs}" if card.more_herbs else safe(card.herb)


def _herbs_within(card: JarCard, width: int, ellipsis: str) -> str:
    """The herb's name cut so that the count of further herbs is never what is lost."""
    more = f" +{card.more_herbs}" if card.more_herbs else ""
    return fit(card.herb, width - len(more), ellipsis) + more


def _part_within(card: JarCard, width: int, marks: Marks) -> str:
    """Part and condition; where room is short, it is the part that is cut."""
    condition = f" {marks.dot} {safe(card.condition)}"
    return fit(card.part, width - cell_len(condition), marks.ellipsis) + condition


def shake_state(card: JarCard, marks: Marks) -> tuple[str, str]:
    """Today's shaking in a mark and a word, and its ink."""
    if not card.is_steeping:
        return "strained", "faint"
    if card.shakes_per_day == 0:
        return "no shaking", "faint"
    if not card.shakes_left:
        return f"{marks.shaken} shaken", "done"
    if card.shaken:
        return f"{marks.part_shaken} {card.shaken} of {card.shakes_per_day}", "wanted"
    if card.shakes_per_day > 1:
        return f"{marks.to_shake} 0 of {card.shakes_per_day}", "wanted"
    return f"{marks.to_shake} to shake", "wanted"


def amount(volume_ml: float) -> str:
    """A volume, short.

    >>> amount(430.0), amount(7.5)
    ('430 mL', '7.5 mL')
    """
    return f"{volume_ml:.0f} mL" if volume_ml >= 10 else f"{volume_ml:.1f} mL"


def steep(card: JarCard, today: date) -> str:
    """How far the steep is, in words."""
    if not card.is_steeping:
        return "off the herb"
    if today < card.filled_on:  # the clock has been set back
        return "yet to fill"
    whole = (card.strain_on - card.filled_on).days
    return f"day {(today - card.filled_on).days} of {whole}"


# --- Glass and liquid -----------------------------------------------------------------------


def _block(figure: Sequence[str], words: Sequence[str], width: int) -> list[Line]:
    """A big figure with its words at the lower right, centred."""
    room = max((len(word) for word in words), default=0)
    gap = 1 if room and len(figure[0]) + room < width else 0
    space = max(0, width - len(figure[0]) - gap - room)
    left, right = Span(" " * (space // 2)), Span(" " * (space - space // 2))
    first = len(figure) - len(words)
    lines: list[Line] = []
    for at, row in enumerate(figure):
        word = words[at - first] if at >= first else ""
        rest = Span(" " * (room - len(word)))
        lines.append((left, Span(row, "count"), Span(" " * gap), Span(word, "count"), rest, right))
    return lines


def _big_words(words: Sequence[str], scale: int, look: Look) -> Sequence[str]:
    """The words beside a figure of this scale: in letters a third its height once it is large."""
    if scale < 3 or look.is_plain or not words:
        return words
    drawn = [big(word, scale // 3) or (word,) for word in words]
    room = max(len(rows[0]) for rows in drawn)
    lines: list[str] = []
    for rows in drawn:
        lines += ["", *(" " + row.ljust(room) for row in rows)]
    return lines[1:]


def _figure_lines(count: Countdown, width: int, height: int, look: Look) -> list[Line]:
    """The countdown as big as the room allows, in exactly `height` lines."""
    for scale in range(height // 3, 0, -1):
        words = _big_words(count.words, scale, look)
        room = max((len(word) for word in words), default=0)
        figure = big(count.figure, scale, is_plain=look.is_plain)
        if figure and len(figure[0]) + room <= width:
            return _in_middle(_block(figure, words, width), width, height)
    spaced = " ".join(count.figure) if count.figure.isalpha() else count.figure
    line = _centred(" ".join((spaced, *count.words)), width, "count")
    return _in_middle([line], width, height)


def _in_middle(lines: list[Line], width: int, height: int) -> list[Line]:
    """Lines with empty ones above and below to fill a height."""
    blank: Line = (Span(" " * width),)
    above = (height - len(lines) + 1) // 2
    return [blank] * above + lines + [blank] * (height - len(lines) - above)


def _on_ground(line: Line, ground: str) -> Line:
    """A line laid on a ground that also gives it its ink."""
    return tuple(Span(span.text, "", ground) for span in line)


_STRAINED_LEVEL = 0.75
"""How full a jar of tincture is drawn: what it holds is known, what it could hold is not."""
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


def _glazed(
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


def _shoulder(card: JarCard, inner: int, is_chosen: bool, look: Look) -> Line:
    """The top of the glass, meeting the lid; a warning stands in it."""
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


def _base(text: str, inner: int, is_chosen: bool, look: Look) -> Line:
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


def _lid(card: JarCard, inner: int, look: Look) -> Line:
    """The lid, with the batch code written on it."""
    code = fit(card.code, inner - 2, look.marks.ellipsis)
    lid = _centred(code, inner - 2, "", "lid")
    if look.shows_level_by_glyph:
        lid = (Span("[", "glass", "air"), *lid, Span("]", "glass", "air"))
        return (Span(" ", "", "air"), *lid, Span(" ", "", "air"))
    return (Span("  ", "", "air"), *lid, Span("  ", "", "air"))


def _warning(card: JarCard, room: int) -> str:
    """What the shoulder of the jar warns of."""
    if card.covered or not card.is_steeping:
        return ""
    return "! herb uncovered" if room >= 18 else "! uncovered"


def _contents(card: JarCard, today: date, inner: int, height: int, look: Look) -> list[Line]:
    """The countdown, or what is to be bottled, on its own ground where it must be seen."""
    if card.to_bottle_ml is not None:
        words = [_centred("to bottle", inner, "herb")]
        return _in_middle(
            [*words, _centred(amount(card.to_bottle_ml), inner, "count")], inner, height
        )
    count = countdown(card, today)
    lines = _figure_lines(count, inner, height, look)
    return [_on_ground(line, count.ground) if count.ground else line for line in lines]


def small(card: JarCard, today: date, look: Look, *, is_chosen: bool = False) -> list[Line]:
    """A jar as it stands on its plank: `look.jar_height` lines of `look.cell_width` cells."""
    inner = look.cell_width - 4
    marks = look.marks
    state, state_ink = shake_state(card, marks)
    label = "pick" if is_chosen else "label"
    level = card.progress(today) if card.is_steeping else _STRAINED_LEVEL
    liquid = "liquid" if card.is_steeping else "tincture"
    within = [
        *_contents(card, today, inner, look.figure_height, look),
        _centred(state, inner, state_ink),
    ]
    labels = [
        _centred(
            _herbs_within(card, inner, marks.ellipsis), inner, "" if is_chosen else "herb", label
        ),
        _centred(_part_within(card, inner, marks), inner, "" if is_chosen else "faint", label),
    ]
    lines = [
        _lid(card, inner, look),
        _shoulder(card, inner, is_chosen, look),
        *_glazed(labels, 0.0, liquid, is_chosen, look),
        *_glazed(within, level, liquid, is_chosen, look),
        _base(steep(card, today), inner, is_chosen, look),
    ]
    gap = Span(" ", "", "air")
    cell = [(gap, *line, gap) for line in lines]
    if is_chosen:
        before, after = (Span(mark, "cursor", "air") for mark in marks.pointers)
        for at in (2, 3):
            cell[at] = (before, *lines[at], after)
    return cell


# --- The round's jar ------------------------------------------------------------------------


def _lettered(text: str, ink: str, width: int, scale: int, look: Look) -> list[Line]:
    """Text in the largest letters up to `scale` that fit, or wide-spaced, or as it is."""
    for size in range(scale, 0, -1):
        letters = big(text, size, is_plain=look.is_plain)
        if letters and len(letters[0]) <= width:
            return [_centred(row, width, ink) for row in letters]
    text = safe(text)
    spaced = "   ".join(" ".join(word) for word in text.split())
    is_spaceable = not any(unicodedata.combining(character) for character in text)
    if is_spaceable and cell_len(spaced) <= width:
        return [_centred(spaced, width, ink)]
    return [_centred(fit(text, width, look.marks.ellipsis), width, ink)]


def _shake_lines(card: JarCard, inner: int, scale: int, look: Look) -> list[Line]:
    """Today's shaking in letters as large as may be, with its mark below."""
    state, ink = shake_state(card, look.marks)
    line = _centred(state, inner, ink)
    if not card.is_steeping or not card.shakes_per_day or look.is_plain:
        return [line]
    said = _lettered("to shake" if card.shakes_left else "shaken", ink, inner, scale, look)
    return [*said, line] if len(said) > 1 else [line]


def large(card: JarCard, today: date, width: int, height: int, look: Look) -> list[Line]:
    """One jar as large as the screen, to be read with wet hands from two metres."""
    inner = max(12, min(width - 4, 4 * height))
    scale = max(0, (height - 6) // 12)
    name = _lettered(herbs(card), "herb", inner - 2, scale, look)
    foot = _shake_lines(card, inner, scale, look)
    blank: Line = (Span(" " * inner),)
    # Above and below the name and the countdown a line of air, while there are lines to give.
    room = height - 4 - len(name) - len(foot)
    air = [blank] if room >= 6 else []
    middle = _contents(card, today, inner, max(1, room - 2 * len(air)), look)
    within = [
        *((Span(" "), *line, Span(" ")) for line in name),
        _centred(_part_within(card, inner, look.marks), inner, "faint"),
        *air,
        *middle,
        *air,
        *foot,
    ]
    level = card.progress(today) if card.is_steeping else _STRAINED_LEVEL
    lines = [
        _lid(card, inner, look),
        _shoulder(card, inner, False, look),
        *_glazed(within, level, "liquid" if card.is_steeping else "tincture", False, look),
        _base(steep(card, today), inner, False, look),
    ]
    left = max(0, width - inner - 2) // 2
    right = max(0, width - inner - 2 - left)
    return [
        (Span(" " * left, "", "air"), *line, Span(" " * right, "", "air"))
        for line in lines[:height]
    ]
