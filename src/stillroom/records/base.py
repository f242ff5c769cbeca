"""What every table shares: one database handle, explicit ids, no guessed table names."""

from peewee import AutoField, DatabaseProxy, Model

database = DatabaseProxy()
"""The open shelf; `Store.open` points it at a file."""


class Record(Model):
    """A row of the shelf. The schema itself is the SQL under `migrations/`."""

    id = AutoField()

    class Meta:
        """Settings every table inherits."""

        database = database
        legacy_table_names = False

    @classmethod
    def table(cls) -> str:
        """The name of its table.

        `_meta` is the one private name of peewee in use: its documentation names it as the way to
        what a model is made of, and there is no other. `tests/test_private_names.py` tries it.
        """
        return str(cls._meta.table_name)
