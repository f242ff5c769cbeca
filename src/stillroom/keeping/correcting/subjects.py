"""Find what is to be corrected, and name it."""

from datetime import date

from stillroom.dates import parse_day
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.correcting.kinds import NOT_THERE, Subject, SubjectKind
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.wording import wording


def title_of(keeper: Keeper, subject: Subject) -> str:
    """Its name and code, for a title; a spirit among several of its name with its day."""
    rows = keeper.rows(_TITLES[subject.kind], subject.row_id)
    if not rows:
        raise Refused(NOT_THERE)
    name = str(rows[0][0])
    if subject.kind not in _NUMBERED:
        return name
    # By its number: the name as read may differ from what is in a file from someone else.
    table = str(subject.kind)
    same = keeper.rows(
        f"SELECT id, bought_on, code FROM {table} "
        f"WHERE name = (SELECT name FROM {table} WHERE id = ?) COLLATE NOCASE",
        subject.row_id,
    )
    if len(same) == 1:
        return name
    days = {row_id: day for row_id, day, _ in same}
    if code := next(code for row_id, _, code in same if row_id == subject.row_id):
        return f"{name} {code}"
    day = days[subject.row_id]
    bought = f" bought {wording(keeper).day(date.fromisoformat(day))}" if day else ""
    is_alone = bought and list(days.values()).count(day) == 1
    if is_alone:
        return f"{name}{bought}"
    return f"{name}{bought}, {_NUMBERED[subject.kind]} {subject.row_id}"


def code_of(keeper: Keeper, subject: Subject) -> str:
    """Its code; of what has none the name, or the number of a spirit among several of its name."""
    rows = keeper.rows(_CODES[subject.kind], subject.row_id)
    if not rows:
        raise Refused(NOT_THERE)
    name = str(rows[0][0])
    if subject.kind in _NUMBERED and title_of(keeper, subject) != name:
        return f"{_NUMBERED[subject.kind]} {subject.row_id}"
    return name


def subject_of_code(keeper: Keeper, text: str) -> Subject:
    """What on the shelf or in the cupboard a code or name refers to.

    A strained jar and its tincture are one. Refused where there is none, or several.
    """
    try:
        found = find_code(keeper, text)
    except Refused:
        named = _named(keeper, text)
        if named is None:
            raise
        return named
    if found.bottle_id is not None:
        return Subject(SubjectKind.BOTTLE, found.bottle_id)
    if found.jar_id is not None:
        return Subject(SubjectKind.JAR, found.jar_id)
    assert found.tincture_id is not None
    return Subject(SubjectKind.BLEND, found.tincture_id)


def subject_of_tincture(keeper: Keeper, tincture_id: int) -> Subject:
    """The jar that a tincture was strained from, or the blend that it is."""
    rows = keeper.rows(
        """SELECT s.jar_id FROM tincture t LEFT JOIN straining s ON s.id = t.straining_id
           WHERE t.id = ?""",
        tincture_id,
    )
    if not rows:
        raise Refused(NOT_THERE)
    ((jar_id,),) = rows
    if jar_id is None:
        return Subject(SubjectKind.BLEND, tincture_id)
    return Subject(SubjectKind.JAR, jar_id)


def subjects_of_event(keeper: Keeper, event_id: int) -> tuple[Subject, ...]:
    """What a line of the ledger is about, if it is still there; the nearest first."""
    rows = keeper.rows(
        """SELECT (SELECT id FROM bottle WHERE id = e.bottle_id),
                  (SELECT id FROM jar WHERE id = e.jar_id),
                  (SELECT id FROM tincture WHERE id = e.tincture_id),
                  (SELECT id FROM spirit WHERE id = e.spirit_id),
                  (SELECT id FROM herb WHERE id = e.herb_id),
                  (SELECT id FROM herb_lot WHERE id = e.lot_id)
           FROM event e WHERE e.id = ?""",
        event_id,
    )
    if not rows:
        raise Refused("That entry no longer exists.")
    bottle_id, jar_id, tincture_id, spirit_id, herb_id, lot_id = rows[0]
    found = [
        Subject(kind, row_id)
        for kind, row_id in (
            (SubjectKind.BOTTLE, bottle_id),
            (SubjectKind.JAR, jar_id),
            (SubjectKind.SPIRIT, spirit_id),
            (SubjectKind.LOT, lot_id),
            (SubjectKind.HERB, herb_id),
        )
        if row_id is not None
    ]
    if tincture_id is not None:
        found.append(subject_of_tincture(keeper, tincture_id))
    return tuple(dict.fromkeys(found))


