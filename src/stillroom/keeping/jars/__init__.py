"""Jars, from filling to straining."""
