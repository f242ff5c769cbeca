"""Shapes of JSON that several commands have in common, by name."""

from stillroom.cli.schema import (
    DAY,
    MOMENT,
    NUMBER,
    TEXT,
    WHOLE,
    YES_NO,
    Schema,
    by_name,
    list_of,
    meaning,
    or_null,
    record,
    shared,
)

_RANGE = or_null(shared("range"))
_MAYBE_TEXT, _MAYBE_DAY, _MAYBE_NUMBER = or_null(TEXT), or_null(DAY), or_null(NUMBER)

_BLOCK = record(
    {
        "kind": meaning(TEXT, "facts, table, text, struck out or lines to write on"),
        "columns": meaning(list_of(TEXT), "of a table"),
        "rows": meaning(
            list_of(list_of(TEXT)),
            "of a table; of facts the name and the value; blank where it is written in by hand",
        ),
        "text": TEXT,
        "later": meaning(TEXT, "what became of a text that is struck out"),
    }
)
SHARED: dict[str, Schema] = {
    "jar": record(
        {
            "code": TEXT,
            "herb": meaning(TEXT, "the first, or the only one"),
            "more_herbs": meaning(WHOLE, "how many herbs there are besides"),
            "part": TEXT,
            "condition": meaning(TEXT, "fresh or dried"),
            "shelf": TEXT,
            "filled_on": DAY,
            "strain_on": DAY,
            "days_left": meaning(WHOLE, "days to the strain date; negative where it is late"),
            "shakes_per_day": WHOLE,
            "shaken_today": WHOLE,
            "shakes_left": WHOLE,
            "covered": meaning(YES_NO, "whether the herb is under the liquid"),
            "to_bottle_ml": meaning(_MAYBE_NUMBER, "of a strained jar, what isn't in bottles yet"),
            "drained_ml": meaning(_MAYBE_NUMBER, "of a jar still to be pressed, its yield so far"),
            "press_ml": meaning(_MAYBE_NUMBER, "what pressing it is expected to give"),
        }
    ),
    "bottle": record(
        {
            "code": TEXT,
            "batch": TEXT,
            "name": TEXT,
            "herb": TEXT,
            "botanical": TEXT,
            "part": TEXT,
            "condition": TEXT,
            "strength_abv": _MAYBE_NUMBER,
            "strength_by": meaning(TEXT, "measured, calculated, estimated or unknown"),
            "strength_at_most": meaning(YES_NO, "whether the strength is only an upper limit"),
            "ratio": meaning(_MAYBE_NUMBER, "mL of liquid poured for each g of herb"),
            "made_on": DAY,
            "keep_until": _MAYBE_DAY,
            "size_ml": NUMBER,
            "left_ml": NUMBER,
            "place": TEXT,
            "status": meaning(_MAYBE_TEXT, "of its batch; null where nobody releases batches"),
            "herb_g_per_ml": meaning(_MAYBE_NUMBER, "herb that a mL stands for, as it went in"),
            "herbs_g_per_ml": meaning(by_name(_MAYBE_NUMBER), "the same by the name of the herb"),
        }
    ),
    "batch": record(
        {
            "code": TEXT,
            "name": TEXT,
            "made_on": DAY,
            "volume_ml": NUMBER,
            "to_bottle_ml": NUMBER,
            "strength_abv": _MAYBE_NUMBER,
            "strength_by": TEXT,
            "strength_at_most": YES_NO,
            "ratio": _MAYBE_NUMBER,
            "keep_until": _MAYBE_DAY,
        }
    ),
    "lot": record(
        {
            "code": TEXT,
            "herb": TEXT,
            "part": TEXT,
            "condition": TEXT,
            "came": meaning(TEXT, "gathered or bought"),
            "got_on": DAY,
            "origin": TEXT,
            "lot": meaning(TEXT, "the seller's own"),
            "mass_g": meaning(_MAYBE_NUMBER, "as it came"),
            "left_g": _MAYBE_NUMBER,
            "is_at_most": meaning(YES_NO, "whether some was taken by eye since it was weighed"),
            "price": _MAYBE_NUMBER,
            "laid_out_on": _MAYBE_DAY,
            "laid_out_g": _MAYBE_NUMBER,
            "dry_on": _MAYBE_DAY,
            "dry_g": _MAYBE_NUMBER,
            "from_lot": meaning(_MAYBE_TEXT, "code of the fresh lot that it is a part of"),
            "used_up_on": _MAYBE_DAY,
            "note": TEXT,
        }
    ),
    "waiting": record({"code": TEXT, "name": TEXT, "made_on": DAY, "to_bottle_ml": NUMBER}),
    "judged": record(
        {"code": TEXT, "name": TEXT, "made_on": DAY, "to_bottle_ml": NUMBER, "status": TEXT}
    ),
    "place": record({"place": TEXT, "bottles": WHOLE}),
    "source": record(
        {
            "kind": meaning(TEXT, "bottle, tincture, blend, jar, herb, spirit and the like"),
            "label": TEXT,
            "detail": TEXT,
            "volume_ml": meaning(_MAYBE_NUMBER, "what moved on this branch"),
            "left_ml": _MAYBE_NUMBER,
            "gathered_on": _MAYBE_DAY,
            "origin": TEXT,
        },
        {
            "in_full_further_up": YES_NO,
            "contains_ml": meaning(NUMBER, "how much of the source is in it"),
            "came_from": meaning(list_of(shared("source")), "of trace"),
            "went_into": meaning(list_of(shared("source")), "of recall"),
        },
    ),
    "figures": record(
        {
            "before_ml": meaning(NUMBER, "in stock before the first day"),
            "left_ml": meaning(NUMBER, "in stock after the last day"),
            "made_ml": NUMBER,
            "used_ml": NUMBER,
            "lost_ml": NUMBER,
            "percent_of_liquid": meaning(_MAYBE_NUMBER, "strained of the liquid in the jars"),
            "amounts": meaning(by_name(NUMBER), "by kind, in mL; herb in g, jars as a number"),
        }
    ),
    "range": record({"low": NUMBER, "expected": NUMBER, "high": NUMBER}),
    "plan": record(
        {
            "herb": TEXT,
            "part": TEXT,
            "condition": TEXT,
            "in_bottles_ml": NUMBER,
            "to_bottle_ml": NUMBER,
            "past_date_ml": meaning(NUMBER, "not counted in the plan"),
            "withheld_ml": meaning(NUMBER, "rejected or withdrawn, not counted in the plan"),
            "steeping_ml": _RANGE,
            "jars_by_eye": WHOLE,
            "in_store_g": meaning(by_name(NUMBER), "by condition"),
            "use_per_month_ml": _MAYBE_NUMBER,
            "use_a_year_ml": _RANGE,
            "months_in_hand": NUMBER,
            "covered_until": _MAYBE_DAY,
            "to_make_ml": _RANGE,
            "fill_by": _MAYBE_DAY,
            "start_by": _MAYBE_DAY,
            "moon": meaning(
                or_null(TEXT), "phase on that day or today, if the settings ask: folk practice"
            ),
            "herb_g": _RANGE,
            "to_get_g": meaning(_RANGE, "herb beyond what is in store"),
            "to_get_fresh_g": meaning(_RANGE, "the same weighed fresh, before drying"),
            "poured_ml": _MAYBE_NUMBER,
            "jars": or_null(WHOLE),
            "jar_size_ml": _MAYBE_NUMBER,
            "season": meaning(or_null(list_of(NUMBER)), "use by month, January first"),
            "months": meaning(by_name(TEXT), "what to do, by month"),
            "strength_abv": _MAYBE_NUMBER,
            "gather": or_null(
                record({"from": DAY, "usually": DAY, "to": DAY, "own_gatherings": or_null(WHOLE)})
            ),
        }
    ),
    "paper": record(
        {
            "title": TEXT,
            "subtitle": TEXT,
            "sections": list_of(record({"heading": TEXT, "blocks": list_of(_BLOCK)})),
            "closing": meaning(TEXT, "at the foot of every page"),
            "file": meaning(or_null(TEXT), "the file written"),
        }
    ),
    "figure": record({"kind": TEXT, "value": NUMBER, "unit": TEXT}),
    "shelf_file": record(
        {
            "file": TEXT,
            "jars": WHOLE,
            "steeping": WHOLE,
            "bottles": WHOLE,
            "last_at": meaning(or_null(MOMENT), "of its newest entry, in UTC"),
            "trouble": meaning(TEXT, "why it can't be read; blank where it can"),
        }
    ),
}
