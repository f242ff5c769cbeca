"""The interchange files, table by table: in one file, as COLUMNS.md lists them in one."""

from dataclasses import replace

from stillroom.keeping.interchange.cells import (
    Day,
    DayOfYear,
    Json,
    Link,
    Moment,
    Month,
    Number,
    OneOf,
    Text,
    Whole,
    YesNo,
)
from stillroom.keeping.interchange.columns import FileColumn, FileTable, Row, Rule
from stillroom.keeping.settings import MOST_MONTHS, refuse_odd_settings
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.words import name_in_note
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.states import (
    NOT_ENDED,
    BatchStatus,
    CupboardMovementKind,
    DayBy,
    HerbCame,
    HerbMovementKind,
    InputKind,
    JarState,
    LineKind,
    LiquidKind,
    LossKind,
    MovementKind,
    OtherLiquidKind,
    PrintKind,
    StrengthBy,
)
from stillroom.reckoning.yields import Pressing
from stillroom.records.file_state import OWN_SETTINGS

_NOTE = Text(20_000, lines=True)


_REMARK = Text(2000)


_ROW = Json()


_MAKER = Text()


_MAKER_SAID = "Initials of the person who did it."


_AMOUNT = Number(0, 1e6, above=True)


_STRENGTH = Number(0, 100)


_DENSITY = Number(0.5, 2.5)


_PAST = Day(past=True)


def _link(
    name: str,
    record: str,
    file: str,
    *,
    about: str,
    by: str = "code",
    required: bool = True,
    field: str = "",
) -> FileColumn:
    """A column that names a line of another file, by its code or its name."""
    field = field or f"{record}_id"
    return FileColumn(
        name,
        Link(file=file, find=f"SELECT id FROM {record} WHERE {by} = :{name}"),
        about,
        required,
        field=field,
        source=f"(SELECT {by} FROM {record} t WHERE t.id = {field})",
    )


_JAR = _link("jar", "jar", "jars.csv", about="Batch code of the jar.")


_SPIRIT_NUMBER = FileColumn(
    "spirit_number",
    Link(
        file="spirits.csv",
        numbered=True,
    ),
    "Number of the spirit in spirits.csv; blank where the spirit is not in the cupboard.",
    required=False,
    field="spirit_id",
    source="CASE WHEN spirit_id THEN (SELECT count(*) FROM spirit s WHERE s.id <= spirit_id) END",
)


_LIQUID_NUMBER = FileColumn(
    "liquid_number",
    Link(
        file="liquids.csv",
        numbered=True,
    ),
    "Number of the liquid in liquids.csv; blank where it isn't one of those.",
    required=False,
    field="liquid_id",
    source="CASE WHEN liquid_id THEN (SELECT count(*) FROM liquid l WHERE l.id <= liquid_id) END",
)


def _bottle_of_movement(*, required: bool) -> FileColumn:
    return FileColumn(
        "bottle",
        Text(48),
        "Code of the bottle it came from.",
        required,
        field=None,
        source="(SELECT b.code FROM movement m JOIN bottle b ON b.id = m.bottle_id"
        " WHERE m.id = movement_id)",
    )


def _number_of_movement(name: str, *, required: bool) -> FileColumn:
    return FileColumn(
        name,
        Link(
            file="movements.csv",
            find="SELECT id FROM movement"
            " WHERE bottle_id = (SELECT id FROM bottle WHERE code = :bottle)"
            f" ORDER BY id LIMIT 1 OFFSET :{name} - 1",
            key="bottle",
            numbered=True,
        ),
        "Number of the movement in that bottle.",
        required,
        field="movement_id",
        source="(SELECT nullif(count(*), 0) FROM movement m JOIN movement taken"
        " ON m.bottle_id = taken.bottle_id AND m.id <= taken.id WHERE taken.id = movement_id)",
    )


_BATCH_FROM = FileColumn(
    "from_batch",
    Link(file="tinctures.csv", find="SELECT id FROM tincture WHERE code = :from_batch"),
    "Batch code of the tincture it came from, where that waited to be bottled.",
    required=False,
    field="source_id",
    source="(SELECT code FROM tincture t WHERE t.id = source_id)",
)


def _number(within: str, about: str) -> FileColumn:
    return FileColumn(
        "number",
        Whole(1),
        about,
        field=None,
        source=f"row_number() OVER (PARTITION BY {within} ORDER BY id)",
    )


SETTINGS = FileTable(
    "settings",
    "setting",
    "Settings of the shelf. On import, a setting the shelf already has is not changed.",
    (
        FileColumn("name", Text(100), "Name of the setting."),
        FileColumn("value", Text(2000, lines=True), "Its value.", required=False, settled=False),
    ),
    key=("name",),
    known="name = :name",
    blamed="value",
    own=OWN_SETTINGS,
    proof=refuse_odd_settings,
)


HERBS = FileTable(
    "herbs",
    "herb",
    "Plants by common and botanical name.",
    (
        FileColumn("name", Text(), "Common name; unique, ignoring case."),
        FileColumn("botanical", Text(), "Botanical name.", required=False),
        FileColumn("cautions", _NOTE, "Your own cautions, for labels.", required=False),
        FileColumn("note", _NOTE, "Note.", required=False),
        FileColumn(
            "months_in_hand",
            Number(0, MOST_MONTHS, above=True),
            "Months of use to have in hand; blank where the setting decides.",
            required=False,
            settled=False,
        ),
    ),
    key=("name",),
    known="name = :name",
)


GATHERING_WINDOWS = FileTable(
    "gathering_windows",
    "gathering_window",
    "When each part of a herb is gathered, as entered.",
    (
        _link("herb", "herb", "herbs.csv", about="Common name of the herb.", by="name"),
        FileColumn("part", OneOf(KNOWN_PARTS), "Part of the plant."),
        FileColumn("first_day", DayOfYear(), "First day, of any year.", settled=False),
        FileColumn(
            "last_day", DayOfYear(), "Last day; before the first: after New Year.", settled=False
        ),
    ),
    key=("herb", "part"),
    known="herb_id = :herb_id AND part = :part",
    since=2,
)


