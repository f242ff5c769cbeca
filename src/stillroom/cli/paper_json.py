"""A paper as JSON: its text by section, in one shape for every paper."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from stillroom.cli.call import Call
from stillroom.cli.output import put_json, write
from stillroom.errors import Refused

if TYPE_CHECKING:
    from stillroom.paper.document import Block, Document


def refuse_json_beside_text(call: Call) -> None:
    """Refuse two things for one output: JSON, and the paper as text or in print."""
    if call.asked.json and (call.asked.text or getattr(call.asked, "print", False)):
        raise Refused("--json can't be combined with --text or --print.")


def put_paper(call: Call, document: "Document", path: Path | None, content: bytes) -> int:
    """Print a paper as JSON, and write its file where one is named."""
    written = write(call, path, content) if path else None
    result = _json(document) | {"file": written and str(written)}
    put_json(call, result, is_done=True if written else None)
    return 0


def _json(document: "Document") -> dict[str, Any]:
    return {
        "title": document.title,
        "subtitle": document.subtitle,
        "sections": [
            {"heading": section.heading, "blocks": [_block(block) for block in section.blocks]}
            for section in document.sections
        ],
        "closing": document.closing,
    }


def _block(block: "Block") -> dict[str, Any]:
    from stillroom.paper.document import BlankLines, Chart, Facts, Grid, Prose

    match block:
        case Facts(rows):
            return _of("facts", rows=rows)
        case Grid(head, rows):
            return _of("table", columns=head, rows=rows)
        case Chart(picture):
            return _of("table", columns=picture.head, rows=picture.rows, text=picture.heading)
        case Prose(text, later):
            return _of("struck out" if later else "text", text=text, later=later)
        case BlankLines(count):
            return _of("lines to write on", rows=[[]] * count)


def _of(kind: str, **parts: object) -> dict[str, Any]:
    return {"kind": kind, "columns": [], "rows": [], "text": "", "later": "", **parts}
