"""What was printed, and what was closed."""

from peewee import BooleanField, DateField, ForeignKeyField, IntegerField, TextField

from stillroom.records.base import Record
from stillroom.records.bottles import Tincture


class PrintLine(Record):
    """A label that was printed, or one that a person chose not to print again."""

    at = TextField()
    """The moment, ISO 8601 in UTC."""
    day = DateField()
    maker = TextField(default="")
    kind = TextField()
    bottle = TextField()
    """Code of the bottle, as it was: the bottle may be gone."""
    text = TextField()
    """The label, line by line."""
    copies = IntegerField()
    units = TextField()
    """The way it was written: units, dates and decimal mark."""
    day_form = TextField()
    decimal_comma = BooleanField()
    language = TextField(default="en")

    class Meta:
        """The name of the table."""

        table_name = "print_log"


class Closing(Record):
    """A month, or the record of a batch, that changes only for a reason."""

    month = TextField(null=True, unique=True)
    """Year and month, such as `2026-11`; null for a batch."""
    tincture = ForeignKeyField(Tincture, null=True, unique=True)
    """The batch; null for a month."""
    at = TextField()
    day = DateField()
    maker = TextField()
    """Initials of who closed it."""
