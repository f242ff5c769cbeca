"""Whole words within a text, whatever their case, accents' spelling and spaces between them."""

import unicodedata

_UNSPACED = ("CJK", "HIRAGANA", "KATAKANA", "THAI", "LAO", "KHMER", "MYANMAR", "TIBETAN")
"""Scripts that put no spaces between words, by how Unicode names their letters."""


def plain(text: str) -> str:
    """Text in one form for comparing: no case, decomposed accents, single spaces."""
    return " ".join(unicodedata.normalize("NFD", text.casefold()).split())


class WholeWords:
    """Finds and replaces a name where it is whole words.

    >>> WholeWords("ada").replaced("For ADA and Adam", "–")
    'For – and Adam'
    """

    def __init__(self, name: str) -> None:
        self._name = plain(name)
        self._word = max(self._name.split(), key=len, default="")
        """A part that every text with the name has."""

    def is_all(self, text: str) -> bool:
        """Whether a text is the name and nothing else."""
        return plain(text) == self._name

    def may_be_in(self, text: str) -> bool:
        """A quick look that rules out most texts."""
        return self._word in unicodedata.normalize("NFD", text.casefold())

    def found(self, text: str) -> list[tuple[int, int]]:
        """Where it begins and ends, each time."""
        if not self.may_be_in(text):
            return []
        letters, origins = _mapped(text)
        places = []
        at = letters.find(self._name)
        while at >= 0:
            end = at + len(self._name)
            if _parts(letters, at) and _parts(letters, end):
                places.append((origins[at], origins[end]))
                at = letters.find(self._name, end)
            else:
                at = letters.find(self._name, at + 1)
        return places

    def replaced(self, text: str, mark: str) -> str:
        """The text with the mark in place of the name."""
        for start, end in reversed(self.found(text)):
            text = text[:start] + mark + text[end:]
        return text


def _mapped(text: str) -> tuple[str, list[int]]:
    """A text as `plain` has it, and where in the original each of its letters is."""
    letters: list[str] = []
    origins: list[int] = []
    for at, letter in enumerate(text):
        if letter.isspace():
            same = "" if letters and letters[-1] == " " else " "
        else:
            same = unicodedata.normalize("NFD", letter.casefold())
        letters.extend(same)
        origins.extend([at] * len(same))
    return "".join(letters), [*origins, len(text)]


def _parts(text: str, at: int) -> bool:
    """Whether a word may begin or end between two letters."""
    if at in (0, len(text)):
        return True
    before, after = text[at - 1], text[at]
    if not (_is_in_word(before) and _is_in_word(after)):
        return True
    return _is_unspaced(before) or _is_unspaced(after)


def _is_in_word(letter: str) -> bool:
    return letter.isalnum() or unicodedata.category(letter).startswith("M")


def _is_unspaced(letter: str) -> bool:
    return unicodedata.name(letter, "").startswith(_UNSPACED)
