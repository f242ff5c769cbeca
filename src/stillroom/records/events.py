"""What happened, who did it and when; and how it is taken back."""

from peewee import BooleanField, DateField, ForeignKeyField, IntegerField, TextField

from .base import Record
from .bottles import Bottle, Tincture
from .cupboard import Herb, Spirit
from .jars import Jar


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


class Action(Record):
    """One use case that can be undone, or has been."""

    at = TextField()
    maker = TextField(default="")
    title = TextField()
    """What undo says it takes back."""
    undone = BooleanField(default=False)


class UndoStep(Record):
    """One SQL statement that takes one row change back; kept by triggers."""

    action = ForeignKeyField(Action)
    sql = TextField()


class UndoState(Record):
    """The single row that tells the triggers which action is under way."""

    action_id = IntegerField(null=True)
    rewinding = BooleanField(default=False)
