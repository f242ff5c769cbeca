"""`cupboard`: what a spirit or other liquid holds, and what was taken of it but not poured."""

from stillroom.cli.call import Call
from stillroom.cli.form import Done, Form, FormField, Values, choice, day
from stillroom.cli.found import cupboard_of
from stillroom.errors import Refused
from stillroom.keeping.bottles.stock import volume_or_all
from stillroom.keeping.cupboard.counting import (
    InCupboard,
    count_in_cupboard,
    in_cupboard,
    take_from_cupboard,
)
from stillroom.keeping.cupboard.densities import volume_or_weight
from stillroom.keeping.drafts import ToTake
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.states import CupboardMovementKind

OUT = tuple(kind for kind in CupboardMovementKind if kind.takes_out)


def _density(call: Call) -> float | None:
    kind, row_id = cupboard_of(call.keeper, call.asked.subject)
    return None if row_id is None else in_cupboard(call.keeper, kind, row_id).density_g_per_ml


def _volume(call: Call, text: str) -> ToTake:
    return volume_or_all(call.wording, text, _density(call))


def _left(call: Call, text: str) -> float:
    return volume_or_weight(call.wording, text, _density(call))


FIELDS = (
    FormField("left", "Left", _left, "what it holds, where it was counted"),
    FormField("volume", "Volume", _volume, "what was taken: 30 ml, or all"),
    choice("kind", "Kind", list(OUT), hint="what became of it"),
    FormField("for", "For"),
    FormField("day", "Day", day, "blank: today"),
    FormField("note", "Note"),
)


def _act(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    kind, row_id = cupboard_of(keeper, call.asked.subject)
    if row_id is None:
        raise Refused("Water isn't counted.")
    note = values.get("note", "")
    if ("left" in values) == ("volume" in values):
        raise Refused("Give either left=VOLUME, as counted, or volume=VOLUME, as taken.")
    if "left" in values:
        after = count_in_cupboard(keeper, kind, row_id, values["left"], note=note)
    else:
        if "kind" not in values:
            raise Refused(f"kind: what became of it? Choose from {', '.join(OUT)}.")
        after = take_from_cupboard(
            keeper, kind, row_id, values["volume"], CupboardMovementKind(values["kind"]),
            person=values.get("for", ""), note=note, day=values.get("day"),
        )  # fmt: skip
    return _done(call, after, in_cupboard(keeper, kind, row_id))


def _done(call: Call, after: InCupboard, now: InCupboard) -> Done:
    assert after.left_ml is not None
    line = f"{after.name}: {call.wording.volume(after.left_ml)} left"
    result = {"name": now.name, "kind": now.kind, "left_ml": now.left_ml}
    return Done([line], lambda: result)


COMMANDS = {
    "cupboard": Form(
        FIELDS,
        _act,
        subject="NAME",
        notes="If you counted what is left, give left=. If some was given away, spilled or "
        "spoiled, give\nvolume= and kind=. Of honey and the like a weight will do. What is poured "
        "is counted\nautomatically.",
    ).command()
}
