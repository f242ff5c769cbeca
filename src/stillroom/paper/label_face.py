"""One label drawn: its text set as large as fits, its code as a square that a camera reads."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import groupby
from typing import Any, NoReturn

from stillroom.errors import StillroomError
from stillroom.keeping.label_text import AnyLabel, LabelLine, Role
from stillroom.paper.fonts import (
    UNDRAWN,
    Face,
    beyond,
    draw_row,
    make_ready,
    printable,
    refuse_undrawable,
    width,
)
from stillroom.paper.label_square import QUIET_CELLS, Box, code_square

POINTS_PER_MM = 72 / 25.4

LEAST_SIZE_MM = 6 * 25.4 / 72
"""The least size of type: 6 points. The font's x-height, 1120 of 2048 units, is 1.16 mm then, more
than the 0.9 mm that Regulation (EU) 1169/2011, article 13(3), asks for on small packages."""

LEFT_OUT = (
    Role.SHAKES, Role.MAKER, Role.ORIGIN, Role.SOLVENT, Role.VOLUME, Role.RATIO, Role.BOTANICAL,
    Role.WORD, Role.HERB, Role.FACT,
)  # fmt: skip
"""What is left out where not everything fits, the first one first, then the code square. Never the
name, strength, code, dates, cautions, nor whom it is for and the directions: a label on which these
don't fit is refused."""

LARGEST, SMALLEST, STEPS = 1.35, 0.4, 40
"""How far type may grow or shrink from its usual size, and in how many steps it is tried."""
ROOMY = 0.85
"""Below this size lines that belong together run on, which makes them larger again."""

CAP_HEIGHT = 0.73
"""Of the font, in parts of its size."""
CODE_GAP_MM = 1.0
"""Between the code in figures and text beside it."""
LEADING = 1.18
DESCENT = 0.24

LARGEST_SQUARE = 0.39
"""How much of a label's height a square with text after the code may take; a code alone, and no
text, is on smaller labels."""


class LabelTooSmall(StillroomError):
    """A label's text does not fit at a size that can be read."""


@dataclass(frozen=True)
class PlacedText:
    """A line of text where it is printed."""

    text: str
    face: Face
    size_mm: float
    left: float
    baseline: float
    role: Role
    above_mm: float = 0.0
    """What a font of another script needs more than our own, above the row and below."""
    below_mm: float = 0.0

    @property
    def box(self) -> Box:
        """The room it takes."""
        top = self.baseline - (LEADING - DESCENT) * self.size_mm - self.above_mm
        high = LEADING * self.size_mm + self.above_mm + self.below_mm
        return Box(self.left, top, width(self.text, self.face, self.size_mm), high)

    @property
    def ink(self) -> Box:
        """The room its capitals and descenders take, without the leading above."""
        top = self.baseline - CAP_HEIGHT * self.size_mm - self.above_mm
        return Box(self.left, top, self.box.width, self.box.bottom - top)


@dataclass(frozen=True)
class Layout:
    """A label ready to draw."""

    texts: tuple[PlacedText, ...]
    cells: tuple[Box, ...]
    """The dark runs of the code square."""
    square: Box
    rule: Box | None
    """The hairline above the cautions."""
    left_out: tuple[str, ...] = ()
    """What didn't fit, in words."""


@dataclass(frozen=True)
class _Type:
    face: Face
    size_mm: float


