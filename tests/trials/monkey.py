"""A monkey at the keyboard, the mouse and the corner of the window.

    python tests/trials/monkey.py --presses 20000 --seed 7 [--stay] [--folder DIR]

Presses random keys, types and pastes, clicks, scrolls, and resizes the terminal, on a copy of the
sample shelf in the real program. Keys that quit are among them, unless it is to stay; then it is
started again. Ends with 1, the last inputs and the traceback as soon as the program ends otherwise
or does not come to rest; at the end the terminal must be sane and `check` must find nothing.

Memory is printed on the way, always of the first page with all else left; one start shows best
whether it grows. What stays by intent once it was opened, which is the pages, the latest forms of
calculators and the code of papers and labels, is opened before the monkey is let in, unless no
memory is printed.
"""

import argparse
import os
import sys
import tempfile
import time
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent))

from program import READY, WATCHED, Place, Terminal, resident_mb

from stillroom.reckoning.registry import calculators

CTRL_Q = 17
NAMED = {
    "up": b"\x1b[A", "down": b"\x1b[B", "right": b"\x1b[C", "left": b"\x1b[D",
    "home": b"\x1b[H", "end": b"\x1b[F", "pageup": b"\x1b[5~", "pagedown": b"\x1b[6~",
    "insert": b"\x1b[2~", "delete": b"\x1b[3~", "f1": b"\x1bOP", "f5": b"\x1b[15~",
    "shift+tab": b"\x1b[Z", "ctrl+right": b"\x1b[1;5C", "ctrl+left": b"\x1b[1;5D",
    "shift+right": b"\x1b[1;2C", "shift+end": b"\x1b[1;2F", "alt+x": b"\x1bx",
    "enter": b"\r", "ctrl+s": b"\x13", "escape": b"\x1b[27u", "bare escape": b"\x1b",
    "tab": b"\t", "space": b" ", "backspace": b"\x7f",
    "focus in": b"\x1b[I", "focus out": b"\x1b[O",
}  # fmt: skip
COMMON = ("enter", "escape", "tab", "space", "up", "down", "left", "right")
WORDS = (
    "Sage", "Élécampane", "紫锥菊", "🌿🌿", "[bold]x[/]", "'; DROP TABLE jar;--", "=1+1", "x" * 300,
    "250 ml", "1 1/2 cups", "8 fl oz", "2 lb 3 oz", "0,5 l", "80 proof", "40 %", "120 g", "30", "0",
    "-5", "1e9", "99999999999999999999999", "nan", "inf", "1/0", "10**10**10", "1:5", "14",
    "yesterday", "15 days ago", "31 Feb 2026", "12 Nov 2026", "1 Jan 0001", "31 Dec 9999", "  ",
    "\u202eright to left", "e\u0301\u0301\u0301", "26-016",
)  # fmt: skip
OPENED_FIRST = "P,ctrl+s,2,down,down,l,escape,3,{calculators},4,tab,tab,5,1".format(
    calculators=",".join(["down"] * len(calculators()))
)
"""Keys that open whatever stays once it was opened."""
SMALLEST, LARGEST = (10, 3), (220, 60)


@dataclass(frozen=True)
class Input:
    """One thing the monkey does."""

    name: str
    keys: bytes = b""
    size: tuple[int, int] | None = None
    """What the terminal is resized to, if that is what it does."""


@dataclass
class Monkey:
    """Chooses one thing after another."""

    random: Random
    size: tuple[int, int] = (120, 40)
    stays: bool = False
    """Whether it never quits."""

    def next(self) -> Input:
        """What it does now."""
        weights = {
            self._common: 26, self._letter: 30, self._named: 8, self._control: 6, self._type: 8,
            self._keep: 4, self._paste: 1, self._click: 8, self._scroll: 4, self._move: 3,
            self._resize: 2, self._quit: 0 if self.stays else 0.02,
        }  # fmt: skip
        (kind,) = self.random.choices(list(weights), list(weights.values()))
        return kind()

    def named(self, name: str) -> Input:
        """One press of a key."""
        return Input(name, NAMED[name])

    def _common(self) -> Input:
        return self.named(self.random.choice(COMMON))

    def _named(self) -> Input:
        return self.named(self.random.choice(list(NAMED)))

    def _letter(self) -> Input:
        letters = "abcdefghijklmnoprstuvwxyzABCDEFGHIJKLMNOPRSTUVWXYZ1234512345/?.,-+=<>[]!"
        letter = self.random.choice(letters)
        return Input(letter, letter.encode())

    def _control(self) -> Input:
        code = self.random.choice([code for code in range(32) if code not in (CTRL_Q, 27)])
        return Input(f"ctrl+{chr(code + 96)}", bytes([code]))

    def _type(self) -> Input:
        word = self.random.choice(WORDS)
        return Input(f"type {word!r}", word.encode())

    def _keep(self) -> Input:
        return Input("ctrl+s", b"\x13")

    def _paste(self) -> Input:
        text = "\n".join(self.random.choices(WORDS, k=self.random.randint(1, 3)))
        return Input(f"paste {text!r}", b"\x1b[200~" + text.encode() + b"\x1b[201~")

    def _spot(self) -> tuple[int, int]:
        return self.random.randint(1, self.size[0]), self.random.randint(1, self.size[1])

    def _click(self) -> Input:
        x, y = self._spot()
        button = self.random.choice((0, 0, 0, 0, 1, 2))
        return Input(
            f"click {button} at {x},{y}", f"\x1b[<{button};{x};{y}M\x1b[<{button};{x};{y}m".encode()
        )

    def _scroll(self) -> Input:
        x, y = self._spot()
        button = self.random.choice((64, 65))
        return Input(f"scroll {button} at {x},{y}", f"\x1b[<{button};{x};{y}M".encode() * 3)

    def _move(self) -> Input:
        (x, y), (to_x, to_y) = self._spot(), self._spot()
        held = self.random.choice((32, 35))  # dragging, or no button
        keys = f"\x1b[<{held};{x};{y}M\x1b[<{held};{to_x};{to_y}M\x1b[<0;{to_x};{to_y}m"
        return Input(f"move {held} {x},{y} to {to_x},{to_y}", keys.encode())

    def _resize(self) -> Input:
        small = self.random.random() < 0.3
        columns = self.random.randint(SMALLEST[0], 40 if small else LARGEST[0])
        rows = self.random.randint(SMALLEST[1], 12 if small else LARGEST[1])
        self.size = (columns, rows)
        return Input(f"resize to {columns}x{rows}", size=self.size)

    def _quit(self) -> Input:
        return self.random.choice((Input("q", b"q"), Input("ctrl+q", bytes([CTRL_Q]))))


