"""`trace` and `recall`."""

from argparse import ArgumentParser
from collections.abc import Iterable
from typing import Any

from stillroom.cli.call import Call, Command, json_option
from stillroom.cli.output import put, put_json
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.trace.views import Node


def _trace_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="code of a bottle, a batch or a jar")
    json_option(parser)


def _trace(call: Call) -> int:

    tree = trace(call.keeper, call.asked.code)
    if call.asked.json:
        put_json(call, _node_json(tree, "came_from"))
        return 0
    _put_tree(tree)
    return 0


def _put_tree(tree: Node) -> None:
    for depth, node in _by_depth(tree):
        again = " (shown above)" if node.is_repeat else ""
        detail = f": {node.detail}" if node.detail else ""
        kind = node.kind.capitalize()
        name = node.label if node.label.startswith(kind) else f"{kind} {node.label}"
        put(f"{name}{detail}{again}", 2 * depth)


def _by_depth(tree: Node) -> Iterable[tuple[int, Node]]:
    """Every node with its depth, from the top down."""
    waiting = [(0, tree)]
    while waiting:
        depth, node = waiting.pop()
        yield depth, node
        waiting.extend((depth + 1, child) for child in reversed(node.children))


def _recall_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "words",
        nargs="+",
        metavar="WORD",
        help="words from the name, day, origin or lot of a herb or spirit",
    )
    json_option(parser)


def _recall(call: Call) -> int:
    trees = recall_words(call.keeper, " ".join(call.asked.words))
    if call.asked.json:
        put_json(call, [_node_json(tree, "went_into") for tree in trees])
        return 0
    for number, tree in enumerate(trees):
        if number:
            put()
        _put_tree(tree)
    return 0


def _node_json(node: Node, onwards: str) -> dict[str, Any]:
    told: dict[str, Any] = {
        "kind": node.kind,
        "label": node.label,
        "detail": node.detail,
        "volume_ml": node.volume_ml,
        "left_ml": node.left_ml,
        "gathered_on": node.gathered_on,
        "origin": node.origin,
    }
    if node.is_repeat:
        told["in_full_further_up"] = True
    if node.contains_ml is not None:
        told["contains_ml"] = node.contains_ml
    return told | {onwards: [_node_json(child, onwards) for child in node.children]}


COMMANDS = {
    "trace": Command(_trace_arguments, _trace),
    "recall": Command(_recall_arguments, _recall),
}
