"""`correct`."""

from argparse import ArgumentParser
from dataclasses import asdict
from itertools import groupby
from typing import Any

from stillroom.cli.call import Call, Command, json_option, yes_option
from stillroom.cli.output import put, put_json, put_list
from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.correcting.correct import CorrectionPlan, correct, plan_correction
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Fact, Subject
from stillroom.keeping.correcting.subjects import code_of, subject_of_code, title_of
from stillroom.keeping.words import changed
from stillroom.quantities import how_many

NOTES = """\
CODE is the code of a jar, blend, bottle or lot of herb, or the name of a spirit, herb or other
liquid. Without FIELD=VALUE, this lists what can be corrected, each field with its present value.

Write values as on a label: yield="555 ml", pour-1.strength=38%, part=fruit, strained="3 Oct".
To clear an optional field, put nothing after the =. A volume of 0 removes a pour, a bottle, a draw
or a part of a blend. To add one that was forgotten, use the next number: bottle-3.size="50 ml".
To correct a field of another jar or bottle as well, put its code and a colon in front:
26-004.1:movement-2.volume="20 ml".

Everything that follows is calculated again. The original entry can still be read in the ledger.
One undo reverses the correction."""


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "code", metavar="CODE", help="code or name, such as 26-004, H-26-001 or Vodka"
    )
    parser.add_argument(
        "values",
        nargs="*",
        metavar="FIELD=VALUE",
        help='a field and its correct value: yield="555 ml"',
    )
    parser.add_argument("--why", default="", metavar="TEXT", help="the reason; shown in the ledger")
    parser.add_argument(
        "--dry-run", action="store_true", help="change nothing; show what would change"
    )
    json_option(parser)
    yes_option(parser, "go ahead with an unlikely value, or if this computer's date is in doubt")


def _correct(call: Call) -> int:
    if "=" in call.asked.code:
        raise Refused("Give a code or name first, and FIELD=VALUE after it.")
    subject = subject_of_code(call.keeper, call.asked.code)
    if not call.asked.values:
        _list(call, subject)
        return 0
    texts = _texts(call.asked.values)
    if call.asked.dry_run:
        plan = plan_correction(call.keeper, subject, texts)
        _put(call, plan, "Would change")
        if plan.obstacles:
            raise Refused("This can't be done. The reason is above.")
        return 0
    try:
        done = correct(
            call.keeper_to_change(),
            subject,
            texts,
            why=call.asked.why,
            confirmed=call.asked.yes,
        )
    except NeedsConfirmation as question:
        raise Refused(f"{question} Add --yes to save it.") from question
    call.is_done = True
    _put(call, done, "Corrected")
    return 0


def _texts(words: list[str]) -> dict[str, str]:
    texts: dict[str, str] = {}
    for word in words:
        name, sign, text = word.partition("=")
        if not sign:
            raise Refused(f"{name}: write {name}=VALUE.")
        if name.strip() in texts:
            raise Refused(f"{name.strip()} is given twice.")
        texts[name.strip()] = text
    return texts


def _list(call: Call, subject: Subject) -> None:
    facts = facts_of(call.keeper, subject)
    if call.asked.json:
        put_json(
            call,
            {
                "code": code_of(call.keeper, subject),
                "kind": subject.kind,
                "fields": [_fact_json(fact) for fact in facts],
            },
        )
        return
    put(f"What can be corrected of {title_of(call.keeper, subject)}:")
    for group, of_group in groupby(facts, key=lambda fact: fact.group):
        found = list(of_group)
        if not found[0].is_one_more:
            put_list(group, (_line(fact) for fact in found))
    more = [fact.name for fact in facts if fact.is_one_more]
    if more:
        put()
        put(f"To add what was forgotten: {', '.join(more)}.")


def _line(fact: Fact) -> str:
    shown = " ".join(fact.shown.split()) or "blank"
    meaning = "; ".join(filter(None, (fact.label, fact.hint)))
    return f"{fact.name}: {shown} ({meaning})"


def _fact_json(fact: Fact) -> dict[str, Any]:
    return {
        "name": fact.name,
        "label": fact.label,
        "group": fact.group,
        "kind": fact.kind,
        "value": fact.value,
        "choices": [key for key, _ in fact.choices],
        "is_one_more": fact.is_one_more,
    }


def _put(call: Call, plan: CorrectionPlan, did: str) -> None:
    if call.asked.json:
        put_json(
            call,
            {
                "title": plan.title,
                "changes": [asdict(change) for change in plan.changes],
                "effects": plan.effects,
                "labels": plan.labels,
                "obstacles": plan.obstacles,
                "ways_out": [fact.name for fact in plan.ways_out],
                "questions": plan.questions,
            },
            is_done=call.is_done,
        )
        return
    put(f"{plan.title}." if call.is_done else f"{did} ({plan.title}):")
    for change in plan.changes:
        put(changed(change.label, change.before, change.after), 2)
    put_list("What follows", plan.effects)
    put_list("Why it can't be done", plan.obstacles)
    if not call.is_done:
        put_list("Questions", plan.questions)
    if plan.labels:
        put()
        put(f"{how_many(len(plan.labels), 'label')} to print again: {', '.join(plan.labels)}.")


COMMANDS = {"correct": Command(_arguments, _correct, NOTES)}
