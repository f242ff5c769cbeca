"""Corrections of jars, of what is in them, and of strainings."""

from collections.abc import Sequence
from datetime import date
from math import fsum

from stillroom.errors import Refused
from stillroom.keeping.codes import bottle_code
from stillroom.keeping.correcting.kinds import NewValue, Obstacle, Value
from stillroom.keeping.correcting.reading import read_shakes
from stillroom.keeping.correcting.rows import Row, RowWriter, stored
from stillroom.keeping.cupboard.herb_names import herb_named
from stillroom.keeping.jars.straining import fold_single_go
from stillroom.keeping.tolerances import MEASURE_ML
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import JarState, LiquidKind


def jar_filled_on(w: RowWriter, jar_id: int, value: Value) -> None:
    """Move the filling, and with it what was poured in then."""
    (before,) = w.one("SELECT filled_on FROM jar WHERE id = ?", jar_id)
    w.set("jar", jar_id, filled_on=stored(value))
    # What went in at filling moves with the day of filling; top-ups keep their own day.
    for (pour_id,) in w.keeper.rows(
        "SELECT id FROM pour WHERE jar_id = ? AND poured_on = ?", jar_id, before
    ):
        w.rows["pour", pour_id].setdefault("poured_on", stored(value))


def herb(w: RowWriter, line_id: int, value: Value) -> None:
    """Put another herb in its place, or remove it."""
    if not value:
        w.execute("DELETE FROM charge_line WHERE id = ?", line_id)
        w.rows.pop(("charge_line", line_id), None)
    else:
        w.set("charge_line", line_id, herb_id=herb_named(str(value)))


def pour_volume(w: RowWriter, pour_id: int, value: Value) -> None:
    """Correct how much was poured, or remove it."""
    if value:
        w.set("pour", pour_id, volume_ml=value)
        return
    w.execute("DELETE FROM pour WHERE id = ?", pour_id)


def pour_spirit(w: RowWriter, pour_id: int, value: Value) -> None:
    """Correct which spirit was poured."""
    w.set("pour", pour_id, spirit_id=None if value is None else int(str(value)))


def pour_liquid(w: RowWriter, pour_id: int, value: Value) -> None:
    """Correct which liquid of the cupboard was poured."""
    w.set("pour", pour_id, liquid_id=None if value is None else int(str(value)))


def agree(w: RowWriter, pour_id: int, columns: Row) -> None:
    """Let kind, spirit and strength of a pour agree where only some of them were typed."""
    rows = w.keeper.rows(
        "SELECT kind, spirit_id, strength_abv, liquid_id FROM pour WHERE id = ?", pour_id
    )
    if not rows:  # it was removed
        columns.clear()
        return
    names = ("kind", "spirit_id", "strength_abv", "liquid_id")
    if not set(names) & columns.keys():
        return
    columns |= agreed(w, dict(zip(names, rows[0], strict=True)), columns)


def agreed(w: RowWriter, before: Row, typed: Row) -> Row:
    """Kind, spirit and strength of a pour, where only some of them were typed."""
    after = before | {name: typed[name] for name in before if name in typed}
    if typed.get("liquid_id") is not None and "kind" not in typed:
        after["kind"] = str(LiquidKind.LIQUID)
    if after["kind"] == LiquidKind.LIQUID:
        if after["liquid_id"] is None:
            raise Refused("Which liquid of the cupboard was it? Enter it too: liquid=…")
        if typed.get("strength_abv") or typed.get("spirit_id"):
            raise Refused("A liquid of the cupboard has no strength. Correct its kind too: spirit.")
        return after | {"spirit_id": None, "strength_abv": 0.0}
    after["liquid_id"] = None
    if after["kind"] != LiquidKind.SPIRIT:
        if typed.get("strength_abv") or typed.get("spirit_id"):
            raise Refused(f"A {after['kind']} has no strength. Correct its kind too: spirit.")
        return after | {"spirit_id": None, "strength_abv": 0.0}
    if "strength_abv" not in typed and typed.get("spirit_id") is not None:
        (after["strength_abv"],) = w.one(
            "SELECT strength_abv FROM spirit WHERE id = ?", after["spirit_id"]
        )
    if not after["strength_abv"]:
        raise Refused("A spirit needs a strength above 0 %, or correct its kind too: water.")
    return after


