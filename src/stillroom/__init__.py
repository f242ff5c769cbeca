"""Stillroom: a shelf manager for people who make herbal tinctures."""

__version__ = "0.1.0"
