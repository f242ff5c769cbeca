"""`season`: when each part of a herb is gathered, and how many months of it to have."""

from typing import Any

from stillroom.cli.call import Call
from stillroom.cli.form import Done, Form, FormField, Values, amount, choice
from stillroom.cli.output import put, put_json
from stillroom.dates import parse_day_of_year
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.words import in_a_row
from stillroom.keeping.year.gathering import (
    DayOfYear,
    SeasonDraft,
    SeasonView,
    season_of_part,
    seasons,
    set_season,
    window_words,
)
from stillroom.quantities import how_many
from stillroom.reckoning.charge import KNOWN_PARTS, Part
from stillroom.reckoning.kinds import Kind


def _day_of_year(call: Call, text: str) -> DayOfYear:
    return parse_day_of_year(text, call.keeper.today)


FIELDS = (
    FormField("herb", "Herb", is_required=True),
    choice("part", "Part", KNOWN_PARTS, is_required=True),
    FormField("from", "First day", _day_of_year, "of any year, such as 15 Jun", can_be_blank=True),
    FormField("to", "Last day", _day_of_year, "may be after New Year", can_be_blank=True),
    FormField("months", "Months in hand", amount(Kind.NUMBER), "blank: as in the settings",
              can_be_blank=True),
)  # fmt: skip


def _save(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    before = season_of_part(keeper, values["herb"], Part(values["part"]))
    typed = before.typed
    draft = SeasonDraft(
        before.herb,
        before.part,
        values.get("from", typed and typed.earliest),
        values.get("to", typed and typed.latest),
        values.get("months", before.months_in_hand),
    )
    saved = set_season(keeper, draft)
    return Done([_line(call, saved)], lambda: _json(saved))


def _line(call: Call, view: SeasonView) -> str:
    said = call.wording
    window = "gathering days not known"
    if view.typed is not None:
        window = f"gathered {window_words(view.typed, said)}, as you set"
    elif view.learned is not None:
        by = how_many(view.learned.rests_on, "gathering")
        window = f"gathered {window_words(view.learned, said)}, from {by} of your own"
    months = f"{said.number(view.months_in_hand)} months in hand" if view.months_in_hand else ""
    return f"{in_a_row(view.herb, view.part)}: {in_a_row(window, months)}"


def _json(view: SeasonView) -> dict[str, Any]:
    return {
        "herb": view.herb,
        "part": view.part,
        "from": view.window and "{:02d}-{:02d}".format(*view.window.earliest),
        "to": view.window and "{:02d}-{:02d}".format(*view.window.latest),
        "is_typed": view.typed is not None,
        "own_gatherings": view.learned.rests_on if view.learned else 0,
        "months_in_hand": view.months_in_hand,
    }


def _show(call: Call) -> int:
    found = seasons(call.keeper)
    if call.asked.json:
        put_json(call, [_json(view) for view in found])
        return 0
    if not found:
        put("Nothing was gathered yet, and no season was typed.")
    for view in found:
        put(_line(call, view))
    return 0


COMMANDS = {
    "season": Form(
        FIELDS,
        _save,
        notes=(
            "Without values, this lists the seasons. A season you set is used in place of your "
            "own gatherings.\nTo remove it, give from= and to= with nothing after them. Leaf "
            "before the plant flowers, flowers\nas they open, roots in autumn: common practice, "
            "no source."
        ),
        show=_show,
        asks=False,
    ).command()
}
