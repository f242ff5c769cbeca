"""What each command prints as JSON: one shape for each, and a number for all of them.

The tests validate what is printed; the reference page lists it.
"""

from typing import get_type_hints

from stillroom.cli.lookup_shapes import (
    CALCULATED,
    CALCULATOR_FIELD,
    CORRECTION,
    FORGET,
    IMPORT,
    LEARNING,
    LEDGER,
    PERSON,
    PLAN,
    SEASON,
    TO_CORRECT,
    YEAR,
)
from stillroom.cli.schema import (
    DAY,
    NUMBER,
    SHAPES_VERSION,
    TEXT,
    WHOLE,
    YES_NO,
    Schema,
    list_of,
    meaning,
    one_of,
    or_null,
    record,
    shared,
)
from stillroom.cli.shared_shapes import SHARED
from stillroom.keeping.settings import Settings

_MAYBE_TEXT, _MAYBE_DAY, _MAYBE_NUMBER = or_null(TEXT), or_null(DAY), or_null(NUMBER)
_TEXTS = list_of(TEXT)

_JAR, _BOTTLE, _BATCH, _LOT = shared("jar"), shared("bottle"), shared("batch"), shared("lot")
_JARS, _BOTTLES = list_of(_JAR), list_of(_BOTTLE)
_RANGE = or_null(shared("range"))

_SPIRIT = record(
    {
        "number": WHOLE,
        "name": TEXT,
        "strength_abv": NUMBER,
        "bought_ml": _MAYBE_NUMBER,
        "left_ml": meaning(_MAYBE_NUMBER, "null where it isn't counted"),
        "price": meaning(_MAYBE_NUMBER, "for all of it"),
        "bought_on": _MAYBE_DAY,
        "origin": TEXT,
        "lot": TEXT,
        "code": TEXT,
        "density_g_per_ml": meaning(_MAYBE_NUMBER, "null: by its strength"),
        "note": TEXT,
    }
)
_LIQUID = record(
    {
        "number": WHOLE,
        "name": TEXT,
        "kind": TEXT,
        "density_g_per_ml": NUMBER,
        "density_source": TEXT,
        "glycerol": meaning(_MAYBE_NUMBER, "% by volume"),
        "acidity": meaning(_MAYBE_NUMBER, "%, as on the label"),
        "bought_ml": _MAYBE_NUMBER,
        "left_ml": _MAYBE_NUMBER,
        "price": _MAYBE_NUMBER,
        "bought_on": _MAYBE_DAY,
        "origin": TEXT,
        "lot": TEXT,
        "code": TEXT,
        "note": TEXT,
    }
)
_HERB = record(
    {
        "name": TEXT,
        "botanical": TEXT,
        "cautions": TEXT,
        "note": TEXT,
        "lots": meaning(list_of(_LOT), "in store"),
        "jars": WHOLE,
        "in_stock_ml": NUMBER,
    }
)
_SHELF = record({"name": TEXT, "note": TEXT, "jars": WHOLE})
_SIZE = record({"size_ml": NUMBER, "empties": or_null(WHOLE)})
_FORMULA = record(
    {
        "name": TEXT,
        "parts": list_of(
            record(
                {
                    "name": TEXT,
                    "part": _MAYBE_TEXT,
                    "condition": _MAYBE_TEXT,
                    "share_percent": NUMBER,
                }
            )
        ),
        "note": TEXT,
    }
)
_TYPES: dict[type, Schema] = {bool: YES_NO, int: WHOLE, float: NUMBER}


def _of_type(kind: object) -> Schema:
    """Of a setting's type; an enum is text."""
    for each, schema in _TYPES.items():
        if kind == each:
            return schema
        if kind == each | None:
            return or_null(schema)
    return TEXT


