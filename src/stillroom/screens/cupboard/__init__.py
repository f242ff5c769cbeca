"""The cupboard: spirits, herbs, shelves, bottle sizes, settings."""
