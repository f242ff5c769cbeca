"""`strain` and `bottle`."""

from collections.abc import Mapping, Sequence
from typing import Any

from stillroom.cli.bottles import bottle_line, bottles_json
from stillroom.cli.call import Call
from stillroom.cli.form import (
    Done,
    Form,
    FormField,
    Values,
    amount,
    ask_for,
    choice,
    day,
    is_never,
    yes_or_no,
)
from stillroom.cli.found import batch_of, jar_of
from stillroom.cli.jars import herb_words, jars_json, press_words
from stillroom.cli.output import put, put_json
from stillroom.cli.prompts import ask_yes, report
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.bottling import bottle_up, propose_bottles
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import BottleDraft, BottlingDraft, StrainDraft
from stillroom.keeping.jars.expecting import press_outlook, unpredictable, yield_outlook
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import drain, strain, strained_ml
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import TinctureView, YieldOutlook
from stillroom.keeping.wording import Wording
from stillroom.reckoning.cautions import NO_HYDROMETER
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.states import LOSS_KINDS, LossKind
from stillroom.reckoning.yields import KNOWN_PRESSINGS, Pressing


def _yield(call: Call, text: str) -> Figure:
    return call.wording.read_volume_or_mass(text)


STRAIN = (
    FormField("yield", "Yield", _yield, "a volume, or a weight if weighed", is_required=True),
    FormField(
        "container",
        "Empty container",
        amount(Kind.MASS),
        "its weight, if the yield was weighed in it",
    ),
    choice("method", "Method", KNOWN_PRESSINGS, is_required=True),
    FormField("marc", "Spent herb", amount(Kind.MASS), "weight of the marc"),
    FormField("strength", "Strength", amount(Kind.STRENGTH), "only if lab-measured"),
    FormField("day", "Strained on", day, "blank: today"),
    FormField("note", "Note"),
    yes_or_no(
        "more",
        "More to come",
        hint="yes if you will press it later; blank: no",
        is_asked=is_never,
    ),
)


