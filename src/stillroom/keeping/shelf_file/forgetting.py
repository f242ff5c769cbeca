"""Removing the name of a person from a shelf, for good."""

import re
import unicodedata
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path

from stillroom.errors import NeedsConfirmation, Refused
from stillroom.files import clear_drafts
from stillroom.keeping.keeper import Keeper, stamp
from stillroom.keeping.shelf_file.backups import backup_folders, daily_backups
from stillroom.keeping.words import clean_name
from stillroom.quantities import how_many
from stillroom.reckoning.states import LineKind
from stillroom.records.failures import plain_failures
from stillroom.records.forgetting import StoredText, drop_samples, places, replace
from stillroom.records.journal import begin_line, end_line, write_event
from stillroom.records.whole_words import WholeWords, plain

QUESTION = (
    "Undo can't bring the name back. Does a law oblige you to keep a record of who got what? "
    "If so, don't remove it."
)


@dataclass(frozen=True)
class NameMatch:
    """A text that has the name in it."""

    number: int
    """From 1, in the order in which they are listed."""
    where: str
    """What it is a text of."""
    text: str
    places: int
    """How often it is stored: its row, and copies in the journal and for undo."""
    key: StoredText


@dataclass(frozen=True)
class ForgetPlan:
    """What removing a name would change."""

    name: str
    movements: int
    """Movements that are for this person, and copies of them: the name goes without a question."""
    matches: tuple[NameMatch, ...]
    """Other texts with the name in them: each is a person's to decide."""
    backups: tuple[Path, ...]
    """Copies of the shelf that have the name. They stay as they are."""

    @property
    def question(self) -> str:
        """What to think of before it is done."""
        if not self.backups:
            return QUESTION
        files = ", ".join(str(path) for path in self.backups)
        return (
            f"{QUESTION} The name is still in these copies of the shelf; delete them yourself: "
            f"{files}"
        )


def plan_forgetting(keeper: Keeper, name: str) -> ForgetPlan:
    """Where a name is; Refused where it is nowhere on the shelf."""
    name = clean_name(name, "The name")
    words = WholeWords(name)
    with plain_failures(writing=False):
        counts: dict[StoredText, int] = {}
        for place in places(keeper.store.db, words):
            for text in place.texts:
                counts[text] = counts.get(text, 0) + 1
    if not counts:
        raise Refused(f"{name} isn't on this shelf.")
    asked = sorted(text for text in counts if not _is_the_name(text, words))
    return ForgetPlan(
        name,
        sum(count for text, count in counts.items() if _is_the_name(text, words)),
        tuple(
            NameMatch(number, _where(text), text.text, counts[text], text)
            for number, text in enumerate(asked, start=1)
        ),
        tuple(_copies_with(keeper, name)),
    )


def forget(
    keeper: Keeper, name: str, chosen: Collection[StoredText] | None, *, confirmed: bool = False
) -> int:
    """Remove a name from movements, and from the texts chosen (None: all); returns how many cells.

    Undo passes it over. Raises NeedsConfirmation until confirmed, Refused where the name is nowhere
    or a text can't do without it, StoreError where the file could not be cleaned of its bytes.
    """
    try:
        plan = plan_forgetting(keeper, name)
    except Refused:
        # Its bytes may still be there, where another program had the file open the last time.
        keeper.refuse_if_for_looking()
        with keeper.store.leaving_no_trace():
            pass
        raise
    if not confirmed:
        raise NeedsConfirmation(f"{plan.question} Remove the name?")
    words = WholeWords(plan.name)
    with keeper.store.leaving_no_trace():
        with keeper.writing():
            keeper.refuse_doubtful_date()
            db = keeper.store.db
            at, day = stamp(keeper.clock.now()), keeper.today.isoformat()
            title = "Removed a person's name"
            maker = "" if words.found(keeper.maker) else keeper.maker
            line_id = begin_line(db, at, day, maker, LineKind.NAME_REMOVED, title)
            found = list(places(db, words))
            texts = {text for place in found for text in place.texts}
            wanted = {
                text
                for text in texts
                if _is_the_name(text, words) or chosen is None or text in chosen
            }
            changed = replace(db, found, words, wanted)
            if not changed:
                raise Refused("No text was chosen, so nothing was removed.")
            drop_samples(db)
            said = f"From {how_many(changed, 'place')}"
            write_event(db, at, day, maker, LineKind.NAME_REMOVED, said, line_id, {})
            end_line(db, line_id, title)
        # Unfinished copies that a killed program has left.
        for folder in {keeper.path.resolve().parent, *backup_folders(keeper)}:
            clear_drafts(folder)
    return changed


def _is_the_name(text: StoredText, words: WholeWords) -> bool:
    return text.is_person and words.is_all(text.text)


def _where(text: StoredText) -> str:
    """What a text is of, in words.

    >>> _where(StoredText("charge_line", "origin", ""))
    'herb in a jar: origin'
    """
    table = _NAMES.get(text.table, text.table.replace("_", " "))
    return f"{table}: {text.column.replace('_', ' ')}"


_NAMES = {
    "charge_line": "herb in a jar",
    "event": "ledger",
    "movement": "in and out of a bottle",
    "print_log": "printed label",
    "undo_step": "undo",
}


def _copies_with(keeper: Keeper, name: str) -> Iterator[Path]:
    """Backups, and copies beside the shelf, that have the name in them."""
    shelf = keeper.path.resolve()
    found = [
        path
        for folder in backup_folders(keeper)
        for path in daily_backups(folder, keeper.path).values()
    ]
    try:
        found += sorted(shelf.parent.glob(f"{_literal(shelf.name)}.*"))
    except OSError:
        pass
    pattern = _in_bytes(name)
    for path in dict.fromkeys(found):
        try:
            if pattern.search(path.read_bytes()):
                yield path
        except OSError:
            yield path  # nobody knows


def _literal(name: str) -> str:
    return re.sub(r"([*?[])", r"[\1]", name)


def _in_bytes(name: str) -> re.Pattern[bytes]:
    """Finds the longest word of a name in a file, in any case and either spelling of accents."""
    word = max(plain(name).split(), key=len)
    composed = unicodedata.normalize("NFC", word)
    ways = {way(form) for form in (word, composed) for way in (str.lower, str.upper, str.title)}
    return re.compile(b"|".join(re.escape(way.encode()) for way in sorted(ways)), re.IGNORECASE)
