"""Joining strokes into the fewest continuous lines."""

from __future__ import annotations

from .polylines import join
from .works import STAGES, Joined, Work, join_works

__all__ = ["STAGES", "Joined", "Work", "join", "join_works"]