_SETTINGS = record({name: _of_type(kind) for name, kind in get_type_hints(Settings).items()})
_MADE = record(
    {"batch": _BATCH, "parts": meaning(_BOTTLES, "what is left of the bottles used")},
    {"inputs": meaning(list_of(record({"name": TEXT, "volume_ml": NUMBER})), "what else went in")},
)
_GOOD = record(
    {
        "code": TEXT,
        "herb": TEXT,
        "part": TEXT,
        "left_g": _MAYBE_NUMBER,
        "good_until": DAY,
        "is_own": meaning(YES_NO, "whether the months are your own setting"),
    }
)
_TODAY = record(
    {
        "day": DAY,
        "to_shake": _JARS,
        "due": meaning(_JARS, "to strain today"),
        "over": meaning(_JARS, "past the strain date"),
        "to_press": _JARS,
        "uncovered": _JARS,
        "to_bottle": list_of(shared("waiting")),
        "passing": meaning(_BOTTLES, "past or near the keep-until date"),
        "passing_lots": meaning(list_of(_GOOD), "dried herb past or near its usual time"),
        "to_start": meaning(list_of(shared("plan")), "to start this month"),
        "labels_to_print": meaning(_TEXTS, "codes of bottles"),
        "backup": record(
            {
                "last_on": _MAYBE_DAY,
                "failed_on": _MAYBE_DAY,
                "failure": TEXT,
                "in_doubt": meaning(TEXT, "why the folder isn't used until it is confirmed"),
            }
        ),
    }
)
_STOCK_TAKE = record(
    {
        "place": TEXT,
        "checked": meaning(WHOLE, "how many bottles"),
        "differences": list_of(record({"code": TEXT, "recorded_ml": NUMBER, "seen_ml": NUMBER})),
        "not_counted": _TEXTS,
    }
)


def _listed(schema: Schema) -> Schema:
    """What a command of the cupboard prints: all of its list, or the one it added or changed."""
    return one_of(list_of(schema), schema)


