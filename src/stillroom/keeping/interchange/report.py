"""What an import found and did, for people and for programs."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class BadLine:
    """One thing in a file that cannot be taken in, and what would be right."""

    file: str
    line: int | None
    """Counted from 1, the heading included; None where it is about the whole file."""
    column: str
    """Blank where it is about the whole line."""
    message: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file} line {self.line}"
        return (
            f"{place}, {self.column}: {self.message}" if self.column else f"{place}: {self.message}"
        )


@dataclass(frozen=True)
class ImportReport:
    """The outcome of an import; with a bad line in it, nothing was changed."""

    bad: tuple[BadLine, ...] = ()
    added: dict[str, int] = field(default_factory=dict)
    """Lines taken in, by kind of record."""
    unchanged: dict[str, int] = field(default_factory=dict)
    """Lines the shelf had already, by kind of record."""
    assumed: tuple[str, ...] = ()
    """What was filled in because a notebook does not say it, one sentence each."""
    dry_run: bool = False

    @property
    def is_clean(self) -> bool:
        """Whether every line could be read."""
        return not self.bad

    @property
    def is_done(self) -> bool:
        """Whether the shelf now holds what was read."""
        return self.is_clean and not self.dry_run

    @property
    def total_added(self) -> int:
        """Lines taken in, of every kind."""
        return sum(self.added.values())
