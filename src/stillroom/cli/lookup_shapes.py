"""Shapes of JSON of the commands that look things up, correct, forget and import."""

from stillroom.cli.schema import (
    ANYTHING,
    DAY,
    MOMENT,
    NUMBER,
    TEXT,
    WHOLE,
    YES_NO,
    by_name,
    list_of,
    meaning,
    or_null,
    record,
    shared,
)

_MAYBE_TEXT, _MAYBE_DAY, _MAYBE_NUMBER = or_null(TEXT), or_null(DAY), or_null(NUMBER)
_TEXTS = list_of(TEXT)

CALCULATOR_FIELD = record(
    {"key": TEXT, "label": TEXT},
    {
        "rows_of": meaning(list_of(ANYTHING), "of a list, the fields of each row"),
        "kind": TEXT,
        "unit": TEXT,
        "usual": meaning(ANYTHING, "the default, or null"),
        "required": YES_NO,
        "help": TEXT,
        "choices": _TEXTS,
    },
)
CALCULATED = record(
    {
        "calculator": TEXT,
        "results": list_of(
            record(
                {"key": TEXT, "label": TEXT, "shown": meaning(TEXT, "rounded, in the units asked")},
                {
                    "kind": TEXT,
                    "value": meaning(NUMBER, "metric, not rounded"),
                    "unit": TEXT,
                    "figures": meaning(list_of(shared("figure")), "of a result that is a sentence"),
                },
            )
        ),
        "warnings": _TEXTS,
        "working": _TEXTS,
        "assumptions": _TEXTS,
        "sources": _TEXTS,
        "cautions": _TEXTS,
    }
)
LEDGER = record(
    {
        "lines": list_of(
            record(
                {
                    "at": meaning(MOMENT, "when it was written, in UTC"),
                    "day": DAY,
                    "initials": TEXT,
                    "kind": TEXT,
                    "text": TEXT,
                    "subject": meaning(TEXT, "code or name of what it is about"),
                    "mark": meaning(TEXT, "undone or corrected; blank for neither"),
                    "later_act": meaning(or_null(WHOLE), "id of what undid or corrected it"),
                    "act": meaning(or_null(WHOLE), "id of its act; null where older than schema 2"),
                }
            )
        ),
        "acts": list_of(
            record(
                {
                    "id": WHOLE,
                    "at": MOMENT,
                    "day": DAY,
                    "initials": TEXT,
                    "kind": TEXT,
                    "title": TEXT,
                    "why": TEXT,
                    "of": meaning(or_null(WHOLE), "of an undo or redo, the act undone or redone"),
                    "changes": list_of(
                        record(
                            {
                                "record": meaning(TEXT, "its table"),
                                "row": WHOLE,
                                "before": meaning(ANYTHING, "its columns, or null"),
                                "after": meaning(ANYTHING, "its columns, or null"),
                            }
                        )
                    ),
                }
            )
        ),
    }
)
TO_CORRECT = record(
    {
        "code": TEXT,
        "kind": TEXT,
        "fields": list_of(
            record(
                {
                    "name": TEXT,
                    "label": TEXT,
                    "group": TEXT,
                    "kind": TEXT,
                    "value": meaning(ANYTHING, "a number, text, day or yes/no; null if not known"),
                    "choices": _TEXTS,
                    "is_one_more": meaning(YES_NO, "whether it adds what was forgotten"),
                }
            )
        ),
    }
)
CORRECTION = record(
    {
        "title": TEXT,
        "changes": list_of(record({"name": TEXT, "label": TEXT, "before": TEXT, "after": TEXT})),
        "effects": _TEXTS,
        "labels": meaning(_TEXTS, "codes of the bottles whose label text changes"),
        "obstacles": _TEXTS,
        "ways_out": meaning(_TEXTS, "names of fields to correct too"),
        "questions": _TEXTS,
    }
)
_COST = {
    "cost": meaning(_MAYBE_NUMBER, "null where nothing of it has a price"),
    "per_100_ml": _MAYBE_NUMBER,
    "without": meaning(_TEXTS, "what has no price and isn't counted"),
}
YEAR = record(
    {
        "from": DAY,
        "to": DAY,
        "total": shared("figures"),
        "herbs": by_name(shared("figures")),
        "batches": by_name(shared("figures")),
        "months": meaning(by_name(shared("figures")), "by month, such as 2026-11"),
        "cost": record(
            {
                "purchases": list_of(
                    record(
                        {
                            "name": TEXT,
                            "volume_ml": _MAYBE_NUMBER,
                            "mass_g": _MAYBE_NUMBER,
                            "cost": _MAYBE_NUMBER,
                        }
                    )
                ),
                "made": _MAYBE_NUMBER,
                "used": _MAYBE_NUMBER,
                "lost": _MAYBE_NUMBER,
                "by_kind": meaning(
                    by_name(record({"cost": _COST["cost"], "without": _COST["without"]})),
                    "of what was made, used and lost, by kind",
                ),
                "without": _TEXTS,
                "batches": list_of(
                    record(
                        {
                            "code": TEXT,
                            "made_on": DAY,
                            **_COST,
                            "bottles": list_of(
                                record({"code": TEXT, "volume_ml": NUMBER, "cost": _MAYBE_NUMBER})
                            ),
                        }
                    )
                ),
            }
        ),
    }
)
PLAN = record(
    {
        "day": DAY,
        "what_if": meaning(TEXT, "what was asked, in words; blank for the plan itself"),
        "start_this_month": meaning(list_of(_TEXTS), "each a herb and its part"),
        "herbs": list_of(shared("plan")),
        "spirits": list_of(
            record(
                {
                    "strength_abv": NUMBER,
                    "needed_ml": NUMBER,
                    "there_ml": NUMBER,
                    "to_buy_ml": NUMBER,
                    "cost": _MAYBE_NUMBER,
                }
            )
        ),
    }
)
PERSON = record(
    {
        "name": TEXT,
        "volume_ml": NUMBER,
        "taken": list_of(
            record(
                {
                    "day": DAY,
                    "bottle": TEXT,
                    "batch": TEXT,
                    "name": TEXT,
                    "kind": TEXT,
                    "volume_ml": NUMBER,
                    "note": TEXT,
                }
            )
        ),
    }
)
FORGET = record(
    {
        "name": TEXT,
        "places_of_the_name_alone": WHOLE,
        "matches": list_of(
            record(
                {"number": WHOLE, "where": TEXT, "text": TEXT, "places": WHOLE, "chosen": YES_NO}
            )
        ),
        "removed_from": WHOLE,
        "copies_with_the_name": meaning(_TEXTS, "files, for you to delete"),
        "question": TEXT,
    }
)
IMPORT = record(
    {
        "added": meaning(by_name(WHOLE), "lines by kind of record"),
        "unchanged": meaning(by_name(WHOLE), "lines that the shelf had already"),
        "assumed": _TEXTS,
        "skipped": meaning(_TEXTS, "rows of a sheet without a jar or bottle"),
        "columns": meaning(by_name(TEXT), "what each heading of a sheet was read as"),
        "read": meaning(_TEXTS, "how a sheet was read"),
        "preview": meaning(_TEXTS, "each row of a sheet as it comes onto the shelf"),
        "questions": list_of(
            record(
                {
                    "set": meaning(TEXT, "the KEY of --set KEY=VALUE"),
                    "rows": list_of(WHOLE),
                    "not_understood": _TEXTS,
                    "choices": _TEXTS,
                    "options": meaning(_TEXTS, "what to add to the command for each choice"),
                    "herbs": _TEXTS,
                }
            )
        ),
        "bad": list_of(
            record(
                {
                    "file": TEXT,
                    "line": meaning(or_null(WHOLE), "null where it is about the file"),
                    "column": TEXT,
                    "message": TEXT,
                }
            )
        ),
    }
)
SEASON = record(
    {
        "herb": TEXT,
        "part": TEXT,
        "from": meaning(_MAYBE_TEXT, "month and day, such as 06-15"),
        "to": _MAYBE_TEXT,
        "is_typed": YES_NO,
        "own_gatherings": meaning(WHOLE, "how many it is learned from"),
        "months_in_hand": _MAYBE_NUMBER,
    }
)

LEARNING = record(
    {
        "herb": TEXT,
        "part": TEXT,
        "condition": TEXT,
        "pressing": TEXT,
        "mean_percent": meaning(_MAYBE_NUMBER, "of the liquid, of those that teach"),
        "own_mean_ml_per_g": meaning(_MAYBE_NUMBER, "held back by a gram, dried"),
        "published_ml_per_g": NUMBER,
        "next_ml_per_g": record({"low": NUMBER, "high": NUMBER}),
        "strainings": list_of(
            record(
                {
                    "jar": TEXT,
                    "strained_on": DAY,
                    "percent_of_liquid": _MAYBE_NUMBER,
                    "held_back_ml_per_g": _MAYBE_NUMBER,
                    "teaches": YES_NO,
                }
            )
        ),
    }
)
