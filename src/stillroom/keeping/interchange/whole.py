"""What must hold across files: no jar without its herb, no strained jar without its straining."""

from stillroom.keeping.interchange.columns import FileTable
from stillroom.keeping.interchange.report import BadLine
from stillroom.keeping.interchange.tables import (
    BATCH_INPUTS,
    BLEND_PARTS,
    BOTTLES,
    JARS,
    STRAININGS,
    TINCTURES,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import MEASURE_ML

_CHECKS: tuple[tuple[FileTable, str, str, str], ...] = (
    (
        JARS,
        "code",
        "NOT EXISTS (SELECT 1 FROM charge_line WHERE jar_id = came.id)",
        "The jar has no herb. Add its line to herbs_in_jars.csv.",
    ),
    (
        JARS,
        "state",
        "(SELECT CASE state WHEN 'strained' THEN 0 WHEN 'drained' THEN 1 ELSE 2 END FROM jar"
        " WHERE id = came.id) <> coalesce((SELECT more FROM straining WHERE jar_id = came.id), 2)",
        "Only a strained jar has a line in strainings.csv, or a drained one, with yes under more. "
        "Add the line, or correct the state.",
    ),
    (
        STRAININGS,
        "jar",
        "(SELECT more FROM straining WHERE id = came.id)"
        " = EXISTS (SELECT 1 FROM tincture WHERE straining_id = came.id)",
        "A straining must have a line in tinctures.csv, unless more is yes.",
    ),
    (
        STRAININGS,
        "yield_ml",
        f"""abs((SELECT yield_ml FROM straining WHERE id = came.id)
            - (SELECT sum(yield_ml) FROM straining_go WHERE straining_id = came.id))
            > {MEASURE_ML}""",
        "It isn't the sum of its lines in straining_goes.csv.",
    ),
    (
        TINCTURES,
        "jar",
        "(SELECT straining_id IS NULL FROM tincture WHERE id = came.id)"
        " <> EXISTS (SELECT 1 FROM batch_input WHERE tincture_id = came.id)",
        "A tincture must come either from a jar or from lines in {INPUTS}.",
    ),
    (
        TINCTURES,
        "lost_ml",
        "abs((SELECT lost_ml FROM tincture WHERE id = came.id)"
        " - (SELECT coalesce(sum(volume_ml), 0) FROM loss WHERE tincture_id = came.id))"
        f" > {MEASURE_ML}",
        "It isn't the sum of its lines in losses.csv.",
    ),
    (
        BOTTLES,
        "code",
        "NOT EXISTS (SELECT 1 FROM movement WHERE bottle_id = came.id AND kind = 'fill')",
        "The bottle was never filled. Add its filling to movements.csv.",
    ),
    (
        TINCTURES,
        "code",
        """came.id IN (
            WITH RECURSIVE step (to_id, from_id) AS MATERIALIZED (
                SELECT to_id, from_id FROM flow WHERE to_id IS NOT NULL),
            made_of (to_id, from_id) AS (
                SELECT to_id, from_id FROM step
                UNION
                SELECT made_of.to_id, step.from_id FROM made_of
                JOIN step ON step.to_id = made_of.from_id)
            SELECT to_id FROM made_of WHERE to_id = from_id)""",
        "The batch contains itself. Check its lines in {INPUTS}.",
    ),
)

CHECKED = frozenset(table.name for table, *_ in _CHECKS)
"""The files whose lines are checked."""


def incomplete_lines(keeper: Keeper, version: int) -> list[BadLine]:
    """The lines just read, of a folder of some format, that something is missing to."""
    inputs = BATCH_INPUTS.file if version > 1 else BLEND_PARTS.file
    return [
        BadLine(table.file, line, column, message.format(INPUTS=inputs))
        for table, column, condition, message in _CHECKS
        for (line,) in keeper.rows(
            f"SELECT line FROM temp.came AS came WHERE file = ? AND is_new AND {condition}"
            " ORDER BY line",
            table.name,
        )
    ]
