"""Zones: join patches across seams, lay shapes over them, divide, and say where travel may go."""

from __future__ import annotations

from .alike import EXACT_MM, AlikeSet, Lie, alike_sets, rows_and_columns, size_in_places
from .making import INSET_MM, OPEN_CLEARANCE_MM, make_zones, parts_made, with_own_chance
from .spaces import PART_CLEARANCE_MM, Space, chosen, spaces_of
from .ways import seam_ways

__all__ = [
    "EXACT_MM",
    "INSET_MM",
    "OPEN_CLEARANCE_MM",
    "PART_CLEARANCE_MM",
    "AlikeSet",
    "Lie",
    "Space",
    "alike_sets",
    "chosen",
    "make_zones",
    "parts_made",
    "rows_and_columns",
    "seam_ways",
    "size_in_places",
    "spaces_of",
    "with_own_chance",
]
