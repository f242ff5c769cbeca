"""The cupboard: spirits, herbs, shelves and bottle sizes."""