_TYPE = {
    Role.STATUS: _Type(Face.BOLD, 3.2),
    Role.NAME: _Type(Face.BOLD, 4.2),
    Role.WORD: _Type(Face.PLAIN, 2.9),
    Role.BOTANICAL: _Type(Face.SLANTED, 2.9),
    Role.HERB: _Type(Face.PLAIN, 2.9),
    Role.RATIO: _Type(Face.PLAIN, 2.9),
    Role.SOLVENT: _Type(Face.PLAIN, 2.9),
    Role.STRENGTH: _Type(Face.PLAIN, 2.9),
    Role.VOLUME: _Type(Face.PLAIN, 2.9),
    Role.FACT: _Type(Face.PLAIN, 2.9),
    Role.PERSON: _Type(Face.BOLD, 3.2),
    Role.DIRECTIONS: _Type(Face.PLAIN, 2.9),
    Role.DATE: _Type(Face.PLAIN, 2.9),
    Role.SHAKES: _Type(Face.PLAIN, 4.4),
    Role.CODE: _Type(Face.BOLD, 2.9),
    Role.ORIGIN: _Type(Face.PLAIN, 2.6),
    Role.MAKER: _Type(Face.PLAIN, 2.6),
    Role.CAUTION: _Type(Face.PLAIN, 2.3),
}
_FACTS = {Role.RATIO, Role.SOLVENT, Role.STRENGTH, Role.VOLUME}
"""They run on together."""
_FIRST_FACT_SPACE = 0.35
"""Above the facts, in parts of their size."""

_JOINT = "·"
"""Between lines that run on; at the edge of a row the break itself is enough."""

# A number stays with its unit, and a date on one line.
_WORDS = re.compile(
    r"(?:Al[ck]\S+ )?(?:about )?\d[\d.,]* (?:% v/v|% vol|%|mL|L|fl oz)(?!\w)\S*"
    r"|\d{1,2}\.? [^\W\d_]{3,5}\.? \d{4}\S*|\S+"
)


@lru_cache(maxsize=512)
def lay_out(label: AnyLabel, inside: Box, size_mm: tuple[float, float]) -> Layout:
    """Set a label into the printable part of its place.

    What doesn't fit is left out in the order of LEFT_OUT. Raises CannotDraw or LabelTooSmall, which
    name the label; `size_mm` is for that message.
    """
    make_ready()
    refuse_undrawable([label.code], _called(label))
    drawable = _drawable(label.lines)
    for left_out, text in _ways(label):
        square, cells = code_square(label.code, text, inside)
        if text != label.code and square.height > LARGEST_SQUARE * inside.height:
            continue
        quiet_mm = QUIET_CELLS * cells[0].height if cells else 0.0
        code = _under_square(label.code, square, quiet_mm, inside) if cells else None
        lines = [
            line
            for line in drawable
            if line.role not in left_out and not (code and line.role is Role.CODE)
        ]
        if found := _best(lines, _Room(inside, square, quiet_mm, code)):
            texts, rule = found
            words = [str(role) for role in left_out]
            words += ["QR code"] if label.code and not text else []
            return Layout((*texts, code) if code else texts, cells, square, rule, tuple(words))
    return _refuse(label, size_mm)


def _drawable(lines: Sequence[LabelLine]) -> list[LabelLine]:
    """The lines with a mark for letters that the font lacks; of a name without any letter left, the
    botanical name takes the place, and the mark stays."""
    botanical = next((line.text for line in lines if line.role is Role.BOTANICAL), "")
    shown = [LabelLine(line.role, printable(line.text)) for line in lines]
    for place, line in enumerate(shown):
        is_lost = not any(char.isalpha() for char in line.text.replace(UNDRAWN, ""))
        if line.role is Role.NAME and UNDRAWN in line.text and is_lost and botanical:
            name = LabelLine(Role.NAME, f"{printable(botanical)} {UNDRAWN}")
            rest = [each for each in shown[place + 1 :] if each.role is not Role.BOTANICAL]
            return [*shown[:place], name, *rest]
    return shown


def _ways(label: AnyLabel) -> Iterator[tuple[tuple[Role, ...], str]]:
    """What may be left out, and the text of the code square, from everything to the least."""
    roles = {line.role for line in label.lines}
    can_go = [role for role in LEFT_OUT if role in roles]
    if label.code and label.scan_text != label.code:
        yield (), label.scan_text
    for count in range(len(can_go) + 1):
        yield tuple(can_go[:count]), label.code
    if label.code:
        yield tuple(can_go), ""


