"""The quiet view: the most urgent jars in the largest letters that fit, to be read from afar."""

from collections.abc import Sequence
from datetime import date

from rich.cells import cell_len

from stillroom.keeping.cards import JarCard
from stillroom.screens.drawing.letters import big
from stillroom.screens.kit.text import fit

SCALES = (8, 6, 4, 2, 1)
"""How many times three lines the letters may be high, the largest first."""
SPARE = 4
"""Columns, and half as many rows, that are left free to move in."""
MOST = 3
"""How many jars are shown."""


def quiet_lines(
    cards: Sequence[JarCard], today: date, width: int, height: int, step: int, *, is_plain: bool
) -> list[str]:
    """Exactly `height` lines of at most `width` cells; another `step` moves them a little.

    Moving keeps a picture that is shown for months from burning into the screen.
    """
    urgent = sorted((card for card in cards if card.is_steeping), key=lambda card: card.strain_on)
    lines: list[str] = []
    # Some room is left free, to move in.
    room_w = width - SPARE if width > 3 * SPARE else width
    room_h = height - SPARE // 2 if height > 2 * SPARE else height
    for number, card in enumerate(urgent[:MOST]):
        room = room_h - len(lines) - (1 if lines else 0)
        block = _largest(card, today, room_w, room, SCALES[bool(number) :], is_plain)
        if not block:
            break
        lines += [""] * bool(lines) + block
    if not lines:
        lines = [fit("No jar is steeping.", width)][:height]
    right = step % (max(0, width - max(map(cell_len, lines))) + 1)
    down = (step // 3) % (height - len(lines) + 1)
    moved = [""] * down + [f"{' ' * right}{line}".rstrip() for line in lines]
    return [*moved, *[""] * (height - len(moved))]


def _largest(
    card: JarCard, today: date, width: int, height: int, scales: Sequence[int], is_plain: bool
) -> list[str]:
    """What a jar wants in large letters, its name below; nothing where there is no room."""
    name = fit(f"{card.herb} {card.code}", width).rstrip()
    for scale in scales:
        letters = big(_words(card, today), scale, is_plain=is_plain) or ()
        is_drawn = any(line.strip() for line in letters)
        if is_drawn and len(letters) + 1 <= height and max(map(cell_len, letters)) <= width:
            return [*letters, name]
    plain = fit(f"{_words(card, today)} {name}", width).rstrip()
    return [plain] if height >= 1 else []


def _words(card: JarCard, today: date) -> str:
    left = card.days_left(today)
    if left < 0:
        return f"{-left} LATE"
    return "DUE" if left == 0 else f"{left} D"
