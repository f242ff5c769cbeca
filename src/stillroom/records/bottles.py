"""Finished tinctures, the bottles that hold them, and the ledger of what went in and out."""

from peewee import BooleanField, DateField, FloatField, ForeignKeyField, TextField

from stillroom.reckoning.states import StrengthBy
from stillroom.records.base import Record
from stillroom.records.cupboard import OtherLiquid, Spirit
from stillroom.records.jars import Straining


class Tincture(Record):
    """A batch of liquid, strained from one jar or made of others."""

    code = TextField(unique=True)
    """The batch code."""
    name = TextField(default="")
    """The user's name for it; blank if its herbs are name enough."""
    straining = ForeignKeyField(Straining, null=True, unique=True)
    """Null for a batch made of others."""
    made_on = DateField()
    volume_ml = FloatField()
    """mL measured at straining, or blended."""
    strength_abv = FloatField(null=True)
    strength_by = TextField(default=StrengthBy.UNKNOWN)
    """`measured`, `calculated`, `estimated` (some mass unknown) or `unknown`."""
    ratio = FloatField(null=True)
    """n of 1:n, herb to liquid put on it, g:mL; null where filled by eye."""
    keep_until = DateField(null=True)
    keep_until_by_hand = BooleanField(default=False)
    """Whether it was set by hand, so that a correction leaves it as it is."""
    lost_ml = FloatField(default=0.0)
    """mL lost before bottling: the sum of its losses."""
    note = TextField(default="")
    status = TextField(null=True)
    """`waiting`, `released`, `rejected` or `withdrawn`; null where nobody asks."""


class Bottle(Record):
    """A labelled container of one tincture; it holds the sum of its movements."""

    code = TextField(unique=True)
    tincture = ForeignKeyField(Tincture)
    size_ml = FloatField()
    filled_on = DateField()
    place = TextField(default="")
    bottle_lot = TextField(default="")
    cap_lot = TextField(default="")


class CodeAlias(Record):
    """A code that two shelves had both when they were joined."""

    code = TextField()
    """As it was on the shelf."""
    new_code = TextField()
    """Of the jar, batch, bottle or lot that had it."""
    shelf = TextField()
    """The name of the shelf on which it had it."""


class Movement(Record):
    """Liquid into (+) or out of (-) a bottle."""

    bottle = ForeignKeyField(Bottle)
    volume_ml = FloatField()
    kind = TextField()
    at = TextField()
    day = DateField()
    maker = TextField(default="")
    note = TextField(default="")
    person = TextField(default="")
    """For whom it was taken."""


class Loss(Record):
    """Liquid of a batch that was lost before it was bottled."""

    tincture = ForeignKeyField(Tincture)
    kind = TextField()
    volume_ml = FloatField()
    at = TextField()
    day = DateField()
    maker = TextField(default="")
    note = TextField(default="")


class Returned(Record):
    """Liquid that came back after it was drawn or given; it is in no bottle again."""

    bottle = ForeignKeyField(Bottle)
    volume_ml = FloatField()
    at = TextField()
    day = DateField()
    maker = TextField(default="")
    person = TextField(default="")
    """Who brought it back."""
    note = TextField(default="")


class BatchInput(Record):
    """What went into a batch that wasn't strained: of a bottle, another batch or the cupboard."""

    tincture = ForeignKeyField(Tincture)
    """The batch made."""
    kind = TextField()
    """`bottle`, `batch`, `spirit`, `liquid` or `water`."""
    movement = ForeignKeyField(Movement, null=True, unique=True)
    """Out of a bottle; it holds the volume then."""
    source = ForeignKeyField(Tincture, null=True, backref="inputs_of")
    """The batch of which some waited to be bottled."""
    spirit = ForeignKeyField(Spirit, null=True)
    liquid = ForeignKeyField(OtherLiquid, null=True)
    volume_ml = FloatField(null=True)
    strength_abv = FloatField(null=True)
    """% v/v of a spirit; null for everything else."""
