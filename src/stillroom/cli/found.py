"""What a code or a name in a command means."""

from collections.abc import Iterable, Sequence
from typing import TypeVar

from stillroom.cli.call import Call
from stillroom.errors import Refused, choose_from
from stillroom.keeping.bottles.inputs import WATER
from stillroom.keeping.bottles.joining import Taken, all_of
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.cupboard.twins import P, Purchase, purchases_called, ways_to_call
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.views import JarView
from stillroom.keeping.wording import wording
from stillroom.reckoning.states import InputKind

T = TypeVar("T")


def jar_of(keeper: Keeper, code: str) -> JarView:
    """The jar with this code; Refused where it is something else."""
    found = find_code(keeper, code)
    if found.bottle_id is not None or found.jar_id is None:
        what = "bottle" if found.bottle_id is not None else "blend"
        raise Refused(f"{found.code} is a {what}. Give the code of a jar.")
    return jar_view(keeper, found.jar_id)


def bottle_of(keeper: Keeper, code: str) -> int:
    """The id of the bottle with this code; Refused where it is something else."""
    found = find_code(keeper, code)
    if found.bottle_id is None:
        raise Refused(f"{found.code} is a {found.kind}. Give the code of one of its bottles.")
    return found.bottle_id


def batch_of(keeper: Keeper, code: str) -> int:
    """The id of the batch with this code, or of the batch a bottle is of."""
    found = find_code(keeper, code)
    if found.tincture_id is None:
        raise Refused(f"Jar {found.code} hasn't been strained: there is nothing in it to bottle.")
    return found.tincture_id


def taken_of(keeper: Keeper, code: str) -> Taken:
    """All of a bottle, or all that waits to be bottled of a batch, by its code."""
    found = find_code(keeper, code)
    if found.tincture_id is None:
        raise Refused(f"Jar {found.code} hasn't been strained.")
    return all_of(found.bottle_id, found.tincture_id)


def cupboard_of(keeper: Keeper, name: str) -> tuple[InputKind, int | None]:
    """Water, or the spirit or liquid of the cupboard with this name, code or number.

    Refused, with the names there are, where there is none, or more than one that isn't used up.
    """
    if " ".join(name.split()).casefold() == WATER:
        return InputKind.WATER, None
    cupboard: list[Purchase] = [*spirits(keeper), *liquids(keeper)]
    one = only_one(keeper, name, cupboard)
    if one is None:
        known = choose_from(name, [WATER, *(each.name for each in cupboard)])
        raise Refused(f"There is nothing called {name} in the cupboard. {known}")
    if isinstance(one, SpiritView):
        return InputKind.SPIRIT, one.spirit_id
    return InputKind.LIQUID, one.liquid_id


def only_one(keeper: Keeper, name: str, cupboard: Sequence[P]) -> P | None:
    """What goes by this name, code or number; Refused, with the number of each, if several do."""
    said = wording(keeper)
    meant = purchases_called(name, cupboard, said)
    if len(meant) > 1:
        ways = ways_to_call(meant, cupboard, said)
        raise Refused(f"The cupboard has more than one {name}. Write {ways}.")
    return meant[0] if meant else None


def named(what: str, name: str, known: Iterable[tuple[str, T]]) -> T:
    """The one of these that has this name, in any case; Refused with the names there are."""
    found = list(known)
    wanted = " ".join(name.split()).casefold()
    meant = [each for called, each in found if called.casefold() == wanted]
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise Refused(f"There is more than one {what} called {name}.")
    names = choose_from(name, (called for called, _ in found))
    raise Refused(f"There is no {what} called {name}. {names}".strip())


def shelf_of(call: Call, name: str) -> int:
    """The id of the shelf with this name."""
    from stillroom.keeping.cupboard.cupboard import shelf_rows

    return named("shelf", name, ((row.name, row.shelf_id) for row in shelf_rows(call.keeper)))
