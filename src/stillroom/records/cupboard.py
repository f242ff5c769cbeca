"""What the stillroom keeps beside its jars: herbs, shelves, spirits, sizes, settings."""

from peewee import DateField, FloatField, ForeignKeyField, IntegerField, TextField

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
    months_in_hand = FloatField(null=True)
    """Months of use to have in hand; null where the setting decides."""


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
    """Seller, and the lot where it isn't given apart."""
    lot = TextField(default="")
    code = TextField(null=True, unique=True)
    """Tells two lots of one spirit apart."""
    density_g_per_ml = FloatField(null=True)
    """g/mL at 20 °C; null where it follows from the strength."""
    note = TextField(default="")


class OtherLiquid(Record):
    """One purchase of a liquid that is no spirit, such as glycerine or honey."""

    class Meta:
        """Its table has the shorter name."""

        table_name = "liquid"

    name = TextField()
    kind = TextField()
    density_g_per_ml = FloatField()
    """g/mL at 20 °C."""
    density_source = TextField(default="")
    acidity = FloatField(null=True)
    """Acid, g in 100 mL."""
    glycerol = FloatField(null=True)
    """Glycerol, % by volume."""
    bought_ml = FloatField(null=True)
    """mL bought; null where the cupboard does not keep count of it."""
    price = FloatField(null=True)
    """Paid for all of it."""
    bought_on = DateField(null=True)
    origin = TextField(default="")
    """Seller."""
    lot = TextField(default="")
    code = TextField(null=True, unique=True)
    note = TextField(default="")


class CupboardMovement(Record):
    """More (+) or less (-) of a spirit or liquid, other than by pouring it."""

    spirit = ForeignKeyField(Spirit, null=True)
    liquid = ForeignKeyField(OtherLiquid, null=True)
    volume_ml = FloatField()
    kind = TextField()
    at = TextField()
    day = DateField()
    maker = TextField(default="")
    person = TextField(default="")
    """For whom it was taken."""
    note = TextField(default="")


class BottleSize(Record):
    """A size of bottle in use."""

    size_ml = FloatField(unique=True)
    empties = IntegerField(null=True)
    """Clean empties in stock; null where they are not counted."""
