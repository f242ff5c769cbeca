"""`release`, `reject`, `withdraw`, `withdrawn` and `close`."""

from argparse import ArgumentParser

from stillroom.cli.call import Call, Command, why_option, yes_option
from stillroom.cli.output import put, put_list
from stillroom.cli.papers import deliver, document_arguments
from stillroom.errors import Refused
from stillroom.keeping.bottles.status import (
    how_many_batches,
    made_with,
    reject,
    release,
    withdraw,
)
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.closing import close_batch, close_month, month_typed
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.trace.recall import recall_words, source_name
from stillroom.keeping.trace.views import Node
from stillroom.keeping.views import TinctureView


def _batch_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="code of the batch, or of one of its bottles")
    why_option(parser)
    yes_option(parser, "release it even if it was rejected or withdrawn")


def _batch(call: Call) -> TinctureView:
    found = find_code(call.keeper, call.asked.code)
    if found.tincture_id is None:
        raise Refused(f"Jar {found.code} hasn't been strained, so it has no batch yet.")
    return tincture_view(call.keeper, found.tincture_id)


def _release(call: Call) -> int:
    batch = _batch(call)
    keeper = call.keeper_to_change()
    release(keeper, batch.tincture_id, call.asked.why, confirmed=call.asked.yes)
    call.is_done = True
    put(f"Released batch {batch.code} {batch.name}.")
    return 0


def _reject(call: Call) -> int:
    batch = _batch(call)
    reject(call.keeper_to_change(), batch.tincture_id, call.asked.why)
    call.is_done = True
    put(f"Rejected batch {batch.code} {batch.name}.")
    return 0


WITHDRAW_NOTES = """\
Give the code of a batch, or words as for recall: every batch that has it, and every blend made with
one of them, is withdrawn in one act. Then nothing can be drawn, blended or labelled from them;
bottles can be discarded. stillroom withdrawn prints the sheet."""


def _withdraw_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "words",
        nargs="+",
        metavar="WORD",
        help="code of a batch, or words from the name, day, origin or lot of a herb or spirit",
    )
    why_option(parser)
    parser.add_argument("--dry-run", action="store_true", help="change nothing; list the batches")
    yes_option(parser)


def _withdraw(call: Call) -> int:
    what, ids, steeping = _meant(call, " ".join(call.asked.words))
    if call.asked.dry_run:
        batches = made_with(call.keeper, ids)
        put(f"Would withdraw {how_many_batches(len(batches))}: {what}.")
    else:
        batches = withdraw(call.keeper_to_change(), ids, what, call.asked.why)
        call.is_done = True
        put(f"Withdrew {how_many_batches(len(batches))}: {what}.")
    for batch in batches:
        put(f"{batch.code} {batch.name}", 2)
    put_list("Still steeping, and not withdrawn:", steeping)
    return 0


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
    yes_option(parser)


def _close(call: Call) -> int:
    text = " ".join(call.asked.what)
    month = month_typed(text)
    if month is not None:
        name = close_month(call.keeper_to_change(), month)
    else:
        found = find_code(call.keeper, text)
        if found.tincture_id is None:
            raise Refused(f"Jar {found.code} hasn't been strained, so it has no record yet.")
        name = f"the record of {close_batch(call.keeper_to_change(), found.tincture_id)}"
    call.is_done = True
    put(f"Closed {name}. From now on it changes only for a reason.")
    return 0


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
