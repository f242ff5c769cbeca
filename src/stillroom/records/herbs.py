"""Lots of herb in store, what became of them, and when herbs are gathered."""

from peewee import DateField, FloatField, ForeignKeyField, TextField

from stillroom.records.base import Record
from stillroom.records.cupboard import Herb


class HerbLot(Record):
    """Herb that was gathered or bought at one time."""

    code = TextField(unique=True)
    herb = ForeignKeyField(Herb)
    part = TextField()
    condition = TextField()
    """As it is now: a fresh lot that was laid out becomes a dried one."""
    came = TextField()
    """`gathered` or `bought`."""
    got_on = DateField()
    origin = TextField(default="")
    """Place or seller."""
    seller_lot = TextField(default="")
    """The seller's own lot."""
    mass_g = FloatField(null=True)
    """g at first; null where it was never weighed."""
    price = FloatField(null=True)
    """Paid for all of it."""
    water_fraction = FloatField(null=True)
    """Measured water in it as it is now, 0 to 1."""
    laid_out_on = DateField(null=True)
    """The day it was laid out to dry."""
    laid_out_g = FloatField(null=True)
    """g laid out, fresh."""
    dry_on = DateField(null=True)
    dry_g = FloatField(null=True)
    """g when it was dry."""
    from_lot = ForeignKeyField("self", null=True)
    """The fresh lot of which it is the part that was laid out."""
    used_up_on = DateField(null=True)
    note = TextField(default="")


class HerbMovement(Record):
    """Herb that a lot gained or lost other than by filling jars."""

    lot = ForeignKeyField(HerbLot)
    mass_g = FloatField(null=True)
    """g; null for some that wasn't weighed."""
    kind = TextField()
    at = TextField()
    day = DateField()
    maker = TextField(default="")
    person = TextField(default="")
    """For whom it was taken."""
    note = TextField(default="")


class GatheringWindow(Record):
    """When a part of a herb is gathered, as its owner typed it."""

    herb = ForeignKeyField(Herb)
    part = TextField()
    first_day = TextField()
    """Month and day of any year, such as `06-15`."""
    last_day = TextField()
    """Earlier than the first where the window runs over New Year."""
