"""Judge what a correction leaves of the cupboard: no more is used than there was."""

from collections.abc import Iterator

from stillroom.keeping.correcting.kinds import Obstacle, Subject, SubjectKind
from stillroom.keeping.correcting.subjects import code_of
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_G, EMPTY_ML
from stillroom.keeping.wording import Wording


def judge_cupboard(keeper: Keeper, said: Wording, subject: Subject) -> list[Obstacle]:
    """What can't be of the cupboard's spirits, other liquids and lots of herb."""
    return [*_spirits(keeper, said, subject), *_liquids(keeper, said), *_lots(keeper, said)]


def _liquids(keeper: Keeper, said: Wording) -> Iterator[Obstacle]:
    """No more of another liquid is used than was bought."""
    for name, bought_ml, left_ml in keeper.rows(
        """SELECT l.name, l.bought_ml, c.left_ml FROM liquid l
           JOIN liquid_left c ON c.liquid_id = l.id WHERE c.left_ml < ?""",
        -EMPTY_ML,
    ):
        yield Obstacle(
            f"{said.volume(bought_ml - left_ml)} of {name} were poured, but only "
            f"{said.volume(bought_ml)} were bought. Change what was bought first, in the "
            "Cupboard."
        )


def _lots(keeper: Keeper, said: Wording) -> Iterator[Obstacle]:
    """No more of a lot of herb is taken than there was."""
    for code, left_g in keeper.rows(
        """SELECT l.code, s.left_g FROM in_store s JOIN herb_lot l ON l.id = s.lot_id
           WHERE s.left_g < ?""",
        -EMPTY_G,
    ):
        yield Obstacle(
            f"Lot {code} lacks {said.mass(-left_g)} for this. If it held more, weigh it "
            "first, in the Cupboard."
        )


def _spirits(keeper: Keeper, said: Wording, subject: Subject) -> Iterator[Obstacle]:
    """No more of a spirit is poured than was bought."""
    rows = keeper.rows(
        """SELECT s.id, s.name, s.bought_ml, s.bought_ml - c.left_ml FROM spirit s
           JOIN spirit_left c ON c.spirit_id = s.id WHERE c.left_ml < ?""",
        -EMPTY_ML,
    )
    for spirit_id, name, bought_ml, poured_ml in rows:
        if poured_ml > bought_ml + EMPTY_ML:
            own = subject == Subject(SubjectKind.SPIRIT, spirit_id)
            code = code_of(keeper, Subject(SubjectKind.SPIRIT, spirit_id))
            field = "volume" if own else f"{code}:volume"
            yield Obstacle(
                f"{said.volume(poured_ml)} of {name} were poured, but only "
                f"{said.volume(bought_ml)} would be bought. Correct the amount bought "
                f"too: {field}=…",
                (field,),
            )
