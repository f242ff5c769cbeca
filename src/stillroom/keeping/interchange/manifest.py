"""What a folder says of itself before its lines are read."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stillroom.errors import Refused
from stillroom.files import open_ordinary
from stillroom.keeping.interchange.columns import FORMAT, FORMAT_VERSION, MANIFEST
from stillroom.keeping.interchange.report import BadLine

MOST_MANIFEST_BYTES = 1_000_000


@dataclass(frozen=True)
class Manifest:
    """The format of a folder, and the number of lines that each file should have."""

    version: int
    lines: dict[str, Any]


def read_manifest(folder: Path) -> Manifest | BadLine:
    """Read it; a bad line where this is no folder that can be read."""
    manifest: Any = None
    try:
        with open_ordinary(folder / MANIFEST, MOST_MANIFEST_BYTES) as file:
            manifest = json.loads(file.read(MOST_MANIFEST_BYTES).decode("utf-8-sig"))
    except (Refused, OSError, ValueError, RecursionError):
        pass
    if not isinstance(manifest, dict) or manifest.get("format") != FORMAT:
        return BadLine(MANIFEST, None, "", f"{folder} is not a complete export folder.")
    version = manifest.get("format_version")
    if version not in (1, FORMAT_VERSION):
        said = (
            f"This is format {version}, but this version of Stillroom reads formats up to "
            f"{FORMAT_VERSION}."
        )
        return BadLine(MANIFEST, None, "format_version", said)
    lines = manifest.get("lines")
    return Manifest(int(version), lines if isinstance(lines, dict) else {})
