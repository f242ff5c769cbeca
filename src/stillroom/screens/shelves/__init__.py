"""The first page: jars on their shelves, and the round along them."""
