"""`ledger`."""

from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from stillroom.cli.call import Call, Command, json_option
from stillroom.cli.output import put, put_json
from stillroom.cli.year_papers import days_between
from stillroom.errors import Refused
from stillroom.keeping.journal import JournalLine, RowChange, journal_lines
from stillroom.keeping.ledger import LedgerFilter, event_kinds, ledger
from stillroom.keeping.ledger_views import EventView

NOTES = """\
Entries are listed oldest first. One that was undone or corrected stays, with a mark and the day,
initials and reason of what undid or corrected it.

--json prints the entries, and after them the acts that wrote, undid or corrected them: each row
that an act changed or deleted, before and after, in mL, g and % v/v. What an act added is not
repeated. stillroom reference ledger lists the fields."""


def _ledger_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "words", nargs="*", metavar="WORD",
        help="only entries with this in their text, kind, code, name, initials, mark or reason",
    )  # fmt: skip
    parser.add_argument("--from", dest="since", metavar="DAY", help="only from this day on")
    parser.add_argument("--to", dest="until", metavar="DAY", help="only up to this day")
    parser.add_argument("--kind", help="only entries of this kind, such as strained or draw")
    json_option(parser)


def _ledger(call: Call) -> int:
    since, until = days_between(call, call.asked.since, call.asked.until)
    wanted = LedgerFilter(" ".join(call.asked.words), _kind(call), since, until)
    lines = list(reversed(ledger(call.keeper, wanted, limit=-1)))
    if call.asked.json:
        of = [line.line_id for line in lines] + [line.later_id for line in lines]
        acts = journal_lines(call.keeper, filter(None, of))
        put_json(call, {"lines": list(map(_line_json, lines)), "acts": list(map(_act_json, acts))})
        return 0
    put("1 entry." if len(lines) == 1 else f"{len(lines)} entries.")
    for line in lines:
        put(_line_words(call, line))
    return 0


def _kind(call: Call) -> str:
    kind = str(call.asked.kind or "")
    known = event_kinds(call.keeper)
    if kind and kind not in known:
        raise Refused(f"There is no entry of the kind {kind}. Kinds so far: {', '.join(known)}.")
    return kind


def _line_words(call: Call, line: EventView) -> str:
    moment = datetime.fromisoformat(line.at).astimezone()
    facts = [f"{call.wording.day(line.day)} {moment:%H:%M}", line.maker, line.kind, line.subject]
    words = " ".join(filter(None, facts)) + (f": {line.text}" if line.text else "")
    later = call.wording.later(line)
    return f"{words} [{later}]" if later else words


def _line_json(line: EventView) -> dict[str, Any]:
    return {
        "at": line.at,
        "day": line.day,
        "initials": line.maker,
        "kind": line.kind,
        "text": line.text,
        "subject": line.subject,
        "mark": line.mark,
        "later_act": line.later_id,
        "act": line.line_id,
    }


def _act_json(act: JournalLine) -> dict[str, Any]:
    return {
        "id": act.line_id,
        "at": act.at,
        "day": act.day,
        "initials": act.maker,
        "kind": act.kind,
        "title": act.title,
        "why": act.why,
        "of": act.of_id,
        "changes": [_change_json(change) for change in act.changes],
    }


def _change_json(change: RowChange) -> dict[str, Any]:
    return {
        "record": change.record,
        "row": change.row_id,
        "before": change.before,
        "after": change.after,
    }


COMMANDS = {"ledger": Command(_ledger_arguments, _ledger, NOTES)}
