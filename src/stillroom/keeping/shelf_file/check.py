"""Check the shelf: recompute each rule from the ledger, independently of the triggers."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from functools import partial
from graphlib import CycleError, TopologicalSorter

from stillroom.errors import StoreError
from stillroom.keeping.correcting.differences import differences as figures_that_differ
from stillroom.keeping.cupboard.lot_reading import entries_of
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import LABELS, odd_settings
from stillroom.keeping.shelf_file.file_checks import FILE_CHECKS, RESTORE, Finding
from stillroom.keeping.tolerances import MEASURE_G, MEASURE_ML
from stillroom.keeping.wording import wording
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import JarState, MovementKind
from stillroom.records.shelf_file import tables_with_broken_rules

BLEND_SLACK = 1.01
"""A blend may come to a hundredth more than its parts: no mixture swells by as much."""

_COUNT = "Check the bottle and correct its amount by counting or weighing it in."


def check(keeper: Keeper) -> list[Finding]:
    """Everything that is wrong with the shelf; an empty list if nothing is."""
    try:
        # One transaction, so that another program's changes do not show in the middle.
        with keeper.store.db.atomic("DEFERRED"):
            broken = [finding for part in FILE_CHECKS for finding in part(keeper)]
            # What SQLite itself calls broken is not read any further.
            return broken or [finding for part in _LEDGER for finding in part(keeper)]
    except StoreError as error:
        return [Finding(str(error), RESTORE)]


def broken_values(keeper: Keeper) -> str:
    """In a sentence, which tables hold a value that they cannot have, or what else is damaged.

    Blank where nothing is. An index that is damaged gives impossible values for sound rows.
    """
    path = keeper.store.path
    if tables := tables_with_broken_rules(path):
        return f"{path} holds an impossible value, in {', '.join(tables)}. Restore a backup."
    ((said,), *_) = keeper.rows("PRAGMA integrity_check(1)")
    return "" if said == "ok" else f"{path} is damaged: {said}. Restore a backup."


def _volumes(keeper: Keeper) -> Callable[[float], str]:
    return partial(wording(keeper).to_a_hundredth, Kind.VOLUME)


def _jars(keeper: Keeper) -> Iterator[Finding]:
    rows = keeper.rows(
        """SELECT j.code, j.state, j.ended_on, s.strained_on, s.more, t.code, t.made_on,
                  (SELECT count(*) FROM charge_line WHERE jar_id = j.id)
           FROM jar j LEFT JOIN straining s ON s.jar_id = j.id
           LEFT JOIN tincture t ON t.straining_id = s.id ORDER BY j.id"""
    )
    for code, state, ended, strained, more, tincture, made, herbs in rows:
        # A jar without liquid is valid: a notebook may leave out what was poured on.
        if not herbs:
            yield Finding(f"Jar {code} has no herb.", "Correct the jar, or discard it.")
        after = {None: None, 0: JarState.STRAINED, 1: JarState.DRAINED}[more]
        if (state if state in _WITH_STRAINING else None) != after:
            yield Finding(f"Jar {code} is {state}, but its straining record disagrees.", RESTORE)
        elif strained is None:
            continue
        elif more:
            if tincture is not None:
                said = f"Jar {code} is still to be pressed, but has become a tincture."
                yield Finding(said, RESTORE)
        elif tincture is None:
            yield Finding(f"Jar {code} was strained, but its tincture is missing.", RESTORE)
        elif tincture != code:
            yield Finding(f"The tincture of jar {code} is called {tincture}.", RESTORE)
        elif state == JarState.STRAINED and not ended == strained == made:
            yield Finding(
                f"Jar {code} ended on {ended}, was strained on {strained} and became a tincture "
                f"on {made}. These must be the same day.",
                RESTORE,
            )


_WITH_STRAINING = (JarState.STRAINED, JarState.DRAINED)


def _goes(keeper: Keeper) -> Iterator[Finding]:
    """A straining in several goes is their sum, on the last day and by the last method."""
    ml = _volumes(keeper)
    goes: dict[int, list[tuple[str, float, str]]] = defaultdict(list)
    for straining_id, *go in keeper.rows(
        """SELECT straining_id, strained_on, yield_ml, pressing FROM straining_go
           ORDER BY strained_on, id"""
    ):
        goes[straining_id].append((go[0], go[1], go[2]))
    for straining_id, code, more, strained, yield_ml, pressing in keeper.rows(
        """SELECT s.id, j.code, s.more, s.strained_on, s.yield_ml, s.pressing
           FROM straining s JOIN jar j ON j.id = s.jar_id ORDER BY s.id"""
    ):
        came = goes[straining_id]
        if not came:
            if more:
                yield Finding(
                    f"What was strained from jar {code} before pressing is missing.", RESTORE
                )
            continue
        sum_ml = sum(go[1] for go in came)
        if abs(sum_ml - yield_ml) > MEASURE_ML:
            yield Finding(
                f"The goes of jar {code} come to {ml(sum_ml)}, but its straining is "
                f"{ml(yield_ml)}.",
                RESTORE,
            )
        if (came[-1][0], came[-1][2]) != (strained, pressing):
            yield Finding(f"The last go of jar {code} isn't that of its straining.", RESTORE)


def _shakes(keeper: Keeper) -> Iterator[Finding]:
    # By the index of jars and days; turns from 1 to their number, none of them twice.
    for jar_id, day in keeper.rows(
        """SELECT jar_id, day FROM shake GROUP BY jar_id, day
           HAVING min(turn) <> 1 OR max(turn) <> count(*) OR count(DISTINCT turn) <> count(*)"""
    ):
        turns = keeper.rows(
            """SELECT j.code, s.turn FROM shake s JOIN jar j ON j.id = s.jar_id
               WHERE s.jar_id = ? AND s.day = ? ORDER BY s.turn""",
            jar_id,
            day,
        )
        said = ", ".join(str(turn) for _, turn in turns)
        yield Finding(f"The shakes of jar {turns[0][0]} on {day} are numbered {said}.", RESTORE)


def _moments(keeper: Keeper) -> Iterator[Finding]:
    """A local day begins and ends less than a day apart from the day in UTC."""
    corrected = "SELECT 1 FROM journal_change WHERE record = 'movement' AND row_id = movement.id"
    for table, must_match, condition in (
        ("shake", True, "1"),
        ("event", True, "1"),
        ("movement", False, f"NOT EXISTS ({corrected})"),  # its day may have been corrected
    ):
        # A movement may be written down long after its day, but not before it.
        for row_id, at, day in keeper.rows(
            f"""SELECT id, at, day FROM {table}
                WHERE (julianday(day) - julianday(substr(at, 1, 10)) > 1
                       OR ({must_match:d} AND julianday(day) - julianday(substr(at, 1, 10)) < -1))
                      AND {condition}"""
        ):
            yield Finding(
                f"Line {row_id} of {table} was written at {at} for {day}.",
                "Correct this computer's clock. If the line is recent, you can undo it.",
            )


def _spirits(keeper: Keeper) -> Iterator[Finding]:
    ml = _volumes(keeper)
    rows = keeper.rows(
        """SELECT s.name, s.bought_ml, c.left_ml FROM spirit s
           JOIN spirit_left c ON c.spirit_id = s.id WHERE s.bought_ml IS NOT NULL
           UNION ALL
           SELECT l.name, l.bought_ml, c.left_ml FROM liquid l
           JOIN liquid_left c ON c.liquid_id = l.id WHERE l.bought_ml IS NOT NULL"""
    )
    for name, bought, left in rows:
        if left < -MEASURE_ML:
            yield Finding(
                f"{ml(bought - left)} of {name} was poured, but only {ml(bought)} was bought.",
                "Correct the amount bought, in the cupboard.",
            )


def _lots(keeper: Keeper) -> Iterator[Finding]:
    """What each lot of herb holds by its ledger, and whether its jars agree with it."""
    shown = wording(keeper).to_a_hundredth
    codes = dict(keeper.rows("SELECT id, code FROM herb_lot ORDER BY id"))
    for lot_id, entries in entries_of(keeper, codes).items():
        left_g = entries[-1].left_g if entries else None
        if left_g is not None and left_g < -MEASURE_G:
            yield Finding(
                f"{shown(Kind.MASS, -left_g)} more of lot {codes[lot_id]} was taken than there "
                "was.",
                "Weigh the lot, or correct one of its facts.",
            )
    for code, jar in keeper.rows(
        """SELECT l.code, j.code FROM charge_line c JOIN herb_lot l ON l.id = c.lot_id
           JOIN jar j ON j.id = c.jar_id WHERE (c.herb_id, c.part) IS NOT (l.herb_id, l.part)"""
    ):
        yield Finding(
            f"Jar {jar} has herb of lot {code}, which is of another herb or part.",
            "Correct the herb of the jar, or of the lot.",
        )
    for code, parent in keeper.rows(
        """SELECT l.code, f.code FROM herb_lot l JOIN herb_lot f ON f.id = l.from_lot_id
           WHERE (l.herb_id, l.part) IS NOT (f.herb_id, f.part) OR f.id > l.id"""
    ):
        yield Finding(
            f"Lot {code} was laid out of lot {parent}, which is of another herb or part.",
            "Correct the herb of one of them.",
        )


def _tinctures(keeper: Keeper) -> Iterator[Finding]:
    ml = _volumes(keeper)
    rows = keeper.rows(
        """SELECT t.code, t.volume_ml, t.lost_ml, s.yield_ml, u.left_ml,
                  coalesce((SELECT sum(volume_ml) FROM loss WHERE tincture_id = t.id), 0)
           FROM tincture t LEFT JOIN straining s ON s.id = t.straining_id
           JOIN unbottled u ON u.tincture_id = t.id ORDER BY t.id"""
    )
    for code, volume, lost, strained, left, losses in rows:
        used = volume - lost - left
        if abs(lost - losses) > MEASURE_ML:
            yield Finding(
                f"Tincture {code} has lost {ml(lost)}, but its losses total {ml(losses)}.",
                RESTORE,
            )
        if strained is not None and volume > strained + MEASURE_ML:
            yield Finding(
                f"Tincture {code} is {ml(volume)}, but only {ml(strained)} was strained.",
                RESTORE,
            )
        if left < -MEASURE_ML:
            yield Finding(
                f"{ml(used)} of tincture {code} was bottled and {ml(lost)} lost, "
                f"but there was only {ml(volume)}.",
                RESTORE,
            )


def _bottles(keeper: Keeper) -> Iterator[Finding]:
    ml = _volumes(keeper)
    ledgers: dict[int, list[tuple[str, float]]] = defaultdict(list)
    for bottle_id, kind, volume in keeper.rows(
        "SELECT bottle_id, kind, volume_ml FROM movement ORDER BY id"
    ):
        ledgers[bottle_id].append((kind, volume))
    for bottle_id, code, size in keeper.rows("SELECT id, code, size_ml FROM bottle"):
        kinds = [kind for kind, _ in ledgers[bottle_id]]
        if kinds.count(MovementKind.FILL) != 1 or kinds[0] != MovementKind.FILL:
            yield Finding(
                f"Bottle {code} must have exactly one filling, as its first entry.", RESTORE
            )
        held = 0.0
        for kind, volume in ledgers[bottle_id]:
            held += volume
            if not -MEASURE_ML <= held <= size + MEASURE_ML:
                yield Finding(
                    f"Bottle {code} of {ml(size)} held {ml(held)} after a {kind}.", _COUNT
                )


def _unfinished(keeper: Keeper) -> Iterator[Finding]:
    """What is marked as unfinished is what follows from the ledgers, and nothing else."""
    for marks, ledger in (("in_stock", "holding"), ("to_bottle", "waiting")):
        if keeper.rows(
            f"""SELECT 1 FROM (SELECT * FROM {marks} EXCEPT SELECT * FROM {ledger})
                UNION ALL
                SELECT 1 FROM (SELECT * FROM {ledger} EXCEPT SELECT * FROM {marks}) LIMIT 1"""
        ):
            yield Finding(f"The list {marks} disagrees with the ledger.", RESTORE)


def _poured_together(keeper: Keeper) -> Iterator[Finding]:
    ml = _volumes(keeper)
    rows = keeper.rows(
        """SELECT t.code, sum(m.volume_ml) FROM movement m JOIN bottle b ON b.id = m.bottle_id
           JOIN tincture t ON t.id = b.tincture_id
           WHERE m.kind = 'pour together' GROUP BY t.id"""
    )
    for code, left_over in rows:
        if abs(left_over) > MEASURE_ML:
            sign = "+" if left_over > 0 else ""
            yield Finding(
                f"Combining bottles of {code} changed their total by {sign}{ml(left_over)}.",
                _COUNT,
            )


def _blends(keeper: Keeper) -> Iterator[Finding]:
    ml = _volumes(keeper)
    parts: dict[int, float] = defaultdict(float)
    sources: dict[int, set[int]] = defaultdict(set)
    for tincture_id, from_id, volume, kind, bottle in keeper.rows(
        """SELECT p.tincture_id, coalesce(p.source_id, b.tincture_id),
                  coalesce(p.volume_ml, -m.volume_ml), m.kind, b.code FROM batch_input p
           LEFT JOIN movement m ON m.id = p.movement_id LEFT JOIN bottle b ON b.id = m.bottle_id"""
    ):
        parts[tincture_id] += volume
        if from_id is not None:
            sources[tincture_id].add(from_id)
        if kind not in (None, MovementKind.BLEND):
            yield Finding(f"A part of a blend left bottle {bottle} as a {kind}.", RESTORE)
    for tincture_id, code, volume, is_blend in keeper.rows(
        "SELECT id, code, volume_ml, straining_id IS NULL FROM tincture"
    ):
        if bool(is_blend) != (tincture_id in parts):
            lack = "has neither straining nor parts" if is_blend else "has both straining and parts"
            yield Finding(f"Tincture {code} {lack}.", RESTORE)
        elif is_blend and volume > parts[tincture_id] * BLEND_SLACK + MEASURE_ML:
            yield Finding(
                f"Blend {code} is {ml(volume)}, but its parts total {ml(parts[tincture_id])}.",
                RESTORE,
            )
    for (bottle,) in keeper.rows(
        """SELECT b.code FROM movement m JOIN bottle b ON b.id = m.bottle_id
           WHERE m.kind = 'blend'
                 AND NOT EXISTS (SELECT 1 FROM batch_input WHERE movement_id = m.id)"""
    ):
        yield Finding(f"Liquid left bottle {bottle} for a blend that doesn't exist.", RESTORE)
    try:
        TopologicalSorter(sources).prepare()
    except CycleError:
        yield Finding("Some blends contain each other.", RESTORE)


def _figures(keeper: Keeper) -> Iterator[Finding]:
    """Every stored figure, calculated again from the facts."""
    try:
        found = figures_that_differ(keeper)
    except (ValueError, CycleError):  # the facts themselves can't be: another rule says which
        return
    for figure in found:
        yield Finding(
            f"The {figure.figure} of {figure.code} is stored as {figure.stored}, but is calculated "
            f"as {figure.calculated}.",
            "Correct one of its facts, which calculates it again, or restore a backup made before "
            "this happened.",
        )


def _codes(keeper: Keeper) -> Iterator[Finding]:
    for (code,) in keeper.rows(
        """SELECT t.code FROM tincture t JOIN jar j ON j.code = t.code
           WHERE t.straining_id IS NULL"""
    ):
        yield Finding(f"A jar and a blend have the same code, {code}.", RESTORE)


def _formulas(keeper: Keeper) -> Iterator[Finding]:
    for (name,) in keeper.rows(
        "SELECT name FROM formula WHERE id NOT IN (SELECT formula_id FROM formula_part)"
    ):
        yield Finding(f"Formula {name} has no parts.", RESTORE)


def _settings(keeper: Keeper) -> Iterator[Finding]:
    for name in odd_settings(keeper):
        yield Finding(
            f"The setting {LABELS[name]} can't be {keeper.setting(name)}.",
            "Until you set it again, the default is used.",
        )


def _undo_log(keeper: Keeper) -> Iterator[Finding]:
    remedy = "The records are not affected, only undo. Restore a backup if you need to undo."
    if keeper.rows("SELECT action_id, rewinding FROM undo_state") != [(None, 0)]:
        yield Finding("The undo log was cut short in the middle of an action.", remedy)
    for action_id, title in keeper.rows(
        """SELECT id, title FROM action
           WHERE steps <> (SELECT count(*) FROM undo_step WHERE action_id = action.id)"""
    ):
        yield Finding(f"Steps to undo are missing for action {action_id}, “{title}”.", remedy)
    for action_id, title in keeper.rows(
        """SELECT id, title FROM action
           WHERE undone AND id < (SELECT max(id) FROM action WHERE NOT undone)"""
    ):
        yield Finding(f"Action {action_id}, “{title}”, was undone out of order.", remedy)


_LEDGER: tuple[Callable[[Keeper], Iterator[Finding]], ...] = (
    _jars,
    _goes,
    _shakes,
    _moments,
    _spirits,
    _lots,
    _tinctures,
    _bottles,
    _unfinished,
    _poured_together,
    _blends,
    _figures,
    _codes,
    _formulas,
    _settings,
    _undo_log,
)
