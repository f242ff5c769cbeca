"""What a terminal shows, worked out from what a program has written to it.

It knows the few sequences that Textual writes, which is far from all that a terminal knows.
"""

import re
from codecs import getincrementaldecoder

from rich.cells import cell_len

_TOKEN = re.compile(
    r"\x1b\[(?P<mark>[?<>=]?)(?P<numbers>[0-9;:]*)[ -/]*(?P<verb>[@-~])"
    r"|\x1b\][^\x07\x1b]*(?:\x07|\x1b\\)"
    r"|\x1b[()][0-9A-Z]"
    r"|\x1b[^\[\]()]"
    r"|(?P<control>[\x00-\x1a\x1c-\x1f\x7f])"
    r"|(?P<text>[^\x00-\x1f\x7f]+)"
)
WRAPS, SHOWS_CURSOR, ALTERNATE, HOLDS = 7, 25, 1049, 2026
"""Private modes: lines wrap, the cursor shows, the alternate screen is on, a frame is written."""
_LONGEST_SEQUENCE = 1000
_WIDE = "\0"
"""Stands in the second cell of a character that takes two."""


class Picture:
    """A grid of characters, a cursor, and the modes that were switched on."""

    def __init__(self, columns: int, rows: int) -> None:
        self.modes = {WRAPS, SHOWS_CURSOR}
        """Private modes that are on."""
        self.keyboards = 0
        """How many ways of reporting keys lie on top of the terminal's own."""
        self.cells: list[list[str]] = []
        """What is on show: the last whole frame while the next one is being written."""
        self._decode = getincrementaldecoder("utf-8")(errors="replace").decode
        self._rest = ""
        self.resize(columns, rows)

    def resize(self, columns: int, rows: int) -> None:
        """Take another size; what was shown is blank until it is drawn again."""
        self.columns, self.rows = columns, rows
        self._x = self._y = 0
        self._clear()

    def _clear(self) -> None:
        self._written = [[" "] * self.columns for _ in range(self.rows)]
        if HOLDS not in self.modes:
            self.cells = self._written

    @property
    def is_untouched(self) -> bool:
        """Whether all modes are as they were before any program ran."""
        return self.modes == {WRAPS, SHOWS_CURSOR} and not self.keyboards

    def window(self, left: int, right: int, top: int, bottom: int) -> str:
        """What is in a part of it, the ends left out."""
        return "\n".join(
            "".join(row[max(0, left) : right]) for row in self.cells[max(0, top) : bottom]
        )

    @property
    def lines(self) -> list[str]:
        """The lines on show."""
        return ["".join(row).replace(_WIDE, "").rstrip() for row in self.cells]

    @property
    def text(self) -> str:
        """All of it."""
        return "\n".join(self.lines)

    @property
    def flat(self) -> str:
        """All of it in one line, frames left out, however it was broken."""
        return " ".join(re.sub(r"[│┃]", " ", self.text).split())

    def feed(self, written: bytes) -> None:
        """Take in what was written."""
        text = self._rest + self._decode(written)
        at = 0
        while at < len(text):
            token = _TOKEN.match(text, at)
            if token is None:
                if len(text) - at < _LONGEST_SEQUENCE:  # the rest of it is still to come
                    break
                at += 1
                continue
            at = token.end()
            if token["text"]:
                self._put(token["text"])
            elif token["control"]:
                self._move_by(token["control"])
            elif token["verb"]:
                self._obey(token["mark"], token["numbers"], token["verb"])
        self._rest = text[at:]

    def _obey(self, mark: str, numbers: str, verb: str) -> None:
        if mark == "?" and verb in "hl":
            for mode in map(int, numbers.split(";")):
                (self.modes.add if verb == "h" else self.modes.discard)(mode)
                if mode == ALTERNATE:
                    self._clear()
                elif mode == HOLDS:
                    held = [[*row] for row in self._written]
                    self.cells = held if verb == "h" else self._written
        elif verb == "u" and mark in "<>":
            self.keyboards += 1 if mark == ">" else -1
        elif not mark and verb == "H":
            row, column = (*(int(n or 1) for n in numbers.split(";")), 1)[:2] if numbers else (1, 1)
            self._x, self._y = column - 1, row - 1
        elif not mark and verb == "J":
            self._clear()

    def _move_by(self, control: str) -> None:
        if control == "\r":
            self._x = 0
        elif control == "\n":
            self._y += 1

    def _put(self, text: str) -> None:
        if not 0 <= self._y < self.rows:
            return
        row = self._written[self._y]
        for character in text:
            width = cell_len(character)
            if not width:
                if 0 < self._x <= self.columns:
                    row[self._x - 1] += character
                continue
            for cell in (character, _WIDE)[:width]:
                if self._x < self.columns:
                    row[self._x] = cell
                self._x += 1