def draw_label(canvas: Any, layout: Layout, page_height_mm: float) -> None:
    """Put a laid-out label on a PDF canvas."""

    def rectangle(path: Any, box: Box) -> None:
        path.rect(
            box.left * POINTS_PER_MM,
            (page_height_mm - box.bottom) * POINTS_PER_MM,
            box.width * POINTS_PER_MM,
            box.height * POINTS_PER_MM,
        )

    canvas.setFillGray(0)
    path = canvas.beginPath()
    for box in layout.cells:
        rectangle(path, box)
    if layout.rule:
        rectangle(path, layout.rule)
    canvas.drawPath(path, stroke=0, fill=1)
    for text in layout.texts:
        left = text.left * POINTS_PER_MM
        baseline = (page_height_mm - text.baseline) * POINTS_PER_MM
        draw_row(canvas, left, baseline, text.text, text.face, text.size_mm * POINTS_PER_MM)


def _called(label: AnyLabel) -> str:
    return f"Label {label.code}, {label.name}," if label.code else f"Label {label.name}"


def _refuse(label: AnyLabel, size_mm: tuple[float, float]) -> NoReturn:
    needed = [line for line in label.lines if line.role not in LEFT_OUT]
    longest = max(needed, key=lambda line: len(line.text))
    verb = "take" if str(longest.role).endswith("s") else "takes"
    raise LabelTooSmall(
        f"{_called(label)} does not fit on {size_mm[0]:g} × {size_mm[1]:g} mm in type of 6 points, "
        f"the least that can be read: its {longest.role.value} {verb} the most room. Shorten it or "
        "choose larger labels."
    )


def _under_square(code: str, square: Box, quiet_mm: float, inside: Box) -> PlacedText | None:
    """The code in figures under its QR code; None if it is too long to fit there."""
    face, usual_mm = _TYPE[Role.CODE].face, _TYPE[Role.CODE].size_mm
    size_mm = max(LEAST_SIZE_MM, min(usual_mm, square.width / _width_of(code, face)))
    wide = _width_of(code, face) * size_mm
    if wide > 1.4 * square.width:
        return None
    left = min(inside.right - wide, square.left + (square.width - wide) / 2)
    baseline = square.bottom + quiet_mm + CAP_HEIGHT * size_mm
    return PlacedText(code, face, size_mm, left, baseline, Role.CODE)


@dataclass(frozen=True)
class _Room:
    """Where text may go: the label less its code square."""

    inside: Box
    square: Box
    quiet_mm: float
    """White around the square."""
    code: PlacedText | None

    @cached_property
    def narrow_until(self) -> float:
        """Below this there is nothing beside the text."""
        return self.code.box.bottom if self.code else self.square.bottom + self.quiet_mm

    def width_at(self, top: float) -> float:
        """How wide a line may be that starts at this height."""
        return self.inside.width if top >= self.narrow_until else self._beside_square

    @cached_property
    def _beside_square(self) -> float:
        left = self.square.left - self.quiet_mm
        if self.code:
            left = min(left, self.code.left - CODE_GAP_MM)
        return left - self.inside.left


_Set = tuple[tuple[PlacedText, ...], Box | None]


def _best(lines: Sequence[LabelLine], room: _Room) -> _Set | None:
    """The largest setting that fits: line by line, or run on where that is larger; words intact."""
    for breaking in (False, True):
        apart = _largest(lines, room, breaking)
        if apart and apart[0] >= ROOMY:
            return apart[1]
        together = _largest(_run_on(lines), room, breaking)
        found = [setting for setting in (apart, together) if setting]
        if found:
            return max(found, key=lambda setting: setting[0])[1]
    return None


def _run_on(lines: Sequence[LabelLine]) -> list[LabelLine]:
    return [
        LabelLine(role, f" {_JOINT} ".join(line.text for line in group))
        for role, group in groupby(lines, key=_running)
    ]


