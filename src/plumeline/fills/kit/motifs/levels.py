"""How finely a motif is drawn: from the same recipe with larger or smaller parts, fewer or more of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from ....geometry import path_length
from ..settings import Artwork
from .recipes import Motif, Recipe, motif_at

__all__ = ["Level", "level_of", "levels_of"]

FINER = tuple(2.0 ** (k / 3.0) for k in range(-6, 7))
"""Smallest parts tried, as so many times finer than usual: a step is a plume or a vein more, or two."""

KEPT = 64
"""Motifs whose levels are remembered."""


@dataclass(frozen=True, slots=True)
class Level:
    """A motif drawn so finely.

    Attributes
    ----------
    part
        Its smallest part in its size (across its frame); 0 for artwork from a file, which is never regrown.
    length
        Its lines, seen or not, in its size.
    long
        How long its frame is in its size: of a border's repeat, from one to the next.
    """

    part: float
    length: float
    long: float

    def at(self, art: Artwork, size_mm: float) -> Artwork:
        """Return artwork that is drawn at this level where it is grown at a size."""
        return art.model_copy(update={"part_mm": self.part * size_mm}) if isinstance(art, Recipe) else art


def level_of(art: Artwork, size_mm: float | None = None) -> Level:
    """Return the level at which artwork is drawn at a size; left out: the size it is drawn at.

    Parameters
    ----------
    art : Artwork
        Grown or read from a file.
    size_mm : float, optional
        How large it is to be drawn.

    Returns
    -------
    Level
        Its finest part, its length of line and its width, each against its size.
    """
    motif: Motif = motif_at(art, size_mm)
    size = motif.size_mm
    length = sum(path_length(path, closed=closed) for path, closed in zip(motif.paths, motif.closed))
    part = art.part_mm / size if isinstance(art, Recipe) else 0.0
    return Level(part, length / size, float(motif.frame[:, 0].max() - motif.frame[:, 0].min()) / size)


def levels_of(art: Artwork) -> tuple[Level, ...]:
    """Return the levels of artwork, coarse to fine; artwork from a file has one.

    Parameters
    ----------
    art : Artwork
        Grown or read from a file.

    Returns
    -------
    tuple of Level
        Coarse to fine.
    """
    return _levels(art) if isinstance(art, Recipe) else (level_of(art),)


@lru_cache(maxsize=KEPT)
def _levels(recipe: Recipe) -> tuple[Level, ...]:
    return tuple(level_of(recipe.model_copy(update={"part_mm": recipe.part_mm / finer})) for finer in FINER)
