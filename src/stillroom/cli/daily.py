"""The daily verbs without the screen: what to do, and doing it."""

from argparse import ArgumentParser
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from stillroom.cli.call import Call, Command, yes_option
from stillroom.cli.output import put, put_json, put_list
from stillroom.dates import countdown, parse_day, show_day
from stillroom.errors import Refused
from stillroom.keeping.cards import JarCard, ShelvesView
from stillroom.keeping.views import BottleRow, HerbEquivalent, Node, TinctureView
from stillroom.keeping.words import folded
from stillroom.quantities import how_many


def _json_option(parser: ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="for a program to read")


# --- today ---


def _today(call: Call) -> int:
    from stillroom.keeping.day import day_view
    from stillroom.keeping.jars.shelves import shelves_view
    from stillroom.keeping.shelf_file.backups import backup_folder, last_backup

    day = day_view(call.keeper)
    shelves = shelves_view(call.keeper)
    backup = last_backup(backup_folder(call.keeper), call.keeper.store.path)
    jars = {
        "to_shake": day.to_shake,
        "due": day.due,
        "over": day.over,
        "uncovered": day.uncovered,
    }
    if call.asked.json:
        put_json(
            {"day": day.day}
            | {name: _jars_json(found, shelves) for name, found in jars.items()}
            | {
                "to_bottle": [_tincture_json(tincture) for tincture in day.to_bottle],
                "passing": _bottles_json(call, day.passing),
                "backup": {
                    "last_on": backup.last_on,
                    "failed_on": backup.failed_on,
                    "failure": backup.failure,
                },
            }
        )
        return 0
    put(f"Today is {show_day(day.day)}.")
    doubt = "" if call.asked.sample else call.keeper.date_in_doubt
    if doubt:
        put(doubt)
    if not (any(jars.values()) or day.to_bottle or day.passing):
        put("There is nothing to do.")
    shakes = sum(jar.shakes_left for jar in day.to_shake)
    put_list(
        f"To shake: {how_many(shakes, 'shake')} to do",
        (
            where + (f", {jar.shakes_left} times" if jar.shakes_left > 1 else "")
            for jar, where in _standing(day.to_shake, shelves)
        ),
    )
    put_list(
        f"To strain today: {how_many(len(day.due), 'jar')}",
        (where for _, where in _standing(day.due, shelves)),
    )
    put_list(
        f"Over: {how_many(len(day.over), 'jar')}",
        (
            f"{where}: {countdown(jar.days_left(day.day))}"
            for jar, where in _standing(day.over, shelves)
        ),
    )
    put_list(
        f"Herb not under the liquid: {how_many(len(day.uncovered), 'jar')}",
        (where for _, where in _standing(day.uncovered, shelves)),
    )
    put_list(
        f"To bottle: {how_many(len(day.to_bottle), 'tincture')}",
        (f"{t.code} {t.name}: {_volume(call, t.loose_ml)}" for t in day.to_bottle),
    )
    put_list(
        f"Keep-until date past or near: {how_many(len(day.passing), 'bottle')}",
        (_bottle_line(call, bottle) for bottle in day.passing),
    )
    if backup.failed_on:
        put_list(f"The backup of {show_day(backup.failed_on)} failed:", [backup.failure])
    return 0


# --- jars and shakes ---


def _jars_arguments(parser: ArgumentParser) -> None:
    _json_option(parser)


def _jars(call: Call) -> int:
    from stillroom.keeping.jars.shelves import shelves_view

    shelves = shelves_view(call.keeper)
    if call.asked.json:
        put_json(_jars_json(shelves.jars, shelves))
        return 0
    put(f"{how_many(len(shelves.jars), 'jar')}.")
    for shelf in shelves.shelves:
        lines = [_jar_state(call, jar, shelves.today) for jar in shelf.jars]
        put_list(shelf.name, lines or ["Nothing stands here."])
    return 0


def _jar_state(call: Call, jar: JarCard, today: date) -> str:
    name = f"{jar.code} {_herb(jar)}"
    if not jar.is_steeping:
        return f"{name}: strained, {_volume(call, jar.to_bottle_ml)} to bottle"
    said = [f"{countdown(jar.days_left(today))}, strain {show_day(jar.strain_on)}"]
    if jar.shakes_per_day:
        said.append(f"shaken {jar.shaken} of {jar.shakes_per_day} today")
    if not jar.covered:
        said.append("herb not under the liquid")
    return f"{name}: {', '.join(said)}"


def _standing(jars: Iterable[JarCard], shelves: ShelvesView) -> Iterable[tuple[JarCard, str]]:
    """Jars, each with what it is and where it stands in words."""
    places = {shelf.shelf_id: shelf.name for shelf in shelves.shelves}
    for jar in jars:
        yield jar, f"{jar.code} {_herb(jar)}, on {places[jar.shelf_id]}"