def shakes(w: RowWriter, jar_id: int, value: Value) -> None:
    """Let a day have as many shakes as it had."""
    for day, wanted in read_shakes(w.keeper, str(value)):
        (there,) = w.one("SELECT count(*) FROM shake WHERE jar_id = ? AND day = ?", jar_id, day)
        w.execute(
            "DELETE FROM shake WHERE jar_id = ? AND day = ? AND turn > ?", jar_id, day, wanted
        )
        for turn in range(there + 1, wanted + 1):
            # A shake's moment is of its own day; which one nobody knows any more.
            w.execute(
                "INSERT INTO shake (jar_id, day, turn, at, maker) VALUES (?, ?, ?, ?, ?)",
                jar_id, day, turn, f"{day}T12:00:00.000000+00:00", w.act.maker,
            )  # fmt: skip


def go_yielded(w: RowWriter, go_id: int, value: Value) -> None:
    """Correct what one go gave, or remove it."""
    if value:
        w.set("straining_go", go_id, yield_ml=value)
        return
    w.execute("DELETE FROM straining_go WHERE id = ?", go_id)
    w.rows.pop(("straining_go", go_id), None)


def strainings_in_goes(w: RowWriter, asked: Sequence[NewValue]) -> list[int]:
    """Strainings whose goes change; to be read before they do."""
    jar_ids = [a.subject.row_id for a in asked if a.fact.cell.record == "straining_go"]
    return [
        w.one("SELECT id FROM straining WHERE jar_id = ?", jar_id)[0]
        for jar_id in dict.fromkeys(jar_ids)
    ]


def add_up_goes(w: RowWriter, straining_id: int) -> None:
    """Let a straining be the sum of its goes, on the last day and by the last method."""
    goes = w.keeper.rows(
        """SELECT strained_on, pressing, yield_ml FROM straining_go WHERE straining_id = ?
           ORDER BY strained_on, id""",
        straining_id,
    )
    if not goes:
        w.obstacles.append(Obstacle("A straining needs a yield. To take it back, undo it."))
        return
    (more,) = w.one("SELECT more FROM straining WHERE id = ?", straining_id)
    day, pressing, _ = goes[-1]
    if not more:
        yielded(w, straining_id, fsum(go[2] for go in goes))
        strained_on(w, straining_id, day)
    w.set("straining", straining_id, pressing=pressing, strained_on=day)
    w.set("straining", straining_id, yield_ml=fsum(go[2] for go in goes))
    for (record, row_id), columns in w.rows.items():
        w.update(record, row_id, columns)
    w.rows.clear()
    if not more:
        fold_single_go(straining_id)


def yielded(w: RowWriter, straining_id: int, value: Value) -> None:
    """Correct a yield, and with it how much tincture there is."""
    (before_ml,) = w.one("SELECT yield_ml FROM straining WHERE id = ?", straining_id)
    w.set("straining", straining_id, yield_ml=value)
    tincture_id, volume_ml, lost_ml = w.one(
        "SELECT id, volume_ml, lost_ml FROM tincture WHERE straining_id = ?", straining_id
    )
    assert isinstance(value, float | int)
    after_ml = max(volume_ml + value - before_ml, MEASURE_ML)
    w.set("tincture", tincture_id, volume_ml=after_ml)
    if lost_ml > after_ml:  # until it is calculated again
        w.rows["tincture", tincture_id].setdefault("lost_ml", after_ml)


