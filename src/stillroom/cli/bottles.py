"""`bottles` and `draw`."""

from argparse import SUPPRESS, ArgumentParser
from collections.abc import Sequence
from typing import Any

from stillroom.cli.call import Call, Command, json_option
from stillroom.cli.form import Done, Values, carry_out, change_options
from stillroom.cli.output import put, put_json
from stillroom.dates import parse_day
from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.print_log import OldLabel
from stillroom.keeping.bottles.status import UNUSABLE, waits
from stillroom.keeping.bottles.stock import first_to_expire, take_out, volume_or_all
from stillroom.keeping.contents import grams_by_herb, herb_equivalents_of, herb_g_per_ml
from stillroom.keeping.cupboard_views import HerbEquivalent
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.keeping.words import folded, name_in_note
from stillroom.quantities import how_many
from stillroom.reckoning.states import BY_HAND, MovementKind


def _bottles_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "words",
        nargs="*",
        metavar="WORD",
        help="only bottles with this in the code, herb, name, part or place",
    )
    parser.add_argument("--empties", action="store_true", help="include empty bottles")
    json_option(parser)


def _bottles(call: Call) -> int:

    wanted = folded(" ".join(call.asked.words)).split()
    bottles = [
        bottle
        for bottle in bottle_rows(call.keeper, empties=call.asked.empties)
        if all(word in _searched(bottle) for word in wanted)
    ]
    if call.asked.json:
        put_json(call, bottles_json(call, bottles))
        return 0
    together = volume(call, sum(bottle.left_ml for bottle in bottles))
    put(f"{how_many(len(bottles), 'bottle')}, {together} in all.")
    for bottle in bottles:
        put(bottle_line(call, bottle))
    return 0


def _searched(bottle: BottleRow) -> str:
    texts = (bottle.code, bottle.herb, bottle.name, bottle.botanical, bottle.part, bottle.place)
    return folded("\n".join(texts))


def bottle_line(call: Call, bottle: BottleRow) -> str:

    said = call.wording
    held = f"{said.volume(bottle.left_ml)} of {said.volume(bottle.size_ml)}"
    strength = said.finished_strength(bottle)
    ratio = f"{said.ratio(bottle.ratio)} poured" if bottle.ratio else ""
    facts = [held, strength, ratio, bottle.place]
    if bottle.keep_until:
        past = ", past its date" if bottle.is_past(call.keeper.today) else ""
        facts.append(f"keep until {call.wording.day(bottle.keep_until)}{past}")
    if bottle.status in UNUSABLE or waits(call.keeper, bottle):
        facts.append(f"{bottle.status}")
    return f"{bottle.code} {bottle.name}: {', '.join(fact for fact in facts if fact)}"


def old_label_line(old: OldLabel) -> str:
    """A label to print again, with what has changed."""
    changed = f"{'; '.join(old.gone) or 'nothing'} → {'; '.join(old.new) or 'nothing'}"
    return f"{old.bottle.code} {old.bottle.name}: {changed}"


def bottle_json(bottle: BottleRow, herbs: Sequence[HerbEquivalent]) -> dict[str, Any]:

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
        "status": bottle.status,
        "herb_g_per_ml": herb_g_per_ml(herbs),
        "herbs_g_per_ml": grams_by_herb(herbs),
    }


def tincture_json(tincture: TinctureView) -> dict[str, Any]:
    return {
        "code": tincture.code,
        "name": tincture.name,
        "made_on": tincture.made_on,
        "to_bottle_ml": round(tincture.loose_ml, 4),
    }


def volume(call: Call, volume_ml: float | None) -> str:

    return call.wording.volume(volume_ml)


def _draw_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "code",
        metavar="CODE",
        help="code of a bottle; or a herb, to draw from its bottle that expires first",
    )
    parser.add_argument(
        "amount",
        nargs="+",
        metavar="AMOUNT",
        help="how much to draw, such as 30 ml, 2 tsp or 1 fl oz, or all",
    )
    parser.add_argument("--for", dest="person", default="", metavar="NAME", help="who gets it")
    parser.add_argument("--note", default="", metavar="TEXT", help="a note for the ledger")
    parser.add_argument("--reason", default="", help=SUPPRESS)
    parser.add_argument(
        "--kind",
        choices=[str(kind) for kind in BY_HAND],
        default=str(MovementKind.DRAW),
        help="drawn for use (draw; also if left out), given away or lost",
    )
    parser.add_argument(
        "--on",
        default="today",
        metavar="DAY",
        help="the day, if not today: yesterday, 3 Nov",
    )
    change_options(
        parser,
        "go ahead past the keep-until date, before a later count, or if this computer's date is "
        "in doubt",
    )


def _draw(call: Call) -> int:

    volume_ml = volume_or_all(call.wording, " ".join(call.asked.amount))
    bottle_id = _bottle_meant(call)
    kind = MovementKind(call.asked.kind)
    person, note = _for_whom(call, kind)
    day = parse_day(call.asked.on, call.keeper.today, past=True)

    def draw(keeper: Keeper, values: Values, confirmed: bool) -> Done:
        row = take_out(
            keeper,
            bottle_id,
            volume_ml,
            kind=kind,
            person=person,
            note=note,
            day=day,
            confirmed=confirmed,
        )
        line = f"{row.code} {row.name} now holds {volume(call, row.left_ml)}."
        return Done([line], lambda: bottles_json(call, [row])[0])

    return carry_out(call, draw)


def _bottle_meant(call: Call) -> int:
    """The bottle with a code, or of a herb the one that expires first."""
    try:
        found = find_code(call.keeper, call.asked.code)
    except Refused:
        words = folded(call.asked.code).split()
        rows = [row for row in bottle_rows(call.keeper) if _is_called(row, words)]
        if not rows:
            raise
        return _first_of(call, rows)
    if found.bottle_id is None:
        raise Refused(f"{found.code} is a {found.kind}. Give the code of one of its bottles.")
    return found.bottle_id


def _is_called(row: BottleRow, words: Sequence[str]) -> bool:
    text = folded("\n".join((row.herb, row.name, row.botanical, row.part, row.condition)))
    return bool(words) and all(word in text for word in words)


def _first_of(call: Call, rows: Sequence[BottleRow]) -> int:
    names = list(dict.fromkeys(row.name for row in rows))
    exactly = [name for name in names if folded(name) == folded(call.asked.code)]
    if len(names) > 1 and not exactly:
        raise Refused(f"Which one? {', '.join(names)}.")
    name = (exactly or names)[0]
    first = first_to_expire(call.keeper, (row for row in rows if row.name == name))
    if first is None:
        raise Refused(f"No bottle of {name} may be drawn from. To choose one, give its code.")
    return first.bottle_id


def _for_whom(call: Call, kind: MovementKind) -> tuple[str, str]:
    """Who gets it, and the note.

    `--reason` is from when one text was both. It is read as those texts were when the two came
    apart: of a gift it is the name, if it can be one.
    """
    person, note, reason = call.asked.person, call.asked.note, call.asked.reason
    if kind is MovementKind.GIVE and not person and name_in_note(reason):
        return reason, note
    return person, " ".join(filter(None, (note, reason)))


def bottles_json(call: Call, bottles: Sequence[BottleRow]) -> list[dict[str, Any]]:
    herbs = herb_equivalents_of(call.keeper, {bottle.tincture_id for bottle in bottles})
    return [bottle_json(bottle, herbs[bottle.tincture_id]) for bottle in bottles]


COMMANDS = {
    "bottles": Command(_bottles_arguments, _bottles),
    "draw": Command(_draw_arguments, _draw),
}