def _strain(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    jar = jar_of(keeper, call.asked.subject)
    measured: Figure = values["yield"]
    abv = values.get("strength")
    try:
        yield_ml = strained_ml(jar, measured, values.get("container"), abv, call.wording)
    except NotUnderstood as error:
        place = "container" if measured.kind is Kind.VOLUME else "yield"
        raise NotUnderstood(f"{place}: {error}") from error
    draft = StrainDraft(
        jar_id=jar.card.jar_id,
        strained_on=values.get("day", keeper.today),
        yield_ml=yield_ml,
        pressing=Pressing(values["method"]),
        marc_g=values.get("marc"),
        measured_abv=abv,
        note=values.get("note", ""),
        confirmed=confirmed,
    )
    if values.get("more"):
        card = drain(keeper, draft)
        return Done(
            [
                f"Drained {card.code} {herb_words(card)}: {press_words(call, card)}.",
                *([NO_HYDROMETER] if abv is not None else []),
                f"When it is pressed: stillroom strain {card.code} yield=… method=pressed",
            ],
            lambda: jars_json([card], shelves_view(keeper))[0],
        )
    made = strain(keeper, draft)
    lines = [
        f"Strained {made.code} {made.name}: {call.wording.volume(made.volume_ml)}, "
        f"{call.wording.finished_strength(made) or 'strength unknown'}.",
        *cautions(made),
        *([NO_HYDROMETER] if abv is not None else []),
        f"To bottle it: stillroom bottle {made.code}",
    ]
    return Done(lines, lambda: made_json(made))


def _outlooks(call: Call) -> tuple[float, dict[Pressing, YieldOutlook]]:
    """What came of a jar so far, in mL, and what to expect of it, by each method."""
    jar = jar_of(call.keeper, call.asked.subject)
    got_ml = jar.card.drained_ml or 0.0
    return got_ml, {
        method: press_outlook(yield_outlook(call.keeper, jar, method), got_ml)
        for method in KNOWN_PRESSINGS
        if not (got_ml and method is Pressing.DRAINED)
    }


def _expected(call: Call) -> list[str]:
    """What to expect of a jar, by each method, in words."""
    got_ml, outlooks = _outlooks(call)
    said = call.wording
    lines = [f"{said.volume(got_ml)} so far."] if got_ml else []
    for method, found in outlooks.items():
        if found.expected_ml is None:
            return [*lines, unpredictable(jar_of(call.keeper, call.asked.subject))]
        lines.append(
            f"{method}: expect {'another ' if got_ml else ''}{said.volume(found.expected_ml)} "
            f"({said.volume(found.low_ml)} to {said.volume(found.high_ml)})"
        )
    return lines


def _show_expected(call: Call) -> int:
    if call.asked.json:
        got_ml, outlooks = _outlooks(call)
        expected = [
            {
                "method": method,
                "expected_ml": found.expected_ml,
                "low_ml": found.low_ml,
                "high_ml": found.high_ml,
            }
            for method, found in outlooks.items()
        ]
        put_json(call, {"so_far_ml": got_ml, "expected": expected})
        return 0
    for line in _expected(call):
        put(line)
    return 0


def _ask_strain(call: Call) -> None:
    """Show what to expect before it is asked what came."""
    for line in _expected(call):
        report(line)


def cautions(made: TinctureView) -> list[str]:
    """What to mind about a batch, each in a line."""
    return [f"! {said}" for said in made.to_mind]


def made_json(made: TinctureView) -> dict[str, Any]:
    """The JSON of a batch."""
    return {
        "code": made.code,
        "name": made.name,
        "made_on": made.made_on,
        "volume_ml": round(made.volume_ml, 4),
        "to_bottle_ml": round(made.loose_ml, 4),
        "strength_abv": made.strength_abv,
        "strength_by": made.strength_by,
        "strength_at_most": made.strength_at_most,
        "ratio": made.ratio,
        "keep_until": made.keep_until,
    }


BOTTLE = (
    FormField("size", "Size", amount(Kind.VOLUME), is_required=True),
    FormField("holds", "Holds", amount(Kind.VOLUME), "blank: full"),
    FormField("place", "Place"),
)
_LOTS = (
    FormField("bottle-lot", "Lot of bottles", hint="of the empty ones, for the batch record"),
    FormField("cap-lot", "Lot of caps"),
)
"""Not asked for line by line: few people write them down."""
BOTTLING = (
    yes_or_no("proposed", "Fill the proposed bottles", hint="instead of bottle="),
    FormField("bottle", "Bottle", columns=BOTTLE),
    FormField("day", "Bottled on", day, "blank: today"),
    choice(
        "rest",
        "Left over",
        ("later", "lost", *map(str, LOSS_KINDS)),
        hint="what became of it; blank: bottle it another day",
    ),
    *_LOTS,
)


def _bottle_draft(row: Values) -> BottleDraft:
    return BottleDraft(row["size"], row.get("holds", row["size"]), row.get("place", ""))


def _bottle(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    tincture = tincture_view(keeper, batch_of(keeper, call.asked.subject))
    typed = tuple(map(_bottle_draft, values.get("bottle", ())))
    if values.get("proposed"):
        if typed:
            raise Refused("proposed=yes can't be combined with bottle=.")
        typed = propose_bottles(keeper, tincture.loose_ml)
    before = {row.bottle_id for row in bottle_rows(keeper, empties=True)}
    rest = values.get("rest", "later")
    made = bottle_up(
        keeper,
        BottlingDraft(
            tincture_id=tincture.tincture_id,
            bottles=typed,
            filled_on=values.get("day", keeper.today),
            write_off_rest=rest != "later",
            lost_as=LossKind(rest) if rest in LOSS_KINDS else LossKind.NOT_STATED,
            bottle_lot=values.get("bottle-lot", ""),
            cap_lot=values.get("cap-lot", ""),
        ),
    )
    new = [row for row in bottle_rows(keeper) if row.bottle_id not in before]
    lines = [f"Bottled {made.name} {made.code}.", *(bottle_line(call, row) for row in new)]
    if made.is_to_bottle:
        lines.append(f"{call.wording.volume(made.loose_ml)} left to bottle.")
    if new:
        lines.append(f"For the labels: stillroom labels {' '.join(row.code for row in new)} --text")
    return Done(lines, lambda: {"batch": made_json(made), "bottles": bottles_json(call, new)})


def _show_proposal(call: Call) -> int:
    """What is left to bottle, and the proposal as it can be typed."""
    tincture = tincture_view(call.keeper, batch_of(call.keeper, call.asked.subject))
    proposal = propose_bottles(call.keeper, tincture.loose_ml)
    if call.asked.json:
        proposed = [{"size_ml": each.size_ml, "holds_ml": each.volume_ml} for each in proposal]
        put_json(call, {"batch": made_json(tincture), "proposed": proposed})
        return 0
    put(_to_bottle(tincture, call.wording))
    if tincture.is_to_bottle:
        put("Proposed, and filled with proposed=yes:")
        for line in _proposal_lines(proposal, call.wording):
            put(line, 2)
    return 0


def _to_bottle(tincture: TinctureView, said: Wording) -> str:
    return f"{tincture.code} {tincture.name}: {said.volume(tincture.loose_ml)} to bottle."


def _proposal_lines(proposal: Sequence[BottleDraft], said: Wording) -> list[str]:
    return [f'bottle="{said.volume(b.size_ml)};{said.volume(b.volume_ml)}"' for b in proposal]


def _ask_bottles(call: Call) -> Mapping[str, Any] | None:
    tincture = tincture_view(call.keeper, batch_of(call.keeper, call.asked.subject))
    proposal = propose_bottles(call.keeper, tincture.loose_ml)
    report(_to_bottle(tincture, call.wording))
    if not proposal:
        return None
    for bottle in proposal:
        size, holds = call.wording.volume(bottle.size_ml), call.wording.volume(bottle.volume_ml)
        report(f"Proposed: a bottle of {size}, holding {holds}.")
    if ask_yes("Fill these bottles?"):
        return {"proposed": True} | ask_for(BOTTLING[2 : -len(_LOTS)], call)
    return ask_for(BOTTLING[1 : -len(_LOTS)], call)


COMMANDS = {
    "strain": Form(
        STRAIN,
        _strain,
        subject="CODE",
        about="code of the jar, such as 26-004",
        notes="Without values, this shows the yield to expect.",
        show=_show_expected,
        ask_first=_ask_strain,
    ).command(),
    "bottle": Form(
        BOTTLING,
        _bottle,
        subject="CODE",
        about="code of the batch, such as 26-004",
        notes="Give bottle= once for each bottle, its values separated by semicolons. Without "
        "values, this shows\nwhat is left to bottle and which bottles are proposed.",
        show=_show_proposal,
        ask_first=_ask_bottles,
    ).command(),
}
