"""How one jar is drawn: lines of spans that name their colours and never hold any."""

import unicodedata
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from rich.cells import cell_len

from stillroom.dates import countdown
from stillroom.keeping.cards import JarCard
from stillroom.paper.plain import wrap
from stillroom.screens.drawing.glass import base, depths, glazed, lid, shoulder, warning
from stillroom.screens.drawing.letters import big, inked, plus_moved_up
from stillroom.screens.drawing.look import (
    CLEAR,
    Line,
    Look,
    Marks,
    Span,
    centred,
    in_middle,
    on_ground,
)
from stillroom.screens.kit.text import fit, safe


class Countdown(NamedTuple):
    """A countdown in its parts."""

    figure: str
    """The part to draw big."""
    words: tuple[str, ...]
    """The words beside it, from the top."""
    ground: str
    """`due`, `over`, or empty while there is time."""


def countdown_of(card: JarCard, today: date) -> Countdown:
    """The countdown of a steeping jar."""
    left = card.days_left(today)
    if left == 0:
        return Countdown("DUE", (countdown(left),), "due")
    figure, *words = countdown(left).split()
    return Countdown(f"+{figure}" if left < 0 else figure, tuple(words), "over" if left < 0 else "")


def herbs(card: JarCard) -> str:
    """The herb's name, with how many more are in the jar."""
    return f"{safe(card.herb)} +{card.more_herbs}" if card.more_herbs else safe(card.herb)


def _herbs_within(card: JarCard, width: int, ellipsis: str) -> str:
    """The herb's name cut so that the count of further herbs is never what is lost."""
    more = f" +{card.more_herbs}" if card.more_herbs else ""
    return fit(card.herb, width - len(more), ellipsis) + more


def _part_within(card: JarCard, width: int, marks: Marks) -> str:
    """Part and condition; where room is short, it is the part that is shortened or cut."""
    condition = f", {safe(card.condition)}"
    room = width - cell_len(condition)
    return fit(short_part(card.part, room), room, marks.ellipsis) + condition


_SHORT_PARTS = {"aerial parts": "aerial", "whole plant": "whole"}


def short_part(part: str, room: int) -> str:
    """A part by a shorter word where it has no room for its own."""
    return part if cell_len(part) <= room else _SHORT_PARTS.get(part, part)


MOST_LABEL_LINES = 9
"""A name that needs more lines than this beside its part is cut."""


def label_lines(card: JarCard, inner: int) -> int:
    """How many lines name, part and condition take in full, at most `MOST_LABEL_LINES`."""
    name, kind = herbs(card), f"{card.part}, {card.condition}"
    if name.isascii() and len(name) <= inner and len(kind) <= inner:
        return 2
    return min(MOST_LABEL_LINES, len(wrap(name, inner)) + len(wrap(kind, inner)))


def _label(card: JarCard, inner: int, look: Look) -> tuple[list[str], list[str]]:
    """Lines of the name, and lines of part and condition."""
    ellipsis = look.marks.ellipsis
    kind = wrap(f"{safe(card.part)}, {safe(card.condition)}", inner)
    if look.label_lines < 3 or len(kind) > 2:
        kind = [_part_within(card, inner, look.marks)]
    name = wrap(herbs(card), inner)
    room = max(1, look.label_lines - len(kind))
    if len(name) <= room:
        return name, kind
    rest = " ".join(safe(card.herb).split()).removeprefix(" ".join(name[: room - 1])).strip()
    more = f" +{card.more_herbs}" if card.more_herbs else ""
    return [*name[: room - 1], fit(rest, inner - len(more), ellipsis) + more], kind


def shake_state(card: JarCard, marks: Marks) -> tuple[str, str]:
    """Today's shaking in a mark and a word, and its ink."""
    if card.is_drained:
        return "drained", "faint"
    if not card.is_steeping:
        return "strained", "faint"
    if card.shakes_per_day == 0:
        return "no shaking", "faint"
    mark = shake_mark(card, marks)
    if not card.shakes_left:
        return f"{mark} shaken", "done"
    if card.shakes_per_day > 1:
        return f"{mark} {card.shaken} of {card.shakes_per_day}", "wanted"
    return f"{mark} to shake", "wanted"


