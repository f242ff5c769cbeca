"""`move`, `dates`, `cover`, `note` and `discard`."""

from datetime import timedelta

from stillroom.cli.bottles import bottle_line, bottles_json
from stillroom.cli.call import Call
from stillroom.cli.fill import jar_json
from stillroom.cli.form import (
    Done,
    Form,
    FormField,
    Values,
    day,
    day_to_come,
    shakes,
    whole_number,
    words,
    yes_or_no,
)
from stillroom.cli.found import jar_of, shelf_of
from stillroom.cli.jars import herb_words
from stillroom.errors import Refused
from stillroom.keeping.bottles.stock import discard_bottle, move_bottle
from stillroom.keeping.cards import JarCard
from stillroom.keeping.jars.jar import (
    discard_jar,
    mark_covered,
    move_jar,
    note_jar,
    set_dates,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.kinds import Kind


def bottle_done(call: Call, did: str, row: BottleRow) -> Done:
    """What a bottle is like after an act."""
    return Done([f"{did} {bottle_line(call, row)}."], lambda: bottles_json(call, [row])[0])


def _jar_done(keeper: Keeper, sentence: str, card: JarCard) -> Done:
    return Done([sentence], lambda: jar_json(keeper, card))


def _move(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    found = find_code(keeper, call.asked.subject)
    if found.bottle_id is not None:
        if "shelf" in values:
            raise Refused(f"{found.code} is a bottle: write place=.")
        if "place" not in values:
            raise Refused("place: Place is needed.")
        return bottle_done(
            call, "Moved", move_bottle(keeper, found.bottle_id, values["place"] or "")
        )
    if "place" in values:
        raise Refused(f"{found.code} is a jar: write shelf=.")
    if "shelf" not in values:
        raise Refused("shelf: Shelf is needed.")
    shelf_id = shelf_of(call, values["shelf"])
    card = move_jar(keeper, jar_of(keeper, found.code).card.jar_id, shelf_id)
    return _jar_done(keeper, f"Moved {card.code} {herb_words(card)} to {values['shelf']}.", card)


def _dates(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    if not values:
        raise Refused("Give at least one of filled=, days=, strain= and shakes=.")
    if "days" in values and "strain" in values:
        raise Refused("Give days= or strain=, not both.")
    before = jar_of(keeper, call.asked.subject).card
    filled_on = values.get("filled", before.filled_on)
    steep = timedelta(days=values.get("days", (before.strain_on - before.filled_on).days))
    card = set_dates(
        keeper,
        before.jar_id,
        filled_on,
        values.get("strain", filled_on + steep),
        values.get("shakes", before.shakes_per_day),
    )
    said = call.wording
    return _jar_done(
        keeper,
        f"{card.code} {herb_words(card)}: filled {said.day(card.filled_on)}, strain on "
        f"{said.day(card.strain_on)}, shakes a day: {card.shakes_per_day}.",
        card,
    )


def _cover(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    jar = jar_of(keeper, call.asked.subject)
    card = mark_covered(keeper, jar.card.jar_id, values["covered"])
    state = "covered" if card.covered else "not covered"
    return _jar_done(keeper, f"{card.code} {herb_words(card)}: the herb is {state}.", card)


def _note(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    card = jar_of(keeper, call.asked.subject).card
    note_jar(keeper, card.jar_id, values["text"])
    return _jar_done(keeper, f"Wrote a note on {card.code} {herb_words(card)}.", card)


def _discard(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    found = find_code(keeper, call.asked.subject)
    note = values.get("note", "")
    if found.bottle_id is not None:
        return bottle_done(call, "Discarded", discard_bottle(keeper, found.bottle_id, note))
    card = jar_of(keeper, found.code).card
    discard_jar(keeper, card.jar_id, note)
    said = f"Discarded {card.code} {herb_words(card)}. Its history stays."
    return Done([said], lambda: {"code": card.code, "kind": "jar"})


COMMANDS = {
    "move": Form(
        (
            FormField("shelf", "Shelf", words, "of a jar"),
            FormField("place", "Place", words, "of a bottle; blank for none", can_be_blank=True),
        ),
        _move,
        subject="CODE",
        about="code of a jar or bottle, such as 26-004 or 26-004.1",
    ).command(),
    "dates": Form(
        (
            FormField("filled", "Filled on", day, "blank: as it is"),
            FormField("days", "Days to steep", whole_number(Kind.DAYS), "from the filling date"),
            FormField("strain", "Strain on", day_to_come, "instead of days="),
            FormField("shakes", "Shakes a day", shakes, "0 to 9"),
        ),
        _dates,
        subject="CODE",
        about="code of the jar, such as 26-004",
    ).command(),
    "cover": Form(
        (yes_or_no("covered", "Herb covered", is_required=True),),
        _cover,
        subject="CODE",
        about="code of the jar, such as 26-004",
    ).command(),
    "note": Form(
        (FormField("text", "Note", is_required=True),),
        _note,
        subject="CODE",
        about="code of the jar, such as 26-004",
    ).command(),
    "discard": Form(
        (FormField("note", "Note", words, "why"),),
        _discard,
        subject="CODE",
        about="code of a jar or bottle, such as 26-004 or 26-004.1",
        notes="A jar is taken off its shelf; a bottle is emptied. The history of both stays.",
    ).command(),
}