def _herb(jar: JarCard) -> str:
    more = f" and {jar.more_herbs} more" if jar.more_herbs else ""
    return f"{jar.herb}{more}, {jar.part} {jar.condition}"


def _jars_json(jars: Iterable[JarCard], shelves: ShelvesView) -> list[dict[str, Any]]:
    places = {shelf.shelf_id: shelf.name for shelf in shelves.shelves}
    return [
        {
            "code": jar.code,
            "herb": jar.herb,
            "more_herbs": jar.more_herbs,
            "part": jar.part,
            "condition": jar.condition,
            "shelf": places[jar.shelf_id],
            "filled_on": jar.filled_on,
            "strain_on": jar.strain_on,
            "days_left": jar.days_left(shelves.today),
            "shakes_per_day": jar.shakes_per_day,
            "shaken_today": jar.shaken,
            "shakes_left": jar.shakes_left,
            "covered": jar.covered,
            "to_bottle_ml": jar.to_bottle_ml,
        }
        for jar in jars
    ]


def _shake_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("code", nargs="*", metavar="CODE", help="the code of a jar")
    parser.add_argument("--all", action="store_true", help="every jar that still wants one today")
    yes_option(parser)


def _shake(call: Call) -> int:
    from stillroom.keeping.jars.jar import shake, shake_all

    if call.asked.all == bool(call.asked.code):
        raise Refused("Name the jars to shake, or --all.")
    if call.asked.all:
        count = shake_all(call.keeper_to_change())
        call.is_done = True
        put(f"Shook {how_many(count, 'jar')}.")
        return 0
    # All of them are looked up before the first is ticked off: a slip shakes none.
    jars = [_jar_with_code(call, code) for code in call.asked.code]
    keeper = call.keeper_to_change()
    for jar in jars:
        shaken = shake(keeper, jar.jar_id)
        call.is_done = True
        put(f"Shook {shaken.code} {shaken.herb}, {shaken.shaken} of {shaken.shakes_per_day}.")
    return 0


def _jar_with_code(call: Call, code: str) -> JarCard:
    from stillroom.keeping.jars.shelves import shelves_view

    wanted = code.strip().casefold()
    for jar in shelves_view(call.keeper).jars:
        if jar.code.casefold() == wanted:
            return jar
    raise Refused(f"No jar on the shelves has the code {code}.")


# --- bottles ---


def _bottles_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "words", nargs="*", metavar="WORD", help="in its code, herb, botanical name, part or place"
    )
    parser.add_argument("--empties", action="store_true", help="empty bottles as well")
    _json_option(parser)


def _bottles(call: Call) -> int:
    from stillroom.keeping.bottles.stock import bottle_rows

    wanted = folded(" ".join(call.asked.words)).split()
    bottles = [
        bottle
        for bottle in bottle_rows(call.keeper, empties=call.asked.empties)
        if all(word in _searched(bottle) for word in wanted)
    ]
    if call.asked.json:
        put_json(_bottles_json(call, bottles))
        return 0
    together = _volume(call, sum(bottle.left_ml for bottle in bottles))
    put(f"{how_many(len(bottles), 'bottle')}, {together} in all.")
    for bottle in bottles:
        put(_bottle_line(call, bottle))
    return 0


def _searched(bottle: BottleRow) -> str:
    texts = (bottle.code, bottle.herb, bottle.name, bottle.botanical, bottle.part, bottle.place)
    return folded("\n".join(texts))


def _bottle_line(call: Call, bottle: BottleRow) -> str:
    from stillroom.keeping.wording import Wording

    said = Wording(call.liked)
    held = f"{said.volume(bottle.left_ml)} of {said.volume(bottle.size_ml)}"
    strength = said.finished_strength(bottle)
    ratio = f"{said.ratio(bottle.ratio)} poured" if bottle.ratio else ""
    facts = [held, strength, ratio, bottle.place]
    if bottle.keep_until:
        past = ", past" if bottle.is_past(call.keeper.today) else ""
        facts.append(f"keep until {show_day(bottle.keep_until)}{past}")
    return f"{bottle.code} {bottle.name}: {', '.join(fact for fact in facts if fact)}"


def _bottles_json(call: Call, bottles: Sequence[BottleRow]) -> list[dict[str, Any]]:
    from stillroom.keeping.contents import herb_equivalents_of

    herbs = herb_equivalents_of(call.keeper, {bottle.tincture_id for bottle in bottles})
    return [_bottle_json(bottle, herbs[bottle.tincture_id]) for bottle in bottles]


