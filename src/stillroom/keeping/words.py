"""What people type as names and notes: made safe to keep, or refused; and how it is found."""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache

from stillroom.errors import NotUnderstood

NAME_LENGTH = 200
NOTE_LENGTH = 20_000
UNSIGNED = "Set your initials first, in the settings or with --initials: they are recorded with it."
# A variation selector changes how wide terminals draw the character before it, and they disagree.
_DROPPED = dict.fromkeys(map(ord, "\ufe0e\ufe0f"))


def clean_name(text: str, what: str, *, required: bool = True, limit: int = NAME_LENGTH) -> str:
    """A one-line name: normalised, inner runs of space closed up.

    Raises NotUnderstood when it is empty though required, too long, or holds control characters.
    """
    name = " ".join(_normal(text).split())
    if required and not name:
        raise NotUnderstood(f"{what} is needed.")
    return _checked(name, what, limit)


def clean_note(text: str, what: str = "The note", *, limit: int = NOTE_LENGTH) -> str:
    """A text of any number of lines; tabs become spaces."""
    note = _normal(text).replace("\r\n", "\n").replace("\r", "\n").replace("\t", "    ").strip()
    return _checked(note, what, limit, allowed="\n")


def listed(words: Iterable[str]) -> str:
    """Words in one line, each once.

    >>> listed(["Angelica", "Fennel", "Angelica", "Ginger"])
    'Angelica, Fennel and Ginger'
    """
    different = list(dict.fromkeys(words))
    if len(different) < 2:
        return "".join(different)
    return ", ".join(different[:-1]) + " and " + different[-1]


def in_a_row(*words: str) -> str:
    """Words in a row, the blank ones left out.

    >>> in_a_row("squeezed", "", "45.3 %")
    'squeezed, 45.3 %'
    """
    return ", ".join(word for word in words if word)


def arrow(before: str, after: str) -> str:
    """Two figures with an arrow between them, a unit they share written once.

    >>> arrow("45.3 %", "43.1 %"), arrow("", "90 g"), arrow("leaf", "root")
    ('45.3 → 43.1 %', 'none → 90 g', 'leaf → root')
    >>> arrow("9 mL of 45 %", "8 mL of 45 %")
    '9 mL of 45 % → 8 mL of 45 %'
    """
    number, _, unit = before.rpartition(" ")
    is_figure = len(re.findall(r"\d+(?:[.,]\d+)*", number)) == 1 and number[-1].isdigit()
    if is_figure and after.endswith(f" {unit}") and not unit[0].isdigit():
        before = number
    return f"{before or 'none'} → {after or 'none'}"


def changed(label: str, before: str, after: str) -> str:
    """What a fact was and is, its label named once.

    >>> changed("Pressing", "pressing not known", "pressed")
    'Pressing not known → pressed'
    """
    head = f"{label} "
    was, now = (
        text[len(head) :] if text.casefold().startswith(head.casefold()) else text
        for text in (before, after)
    )
    return head + arrow(was, now)


def old_and_new(before: Mapping[str, str], after: Mapping[str, str]) -> str:
    """Which facts changed, each by its name with the old and the new one.

    >>> old_and_new({"Note": "", "Strength": "40 %"}, {"Note": "", "Strength": "38 %"})
    'Strength 40 → 38 %'
    """
    return "; ".join(
        f"{name} {arrow(*(' '.join(facts.get(name, '').split()) for facts in (before, after)))}"
        for name in {**before, **after}
        if before.get(name, "") != after.get(name, "")
    )


def for_whom(person: str, note: str) -> str:
    """For whom liquid was taken, and the note on it, in one text.

    >>> for_whom("Ada", "a cold"), for_whom("", "a cold")
    ('for Ada · a cold', 'a cold')
    """
    return " · ".join(filter(None, (person and f"for {person}", note)))


def taken(amount: str, person: str, note: str) -> str:
    """How much was taken, for whom, and the note on it.

    >>> taken("−30 mL", "Ada", "a cold"), taken("−30 mL", "", "a cold"), taken("−30 mL", "", "")
    ('−30 mL for Ada · a cold', '−30 mL · a cold', '−30 mL')
    """
    return with_note(f"{amount} for {person}" if person else amount, note)


def with_note(text: str, note: str) -> str:
    """A text with the note on it, if there is one.

    >>> with_note("75 mL", "read twice"), with_note("75 mL", "")
    ('75 mL · read twice', '75 mL')
    """
    return f"{text} · {note}" if note else text


def name_in_note(note: str) -> bool:
    """Whether the note of an old gift is the name of who got it: one line, as names are written.

    >>> name_in_note("Ada"), name_in_note("Ada,\\nby post")
    (True, False)
    """
    return len(note) <= NAME_LENGTH and " ".join(note.split()) == note


@lru_cache(8192)
def folded(text: str) -> str:
    """Text without case and accents, for finding.

    >>> folded("Échinacée")
    'echinacee'
    """
    text = text.casefold()
    if text.isascii():
        return text
    bare = unicodedata.normalize("NFKD", text)
    return "".join(character for character in bare if not unicodedata.combining(character))


def _normal(text: str) -> str:
    if text.isascii():  # most are, and an import reads many
        return text
    return unicodedata.normalize("NFC", text.translate(_DROPPED))


def _checked(text: str, what: str, limit: int, allowed: str = "") -> str:
    if len(text) > limit:
        raise NotUnderstood(f"{what} is too long. Use at most {limit} characters.")
    if text.isascii() and text.isprintable():
        return text
    if any(unicodedata.category(c) in {"Cc", "Cs"} and c not in allowed for c in text):
        raise NotUnderstood(f"{what} contains a character that can't be shown. Type it again.")
    return text
