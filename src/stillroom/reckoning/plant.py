"""Part and condition of a herb: words alone, which every start needs, without their arithmetic."""

from enum import StrEnum


class Part(StrEnum):
    """The part of the plant that goes into the jar."""

    LEAF = "leaf"
    AERIAL_PARTS = "aerial parts"
    FLOWER = "flower"
    FRUIT = "fruit"
    SEED = "seed"
    ROOT = "root"
    BARK = "bark"
    RESIN = "resin"
    WHOLE_PLANT = "whole plant"
    NOT_KNOWN = "part not known"
    """Of a jar from a notebook that leaves it out."""


class Condition(StrEnum):
    """Whether the herb still holds its own water."""

    FRESH = "fresh"
    DRIED = "dried"
    NOT_KNOWN = "condition not known"
    """Of a jar from a notebook that leaves it out."""
