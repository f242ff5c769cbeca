"""The tables of the shelf, on SQLite through peewee, and the file they live in."""