def strained_on(w: RowWriter, straining_id: int, value: Value) -> None:
    """Move a straining to another day."""
    (jar_id,) = w.one("SELECT jar_id FROM straining WHERE id = ?", straining_id)
    (tincture_id,) = w.one("SELECT id FROM tincture WHERE straining_id = ?", straining_id)
    day = stored(value)
    w.set("straining", straining_id, strained_on=day)
    w.set("jar", jar_id, ended_on=day)
    w.set("tincture", tincture_id, made_on=day)


def strained_from(w: RowWriter, straining_id: int, value: Value) -> None:
    """Move a straining, its tincture and its bottles to the jar that it was of."""
    jar_id, day, more = w.one(
        "SELECT jar_id, strained_on, more FROM straining WHERE id = ?", straining_id
    )
    day = w.rows["straining", straining_id].get("strained_on", day)
    rows = w.keeper.rows(
        "SELECT id, code, state, filled_on FROM jar WHERE lower(code) = ?",
        str(value).casefold(),
    )
    if not rows:
        raise Refused(f"No jar has the code {value}.")
    ((to_id, to_code, state, filled_on),) = rows
    if to_id == jar_id:
        return
    if state != JarState.STEEPING:
        raise Refused(
            f"Jar {to_code} was {state} already. If two yields were exchanged, correct both: "
            f"yield=… {to_code}:yield=…"
        )
    for (code,) in w.keeper.rows("SELECT code FROM jar WHERE marc_of_id = ?", jar_id):
        raise Refused(f"The marc of this jar is in jar {code}: undo that first.")
    if filled_on > day:
        raise Refused(
            f"Jar {to_code} was filled after this straining. Correct the day too: strained=…"
        )
    w.set("straining", straining_id, jar_id=to_id)
    w.set("jar", jar_id, state=str(JarState.STEEPING), ended_on=None)
    if more:
        w.set("jar", to_id, state=str(JarState.DRAINED))
        return
    w.set("jar", to_id, state=str(JarState.STRAINED), ended_on=day)
    (tincture_id,) = w.one("SELECT id FROM tincture WHERE straining_id = ?", straining_id)
    w.set("tincture", tincture_id, code=to_code)
    bottles = w.keeper.rows("SELECT id FROM bottle WHERE tincture_id = ? ORDER BY id", tincture_id)
    for number, (bottle_id,) in enumerate(bottles, start=1):
        w.set("bottle", bottle_id, code=bottle_code(to_code, number))


def keep_days_in_order(w: RowWriter, jar_id: int, columns: Row) -> None:
    """Leave the days of a jar as they are where they would not be in order; that is an obstacle."""
    names = ("code", "state", "filled_on", "strain_on", "ended_on")
    row = w.one("SELECT code, state, filled_on, strain_on, ended_on FROM jar WHERE id = ?", jar_id)
    jar = dict(zip(names, row, strict=True)) | columns
    said = wording(w.keeper)
    filled = said.day(date.fromisoformat(jar["filled_on"]))
    found = []
    if jar["filled_on"] > w.keeper.today.isoformat():
        found.append(Obstacle("The filling date is in the future."))
    elif jar["strain_on"] < jar["filled_on"]:
        planned = said.day(date.fromisoformat(jar["strain_on"]))
        other = "strain" if "filled_on" in columns else "filled"
        text = (
            f"Jar {jar['code']} would be filled on {filled}, after the day it was to be strained, "
            f"{planned}. Correct that day too: {other}=…"
        )
        found.append(Obstacle(text, (other,)))
    if jar["ended_on"] is not None and jar["ended_on"] < jar["filled_on"]:
        ended = said.day(date.fromisoformat(jar["ended_on"]))
        other = jar["state"] if "filled_on" in columns else "filled"
        text = (
            f"Jar {jar['code']} would be filled on {filled} but {jar['state']} before that, on "
            f"{ended}. Correct that day too: {other}=…"
        )
        found.append(Obstacle(text, (other,)))
    if found:
        w.obstacles += found
        columns.clear()
