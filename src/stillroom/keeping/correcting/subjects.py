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
    if subject.kind is not SubjectKind.SPIRIT:
        return name
    # By its number: the name as read may differ from what is in a file from someone else.
    same = keeper.rows(
        "SELECT id, bought_on FROM spirit WHERE name = (SELECT name FROM spirit WHERE id = ?) "
        "COLLATE NOCASE",
        subject.row_id,
    )
    if len(same) == 1:
        return name
    days = dict(same)
    day = days[subject.row_id]
    bought = f" bought {wording(keeper).day(date.fromisoformat(day))}" if day else ""
    is_alone = bought and list(days.values()).count(day) == 1
    return f"{name}{bought}" if is_alone else f"{name}{bought}, number {subject.row_id}"


def code_of(keeper: Keeper, subject: Subject) -> str:
    """Its code; of what has none the name, or the number of a spirit among several of its name."""
    rows = keeper.rows(_CODES[subject.kind], subject.row_id)
    if not rows:
        raise Refused(NOT_THERE)
    name = str(rows[0][0])
    if subject.kind is SubjectKind.SPIRIT and title_of(keeper, subject) != name:
        return f"number {subject.row_id}"
    return name


def subject_of_code(keeper: Keeper, text: str) -> Subject:
    """The jar, blend, bottle, spirit or herb that a code or name refers to.

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
                  (SELECT id FROM herb WHERE id = e.herb_id)
           FROM event e WHERE e.id = ?""",
        event_id,
    )
    if not rows:
        raise Refused("That entry no longer exists.")
    bottle_id, jar_id, tincture_id, spirit_id, herb_id = rows[0]
    found = [
        Subject(kind, row_id)
        for kind, row_id in (
            (SubjectKind.BOTTLE, bottle_id),
            (SubjectKind.JAR, jar_id),
            (SubjectKind.SPIRIT, spirit_id),
            (SubjectKind.HERB, herb_id),
        )
        if row_id is not None
    ]
    if tincture_id is not None:
        found.append(subject_of_tincture(keeper, tincture_id))
    return tuple(dict.fromkeys(found))


def _named(keeper: Keeper, text: str) -> Subject | None:
    wanted = " ".join(text.split()).casefold()
    found = {
        Subject(SubjectKind(kind), row_id): day
        for kind, row_id, name, day in keeper.rows(
            """SELECT 'spirit', id, name, coalesce(bought_on, '') FROM spirit
               UNION ALL SELECT 'herb', id, name, '' FROM herb"""
        )
        if wanted in (name.casefold(), f"{kind} {name}".casefold())
        or (kind == SubjectKind.SPIRIT and wanted == f"number {row_id}")
        or (day and _is_bought_on(keeper, wanted, name.casefold(), day))
    }
    if len(found) <= 1:
        return next(iter(found), None)
    if any(subject.kind is SubjectKind.HERB for subject in found):
        raise Refused(f"A spirit and a herb are called {text.strip()}. Write herb or spirit first.")
    said = wording(keeper)
    which = ", ".join(
        f"number {subject.row_id}" + (f" ({said.day(date.fromisoformat(day))})" if day else "")
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


_TITLES = {
    SubjectKind.JAR: """SELECT (SELECT h.name FROM charge_line l JOIN herb h ON h.id = l.herb_id
                                WHERE l.jar_id = j.id ORDER BY l.id LIMIT 1) || ' ' || j.code
                        FROM jar j WHERE j.id = ?""",
    SubjectKind.BLEND: "SELECT name || ' ' || code FROM tincture WHERE id = ?",
    SubjectKind.BOTTLE: "SELECT code FROM bottle WHERE id = ?",
    SubjectKind.SPIRIT: "SELECT name FROM spirit WHERE id = ?",
    SubjectKind.HERB: "SELECT name FROM herb WHERE id = ?",
}
_CODES = _TITLES | {
    SubjectKind.JAR: "SELECT code FROM jar WHERE id = ?",
    SubjectKind.BLEND: "SELECT code FROM tincture WHERE id = ?",
}