SHELVES = FileTable(
    "shelves",
    "shelf",
    "Shelves that hold jars.",
    (
        FileColumn("name", Text(), "Name; unique, ignoring case."),
        FileColumn("position", Whole(1), "Order on screen, from 1.", settled=False),
        FileColumn("note", _NOTE, "Note.", required=False),
    ),
    key=("name",),
    known="name = :name",
)


SPIRITS = FileTable(
    "spirits",
    "spirit",
    "Purchases of spirit.",
    (
        FileColumn(
            "number",
            Whole(1),
            "Number that other files of this folder use for it.",
            field=None,
            source="row_number() OVER (ORDER BY id)",
        ),
        FileColumn("name", Text(), "Name of the spirit."),
        FileColumn("strength_abv", Number(0, 100, above=True), "Ethanol, % v/v at 20 °C."),
        FileColumn(
            "bought_ml",
            Number(0, 1e9, above=True),
            "Volume bought, mL; blank where not counted.",
            required=False,
        ),
        FileColumn("price", Number(0, 1e9), "Price paid for all of it.", required=False),
        FileColumn("bought_on", Day(), "Day of purchase.", required=False),
        FileColumn(
            "origin", _REMARK, "Origin, with the lot unless that is in its own column.", False
        ),
        FileColumn("lot", _REMARK, "Lot.", required=False),
        FileColumn("code", Text(40, blank=None), "A code of your own; unique.", required=False),
        FileColumn(
            "density_g_per_ml",
            _DENSITY,
            "Density, g/mL at 20 °C; blank where it follows from the strength.",
            required=False,
        ),
        FileColumn("note", _NOTE, "Note.", required=False),
    ),
    key=("number",),
    alike=("name", "strength_abv", "bought_on"),
    followed=True,
)


LIQUIDS = FileTable(
    "liquids",
    "liquid",
    "Purchases of other liquids, such as glycerine, vinegar or honey.",
    (
        FileColumn(
            "number",
            Whole(1),
            "Number that other files of this folder use for it.",
            field=None,
            source="row_number() OVER (ORDER BY id)",
        ),
        FileColumn("name", Text(), "Name of the liquid."),
        FileColumn("kind", OneOf(tuple(OtherLiquidKind)), "What it is."),
        FileColumn("density_g_per_ml", _DENSITY, "Density, g/mL at 20 °C."),
        FileColumn("density_source", _REMARK, "Where the density comes from.", required=False),
        FileColumn("acidity", Number(0, 100), "Acid, g in 100 mL.", required=False),
        FileColumn("glycerol", Number(0, 100), "Glycerol, % by volume.", required=False),
        FileColumn(
            "bought_ml",
            Number(0, 1e9, above=True),
            "Volume bought, mL; blank where not counted.",
            required=False,
        ),
        FileColumn("price", Number(0, 1e9), "Price paid for all of it.", required=False),
        FileColumn("bought_on", Day(), "Day of purchase.", required=False),
        FileColumn("origin", _REMARK, "Seller.", required=False),
        FileColumn("lot", _REMARK, "Lot.", required=False),
        FileColumn("code", Text(40, blank=None), "A code of your own; unique.", required=False),
        FileColumn("note", _NOTE, "Note.", required=False),
    ),
    key=("number",),
    alike=("name", "kind", "bought_on"),
    followed=True,
    since=2,
)


