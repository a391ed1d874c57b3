"""Motifs of the library: grown from a recipe at the size they are wanted, or drawn artwork."""

from __future__ import annotations

from .recipes import Motif, Recipe, across, motif_at, read_recipe

__all__ = ["Motif", "Recipe", "across", "motif_at", "read_recipe"]