class Broken(Exception):
    """The program has ended as it should not, or hangs."""


@dataclass
class Trial:
    """The monkey let loose on a shelf."""

    place: Place
    monkey: Monkey
    restarts: int = 0
    last: deque[Input] = field(default_factory=lambda: deque(maxlen=30))

    def run(self, presses: int, marks: int = 0) -> None:
        """Do so many things; raises Broken. Prints so many marks on the way."""
        began = time.perf_counter()
        opening = OPENED_FIRST.split(",") if marks else []
        terminal = self._start(opening)
        since_start = 0
        try:
            for number in range(1, presses + 1):
                self._do(terminal, self.monkey.next())
                since_start += 1
                if terminal.ended is not None:
                    self._look_at_end(terminal)
                    terminal.close()
                    terminal, since_start = self._start(opening), 0
                    self.restarts += 1
                if marks and number % max(1, presses // marks) == 0:
                    self._rest(terminal)
                    print(
                        f"{number:7d} inputs, {time.perf_counter() - began:5.0f} s, "
                        f"{resident_mb(terminal.pid):6.1f} MB, "
                        f"{since_start:5d} since start {self.restarts + 1}",
                        flush=True,
                    )
            terminal.kill(15)
            self._wait_end(terminal)
            self._look_at_end(terminal)
        finally:
            terminal.close()
        if wrong := self.place.wrong():
            raise Broken(f"check finds: {wrong}")

    def _start(self, opening: Sequence[str]) -> Terminal:
        columns, rows = self.monkey.size = (120, 40)
        terminal = self.place.start(program=WATCHED, columns=columns, rows=rows, ESCDELAY="5")
        terminal.wait_until(lambda picture: READY in picture.text)
        for name in opening:
            self._do(terminal, Input(name, NAMED.get(name, name.encode())))
        return terminal

    def _do(self, terminal: Terminal, thing: Input) -> None:
        self.last.append(thing)
        try:
            if thing.size:
                terminal.resize(*thing.size)
                # A program that hangs would not fill the new picture.
                terminal.wait_until(lambda picture: picture.text.strip() or terminal.ended)
            else:
                terminal.send(thing.keys)
            terminal.calm()
            if self.place.tracebacks.exists():
                self._wait_end(terminal)
        except (TimeoutError, OSError) as error:
            if terminal.ended is None:
                raise Broken(str(error)) from error

    def _rest(self, terminal: Terminal) -> None:
        """Leave whatever is open, so that memory is always that of the same picture."""
        self.monkey.size = (120, 40)
        leave = [self.monkey.named("escape")] * 40
        for thing in (Input("resize", size=self.monkey.size), *leave, Input("1", b"1"), *leave[:4]):
            if terminal.ended is None:
                self._do(terminal, thing)

    def _wait_end(self, terminal: Terminal) -> None:
        try:
            terminal.wait_end()
        except TimeoutError as error:
            raise Broken("SIGTERM does not end it") from error

    def _look_at_end(self, terminal: Terminal) -> None:
        terminal.settle(0.05)
        code = os.waitstatus_to_exitcode(terminal.ended or 0)
        if code:
            raise Broken(f"It ended with {code}.\n{self.place.crash_log()}")
        if not terminal.is_sane:
            raise Broken(f"The terminal is left with {terminal.picture.modes}.")


def main() -> int:
    """Let it loose; the exit code is 1 where something broke."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--presses", type=int, default=20000)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--stay", action="store_true", help="never quit")
    parser.add_argument("--marks", type=int, default=20, help="how often memory is printed")
    parser.add_argument("--folder", type=Path, help="where to work, and to leave what is there")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        place = Place.with_sample(asked.folder or Path(temporary))
        trial = Trial(place, Monkey(Random(asked.seed), stays=asked.stay))
        try:
            trial.run(asked.presses, asked.marks)
        except Broken as broken:
            print(f"Broken, seed {asked.seed}: {broken}\nThe last inputs:")
            for thing in trial.last:
                print(f"  {thing.name}")
            return 1
        print(
            f"{asked.presses} inputs, seed {asked.seed}: no crash, {trial.restarts} restarts after "
            f"quitting, check finds nothing; last action: {place.last_action}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