def shake_mark(card: JarCard, marks: Marks) -> str:
    """Today's shaking in a mark; blank where the jar is not shaken."""
    if not card.is_steeping or not card.shakes_per_day:
        return ""
    if not card.shakes_left:
        return marks.shaken
    return marks.part_shaken if card.shaken else marks.to_shake


def steep(card: JarCard, today: date) -> str:
    """How far the steep is, in words; of a strained jar, that it is over."""
    if card.is_drained:
        return "not pressed"
    if not card.is_steeping:
        return "off the herb"
    return card.steep(today)


def _block(figure: Sequence[str], words: Sequence[str], width: int) -> list[Line]:
    """A big figure with its words at the lower right, centred, on a clear ground."""
    room = max((len(word) for word in words), default=0)
    gap = 1 if room else 0
    space = max(0, width - len(figure[0]) - gap - room)
    before, after = space // 2, space - space // 2
    left, left_air = Span(" " * max(0, before - 1)), Span(" " * min(1, before), "", CLEAR)
    right_air, right = Span(" " * min(1, after), "", CLEAR), Span(" " * max(0, after - 1))
    first = len(figure) - len(words)
    lines: list[Line] = []
    for at, row in enumerate(figure):
        word = (words[at - first] if at >= first else "").ljust(room)
        text = f"{row}{' ' * gap}{word}"
        lines.append((left, left_air, Span(text, "count", CLEAR), right_air, right))
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


