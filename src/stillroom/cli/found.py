"""What a code or a name in a command means."""

from collections.abc import Iterable
from typing import TypeVar

from stillroom.cli.call import Call
from stillroom.errors import Refused
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.views import JarView

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


def named(what: str, name: str, known: Iterable[tuple[str, T]], hint: str = "") -> T:
    """The one of these that has this name, in any case; Refused with the names there are."""
    found = list(known)
    wanted = " ".join(name.split()).casefold()
    meant = [each for called, each in found if called.casefold() == wanted]
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise Refused(f"There is more than one {what} called {name}. {hint}".strip())
    names = ", ".join(called for called, _ in found)
    raise Refused(
        f"There is no {what} called {name}." + (f" Choose from {names}." if names else "")
    )


def shelf_of(call: Call, name: str) -> int:
    """The id of the shelf with this name."""
    from stillroom.keeping.cupboard.cupboard import shelf_rows

    return named("shelf", name, ((row.name, row.shelf_id) for row in shelf_rows(call.keeper)))