def _bottle_json(bottle: BottleRow, herbs: Sequence[HerbEquivalent]) -> dict[str, Any]:
    from stillroom.keeping.contents import grams_by_herb, herb_g_per_ml

    return {
        "code": bottle.code,
        "batch": bottle.batch,
        "name": bottle.name,
        "herb": bottle.herb,
        "botanical": bottle.botanical,
        "part": bottle.part,
        "condition": bottle.condition,
        "strength_abv": bottle.strength_abv,
        "strength_by": bottle.strength_by,
        "strength_at_most": bottle.strength_at_most,
        "ratio": bottle.ratio,
        "made_on": bottle.made_on,
        "keep_until": bottle.keep_until,
        "size_ml": bottle.size_ml,
        "left_ml": round(bottle.left_ml, 4),
        "place": bottle.place,
        "herb_g_per_ml": herb_g_per_ml(herbs),
        "herbs_g_per_ml": grams_by_herb(herbs),
    }


def _tincture_json(tincture: TinctureView) -> dict[str, Any]:
    return {
        "code": tincture.code,
        "name": tincture.name,
        "made_on": tincture.made_on,
        "to_bottle_ml": round(tincture.loose_ml, 4),
    }


def _volume(call: Call, volume_ml: float | None) -> str:
    from stillroom.keeping.wording import Wording

    return Wording(call.liked).volume(volume_ml)


def _draw_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="the code of the bottle")
    parser.add_argument(
        "amount", nargs="+", metavar="AMOUNT", help="such as 30 ml, 2 tsp or 1 fl oz"
    )
    parser.add_argument("--reason", default="", metavar="TEXT", help="kept in the ledger")
    parser.add_argument(
        "--kind",
        choices=("draw", "give", "spill"),
        default="draw",
        help="drawn (unless you say otherwise), given away or spilled",
    )
    parser.add_argument(
        "--on",
        default="today",
        metavar="DAY",
        help="the day, if it was not today: yesterday, 3 Nov",
    )
    yes_option(parser, "although a date is in doubt or past, or it was counted since")


def _draw(call: Call) -> int:
    from stillroom.keeping.bottles.stock import take_out
    from stillroom.keeping.trace.ancestry import find_code
    from stillroom.quantities import parse_volume

    volume_ml = parse_volume(" ".join(call.asked.amount), call.liked.units)
    found = find_code(call.keeper, call.asked.code)
    if found.bottle_id is None:
        raise Refused(f"{found.code} is a {found.kind}: name one of its bottles.")
    row = take_out(
        call.keeper_to_change(),
        found.bottle_id,
        volume_ml,
        kind=call.asked.kind,
        reason=call.asked.reason,
        day=parse_day(call.asked.on, call.keeper.today, past=True),
        confirmed=call.asked.yes,
    )
    call.is_done = True
    put(f"{row.code} {row.name} holds {_volume(call, row.left_ml)} now.")
    return 0


# --- undo and redo ---


def _turn_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("--dry-run", action="store_true", help="say only what that would be")
    yes_option(parser)


def _undo(call: Call) -> int:
    from stillroom.keeping.undo import NOTHING_TO_UNDO, undo, undoable

    if call.asked.dry_run:
        title = undoable(call.keeper)
        put(f"Undo would take back: {title}." if title else NOTHING_TO_UNDO)
    else:
        title = undo(call.keeper_to_change())
        call.is_done = True
        put(f"Undone: {title}.")
    return 0


def _redo(call: Call) -> int:
    from stillroom.keeping.undo import NOTHING_TO_REDO, redo, redoable

    if call.asked.dry_run:
        title = redoable(call.keeper)
        put(f"Redo would do again: {title}." if title else NOTHING_TO_REDO)
    else:
        title = redo(call.keeper_to_change())
        call.is_done = True
        put(f"Done again: {title}.")
    return 0


# --- trace ---


def _trace_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="of a bottle, a batch or a jar")
    _json_option(parser)


def _trace(call: Call) -> int:
    from stillroom.keeping.trace.ancestry import trace

    tree = trace(call.keeper, call.asked.code)
    if call.asked.json:
        put_json(_node_json(tree, "came_from"))
        return 0
    _put_tree(tree)
    return 0


def _put_tree(tree: Node) -> None:
    for depth, node in _by_depth(tree):
        again = " (in full further up)" if node.is_repeat else ""
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
        help="the name of a spirit or a herb, or words of its day or origin, such as a lot",
    )
    _json_option(parser)


def _recall(call: Call) -> int:
    from stillroom.keeping.trace.recall import recall_words

    trees = recall_words(call.keeper, " ".join(call.asked.words))
    if call.asked.json:
        put_json([_node_json(tree, "went_into") for tree in trees])
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
    "today": Command(_json_option, _today),
    "jars": Command(_jars_arguments, _jars),
    "shake": Command(_shake_arguments, _shake),
    "bottles": Command(_bottles_arguments, _bottles),
    "draw": Command(_draw_arguments, _draw),
    "undo": Command(_turn_arguments, _undo),
    "redo": Command(_turn_arguments, _redo),
    "trace": Command(_trace_arguments, _trace),
    "recall": Command(_recall_arguments, _recall),
}
