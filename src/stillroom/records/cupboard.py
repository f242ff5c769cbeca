"""What the stillroom keeps beside its jars: herbs, shelves, spirits, sizes, settings."""

from peewee import DateField, FloatField, IntegerField, TextField

from stillroom.records.base import Record


class Setting(Record):
    """One preference of the people who use this shelf."""

    name = TextField(unique=True)
    value = TextField()


class Herb(Record):
    """A plant by its common and botanical name."""

    name = TextField(unique=True)
    botanical = TextField(default="")
    cautions = TextField(default="")
    """The user's own cautions; printed on its labels."""
    note = TextField(default="")


class Shelf(Record):
    """A shelf that holds jars."""

    name = TextField(unique=True)
    position = IntegerField()
    """Order on screen, from 1."""
    note = TextField(default="")


class Spirit(Record):
    """One purchase of spirit of known strength."""

    name = TextField()
    strength_abv = FloatField()
    """% v/v at 20 °C."""
    bought_ml = FloatField(null=True)
    """mL bought; null where the cupboard does not keep count of it."""
    price = FloatField(null=True)
    """Paid for all of it."""
    bought_on = DateField(null=True)
    origin = TextField(default="")
    """Seller and lot."""
    note = TextField(default="")


class BottleSize(Record):
    """A size of bottle in use."""

    size_ml = FloatField(unique=True)
    empties = IntegerField(null=True)
    """Clean empties in stock; null where they are not counted."""
