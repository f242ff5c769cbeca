"""What must hold across files: no jar without its herb, no strained jar without its straining."""

from stillroom.keeping.interchange.columns import FileTable
from stillroom.keeping.interchange.report import BadLine
from stillroom.keeping.interchange.tables import BOTTLES, JARS, STRAININGS, TINCTURES
from stillroom.keeping.keeper import Keeper

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
        "(SELECT state = 'strained' FROM jar WHERE id = came.id)"
        " <> EXISTS (SELECT 1 FROM straining WHERE jar_id = came.id)",
        "Only a strained jar has a line in strainings.csv, and it must have one.",
    ),
    (
        STRAININGS,
        "jar",
        "NOT EXISTS (SELECT 1 FROM tincture WHERE straining_id = came.id)",
        "The straining has no tincture. Add its line to tinctures.csv.",
    ),
    (
        TINCTURES,
        "jar",
        "(SELECT straining_id IS NULL FROM tincture WHERE id = came.id)"
        " <> EXISTS (SELECT 1 FROM blend_part WHERE tincture_id = came.id)",
        "A tincture comes either from a jar or from lines in blend_parts.csv.",
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
            WITH RECURSIVE made_of (blend_id, part_id) AS (
                SELECT p.tincture_id, b.tincture_id FROM blend_part p
                JOIN movement m ON m.id = p.movement_id JOIN bottle b ON b.id = m.bottle_id
                UNION
                SELECT made_of.blend_id, b.tincture_id FROM made_of
                JOIN blend_part p ON p.tincture_id = made_of.part_id
                JOIN movement m ON m.id = p.movement_id JOIN bottle b ON b.id = m.bottle_id)
            SELECT blend_id FROM made_of WHERE blend_id = part_id)""",
        "The blend contains itself. Check its lines in blend_parts.csv.",
    ),
)


def incomplete_lines(keeper: Keeper) -> list[BadLine]:
    """The lines just read that something is missing to."""
    return [
        BadLine(table.file, line, column, message)
        for table, column, condition, message in _CHECKS
        for (line,) in keeper.rows(
            f"SELECT line FROM temp.came AS came WHERE file = ? AND is_new AND {condition}"
            " ORDER BY line",
            table.name,
        )
    ]