def _named(keeper: Keeper, text: str) -> Subject | None:
    wanted = " ".join(text.split()).casefold()
    coded = [
        Subject(SubjectKind(kind), row_id)
        for kind, row_id, code in keeper.rows(
            """SELECT 'lot', id, code FROM herb_lot
               UNION ALL SELECT 'spirit', id, code FROM spirit WHERE code IS NOT NULL
               UNION ALL SELECT 'liquid', id, code FROM liquid WHERE code IS NOT NULL"""
        )
        if wanted == code.casefold()
    ]
    if len(coded) == 1:
        return coded[0]
    found = {
        Subject(SubjectKind(kind), row_id): day
        for kind, row_id, name, day in keeper.rows(
            """SELECT 'spirit', id, name, coalesce(bought_on, '') FROM spirit
               UNION ALL SELECT 'liquid', id, name, coalesce(bought_on, '') FROM liquid
               UNION ALL SELECT 'herb', id, name, '' FROM herb"""
        )
        if wanted in (name.casefold(), f"{kind} {name}".casefold())
        or wanted == f"{_NUMBERED.get(SubjectKind(kind))} {row_id}"
        or (day and _is_bought_on(keeper, wanted, name.casefold(), day))
    }
    if len(found) <= 1:
        return next(iter(found), None)
    kinds = sorted({str(subject.kind) for subject in found})
    if len(kinds) > 1:
        raise Refused(
            f"A {' and a '.join(reversed(kinds))} are called {text.strip()}. "
            f"Write {' or '.join(kinds)} first."
        )
    said = wording(keeper)
    which = ", ".join(
        f"{_NUMBERED[subject.kind]} {subject.row_id}"
        + (f" ({said.day(date.fromisoformat(day))})" if day else "")
        for subject, day in sorted(found.items(), key=lambda each: each[0].row_id)
    )
    raise Refused(
        f"Several entries of the cupboard are called {text.strip()}. Write the number of one, or "
        f"add the day of purchase: {which}."
    )


def _is_bought_on(keeper: Keeper, wanted: str, name: str, day: str) -> bool:
    """Whether a name is followed by the day of purchase, in any form of a date."""
    if not wanted.startswith(f"{name} "):
        return False
    written = wanted.removeprefix(name).strip().removeprefix("bought ")
    try:
        return parse_day(written, keeper.today, past=True).isoformat() == day
    except NotUnderstood:
        return False


_NUMBERED = {SubjectKind.SPIRIT: "number", SubjectKind.LIQUID: "liquid number"}
"""What may be there several times by one name, with the word before its number."""
_TITLES = {
    SubjectKind.JAR: """SELECT (SELECT h.name FROM charge_line l JOIN herb h ON h.id = l.herb_id
                                WHERE l.jar_id = j.id ORDER BY l.id LIMIT 1) || ' ' || j.code
                        FROM jar j WHERE j.id = ?""",
    SubjectKind.BLEND: "SELECT name || ' ' || code FROM tincture WHERE id = ?",
    SubjectKind.BOTTLE: "SELECT code FROM bottle WHERE id = ?",
    SubjectKind.SPIRIT: "SELECT name FROM spirit WHERE id = ?",
    SubjectKind.HERB: "SELECT name FROM herb WHERE id = ?",
    SubjectKind.LOT: """SELECT h.name || ' ' || l.code FROM herb_lot l
                        JOIN herb h ON h.id = l.herb_id WHERE l.id = ?""",
    SubjectKind.LIQUID: "SELECT name FROM liquid WHERE id = ?",
}
_CODES = _TITLES | {
    SubjectKind.JAR: "SELECT code FROM jar WHERE id = ?",
    SubjectKind.BLEND: "SELECT code FROM tincture WHERE id = ?",
    SubjectKind.LOT: "SELECT code FROM herb_lot WHERE id = ?",
}
