"""`weigh-in`, `count`, `stock-take`, `returned` and `keep-until`."""

from collections.abc import Iterator, Mapping
from typing import Any

from stillroom.cli.bottles import bottle_line, bottles_json
from stillroom.cli.call import Call
from stillroom.cli.care import bottle_done
from stillroom.cli.form import Done, Form, FormField, Values, amount, day, day_to_come
from stillroom.cli.form import words as any_words
from stillroom.cli.found import batch_of, bottle_of, named
from stillroom.cli.output import put, put_json, put_list
from stillroom.cli.prompts import ask, report
from stillroom.errors import NotUnderstood, Refused, StillroomError
from stillroom.keeping.bottles.returns import NOT_ADDED, record_return, still_out_ml
from stillroom.keeping.bottles.stock import (
    put_right,
    set_keep_until,
    volume_or_all,
    weigh_in,
    weighed_ml,
)
from stillroom.keeping.bottles.stocktake import (
    places,
    refuse_impossible,
    settle_stocktake,
    stocktake_rows,
)
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.keeper import Keeper
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind

NO_PLACE = "no place given"


def _weigh_in(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    bottle_id = bottle_of(keeper, call.asked.subject)
    full_g, empty_g = values["full"], values["empty"]
    row = weigh_in(keeper, bottle_id, full_g, empty_g, note=values.get("note", ""))
    return bottle_done(call, "Weighed", row)


def _count(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    bottle_id = bottle_of(keeper, call.asked.subject)
    row = put_right(keeper, bottle_id, values["seen"], note=values.get("note", ""))
    return bottle_done(call, "Counted", row)


def _keep_until(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    if "until" not in values:
        raise Refused("until: write until=DAY, or until= with nothing after it for no date.")
    tincture_id = batch_of(keeper, call.asked.subject)
    set_keep_until(keeper, tincture_id, values["until"], confirmed=confirmed)
    made = tincture_view(keeper, tincture_id)
    until = f"keep until {call.wording.day(made.keep_until)}" if made.keep_until else "no date"
    return Done(
        [f"{made.code} {made.name}: {until}."],
        lambda: {"code": made.code, "keep_until": made.keep_until},
    )


RETURNED = (
    FormField("volume", "Volume", lambda call, text: volume_or_all(call.wording, text),
              "30 ml, or all", is_required=True),
    FormField("from", "From", hint="who brought it back"),
    FormField("day", "Day", day, "blank: today"),
    FormField("note", "Note"),
)  # fmt: skip


def _returned(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    bottle_id = bottle_of(keeper, call.asked.subject)
    row = record_return(
        keeper,
        bottle_id,
        values["volume"],
        person=values.get("from", ""),
        note=values.get("note", ""),
        day=values.get("day"),
    )
    out = call.wording.volume(still_out_ml(keeper, bottle_id))
    return Done(
        [f"Recorded what came back of {row.code} {row.name}; {out} is still out. {NOT_ADDED}"],
        lambda: {"bottle": bottles_json(call, [row])[0],
                 "still_out_ml": round(still_out_ml(keeper, bottle_id), 4)},
    )  # fmt: skip


SEEN = (
    FormField("code", "Code", is_required=True),
    FormField("volume", "Seen", amount(Kind.VOLUME), "or both weights"),
    FormField("full", "Full weight", amount(Kind.MASS)),
    FormField("empty", "Empty weight", amount(Kind.MASS)),
)
STOCK_TAKE = (
    FormField("place", "Place", any_words, "blank for bottles without a place", can_be_blank=True),
    FormField("bottle", "Bottle", columns=SEEN),
)


def _stock_take(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    place = _place(keeper, values)
    seen = dict(_seen(keeper, row) for row in values.get("bottle", ()))
    if len(seen) < len(values.get("bottle", ())):
        raise Refused("bottle: list each bottle only once.")
    summary = settle_stocktake(keeper, place, seen)
    said = call.wording.volume
    lines = [f"{place or NO_PLACE}: {summary.text}."]
    for each in summary.differences:
        recorded, found = said(each.recorded_ml), said(each.seen_ml)
        lines.append(f"  {each.code}: {recorded} recorded, {found} seen")
    if summary.not_counted:
        lines.append(f"Not counted: {', '.join(summary.not_counted)}.")
    return Done(
        lines,
        lambda: {
            "place": place,
            "checked": len(seen),
            "differences": [
                {"code": d.code, "recorded_ml": round(d.recorded_ml, 4), "seen_ml": d.seen_ml}
                for d in summary.differences
            ],
            "not_counted": summary.not_counted,
        },
    )


def _place(keeper: Keeper, values: Values) -> str:
    if "place" not in values:
        raise Refused("place: Place is needed; place= with nothing after it is no place.")
    if not values["place"]:
        return ""
    return named("place", values["place"], ((p.name, p.name) for p in places(keeper) if p.name))


def _seen(keeper: Keeper, row: Values) -> tuple[int, float]:
    bottle_id = bottle_of(keeper, row["code"])
    if "volume" in row and not ("full" in row or "empty" in row):
        return bottle_id, row["volume"]
    if "volume" in row or not ("full" in row and "empty" in row):
        raise NotUnderstood(f"{row['code']}: enter what was seen, or both weights, full and empty.")
    return bottle_id, weighed_ml(keeper, bottle_id, row["full"], row["empty"])


def _show_places(call: Call) -> int:
    """The places and what is in each."""
    known = places(call.keeper)
    if call.asked.json:
        put_json(call, [{"place": each.name, "bottles": each.bottles} for each in known])
        return 0
    if not known:
        put("There are no bottles to count yet.")
    for each in known:
        rows = stocktake_rows(call.keeper, each.name)
        heading = f"{each.name or NO_PLACE}: {how_many(each.bottles, 'bottle')}"
        put_list(heading, (bottle_line(call, row) for row in rows))
    return 0


def _ask_stock(call: Call) -> Mapping[str, Any] | None:
    """One bottle of a place after another."""
    keeper = call.keeper
    known = places(keeper)
    if not known:
        raise Refused("There are no bottles to count yet.")
    names = ", ".join(each.name or NO_PLACE for each in known)
    place = _ask_place(keeper, names)
    return {"place": place, "bottle": list(_ask_each(call, place))}


def _ask_place(keeper: Keeper, names: str) -> str:
    while True:
        text = ask(f"Which place are you counting? ({names})") or ""
        try:
            return _place(keeper, {"place": "" if text == NO_PLACE else text})
        except Refused as error:
            report(str(error))


def _ask_each(call: Call, place: str) -> Iterator[dict[str, Any]]:
    report("What does each bottle hold? Leave a line blank if it isn't counted.")
    said = call.wording
    for row in stocktake_rows(call.keeper, place):
        while text := ask(f"{row.code} {row.name}, {said.volume(row.left_ml)} recorded"):
            try:
                seen_ml = said.read(Kind.VOLUME, text)
                refuse_impossible(row, seen_ml, said)
            except StillroomError as error:
                report(str(error))
                continue
            yield {"code": row.code, "volume": seen_ml}
            break


COMMANDS = {
    "weigh-in": Form(
        (
            FormField("full", "Full weight", amount(Kind.MASS), "the bottle as it is",
                  is_required=True),
            FormField("empty", "Empty weight", amount(Kind.MASS), "the same bottle empty, with lid",
                  is_required=True),
            FormField("note", "Note"),
        ),
        _weigh_in,
        subject="CODE",
    ).command(),
    "count": Form(
        (
            FormField("seen", "Seen", amount(Kind.VOLUME), "what it holds now", is_required=True),
            FormField("note", "Note"),
        ),
        _count,
        subject="CODE",
    ).command(),
    "stock-take": Form(
        STOCK_TAKE,
        _stock_take,
        notes="Bottles that are left out stay as they are. Without values, this lists the places "
        "and their bottles;\non a terminal it asks for one bottle after another.",
        show=_show_places,
        ask_first=_ask_stock,
    ).command(),
    "returned": Form(
        RETURNED,
        _returned,
        subject="CODE",
        notes="For liquid that was drawn or given and came back, as in a recall. It isn't added to "
        "the bottle:\nif you poured it back, record that with count.",
    ).command(),
    "keep-until": Form(
        (FormField("until", "Keep until", day_to_come, "blank: no date", can_be_blank=True),),
        _keep_until,
        subject="CODE",
        notes="The date is for every bottle of the batch.",
    ).command(),
}  # fmt: skip
