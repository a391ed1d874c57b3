"""Zones: join patches across seams, lay shapes over them, divide, and say where travel may go."""

from __future__ import annotations

from .alike import EXACT_MM, AlikeSet, Lie, alike_sets, rows_and_columns
from .making import INSET_MM, OPEN_CLEARANCE_MM, make_zones
from .spaces import PART_CLEARANCE_MM, chosen
from .ways import seam_ways

__all__ = [
    "EXACT_MM",
    "INSET_MM",
    "OPEN_CLEARANCE_MM",
    "PART_CLEARANCE_MM",
    "AlikeSet",
    "Lie",
    "alike_sets",
    "chosen",
    "make_zones",
    "rows_and_columns",
    "seam_ways",
]
