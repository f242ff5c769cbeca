"""How one jar is drawn: lines of spans that name their colours and never hold any."""

import unicodedata
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from rich.cells import cell_len

from stillroom.dates import countdown
from stillroom.keeping.cards import JarCard
from stillroom.screens.drawing.glass import base, glazed, lid, shoulder
from stillroom.screens.drawing.letters import big
from stillroom.screens.drawing.look import Line, Look, Marks, Span, centred, in_middle, on_ground
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
    return Countdown(figure, tuple(words), "over" if left < 0 else "")


def herbs(card: JarCard) -> str:
    """The herb's name, with how many more are in the jar."""
    return f"{safe(card.herb)} +{card.more_herbs}" if card.more_herbs else safe(card.herb)


def _herbs_within(card: JarCard, width: int, ellipsis: str) -> str:
    """The herb's name cut so that the count of further herbs is never what is lost."""
    more = f" +{card.more_herbs}" if card.more_herbs else ""
    return fit(card.herb, width - len(more), ellipsis) + more


def _part_within(card: JarCard, width: int, marks: Marks) -> str:
    """Part and condition; where room is short, it is the part that is cut."""
    condition = f", {safe(card.condition)}"
    return fit(card.part, width - cell_len(condition), marks.ellipsis) + condition


def shake_state(card: JarCard, marks: Marks) -> tuple[str, str]:
    """Today's shaking in a mark and a word, and its ink."""
    if card.is_drained:
        return "drained", "faint"
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


def steep(card: JarCard, today: date) -> str:
    """How far the steep is, in words; of a strained jar, that it is over."""
    if card.is_drained:
        return "not pressed"
    if not card.is_steeping:
        return "off the herb"
    return card.steep(today)


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
            return in_middle(_block(figure, words, width), width, height)
    spaced = " ".join(count.figure) if count.figure.isalpha() else count.figure
    line = centred(" ".join((spaced, *count.words)), width, "count")
    return in_middle([line], width, height)


_STRAINED_LEVEL = 0.75
"""How full a jar of tincture is drawn: what it holds is known, what it could hold is not."""


def _contents(card: JarCard, today: date, inner: int, height: int, look: Look) -> list[Line]:
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
    lines = _figure_lines(count, inner, height, look)
    return [on_ground(line, count.ground) if count.ground else line for line in lines]


def small(card: JarCard, today: date, look: Look, *, is_chosen: bool = False) -> list[Line]:
    """A jar on its shelf: `look.jar_height` lines of `look.cell_width` cells."""
    inner = look.cell_width - 4
    marks = look.marks
    state, state_ink = shake_state(card, marks)
    label = "pick" if is_chosen else "label"
    level = card.progress(today) if card.is_steeping else _STRAINED_LEVEL
    liquid = "liquid" if card.is_steeping else "tincture"
    within = [
        *_contents(card, today, inner, look.figure_height, look),
        centred(state, inner, state_ink),
    ]
    labels = [
        centred(
            _herbs_within(card, inner, marks.ellipsis), inner, "" if is_chosen else "herb", label
        ),
        centred(_part_within(card, inner, marks), inner, "" if is_chosen else "faint", label),
    ]
    lines = [
        lid(card, inner, look),
        shoulder(card, inner, is_chosen, look),
        *glazed(labels, 0.0, liquid, is_chosen, look),
        *glazed(within, level, liquid, is_chosen, look),
        base(steep(card, today), inner, is_chosen, look),
    ]
    gap = Span(" ", "", "air")
    cell = [(gap, *line, gap) for line in lines]
    if is_chosen:
        before, after = (Span(mark, "cursor", "air") for mark in marks.pointers)
        for at in (2, 3):
            cell[at] = (before, *lines[at], after)
    return cell


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
    middle = _contents(card, today, inner, max(1, room - 2 * len(air)), look)
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