CUPBOARD_MOVEMENTS = FileTable(
    "cupboard_movements",
    "cupboard_movement",
    "Liquid into (+) and out of (-) the cupboard, apart from purchases and what was poured.",
    (
        _SPIRIT_NUMBER,
        _LIQUID_NUMBER,
        FileColumn("kind", OneOf(tuple(CupboardMovementKind)), "What happened."),
        FileColumn("volume_ml", Number(-1e9, 1e9), "Volume, mL; negative where there is less."),
        FileColumn("at", Moment(), "When it was recorded, in UTC."),
        FileColumn("day", _PAST, "Local day it counts for."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("person", Text(), "For whom it was taken.", required=False),
        FileColumn("note", Text(2000, lines=True), "Note.", required=False),
    ),
    key=("at",),
    alike=("spirit_id", "liquid_id", "kind", "volume_ml", "at", "day", "maker", "person", "note"),
    rules=(
        Rule("volume_ml", lambda row: row["volume_ml"] != 0, "The volume must not be zero."),
        Rule(
            "volume_ml",
            lambda row: row["volume_ml"] < 0 or not CupboardMovementKind(row["kind"]).takes_out,
            "This takes liquid out: use a number below 0.",
        ),
        Rule(
            "spirit_number",
            lambda row: (row["spirit_number"] is None) != (row["liquid_number"] is None),
            "Give either the spirit or the liquid, not both.",
        ),
    ),
    blamed="volume_ml",
    since=2,
)


HERB_LOTS = FileTable(
    "herb_lots",
    "herb_lot",
    "Lots of herb in store: each was gathered or bought at one time.",
    (
        FileColumn("code", Text(40), "Code of the lot."),
        _link("herb", "herb", "herbs.csv", about="Common name of the herb.", by="name"),
        FileColumn("part", OneOf(KNOWN_PARTS), "Part of the plant."),
        FileColumn("condition", OneOf(KNOWN_CONDITIONS), "Fresh or dried, as it is now."),
        FileColumn("came", OneOf(tuple(HerbCame)), "Whether it was gathered or bought."),
        FileColumn("got_on", _PAST, "The day it was gathered or bought."),
        FileColumn("origin", Text(1500), "Place or seller.", required=False),
        FileColumn("seller_lot", Text(), "The seller's lot.", required=False),
        FileColumn(
            "mass_g", _AMOUNT, "Weight at first, g; blank where not weighed.", required=False
        ),
        FileColumn("price", Number(0, 1e9), "Price paid for all of it.", required=False),
        FileColumn(
            "water_fraction",
            Number(0, 0.999999),
            "Measured water in it, 0 to 1; blank where the typical value is used.",
            required=False,
        ),
        FileColumn("laid_out_on", _PAST, "The day it was laid out to dry.", required=False),
        FileColumn("laid_out_g", _AMOUNT, "Fresh weight laid out, g.", required=False),
        FileColumn("dry_on", _PAST, "The day it was dry.", required=False),
        FileColumn("dry_g", _AMOUNT, "Dry weight, g.", required=False),
        FileColumn(
            "from_lot",
            Link(file="herb_lots.csv", find="SELECT id FROM herb_lot WHERE code = :from_lot"),
            "Code of the fresh lot that it was part of when it was laid out.",
            required=False,
            field="from_lot_id",
            source="(SELECT code FROM herb_lot f WHERE f.id = herb_lot.from_lot_id)",
        ),
        FileColumn("used_up_on", _PAST, "The day it was used up.", required=False),
        FileColumn("note", _NOTE, "Note.", required=False),
    ),
    key=("code",),
    known="code = :code",
    blamed="mass_g",
    rules=(
        Rule(
            "laid_out_on",
            lambda row: row["laid_out_on"] is None or row["laid_out_on"] >= row["got_on"],
            "It was laid out before it was gathered or bought.",
        ),
        Rule(
            "laid_out_g",
            lambda row: row["laid_out_g"] is None or row["laid_out_on"] is not None,
            "Give the day it was laid out, too.",
        ),
        Rule(
            "dry_on",
            lambda row: (
                row["dry_on"] is None
                or (row["laid_out_on"] is not None and row["dry_on"] >= row["laid_out_on"])
            ),
            "It can't be dry before it was laid out.",
        ),
        Rule(
            "dry_g",
            lambda row: row["dry_g"] is None or row["dry_on"] is not None,
            "Give the day it was dry, too.",
        ),
        Rule(
            "dry_g",
            lambda row: (
                row["dry_g"] is None
                or row["laid_out_g"] is None
                or row["dry_g"] < row["laid_out_g"]
            ),
            "Dried herb must weigh less than the fresh herb that was laid out.",
        ),
        Rule(
            "condition",
            lambda row: (
                row["laid_out_on"] is None
                or (row["condition"] == Condition.DRIED) == (row["dry_on"] is not None)
            ),
            "What was laid out is dried from the day it was dry, and fresh before.",
        ),
        Rule(
            "used_up_on",
            lambda row: row["used_up_on"] is None or row["used_up_on"] >= row["got_on"],
            "It was used up before it was gathered or bought.",
        ),
    ),
    since=2,
    followed=True,
)


HERB_MOVEMENTS = FileTable(
    "herb_movements",
    "herb_movement",
    "Herb into (+) and out of (-) lots, other than by filling jars.",
    (
        _link("lot", "herb_lot", "herb_lots.csv", about="Code of the lot.", field="lot_id"),
        _number("lot_id", "Order in its lot, from 1."),
        FileColumn("kind", OneOf(tuple(HerbMovementKind)), "What happened."),
        FileColumn(
            "mass_g",
            Number(-1e6, 1e6),
            "Weight, g; negative where herb was taken out, blank where not weighed.",
            required=False,
        ),
        FileColumn("at", Moment(), "When it was recorded, in UTC."),
        FileColumn("day", _PAST, "Local day it counts for."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("person", Text(), "For whom it was taken.", required=False),
        FileColumn("note", Text(2000, lines=True), "Note.", required=False),
    ),
    key=("lot", "number"),
    order="lot_id, id",
    known="lot_id = :lot_id ORDER BY id LIMIT 1 OFFSET :number - 1",
    counted_by="lot_id",
    blamed="mass_g",
    rules=(
        Rule(
            "mass_g",
            lambda row: row["mass_g"] is not None or row["kind"] != HerbMovementKind.WEIGH_IN,
            "A weighing needs a weight.",
        ),
        Rule(
            "mass_g",
            lambda row: (
                row["mass_g"] is None
                or row["mass_g"] < 0
                or not HerbMovementKind(row["kind"]).takes_out
            ),
            "This takes herb out: use a number below 0.",
        ),
    ),
    since=2,
)


BOTTLE_SIZES = FileTable(
    "bottle_sizes",
    "bottle_size",
    "Bottle sizes in use.",
    (
        FileColumn("size_ml", _AMOUNT, "Size, mL."),
        FileColumn(
            "empties",
            Whole(),
            "Clean empty bottles in stock; blank where not counted.",
            required=False,
            settled=False,
        ),
    ),
    key=("size_ml",),
    known="size_ml = :size_ml",
)


JARS = FileTable(
    "jars",
    "jar",
    "Jars of herb in liquid (menstruum), strained and discarded jars included.",
    (
        FileColumn("code", Text(40), "Batch code, written on the jar."),
        _link("shelf", "shelf", "shelves.csv", about="Name of its shelf.", by="name"),
        FileColumn("place", Whole(1), "Order on its shelf, from 1.", settled=False),
        FileColumn("simmered", YesNo(), "Whether the herb was simmered before spirit went on."),
        FileColumn("filled_on", _PAST, "Day of filling."),
        FileColumn("strain_on", Day(), "Strain date."),
        FileColumn("shakes_per_day", Whole(0, 9), "Shakes planned a day."),
        FileColumn("capacity_ml", _AMOUNT, "Jar size, mL.", required=False),
        FileColumn("covered", YesNo(), "Whether the herb was under the liquid when last checked."),
        FileColumn("state", OneOf(tuple(JarState)), "State."),
        FileColumn(
            "ended_on", _PAST, "Day strained or discarded; blank while steeping or drained.", False
        ),
        FileColumn("note", _NOTE, "Note.", required=False),
        FileColumn(
            "marc_of",
            Link(file="jars.csv", find="SELECT id FROM jar WHERE code = :marc_of"),
            "Batch code of the jar whose marc is in this one.",
            required=False,
            field="marc_of_id",
            source="(SELECT code FROM jar t WHERE t.id = jar.marc_of_id)",
        ),
    ),
    key=("code",),
    known="code = :code",
    rules=(
        Rule(
            "strain_on",
            lambda row: row["strain_on"] >= row["filled_on"],
            "The strain date is before the filling date.",
        ),
        Rule(
            "ended_on",
            lambda row: (row["state"] in NOT_ENDED) == (row["ended_on"] is None),
            "A steeping or drained jar must not have this date; a strained or discarded jar must.",
        ),
        Rule(
            "ended_on",
            lambda row: row["ended_on"] is None or row["ended_on"] >= row["filled_on"],
            "It ended before the filling date.",
        ),
    ),
    followed=True,
)


_ASSUMED = "Whether it was assumed at import and is still to be confirmed; blank means no."

HERBS_IN_JARS = FileTable(
    "herbs_in_jars",
    "charge_line",
    "The herbs in each jar.",
    (
        _JAR,
        _number("jar_id", "Order in its jar, from 1."),
        _link("herb", "herb", "herbs.csv", about="Common name of the herb.", by="name"),
        FileColumn("part", OneOf(tuple(Part)), "Part of the plant."),
        FileColumn("condition", OneOf(tuple(Condition)), "Fresh, dried, or not known."),
        FileColumn(
            "mass_g", _AMOUNT, "Weight put in, g; blank where filled by eye.", required=False
        ),
        FileColumn(
            "water_fraction",
            Number(0, 0.999999),
            "Measured water in it, 0 to 1; blank where the typical value is used.",
            required=False,
        ),
        FileColumn("gathered_on", Day(), "Day of gathering.", required=False),
        FileColumn("origin", _REMARK, "Origin and lot.", required=False),
        FileColumn("part_assumed", YesNo(blank=0), _ASSUMED, required=False),
        FileColumn("condition_assumed", YesNo(blank=0), _ASSUMED, required=False),
        _link(
            "lot",
            "herb_lot",
            "herb_lots.csv",
            about="Code of the lot it was taken from.",
            required=False,
            field="lot_id",
        ),
    ),
    key=("jar", "number"),
    order="jar_id, id",
    known="jar_id = :jar_id ORDER BY id LIMIT 1 OFFSET :number - 1",
    counted_by="jar_id",
)


_OF_ANY_STRENGTH = (LiquidKind.TINCTURE, LiquidKind.HELD_BACK)


POURS = FileTable(
    "pours",
    "pour",
    "Liquid poured on the herb: at filling and as top-ups.",
    (
        _JAR,
        _number("jar_id", "Order in its jar, from 1."),
        FileColumn("kind", OneOf(tuple(LiquidKind)), "What was poured."),
        _SPIRIT_NUMBER,
        _LIQUID_NUMBER,
        _bottle_of_movement(required=False),
        _number_of_movement("movement", required=False),
        _BATCH_FROM,
        FileColumn("volume_ml", _AMOUNT, "Volume poured, mL."),
        FileColumn(
            "strength_abv",
            _STRENGTH,
            "Ethanol, % v/v at 20 °C; 0 for water, decoction and other liquids.",
            required=False,
        ),
        FileColumn("poured_on", _PAST, "Day of pouring."),
    ),
    key=("jar", "number"),
    order="jar_id, id",
    known="jar_id = :jar_id ORDER BY id LIMIT 1 OFFSET :number - 1",
    counted_by="jar_id",
    blamed="volume_ml",
    rules=(
        Rule(
            "strength_abv",
            lambda row: (
                row["kind"] in _OF_ANY_STRENGTH
                or (
                    row["strength_abv"] is not None
                    and (row["kind"] == LiquidKind.SPIRIT) == (row["strength_abv"] > 0)
                )
            ),
            "Spirit needs a strength above 0; water, decoction and other liquids have 0.",
        ),
        Rule(
            "spirit_number",
            lambda row: row["spirit_id"] is None or row["kind"] == LiquidKind.SPIRIT,
            "Only a pour of spirit has a spirit. Leave it blank.",
        ),
        Rule(
            "liquid_number",
            lambda row: (row["liquid_id"] is None) == (row["kind"] != LiquidKind.LIQUID),
            "Give the number of a liquid that was poured; for anything else, leave this blank.",
        ),
        Rule(
            "from_batch",
            lambda row: (
                (row["movement_id"] is not None) + (row["source_id"] is not None)
                == (row["kind"] == LiquidKind.TINCTURE)
            ),
            (
                "Give the bottle or the batch that a tincture was poured from; for anything else, "
                "leave this blank."
            ),
        ),
    ),
)


SHAKES = FileTable(
    "shakes",
    "shake",
    "Daily shakes recorded.",
    (
        _JAR,
        FileColumn("day", _PAST, "Local day it counts for."),
        FileColumn("turn", Whole(1, 9), "1 for the day's first shake, 2 for the second."),
        FileColumn("at", Moment(), "When, in UTC."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
    ),
    key=("jar", "day", "turn"),
    order="jar_id, day, turn",
    known="jar_id = :jar_id AND day = :day AND turn = :turn",
)


STRAININGS = FileTable(
    "strainings",
    "straining",
    "Strainings: when the liquid was separated from the spent herb (marc).",
    (
        _JAR,
        FileColumn("strained_on", _PAST, "Day of straining; of its last go."),
        FileColumn("yield_ml", _AMOUNT, "Yield as measured, mL; of all its goes."),
        FileColumn("pressing", OneOf(tuple(Pressing)), "How the marc was pressed last."),
        FileColumn("marc_g", _AMOUNT, "Marc left, g.", required=False),
        FileColumn("measured_abv", _STRENGTH, "Strength if measured, % v/v.", required=False),
        FileColumn(
            "liquid_ml",
            Number(0, 1e9, above=True),
            "Liquid in the jar as calculated, mL.",
            required=False,
        ),
        FileColumn("expected_ml", Number(0, 1e9), "Expected yield, mL.", required=False),
        FileColumn("confirmed", YesNo(), "Whether an unlikely yield or strength was confirmed."),
        FileColumn(
            "teaches",
            YesNo(blank=1),
            "Whether the forecast learns from it; yes where it is blank.",
            required=False,
        ),
        FileColumn(
            "more",
            YesNo(blank=0),
            "Whether the herb is still to be pressed; no where it is blank.",
            required=False,
        ),
        FileColumn("pressing_assumed", YesNo(blank=0), _ASSUMED, required=False),
        FileColumn(
            "day_by",
            OneOf(tuple(DayBy), blank=DayBy.STATED),
            "How the day of straining is known; stated where it is blank.",
            required=False,
        ),
        FileColumn("note", _NOTE, "Note.", required=False),
    ),
    key=("jar",),
    known="jar_id = :jar_id",
    followed=True,
)


_STRAINING_OF_JAR = "SELECT id FROM straining WHERE jar_id = (SELECT id FROM jar WHERE code = :jar)"
_JAR_OF_STRAINING = (
    "(SELECT code FROM straining s JOIN jar j ON j.id = s.jar_id WHERE s.id = straining_id)"
)


STRAINING_GOES = FileTable(
    "straining_goes",
    "straining_go",
    "The goes of a straining that was done in several, such as drained and pressed later.",
    (
        FileColumn(
            "jar",
            Link(file="strainings.csv", find=_STRAINING_OF_JAR),
            "Batch code of the jar.",
            field="straining_id",
            source=_JAR_OF_STRAINING,
        ),
        _number("straining_id", "Order in its straining, from 1."),
        FileColumn("strained_on", _PAST, "Day of this go."),
        FileColumn("pressing", OneOf(tuple(Pressing)), "How the marc was pressed."),
        FileColumn("yield_ml", _AMOUNT, "Yield of this go, mL."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("note", _NOTE, "Note.", required=False),
    ),
    key=("jar", "number"),
    order="straining_id, id",
    known="straining_id = :straining_id ORDER BY id LIMIT 1 OFFSET :number - 1",
    counted_by="straining_id",
    since=2,
)


TINCTURES = FileTable(
    "tinctures",
    "tincture",
    "Tinctures, each from one jar or made of other batches.",
    (
        FileColumn("code", Text(40), "Batch code; the same as its jar's."),
        FileColumn("name", Text(), "Your own name for it.", required=False),
        FileColumn(
            "jar",
            Link(file="strainings.csv", find=_STRAINING_OF_JAR),
            "Batch code of the jar strained; blank for a blend.",
            required=False,
            field="straining_id",
            source=_JAR_OF_STRAINING,
        ),
        FileColumn("made_on", _PAST, "Day strained or blended."),
        FileColumn("volume_ml", _AMOUNT, "Volume strained or blended, mL."),
        FileColumn("strength_abv", _STRENGTH, "Ethanol, % v/v at 20 °C.", required=False),
        FileColumn(
            "strength_by",
            OneOf(tuple(StrengthBy)),
            "How the strength is known.",
        ),
        FileColumn(
            "ratio",
            Number(0, 1e9, above=True),
            "n of 1:n, g of herb to mL of liquid poured; blank where filled by eye.",
            required=False,
        ),
        FileColumn("keep_until", Day(), "Keep-until date.", required=False),
        FileColumn(
            "keep_until_by_hand",
            YesNo(blank=0),
            "Whether that date was set by hand; no where it is blank.",
            required=False,
        ),
        FileColumn("lost_ml", Number(), "Volume lost before bottling, mL: the sum of losses.csv."),
        FileColumn("note", _NOTE, "Note.", required=False),
        FileColumn(
            "status",
            OneOf(tuple(BatchStatus)),
            "Whether the batch may be used; blank where batches aren't released.",
            required=False,
        ),
    ),
    key=("code",),
    known="code = :code",
    blamed="volume_ml",
    rules=(
        Rule(
            "strength_by",
            lambda row: (row["strength_abv"] is None) == (row["strength_by"] == StrengthBy.UNKNOWN),
            "It must be unknown where strength_abv is blank, and only there.",
        ),
        Rule(
            "lost_ml",
            lambda row: row["lost_ml"] <= row["volume_ml"] + EMPTY_ML,
            "More can't be lost than there was.",
        ),
    ),
    followed=True,
)


BOTTLES = FileTable(
    "bottles",
    "bottle",
    "Bottles, each with one tincture.",
    (
        FileColumn("code", Text(48), "Code on its label."),
        _link("tincture", "tincture", "tinctures.csv", about="Batch code of its tincture."),
        FileColumn("size_ml", _AMOUNT, "Size, mL."),
        FileColumn("filled_on", _PAST, "Day of filling."),
        FileColumn("place", Text(), "Place.", required=False),
        FileColumn("bottle_lot", Text(), "Lot of the empty bottle.", required=False),
        FileColumn("cap_lot", Text(), "Lot of its cap.", required=False),
    ),
    key=("code",),
    known="code = :code",
    followed=True,
)


def _name_of_gift(row: Row) -> None:
    """In format 1 the note of a gift says who got it."""
    if row["kind"] == MovementKind.GIVE and name_in_note(row["note"]):
        row["person"], row["note"] = row["note"], ""


MOVEMENTS = FileTable(
    "movements",
    "movement",
    "Liquid into (+) and out of (-) bottles. What a bottle holds is the sum.",
    (
        _link("bottle", "bottle", "bottles.csv", about="Code of the bottle."),
        _number("bottle_id", "Order in its bottle, from 1."),
        FileColumn(
            "kind",
            OneOf(tuple(MovementKind)),
            "What happened.",
        ),
        FileColumn(
            "volume_ml", Number(-1e6, 1e6), "Volume, mL; negative where liquid was taken out."
        ),
        FileColumn("at", Moment(), "When it was recorded, in UTC."),
        FileColumn("day", _PAST, "Local day it counts for."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("person", Text(), "For whom it was taken.", required=False),
        FileColumn("note", Text(2000, lines=True), "Note.", required=False),
    ),
    key=("bottle", "number"),
    order="bottle_id, id",
    known="bottle_id = :bottle_id ORDER BY id LIMIT 1 OFFSET :number - 1",
    counted_by="bottle_id",
    blamed="volume_ml",
    rules=(
        Rule("volume_ml", lambda row: row["volume_ml"] != 0, "The volume must not be zero."),
        Rule(
            "volume_ml",
            lambda row: row["kind"] != MovementKind.FILL or row["volume_ml"] > 0,
            "A fill adds liquid: use a number above 0.",
        ),
        Rule(
            "volume_ml",
            lambda row: row["volume_ml"] < 0 or not MovementKind(row["kind"]).takes_out,
            "This takes liquid out: use a number below 0.",
        ),
    ),
    from_1=_name_of_gift,
)


LOSSES = FileTable(
    "losses",
    "loss",
    "Liquid lost of each tincture before it was bottled.",
    (
        _link("tincture", "tincture", "tinctures.csv", about="Batch code of the tincture."),
        _number("tincture_id", "Order in its tincture, from 1."),
        FileColumn("kind", OneOf(tuple(LossKind)), "How it was lost."),
        FileColumn("volume_ml", _AMOUNT, "Volume lost, mL."),
        FileColumn("at", Moment(), "When it was recorded, in UTC."),
        FileColumn("day", _PAST, "Local day it counts for."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("note", Text(2000, lines=True), "Note.", required=False),
    ),
    key=("tincture", "number"),
    order="tincture_id, id",
    known="tincture_id = :tincture_id ORDER BY id LIMIT 1 OFFSET :number - 1",
    counted_by="tincture_id",
    since=2,
)


RETURNS = FileTable(
    "returns",
    "returned",
    "Liquid that was drawn or given and came back. No bottle holds it again.",
    (
        _link("bottle", "bottle", "bottles.csv", about="Code of the bottle that it came from."),
        _number("bottle_id", "Order among the returns of its bottle, from 1."),
        FileColumn("volume_ml", _AMOUNT, "Volume that came back, mL."),
        FileColumn("at", Moment(), "When it was recorded, in UTC."),
        FileColumn("day", _PAST, "Local day it counts for."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("person", Text(), "Who brought it back.", required=False),
        FileColumn("note", Text(2000, lines=True), "Note.", required=False),
    ),
    key=("bottle", "number"),
    order="bottle_id, id",
    known="bottle_id = :bottle_id ORDER BY id LIMIT 1 OFFSET :number - 1",
    counted_by="bottle_id",
    since=2,
)


_BATCH_MADE = FileColumn(
    "batch",
    Link(file="tinctures.csv", find="SELECT id FROM tincture WHERE code = :batch"),
    "Batch code of what was made.",
    field="tincture_id",
    source="(SELECT code FROM tincture t WHERE t.id = tincture_id)",
)


BLEND_PARTS = FileTable(
    "blend_parts",
    "batch_input",
    "The movements out of bottles that went into each blend.",
    (
        FileColumn(
            "blend",
            Link(file="tinctures.csv", find="SELECT id FROM tincture WHERE code = :blend"),
            "Batch code of the blend.",
            field="tincture_id",
            source="(SELECT code FROM tincture t WHERE t.id = tincture_id)",
        ),
        _bottle_of_movement(required=True),
        _number_of_movement("number", required=True),
        FileColumn(
            "kind", OneOf((InputKind.BOTTLE,), blank=InputKind.BOTTLE), "Not written.", False
        ),
    ),
    key=("blend", "bottle", "number"),
    known="movement_id = :movement_id",
    blamed="number",
    until=1,
)


BATCH_INPUTS = FileTable(
    "batch_inputs",
    "batch_input",
    "What went into each batch that wasn't strained: blended, joined, thinned or sweetened.",
    (
        _BATCH_MADE,
        _number("tincture_id", "Order in its batch, from 1."),
        FileColumn("kind", OneOf(tuple(InputKind)), "Where it came from."),
        _bottle_of_movement(required=False),
        _number_of_movement("movement", required=False),
        _BATCH_FROM,
        _SPIRIT_NUMBER,
        _LIQUID_NUMBER,
        FileColumn(
            "volume_ml",
            _AMOUNT,
            "Volume, mL; blank where the movement out of a bottle has it.",
            required=False,
        ),
        FileColumn(
            "strength_abv",
            Number(0, 100, above=True),
            "Ethanol, % v/v at 20 °C, of a spirit; blank for anything else.",
            required=False,
        ),
    ),
    key=("batch", "number"),
    order="tincture_id, id",
    known="tincture_id = :tincture_id ORDER BY id LIMIT 1 OFFSET :number - 1",
    counted_by="tincture_id",
    blamed="kind",
    rules=(
        Rule(
            "movement",
            lambda row: (row["movement_id"] is not None) == (row["kind"] == InputKind.BOTTLE),
            "Give the movement of what came from a bottle; for anything else, leave this blank.",
        ),
        Rule(
            "from_batch",
            lambda row: (row["source_id"] is not None) == (row["kind"] == InputKind.BATCH),
            "Give the code of a batch; for anything else, leave this blank.",
        ),
        Rule(
            "spirit_number",
            lambda row: row["spirit_id"] is None or row["kind"] == InputKind.SPIRIT,
            "Only a spirit has a number here. Leave it blank.",
        ),
        Rule(
            "liquid_number",
            lambda row: (row["liquid_id"] is not None) == (row["kind"] == InputKind.LIQUID),
            "Give the number of a liquid; for anything else, leave this blank.",
        ),
        Rule(
            "volume_ml",
            lambda row: (row["volume_ml"] is None) == (row["kind"] == InputKind.BOTTLE),
            "Give the volume, unless it came from a bottle; then leave this blank.",
        ),
        Rule(
            "strength_abv",
            lambda row: (row["strength_abv"] is not None) == (row["kind"] == InputKind.SPIRIT),
            "Give the strength of a spirit; for anything else, leave this blank.",
        ),
    ),
    since=2,
)


FORMULAS = FileTable(
    "formulas",
    "formula",
    "Blends saved to be made again.",
    (
        FileColumn("name", Text(), "Name; unique, ignoring case."),
        FileColumn("note", _NOTE, "Note.", required=False),
    ),
    key=("name",),
    known="name = :name",
)


FORMULA_PARTS = FileTable(
    "formula_parts",
    "formula_part",
    "What goes into a formula: tincture of a herb, or a tincture by its own name.",
    (
        _link("formula", "formula", "formulas.csv", about="Name of the formula.", by="name"),
        _link("herb", "herb", "herbs.csv", about="Herb.", required=False, by="name"),
        FileColumn(
            "part",
            OneOf(KNOWN_PARTS, blank=""),
            "Part of the plant; blank where any will do.",
            required=False,
        ),
        FileColumn(
            "condition",
            OneOf(KNOWN_CONDITIONS, blank=""),
            "Fresh or dried; blank where either will do.",
            required=False,
        ),
        FileColumn("name", Text(), "Name of the tincture where herb is blank.", required=False),
        FileColumn("share", _AMOUNT, "Parts by volume; only the proportions matter."),
    ),
    key=("formula", "herb", "part", "condition", "name"),
    known="formula_id = :formula_id AND herb_id IS :herb_id AND part = :part"
    " AND condition = :condition AND name = :name",
    rules=(
        Rule(
            "name",
            lambda row: (row["herb"] is None) == (row["name"] != ""),
            "Give either the herb or the tincture's name, not both.",
        ),
        Rule(
            "part",
            lambda row: row["herb"] is not None or row["part"] == "",
            "Only a herb has a part. Leave it blank.",
        ),
        Rule(
            "condition",
            lambda row: row["herb"] is not None or row["condition"] == "",
            "Only a herb is fresh or dried. Leave it blank.",
        ),
    ),
)


_OF_IMPORTS = f"""
    SELECT id FROM journal WHERE kind = '{LineKind.IMPORT}' UNION ALL
    SELECT l.id FROM journal i JOIN journal l ON l.of_id = i.id WHERE i.kind = '{LineKind.IMPORT}'
"""
"""Lines that say how a folder came into a shelf; they stay there."""


def _numbered(line: str) -> str:
    """SQL for the number of a journal line in its file: its id, less those that stay behind."""
    return f"{line} - (SELECT count(*) FROM ({_OF_IMPORTS}) WHERE id <= {line})"


_LINE = Link(file="journal.csv", numbered=True)


JOURNAL = FileTable(
    "journal",
    "journal",
    "The journal: a line for each act, correction, undo and redo. No line is ever changed.",
    (
        FileColumn(
            "number",
            Whole(1),
            "Number that other files of this folder use for it.",
            field=None,
            source=_numbered("journal.id"),
        ),
        FileColumn("at", Moment(), "When, in UTC."),
        FileColumn("day", _PAST, "Local day."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("kind", OneOf(tuple(LineKind)), "What kind of line it is."),
        FileColumn("title", Text(2000), "What was done."),
        FileColumn("why", _REMARK, "The reason given.", required=False),
        FileColumn(
            "of",
            _LINE,
            "Number of the act undone or redone.",
            required=False,
            field="of_id",
            source=f"CASE WHEN of_id THEN {_numbered('journal.of_id')} END",
        ),
    ),
    key=("number",),
    alike=("at", "day", "maker", "kind", "title", "why", "of_id"),
    only=f"id NOT IN ({_OF_IMPORTS})",
    followed=True,
    since=2,
)


JOURNAL_CHANGES = FileTable(
    "journal_changes",
    "journal_change",
    "The rows that an act changed or deleted, before and after.",
    (
        FileColumn(
            "journal",
            _LINE,
            "Number of the act in journal.csv.",
            field="journal_id",
            source=_numbered("journal_id"),
        ),
        FileColumn("record", Text(40), "Kind of record."),
        FileColumn("row_id", Whole(1), "Number of its row, in the shelf it happened on."),
        FileColumn("before", _ROW, "The row as it was, as JSON."),
        FileColumn("after", _ROW, "The row as it became; blank if it was deleted.", required=False),
    ),
    key=("journal",),
    alike=("journal_id", "record", "row_id", "before", "after"),
    only=f"journal_id NOT IN ({_OF_IMPORTS})",
    since=2,
)


def _about_it(link: FileColumn) -> FileColumn:
    """What a line of the ledger is about: it may be gone since, so the line needn't match in it."""
    return replace(link, required=False, settled=False)


EVENTS = FileTable(
    "events",
    "event",
    "The ledger: everything that happened, oldest first.",
    (
        FileColumn(
            "number",
            Whole(1),
            "Number that other files of this folder use for it.",
            required=False,
            field=None,
            source="row_number() OVER (ORDER BY id)",
        ),
        FileColumn("at", Moment(), "When, in UTC."),
        FileColumn("day", _PAST, "Local day it counts for."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("kind", Text(40), "What happened."),
        FileColumn("text", _NOTE, "Description.", required=False),
        _about_it(_link("jar", "jar", "jars.csv", about="Jar it is about.")),
        _about_it(_link("tincture", "tincture", "tinctures.csv", about="Tincture it is about.")),
        _about_it(_link("bottle", "bottle", "bottles.csv", about="Bottle it is about.")),
        _about_it(_SPIRIT_NUMBER),
        _about_it(_link("herb", "herb", "herbs.csv", about="Herb it is about.", by="name")),
        _about_it(
            _link("lot", "herb_lot", "herb_lots.csv", about="Lot it is about.", field="lot_id")
        ),
        FileColumn(
            "subject",
            Text(400),
            "What it is about, as it was called then.",
            required=False,
            settled=False,
        ),
        FileColumn(
            "journal",
            _LINE,
            "Number of its line in journal.csv; blank for lines older than the journal.",
            required=False,
            field="journal_id",
            source=_numbered("journal_id"),
            settled=False,
        ),
    ),
    key=("number",),
    # What it is about may be gone, and has no code then; format 1 doesn't name it.
    alike=("at", "day", "maker", "kind", "text", "subject"),
    alike_in_1=(
        *("at", "day", "maker", "kind", "text"),
        *("jar_id", "tincture_id", "bottle_id", "spirit_id", "herb_id"),
    ),
    only=f"journal_id IS NULL OR journal_id NOT IN ({_OF_IMPORTS})",
    followed=True,
)


CORRECTED = FileTable(
    "corrected",
    "corrected",
    "Which lines of the ledger were corrected later.",
    (
        FileColumn(
            "event",
            Link(
                file="events.csv",
                numbered=True,
            ),
            "Number of the line in events.csv.",
            field="event_id",
            source="(SELECT count(*) FROM event e WHERE e.id <= event_id AND (e.journal_id IS NULL"
            f" OR e.journal_id NOT IN ({_OF_IMPORTS})))",
        ),
        FileColumn(
            "journal",
            _LINE,
            "Number of the correction in journal.csv.",
            field="journal_id",
            source=_numbered("journal_id"),
        ),
    ),
    key=("event", "journal"),
    known="event_id = :event_id AND journal_id = :journal_id",
    since=2,
)


CLOSINGS = FileTable(
    "closings",
    "closing",
    "Months and batch records that were closed: changing them needs a reason.",
    (
        FileColumn("month", Month(), "Year and month; blank for a batch.", required=False),
        FileColumn(
            "tincture",
            Link(file="tinctures.csv", find="SELECT id FROM tincture WHERE code = :tincture"),
            "Batch code; blank for a month.",
            required=False,
            field="tincture_id",
            source="(SELECT code FROM tincture t WHERE t.id = tincture_id)",
        ),
        FileColumn("at", Moment(), "When, in UTC."),
        FileColumn("day", _PAST, "Local day."),
        FileColumn("maker", _MAKER, "Initials of the person who closed it."),
    ),
    key=("at",),
    known="month IS :month AND tincture_id IS :tincture_id",
    rules=(
        Rule(
            "month",
            lambda row: (row["month"] is None) != (row["tincture"] is None),
            "Give either the month or the batch, not both.",
        ),
    ),
    since=2,
)


PRINT_LOG = FileTable(
    "print_log",
    "print_log",
    "Labels printed, and those that a person chose not to print again. No line is ever changed.",
    (
        FileColumn("at", Moment(), "When, in UTC."),
        FileColumn("day", _PAST, "Local day."),
        FileColumn("maker", _MAKER, _MAKER_SAID, required=False),
        FileColumn("kind", OneOf(tuple(PrintKind)), "Whether it was printed or dismissed."),
        FileColumn("bottle", Text(48), "Code of the bottle as it was then."),
        FileColumn("text", Text(100_000, lines=True), "The label, line by line."),
        FileColumn("copies", Whole(0, 5000), "How many were printed."),
        FileColumn("units", Text(40), "Units it was written in."),
        FileColumn("day_form", Text(40), "The order in which its days were written."),
        FileColumn("decimal_comma", YesNo(), "Whether its figures had a decimal comma."),
        FileColumn("language", Text(40), "Language of its words, by ISO 639-1."),
    ),
    key=("at",),
    alike=("at", "day", "maker", "kind", "bottle", "text", "copies", "units", "day_form",
           "decimal_comma", "language"),
    since=2,
)  # fmt: skip


CODE_ALIASES = FileTable(
    "code_aliases",
    "code_alias",
    "Codes that both shelves used when they were merged, with the code each thing has now.",
    (
        FileColumn("code", Text(48), "The old code."),
        FileColumn("new_code", Text(48), "Code of what had it."),
        FileColumn("shelf", Text(), "Name of the shelf on which it had it."),
    ),
    key=("new_code", "code"),
    known="new_code = :new_code AND code = :code",
    since=2,
)


TABLES = (
    SETTINGS,
    HERBS,
    SHELVES,
    SPIRITS,
    LIQUIDS,
    CUPBOARD_MOVEMENTS,
    BOTTLE_SIZES,
    GATHERING_WINDOWS,
    HERB_LOTS,
    HERB_MOVEMENTS,
    JARS,
    HERBS_IN_JARS,
    SHAKES,
    STRAININGS,
    STRAINING_GOES,
    TINCTURES,
    LOSSES,
    BOTTLES,
    MOVEMENTS,
    RETURNS,
    POURS,
    BATCH_INPUTS,
    CODE_ALIASES,
    FORMULAS,
    FORMULA_PARTS,
    CLOSINGS,
    PRINT_LOG,
    JOURNAL,
    JOURNAL_CHANGES,
    EVENTS,
    CORRECTED,
)
"""Every file of a folder, each after those it names lines of."""

OLDER_TABLES = (BLEND_PARTS,)
"""Files that only older formats have; they name lines of the others."""
