"""A jar and all that happens to it up to the straining."""

from peewee import BooleanField, DateField, FloatField, ForeignKeyField, IntegerField, TextField

from stillroom.reckoning.states import DayBy, JarState
from stillroom.records.base import Record
from stillroom.records.cupboard import Herb, OtherLiquid, Shelf, Spirit
from stillroom.records.herbs import HerbLot


class Jar(Record):
    """A vessel of herb under menstruum."""

    code = TextField(unique=True)
    """The batch code; it goes on to the tincture made from this jar."""
    shelf = ForeignKeyField(Shelf)
    place = IntegerField()
    """Order on its shelf, from 1."""
    simmered = BooleanField(default=False)
    """Whether the herb was simmered before the spirit went on."""
    filled_on = DateField()
    strain_on = DateField()
    """The day it is due."""
    shakes_per_day = IntegerField(default=1)
    capacity_ml = FloatField(null=True)
    covered = BooleanField(default=True)
    """Whether the herb was under the liquid when last looked at."""
    state = TextField(default=JarState.STEEPING)
    """`steeping`, `drained`, `strained` or `discarded`."""
    ended_on = DateField(null=True)
    note = TextField(default="")
    marc_of = ForeignKeyField("self", null=True, backref="poured_again")
    """The jar whose marc is in this one."""


class ChargeLine(Record):
    """One herb in a jar."""

    jar = ForeignKeyField(Jar)
    herb = ForeignKeyField(Herb)
    part = TextField()
    condition = TextField()
    mass_g = FloatField(null=True)
    """g as put in; null where the jar was filled by eye."""
    water_fraction = FloatField(null=True)
    """Measured water, 0 to 1; null where the default for its part is taken."""
    gathered_on = DateField(null=True)
    origin = TextField(default="")
    """Where it grew or was bought, and its lot."""
    part_assumed = BooleanField(default=False)
    """Whether a person answered it for a sheet that leaves it out, and it isn't confirmed yet."""
    condition_assumed = BooleanField(default=False)
    lot = ForeignKeyField(HerbLot, null=True)
    """The lot in store that it was taken from."""


class Pour(Record):
    """Liquid that went onto the herb: the first pour or a top-up."""

    jar = ForeignKeyField(Jar)
    kind = TextField()
    """`spirit`, `water`, `decoction`, `held back`, `tincture` or `liquid`."""
    spirit = ForeignKeyField(Spirit, null=True)
    liquid = ForeignKeyField(OtherLiquid, null=True)
    movement = IntegerField(null=True, unique=True, column_name="movement_id")
    """The movement by which a tincture came out of a bottle."""
    source = IntegerField(null=True, column_name="source_id")
    """The tincture that waited to be bottled."""
    volume_ml = FloatField()
    strength_abv = FloatField(null=True)
    """% v/v; null where a tincture's isn't known."""
    poured_on = DateField()


class Shake(Record):
    """One tick-off of a jar on one local day."""

    jar = ForeignKeyField(Jar)
    day = DateField()
    turn = IntegerField()
    """1 for the day's first shake, 2 for its second."""
    at = TextField()
    maker = TextField(default="")


class Straining(Record):
    """The liquid leaving the marc: the sum, the last day and the last method of its goes."""

    jar = ForeignKeyField(Jar, unique=True)
    strained_on = DateField()
    yield_ml = FloatField()
    """mL as measured."""
    pressing = TextField()
    """`drained`, `squeezed` or `pressed`."""
    marc_g = FloatField(null=True)
    measured_abv = FloatField(null=True)
    liquid_ml = FloatField(null=True)
    """mL that were in the jar by calculation, plant water included."""
    expected_ml = FloatField(null=True)
    """mL expected to come out, as shown at the time."""
    confirmed = BooleanField(default=False)
    """Whether more than could be there was confirmed as measured."""
    teaches = BooleanField(default=True)
    """Whether the forecast may learn from it."""
    pressing_assumed = BooleanField(default=False)
    """Whether a person answered it for a sheet that leaves it out, and it isn't confirmed yet."""
    day_by = TextField(default=DayBy.STATED)
    """How the day of straining is known: `stated`, `assumed` or `not known`."""
    more = BooleanField(default=False)
    """Whether the herb is still to be pressed; there is no tincture yet then."""
    note = TextField(default="")


class StrainingGo(Record):
    """One go of a straining that was done in several: its straining holds the sum."""

    straining = ForeignKeyField(Straining)
    strained_on = DateField()
    pressing = TextField()
    yield_ml = FloatField()
    maker = TextField(default="")
    note = TextField(default="")
