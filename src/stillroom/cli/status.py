"""`release`, `reject`, `withdraw`, `withdrawn` and `close`."""

from argparse import ArgumentParser
from typing import Any

from stillroom.cli.bottles import tincture_json
from stillroom.cli.call import Call, Command
from stillroom.cli.form import Done, Values, carry_out, change_options
from stillroom.cli.papers import deliver, document_arguments
from stillroom.errors import Refused
from stillroom.keeping.bottles.status import (
    how_many_batches,
    reject,
    release,
    withdraw,
)
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.closing import close_batch, close_month, month_typed
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.trace.recall import recall_words, source_name
from stillroom.keeping.trace.views import Node
from stillroom.keeping.views import TinctureView


def _batch_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="code of the batch, or of one of its bottles")
    change_options(parser, "release it even if it was rejected or withdrawn")


def _batch(call: Call) -> TinctureView:
    found = find_code(call.keeper, call.asked.code)
    if found.tincture_id is None:
        raise Refused(f"Jar {found.code} hasn't been strained, so it has no batch yet.")
    return tincture_view(call.keeper, found.tincture_id)


def _release(call: Call) -> int:
    batch = _batch(call)

    def act(keeper: Keeper, values: Values, confirmed: bool) -> Done:
        release(keeper, batch.tincture_id, call.asked.why, confirmed=confirmed)
        return _judged(keeper, batch, "Released")

    return carry_out(call, act)


def _reject(call: Call) -> int:
    batch = _batch(call)

    def act(keeper: Keeper, values: Values, confirmed: bool) -> Done:
        reject(keeper, batch.tincture_id, call.asked.why)
        return _judged(keeper, batch, "Rejected")

    return carry_out(call, act)


def _judged(keeper: Keeper, batch: TinctureView, done: str) -> Done:
    lines = [f"{done} batch {batch.code} {batch.name}."]
    return Done(lines, lambda: _now_json(keeper, batch))


def _now_json(keeper: Keeper, before: TinctureView) -> dict[str, Any]:
    batch = tincture_view(keeper, before.tincture_id)
    return tincture_json(batch) | {"status": batch.status}


WITHDRAW_NOTES = """\
Give the code of a batch, or the words that you would give to recall. Every batch made with it, and
every blend made with one of those, is withdrawn in one act. Nothing can then be drawn, blended or
labelled from them; their bottles can only be discarded. stillroom withdrawn prints where they all
are."""


def _withdraw_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "words",
        nargs="+",
        metavar="WORD",
        help="code of a batch, or words from the name, day, origin or lot of a spirit or herb",
    )
    change_options(parser)


def _withdraw(call: Call) -> int:
    what, ids, steeping = _meant(call, " ".join(call.asked.words))

    def act(keeper: Keeper, values: Values, confirmed: bool) -> Done:
        batches = withdraw(keeper, ids, what, call.asked.why)
        lines = [f"Withdrew {how_many_batches(len(batches))}: {what}."]
        lines += [f"  {batch.code} {batch.name}" for batch in batches]
        if steeping:
            lines += ["", "Still steeping, and not withdrawn:", *(f"  {line}" for line in steeping)]

        def told() -> object:
            withdrawn = [_now_json(keeper, batch) for batch in batches]
            return {"what": what, "batches": withdrawn, "still_steeping": steeping}

        return Done(lines, told)

    return carry_out(call, act)


def _meant(call: Call, text: str) -> tuple[str, set[int], list[str]]:
    """What is withdrawn in words, its batches, and the jars that it steeps in."""
    try:
        found = find_code(call.keeper, text)
    except Refused:
        trees = recall_words(call.keeper, text)
        names = (source_name(call.keeper, tree) for tree in trees)
        nodes = [node for tree in trees for node in tree.walk()]
        ids = {node.tincture_id for node in nodes if node.tincture_id is not None}
        return "; ".join(names), ids, [node.label for node in nodes if _steeps(node)]
    if found.tincture_id is None:
        raise Refused(f"Jar {found.code} hasn't been strained: discard it instead.")
    return f"batch {tincture_view(call.keeper, found.tincture_id).code}", {found.tincture_id}, []


def _steeps(node: Node) -> bool:
    return node.kind == "jar" and not node.children


def _close_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "what",
        nargs="+",
        metavar="MONTH|CODE",
        help="a month, such as 2026-10 or October 2026, or the code of a batch",
    )
    change_options(parser)


def _close(call: Call) -> int:
    text = " ".join(call.asked.what)

    def act(keeper: Keeper, values: Values, confirmed: bool) -> Done:
        name = _closed(keeper, text)
        return Done([f"Closed {name}. Changing it now needs a reason."], lambda: {"closed": name})

    return carry_out(call, act)


def _closed(keeper: Keeper, text: str) -> str:
    """Close the month or batch that a text names; what was closed, in words."""
    month = month_typed(text)
    if month is not None:
        return close_month(keeper, month)
    found = find_code(keeper, text)
    if found.tincture_id is None:
        raise Refused(f"Jar {found.code} hasn't been strained, so it has no record yet.")
    return f"the record of {close_batch(keeper, found.tincture_id)}"


def _withdrawn(call: Call) -> int:
    from stillroom.keeping.trace.withdrawals import withdrawals
    from stillroom.paper.withdrawal_sheet import withdrawal_sheet

    sheet = withdrawal_sheet(withdrawals(call.keeper), call.settings, call.keeper.today)
    return deliver(call, sheet)


COMMANDS = {
    "release": Command(_batch_arguments, _release),
    "reject": Command(_batch_arguments, _reject),
    "withdraw": Command(_withdraw_arguments, _withdraw, WITHDRAW_NOTES),
    "close": Command(_close_arguments, _close),
    "withdrawn": Command(document_arguments, _withdrawn),
}
