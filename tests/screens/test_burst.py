"""A scanner's keys are known by their pace and by what they begin with; all others go through."""

import random
from collections.abc import Iterable

from stillroom.screens.burst import Burst, KeyTaken

CODES = ("26-005", "26-005.1", "H-26-003")
GAP_S = 0.05


def burst(prefix: str = "", gap_s: float = GAP_S) -> Burst[str]:
    """One that knows three codes."""

    def could_begin(text: str) -> bool:
        return any(code.startswith(text) or text.startswith(code) for code in CODES)

    made: Burst[str] = Burst(could_begin, lambda text: text.startswith(CODES), longest=40)
    made.gap_s, made.prefix = gap_s, prefix
    return made


def typed(made: Burst[str], text: str, gap_s: float, start: float = 0.0) -> list[KeyTaken[str]]:
    """What comes of a text, typed at a pace; `\\n` is Enter."""
    return [
        made.take(
            letter, None if letter == "\n" else letter, start + at * gap_s, ends=letter == "\n"
        )
        for at, letter in enumerate(text)
    ]


def released(found: Iterable[KeyTaken[str]]) -> str:
    return "".join(key for each in found for key in each.released)


def test_a_known_code_at_speed_is_a_scan_and_none_of_its_keys_is_released() -> None:
    found = typed(burst(), "26-005.1\n", 0.01)
    assert found[-1].scanned == "26-005.1"
    assert "".join(found[-1].keys) == "26-005.1\n"
    assert released(found) == ""


def test_the_text_after_the_code_on_a_label_belongs_to_the_scan() -> None:
    found = typed(burst(), "26-005.1 Oxeye, 40 %\n", 0.01)
    assert (found[-1].scanned, released(found)) == ("26-005.1 Oxeye, 40 %", "")


def test_the_same_keys_at_typing_speed_are_typing() -> None:
    made = burst()
    found = typed(made, "26-005.1\n", 0.2)
    assert [each.scanned for each in found] == [None] * 9
    assert released(found) == "26-005.1\n"


def test_a_key_that_begins_no_code_is_passed_on_at_once() -> None:
    made = burst()
    assert made.take("n", "n", 0.0, ends=False) == KeyTaken(("n",))
    assert not made.is_holding


def test_text_at_speed_is_typing_unless_it_begins_with_a_code() -> None:
    """Keys typed ahead of a slow machine arrive as one burst."""
    for text in ("/26-005\n", "2/26-005.1\n", "n26-005\n", "250\n", "26-00\n", "2\n"):
        made = burst()
        assert released([*typed(made, text, 0.001), KeyTaken(made.release())]) == text


def test_with_its_prefix_anything_is_a_scan() -> None:
    found = typed(burst("~~"), "~~99-123 something\n", 0.01)
    assert (found[-1].scanned, released(found)) == ("99-123 something", "")
    assert released(typed(burst("~~"), "~~\n", 0.01)) == "~~\n"


def test_with_a_pace_of_zero_nothing_is_a_scan() -> None:
    assert released(typed(burst(gap_s=0.0), "26-005\n", 0.0)) == "26-005\n"


def test_no_key_is_ever_lost_or_moved() -> None:
    """Random keys at random paces: what is not a scan comes out in order, and a scan complete."""
    dice = random.Random(5)
    pieces = [*CODES, "26", "H-", "2", "\n", "\n", "x", " ", "26-005.1 Oxeye", "."]
    scans = 0
    for _ in range(2000):
        made, text, at, out = burst(dice.choice(["", "~"])), "", 0.0, ""
        for letter in "".join(dice.choices(pieces, k=6)):
            at += dice.choice([0.004] * 19 + [0.09])
            ends = letter == "\n"
            taken = made.take(letter, None if ends else letter, at, ends=ends)
            text += letter
            out += "".join(taken.released)
            if taken.scanned is not None:
                scans += 1
                assert taken.scanned.startswith(CODES)
                out += "".join(taken.keys)
        assert out + "".join(made.release()) == text
    assert scans > 100
