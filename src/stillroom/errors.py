"""The failures a person is told about, in plain words."""


class StillroomError(Exception):
    """Something a person asked for cannot be done; `str()` is the sentence to show them."""


class Refused(StillroomError):
    """A use case was asked for something the shelf cannot hold true. Nothing was written."""


class NeedsConfirmation(Refused):
    """Unlikely but possible: ask once, then call again with the matching `confirmed` argument."""


class DateInDoubt(NeedsConfirmation):
    """This computer's date may be wrong: ask once, then `Keeper.trust_date` and call again."""


class AnothersAct(NeedsConfirmation):
    """What undo would take back was done by another program: ask once, then call again."""

    def __init__(self, question: str, act: tuple[int, str]) -> None:
        super().__init__(question)
        self.act = act
        """Which act is meant, for the second call."""


class NotUnderstood(StillroomError, ValueError):
    """What was typed could not be read as a quantity, date or name; says what would be."""


class StoreError(StillroomError):
    """The shelf file cannot be opened or written. The file was left as it was."""
