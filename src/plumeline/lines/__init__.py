"""Joining strokes into the fewest continuous lines."""

from __future__ import annotations

from .polylines import join

__all__ = ["join"]
