"""A shelf at rest is one complete file: its log is folded in once nobody writes for a while."""

from threading import Thread

from stillroom.errors import StillroomError
from stillroom.keeping.keeper import Keeper
from stillroom.records.failures import plain_failures
from stillroom.records.store import Store

QUIET_LOOKS = 3
"""After how many looks that find the log as it was it is folded in."""
AGAIN_LOOKS = 10
"""After how many more that is tried again, as where another program was reading."""


class AtRest:
    """Watches the log of an open shelf, and folds it in aside from the caller's own work.

    Nothing is written while there is no log.
    """

    def __init__(self, keeper: Keeper) -> None:
        self._keeper = keeper
        self._log: tuple[int, int] | None = None
        self._looks = 0
        self._folding: Thread | None = None

    def look(self) -> None:
        """To be called once a second."""
        log = self._keeper.store.log
        self._looks = self._looks + 1 if log == self._log else 0
        self._log = log
        if log is not None and self._looks % AGAIN_LOOKS == QUIET_LOOKS:
            self._fold()

    def wait(self) -> None:
        """Wait until what has been begun is done."""
        if self._folding is not None:
            self._folding.join()

    def _fold(self) -> None:
        if self._folding is None or not self._folding.is_alive():
            self._folding = Thread(target=_fold, args=(self._keeper.store,), name="fold the log")
            self._folding.start()


def _fold(store: Store) -> None:
    try:
        with plain_failures(), store.db.connection_context():
            store.fold_log()
    except StillroomError:
        pass  # the next act shows what is wrong
