"""What happened, who did it and when."""

from peewee import DateField, IntegerField, TextField

from stillroom.records.base import Record


class Event(Record):
    """One line of the ledger. What it is about may be gone: so it holds plain numbers."""

    at = TextField()
    """The moment, ISO 8601 in UTC."""
    day = DateField()
    """The local day it counts for."""
    maker = TextField(default="")
    """Initials of who did it."""
    kind = TextField()
    text = TextField(default="")
    jar = IntegerField(null=True, column_name="jar_id")
    tincture = IntegerField(null=True, column_name="tincture_id")
    bottle = IntegerField(null=True, column_name="bottle_id")
    spirit = IntegerField(null=True, column_name="spirit_id")
    herb = IntegerField(null=True, column_name="herb_id")
    lot = IntegerField(null=True, column_name="lot_id")
    subject = TextField(default="")
    """What it is about, as it was called then."""
    journal = IntegerField(null=True, column_name="journal_id")
    """The line of the journal it belongs to; null for lines older than the journal."""
