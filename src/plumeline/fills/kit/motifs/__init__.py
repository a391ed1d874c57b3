"""Motifs of the library: grown from a recipe at the size they are wanted, or drawn artwork."""

from __future__ import annotations

from .levels import Level, level_of, levels_of
from .recipes import Motif, Recipe, across, motif_at, read_recipe

__all__ = ["Level", "Motif", "Recipe", "across", "level_of", "levels_of", "motif_at", "read_recipe"]
