"""Tinctures, bottles, blends and the stock."""
