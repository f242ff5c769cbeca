"""Where the time comes from: passed in everywhere, read nowhere else."""

from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Protocol


class Clock(Protocol):
    """The source of the time and the local day."""

    def now(self) -> datetime:
        """The moment, as an aware UTC datetime."""
        ...

    def today(self) -> date:
        """The local date where the shelf is."""
        ...

    def hour(self) -> int:
        """The local hour of the day, 0 to 23."""
        ...


class SystemClock:
    """The machine's clock and time zone."""

    def now(self) -> datetime:
        """The moment, as an aware UTC datetime."""
        return datetime.now(UTC)

    def today(self) -> date:
        """The local civil day; follows a time-zone change of the machine."""
        return datetime.now().astimezone().date()

    def hour(self) -> int:
        """The local hour of the day."""
        return datetime.now().astimezone().hour


class SetClock:
    """A clock set by hand, for tests and for drawing pictures of the screens."""

    def __init__(self, moment: datetime, zone: tzinfo = UTC) -> None:
        self.moment = moment
        """The moment it shows, aware."""
        self.zone = zone
        """Time zone of the place where the shelf is."""

    def now(self) -> datetime:
        """The moment, as an aware UTC datetime."""
        return self.moment.astimezone(UTC)

    def today(self) -> date:
        """The local civil day at that moment."""
        return self.moment.astimezone(self.zone).date()

    def hour(self) -> int:
        """The local hour of the day at that moment."""
        return self.moment.astimezone(self.zone).hour

    def advance(self, **span: float) -> None:
        """Move on by a `timedelta(**span)`."""
        self.moment += timedelta(**span)