_EXPECTED = record(
    {
        "so_far_ml": NUMBER,
        "expected": list_of(
            record(
                {
                    "method": TEXT,
                    "expected_ml": meaning(_MAYBE_NUMBER, "null where filled by eye"),
                    "low_ml": _MAYBE_NUMBER,
                    "high_ml": _MAYBE_NUMBER,
                }
            )
        ),
    }
)
_UNDONE = record({"title": meaning(_MAYBE_TEXT, "of the act; null where there is none")})
SHAPES: dict[str, Schema] = {
    "today": _TODAY,
    "round": meaning(_JARS, "to shake"),
    "shake": meaning(_JARS, "those shaken; with --all, every jar"),
    "jars": _JARS,
    "undo": _UNDONE,
    "redo": _UNDONE,
    "fill": _JAR,
    "pour-again": meaning(
        one_of(_JAR, record({"held_ml": _MAYBE_NUMBER, "by_weight": YES_NO})),
        "without values, what the marc holds back",
    ),
    "top-up": _JAR,
    "dates": _JAR,
    "cover": _JAR,
    "note": _JAR,
    "move": one_of(_JAR, _BOTTLE),
    "discard": one_of(record({"code": TEXT, "kind": meaning(TEXT, "jar")}), _BOTTLE),
    "strain": meaning(
        one_of(_BATCH, _JAR, _EXPECTED),
        "the jar where more is to come; without values, the yield to expect",
    ),
    "bottle": meaning(
        one_of(
            record({"batch": _BATCH, "bottles": meaning(_BOTTLES, "the new ones")}),
            record(
                {
                    "batch": _BATCH,
                    "proposed": list_of(record({"size_ml": NUMBER, "holds_ml": NUMBER})),
                }
            ),
        ),
        "without values, the bottles proposed",
    ),
    "bottles": _BOTTLES,
    "draw": _BOTTLE,
    "returned": record(
        {"bottle": _BOTTLE, "still_out_ml": meaning(NUMBER, "drawn or given, and not returned")}
    ),
    "weigh-in": _BOTTLE,
    "count": _BOTTLE,
    "stock-take": meaning(one_of(_STOCK_TAKE, list_of(shared("place"))), "or, first, the places"),
    "join": meaning(one_of(_MADE, _BOTTLES), "with into=, the two bottles"),
    "loss": one_of(_BOTTLE, _BATCH),
    "thin": _MADE,
    "keep-until": record({"code": TEXT, "keep_until": _MAYBE_DAY}),
    "blend": _MADE,
    "formula": _listed(_FORMULA),
    "release": shared("judged"),
    "reject": shared("judged"),
    "withdraw": record(
        {
            "what": TEXT,
            "batches": list_of(shared("judged")),
            "still_steeping": meaning(_TEXTS, "jars, which are not withdrawn"),
        }
    ),
    "spirits": _listed(_SPIRIT),
    "liquids": _listed(_LIQUID),
    "herbs": _listed(_HERB),
    "cupboard": record({"name": TEXT, "kind": TEXT, "left_ml": NUMBER}),
    "lots": _listed(_LOT),
    "shelves": _listed(_SHELF),
    "sizes": _listed(_SIZE),
    "settings": _SETTINGS,
    "calculate": one_of(
        list_of(record({"name": TEXT, "title": TEXT, "summary": TEXT})),
        record({"calculator": TEXT, "title": TEXT, "fields": list_of(CALCULATOR_FIELD)}),
        CALCULATED,
    ),
    "trace": shared("source"),
    "recall": list_of(shared("source")),
    "ledger": LEDGER,
    "correct": meaning(one_of(CORRECTION, TO_CORRECT), "without values, what can be corrected"),
    "year": YEAR,
    "plan": PLAN,
    "learning": list_of(LEARNING),
    "season": _listed(SEASON),
    "people": list_of(PERSON),
    "close": record({"closed": TEXT}),
    "forget": FORGET,
    "labels": record(
        {
            "labels": list_of(
                record({"code": TEXT, "lines": meaning(_TEXTS, "from top to bottom")})
            ),
            "file": meaning(_MAYBE_TEXT, "the file written"),
        }
    ),
    **dict.fromkeys(
        ("record", "daysheet", "shelflist", "stocklist", "withdrawn", "signsheet", "calendar"),
        shared("paper"),
    ),
    "import": IMPORT,
    "backup": record(
        {
            "file": meaning(_MAYBE_TEXT, "the copy"),
            "folder": meaning(_MAYBE_TEXT, "of the daily backups, where it was confirmed"),
        }
    ),
    "restore": record(
        {
            "backup": shared("shelf_file"),
            "shelf": meaning(or_null(shared("shelf_file")), "the shelf that is replaced"),
            "old_shelf": meaning(_MAYBE_TEXT, "where the old shelf is kept"),
        }
    ),
    "check": meaning(list_of(record({"what": TEXT, "remedy": TEXT})), "the problems found"),
}
"""What is under `result`, by command."""


def schema_of(command: str) -> Schema:
    """The JSON Schema of all that a command prints."""
    envelope = record(
        {
            "command": {"const": command},
            "version": {"const": SHAPES_VERSION},
            "result": SHAPES[command],
        },
        {"is_done": YES_NO},
    )
    used = _used(SHAPES[command])
    defs = {name: SHARED[name] for name in SHARED if name in used}
    named = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": command}
    return named | envelope | ({"$defs": defs} if defs else {})


def _used(schema: object, found: frozenset[str] = frozenset()) -> frozenset[str]:
    """Names of the shared shapes that a schema needs."""
    if isinstance(schema, list):
        for each in schema:
            found = _used(each, found)
        return found
    if not isinstance(schema, dict):
        return found
    name = str(schema.get("$ref", "")).removeprefix("#/$defs/")
    if name and name not in found:
        found = _used(SHARED[name], found | {name})
    return _used(list(schema.values()), found)
