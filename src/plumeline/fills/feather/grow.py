"""Grow one feather from its spine to the edge of its region."""

from __future__ import annotations

import numpy as np

from .growth import Grown, Growth
from .settings import FeatherSettings

__all__ = ["grow"]


def grow(growth: Growth, settings: FeatherSettings, *, rng: np.random.Generator, tolerance_mm: float = 0.05) -> Grown:
    """Return one feather that fills its region; no strokes and a finding when it is too small."""
    raise NotImplementedError