def _figure_lines(count: Countdown, width: int, height: int, look: Look, most: int) -> list[Line]:
    """The countdown as big as the room allows, at most of a scale, in exactly `height` lines.

    Where its words have no room beside the figure, they are left out: a late day has a plus.
    """
    # A jar that is due shows it as large as any count.
    for scale in range(min(most, height // 3), 0, -1):
        due = big("DUE", scale, is_plain=look.is_plain)
        if scale > 1 and due and len(due[0]) > width:
            continue
        figure = big(count.figure, scale, is_plain=look.is_plain)
        if not figure or len(figure[0]) > width:
            continue
        for words in (_big_words(count.words, scale, look), count.words, count.words[:1], ()):
            room = max((len(word) for word in words), default=0)
            if not room or len(figure[0]) + 1 + room <= width:
                break
        return in_middle(_block(figure, words, width), width, height)
    spaced = " ".join(count.figure) if count.figure.isalpha() else count.figure
    line = centred(" ".join((spaced, *count.words)), width, "count")
    return in_middle([line], width, height)


_STRAINED_LEVEL = 0.75
"""How full a jar of tincture is drawn: what it holds is known, what it could hold is not."""


def _contents(
    card: JarCard, today: date, inner: int, height: int, look: Look, scale: int = 1
) -> list[Line]:
    """The countdown, or what is to be pressed or bottled; what must be seen on its own ground."""
    if card.to_bottle_ml is not None:
        held = look.notation.volume(card.to_bottle_ml)
        words = [centred("to bottle", inner, "herb"), centred(held, inner, "count")]
        return in_middle(words, inner, height)
    if card.drained_ml is not None:
        words = [centred("TO PRESS", inner, "count")]
        if card.press_ml is not None:
            expected = f"expect {look.notation.volume(card.press_ml)}"
            words.append(centred(expected, inner, "count"))
        return [on_ground(line, "due") for line in in_middle(words, inner, height)]
    count = countdown_of(card, today)
    lines = _figure_lines(count, inner, height, look, scale)
    return [on_ground(line, count.ground) if count.ground else line for line in lines]


def small(card: JarCard, today: date, look: Look, *, is_chosen: bool = False) -> list[Line]:
    """A jar on its shelf: `look.jar_height` lines of `look.cell_width` cells."""
    if look.is_low:
        return _low(card, today, look, is_chosen=is_chosen)
    inner = look.cell_width - 4
    marks = look.marks
    state, state_ink = shake_state(card, marks)
    label = "pick" if is_chosen else "label"
    level = card.progress(today) if card.is_steeping else _STRAINED_LEVEL
    liquid = "liquid" if card.is_steeping else "tincture"
    within = [
        *_contents(card, today, inner, look.figure_height, look, look.scale),
        centred(state, inner, state_ink),
    ]
    name, kind = _label(card, inner, look)
    blank = centred("", inner, "", label)
    labels = [
        *(centred(line, inner, "" if is_chosen else "herb", label) for line in name),
        *(centred(line, inner, "" if is_chosen else "faint", label) for line in kind),
    ]
    labels += [blank] * (look.label_lines - len(labels))
    lines = [
        lid(card, inner, look),
        shoulder(card, inner, is_chosen, look),
        *glazed(labels, 0.0, liquid, is_chosen, look),
        *glazed(within, level, liquid, is_chosen, look),
        base(_steep_or_due(card, today, within), inner, is_chosen, look),
    ]
    gap = Span(" ", "", "air")
    cell = [(gap, *line, gap) for line in lines]
    if is_chosen:
        before, after = (Span(mark, "cursor", "air") for mark in marks.pointers)
        for at in (2, 3):
            cell[at] = (before, *lines[at], after)
    return cell


def _steep_or_due(card: JarCard, today: date, within: Sequence[Line]) -> str:
    """How far the steep is; of a jar that is due, that it is, where no word beside its DUE is."""
    if not card.is_steeping or card.days_left(today):
        return steep(card, today)
    due = countdown(0)
    is_said = any(due in span.text for line in within for span in line)
    return steep(card, today) if is_said else f"due {due}"


_PART_ROOM = 6
"""Cells for part and condition beside the countdown of a low jar: flower, aerial."""


def _low(card: JarCard, today: date, look: Look, *, is_chosen: bool) -> list[Line]:
    """A jar of five lines: code and state, name, and the countdown with part and condition.

    Its level is drawn in a gauge at the right, clear of everything that is to be read.
    """
    inner = look.cell_width - 2
    marks = look.marks
    state, state_ink = shake_state(card, marks)
    room = inner - cell_len(card.code)
    warned = warning(card, 0)
    if warned and cell_len(warned) <= room:
        mark = shake_mark(card, marks)
        state, state_ink = warned, "warning"
    else:
        mark = warned[:1]
    if cell_len(state) > room:
        state = state.replace("to shake", "shake")
    code = fit(card.code, inner, marks.ellipsis)
    state = fit(state, inner + 1 - cell_len(code) - 1, marks.ellipsis)
    gap = " " * (inner + 1 - cell_len(code) - cell_len(state))
    lid_ground = "air" if look.shows_level_by_glyph else "label"
    head: Line = (
        Span(code, "herb", lid_ground), Span(gap, "", lid_ground),
        Span(state, state_ink, "air" if state_ink == "warning" else lid_ground),
    )  # fmt: skip
    label = "pick" if is_chosen else "label"
    name = _herbs_within(card, inner, marks.ellipsis)
    name += " " * (inner - cell_len(name))
    body: list[Line] = [
        (Span(name, "" if is_chosen else "herb", label),),
        *_beside_figure(card, today, inner, mark, look),
    ]
    level = card.progress(today) if card.is_steeping else _STRAINED_LEVEL
    ink = "surface" if card.is_steeping else "tincture-surface"
    points = marks.pointers[0] if is_chosen else " "
    pointer = Span(points, "cursor", "air")
    # The dark letters of DUE would run into the dark before them.
    is_due = card.is_steeping and card.days_left(today) == 0
    before_figure = Span(points, "", "due") if is_due else pointer
    lines: list[Line] = [(pointer, *head)]
    befores = (pointer, *[before_figure] * (len(body) - 1))
    for before, line, eighths in zip(befores, body, depths(level, len(body)), strict=True):
        gauge = marks.gauge[eighths]
        tube = Span(gauge, ink if eighths else "glass", "air" if eighths in (0, 8) else "inside")
        lines.append((before, *line, tube))
    return lines


def _beside_figure(card: JarCard, today: date, inner: int, mark: str, look: Look) -> list[Line]:
    """The three lines of a low jar's countdown, or of what is to be pressed or bottled."""
    words = (short_part(safe(card.part), _PART_ROOM), safe(card.condition))
    if not card.is_steeping:
        lines = _contents(card, today, inner, 2, look)
        kind = centred(_part_within(card, inner, look.marks), inner, "faint")
        return [tuple(s if s.ground else s._replace(ground="inside") for s in line)
                for line in (*lines, kind)]  # fmt: skip
    count = countdown_of(card, today)
    figure = big(count.figure, is_plain=look.is_plain)
    unit = f"{count.words[-1]} {mark}".strip()
    if cell_len(unit) > _PART_ROOM and mark:
        unit = mark
    if not figure or len(figure[0]) + 3 > inner:
        row = " ".join((count.figure, *count.words))
        figure, words, unit = ("", fit(row, inner), ""), ("", ""), ""
    room = max(_PART_ROOM, *map(cell_len, words))
    if inked(figure) + 1 + room > inner:
        figure = plus_moved_up(figure)
    at = max(inked(figure) + 1, inner - room)
    lines = []
    for row, word, ink in zip(figure, (*words, unit), ("faint", "faint", "count"), strict=True):
        left = row.ljust(at)[: max(at, len(row.rstrip()))]
        right = fit(word, inner - len(left), look.marks.ellipsis)
        right += " " * (inner - len(left) - cell_len(right))
        line: Line = (Span(left, "count"), Span(right, ink))
        ground = count.ground or "inside"
        plain = tuple(s._replace(ground=ground, ink="" if count.ground else s.ink) for s in line)
        lines.append(plain)
    return lines


def _lettered(text: str, ink: str, width: int, scale: int, look: Look) -> list[Line]:
    """Text in the largest letters up to `scale` that fit, or wide-spaced, or as it is."""
    for size in range(scale, 0, -1):
        letters = big(text, size, is_plain=look.is_plain)
        if letters and len(letters[0]) <= width:
            return [centred(row, width, ink) for row in letters]
    text = safe(text)
    spaced = "   ".join(" ".join(word) for word in text.split())
    is_spaceable = not any(unicodedata.combining(character) for character in text)
    if is_spaceable and cell_len(spaced) <= width:
        return [centred(spaced, width, ink)]
    return [centred(fit(text, width, look.marks.ellipsis), width, ink)]


def _shake_lines(card: JarCard, inner: int, scale: int, look: Look) -> list[Line]:
    """Today's shaking in letters as large as may be, with its mark below."""
    state, ink = shake_state(card, look.marks)
    line = centred(state, inner, ink)
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
    space = max(1, room - 2 * len(air))
    middle = _contents(card, today, inner, space, look, space)
    within = [
        *((Span(" "), *line, Span(" ")) for line in name),
        centred(_part_within(card, inner, look.marks), inner, "faint"),
        *air,
        *middle,
        *air,
        *foot,
    ]
    level = card.progress(today) if card.is_steeping else _STRAINED_LEVEL
    lines = [
        lid(card, inner, look),
        shoulder(card, inner, False, look),
        *glazed(within, level, "liquid" if card.is_steeping else "tincture", False, look),
        base(steep(card, today), inner, False, look),
    ]
    left = max(0, width - inner - 2) // 2
    right = max(0, width - inner - 2 - left)
    return [
        (Span(" " * left, "", "air"), *line, Span(" " * right, "", "air"))
        for line in lines[:height]
    ]
