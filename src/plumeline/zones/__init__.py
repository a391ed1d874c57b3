"""Zones: join patches across seams, lay shapes over them, divide, and say where travel may go."""

from __future__ import annotations

from .making import INSET_MM, OPEN_CLEARANCE_MM, make_zones
from .spaces import PART_CLEARANCE_MM, chosen
from .ways import seam_ways

__all__ = ["INSET_MM", "OPEN_CLEARANCE_MM", "PART_CLEARANCE_MM", "chosen", "make_zones", "seam_ways"]
