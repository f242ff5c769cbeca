"""Blends: what they come to, what stands behind them, and what they may not do."""

from datetime import date, timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.blends import (
    blend_parts,
    herb_equivalents,
    make_blend,
    plan_blend,
    shared_out,
)
from stillroom.keeping.bottling import bottle_up
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.stock import bottle_row, bottle_rows, bottle_view, set_keep_until
from stillroom.keeping.tinctures import unbottled
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.reckoning.charge import Condition, Part

from .conftest import Bottled, dried_seed