def _running(line: LabelLine) -> Role:
    return Role.FACT if line.role in _FACTS else line.role


def _largest(lines: Sequence[LabelLine], room: _Room, breaking: bool) -> tuple[float, _Set] | None:
    """The largest scale at which everything fits, and the setting; found by halving."""
    best = None
    low, high = 0, STEPS
    while low <= high:
        middle = (low + high) // 2
        scale = SMALLEST + (LARGEST - SMALLEST) * middle / STEPS
        setting = _set(lines, room, scale, breaking)
        if setting:
            best = scale, setting
            low = middle + 1
        else:
            high = middle - 1
    return best


def _set(lines: Sequence[LabelLine], room: _Room, scale: float, breaking: bool) -> _Set | None:
    """Text at one scale: cautions at the foot, everything else from the top."""
    body = [line for line in lines if line.role is not Role.CAUTION]
    foot = [line for line in lines if line.role is Role.CAUTION]
    try:
        upper = tuple(_flow(body, room, room.inside.top, scale, breaking))
        lower = tuple(_flow(foot, room, room.narrow_until, scale, breaking))
    except _WordTooLong:
        return None
    end = max([room.narrow_until, *(text.box.bottom for text in upper)])
    if not lower:
        return (upper, None) if end <= room.inside.bottom else None
    down = room.inside.bottom - lower[-1].box.bottom
    if lower[0].box.top + down - 0.6 * lower[0].size_mm < end:
        return None
    lower = tuple(replace(text, baseline=text.baseline + down) for text in lower)
    rule = Box(room.inside.left, lower[0].box.top - 0.3 * lower[0].size_mm, room.inside.width, 0.12)
    return (*upper, *lower), rule


class _WordTooLong(Exception):
    """A word is wider than its line and was not to be broken."""


def _flow(
    lines: Iterable[LabelLine], room: _Room, top: float, scale: float, breaking: bool
) -> Iterator[PlacedText]:
    """Set lines one under another from a height downwards."""
    before = Role.NAME
    for line in lines:
        style = _TYPE[line.role]
        size_mm = max(LEAST_SIZE_MM, style.size_mm * scale)
        role = _running(line)
        if role is Role.FACT and before is not Role.FACT:
            top += _FIRST_FACT_SPACE * size_mm
        before = role
        for row in _rows(line.text, style.face, size_mm, room, top, breaking):
            above, below = beyond(row, style.face, LEADING - DESCENT, DESCENT)
            baseline = top + (LEADING - DESCENT + above) * size_mm
            yield PlacedText(row, style.face, size_mm, room.inside.left, baseline, line.role,
                             above * size_mm, below * size_mm)  # fmt: skip
            top += (LEADING + above + below) * size_mm


def _rows(
    text: str, face: Face, size_mm: float, room: _Room, top: float, breaking: bool
) -> Iterator[str]:
    """Break a text into rows, each as wide as the label is at its height."""
    words = _WORDS.findall(text)
    row = ""
    while words:
        word = words.pop(0)
        available = room.width_at(top) / size_mm
        joined = f"{row} {word}" if row else word
        if _width_of(joined, face) <= available:
            row = joined
            continue
        if row:
            words.insert(0, word)
        elif breaking:
            row, rest = _broken(word, face, available)
            words.insert(0, rest)
        else:
            raise _WordTooLong
        yield row.removesuffix(f" {_JOINT}")
        row, top = "", top + LEADING * size_mm
        if words[0] == _JOINT:
            words.pop(0)
    if row:
        yield row


def _broken(word: str, face: Face, available: float) -> tuple[str, str]:
    count = 1
    while count < len(word) - 1 and _width_of(word[: count + 1], face) <= available:
        count += 1
    return word[:count], word[count:]


@lru_cache(maxsize=20_000)
def _width_of(text: str, face: Face) -> float:
    """How wide a text is in parts of its size."""
    return width(text, face, 1.0)
