"""Correcting what was recorded, and calculating again what follows from it."""
