"""What happened, who did it and when."""

from peewee import DateField, ForeignKeyField, TextField

from stillroom.records.base import Record
from stillroom.records.bottles import Bottle, Tincture
from stillroom.records.cupboard import Herb, Spirit
from stillroom.records.jars import Jar


class Event(Record):
    """One line of the ledger."""

    at = TextField()
    """The moment, ISO 8601 in UTC."""
    day = DateField()
    """The local day it counts for."""
    maker = TextField(default="")
    """Initials of who did it."""
    kind = TextField()
    text = TextField(default="")
    jar = ForeignKeyField(Jar, null=True)
    tincture = ForeignKeyField(Tincture, null=True)
    bottle = ForeignKeyField(Bottle, null=True)
    spirit = ForeignKeyField(Spirit, null=True)
    herb = ForeignKeyField(Herb, null=True)
