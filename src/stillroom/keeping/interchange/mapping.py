"""How a person's own sheet is read, saved to be used for the next one like it."""

import json
from pathlib import Path

from stillroom.errors import Refused
from stillroom.files import open_ordinary, write_file
from stillroom.keeping.interchange.answers import SheetWishes

_FORMAT = "stillroom sheet mapping"
_MOST_BYTES = 1_000_000


def write_mapping(path: Path, wishes: SheetWishes) -> None:
    """Save what was said of a sheet, rows to leave out apart; one that is there is replaced."""
    said = {
        "format": _FORMAT,
        "columns": list(wishes.columns),
        "answers": list(wishes.answers),
        "sheet": wishes.sheet,
    }
    content = json.dumps(said, ensure_ascii=False, indent=1) + "\n"
    write_file(path, content.encode(), overwrite=_is_mapping(path))


def saved_mapping(path: Path) -> SheetWishes:
    """What was saved; Refused where the file is none."""
    said = _read(path)
    columns, answers = _texts(path, said, "columns"), _texts(path, said, "answers")
    return SheetWishes(answers, columns, str(said.get("sheet") or ""), saved_columns=columns)


def _texts(path: Path, said: dict[str, object], key: str) -> tuple[str, ...]:
    texts = said.get(key)
    if not isinstance(texts, list) or not all(isinstance(text, str) for text in texts):
        raise Refused(f"{path} is not a saved mapping.")
    return tuple(texts)


def _is_mapping(path: Path) -> bool:
    try:
        return bool(_read(path))
    except Refused:
        return False


def _read(path: Path) -> dict[str, object]:
    try:
        with open_ordinary(path, _MOST_BYTES) as file:
            said = json.loads(file.read(_MOST_BYTES).decode())
    except OSError as error:
        raise Refused(f"{path} can't be read: {error.strerror}.") from error
    except (ValueError, RecursionError) as error:
        raise Refused(f"{path} is not a saved mapping.") from error
    if not isinstance(said, dict) or said.get("format") != _FORMAT:
        raise Refused(f"{path} is not a saved mapping.")
    return said
