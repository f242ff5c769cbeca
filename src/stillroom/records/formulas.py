"""Formulas: blends kept to be made again, by what goes in rather than from which bottle."""

from peewee import FloatField, ForeignKeyField, TextField

from stillroom.records.base import Record
from stillroom.records.cupboard import Herb


class Formula(Record):
    """A blend by name."""

    name = TextField(unique=True)
    note = TextField(default="")


class FormulaPart(Record):
    """One part of a formula: tincture of a herb, or a tincture by its own name."""

    formula = ForeignKeyField(Formula)
    herb = ForeignKeyField(Herb, null=True)
    """Null where the part is named by its tincture."""
    part = TextField(default="")
    """Part of the plant; blank where any will do."""
    condition = TextField(default="")
    """Fresh or dried; blank where either will do."""
    name = TextField(default="")
    """The tincture's name; blank where the part is a herb."""
    share = FloatField()
    """Parts by volume, as measured in; only their proportions matter."""
