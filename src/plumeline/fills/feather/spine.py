"""A spine, and the spines of one region."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from ...geometry import boundary_distance
from ...model import FloatArray, Path, as_path

__all__ = ["Spine", "Spines", "bowed"]


@dataclass(frozen=True, slots=True, eq=False)
class Spine:
    """One spine, base to tip; a loop when ``closed``; its base lies inside the region when ``floating``.

    A twig starts ``off_mm`` beside another spine, out of which it grows: the two are one line.
    """

    path: Path
    closed: bool = False
    floating: bool = False
    off_mm: float = 0.0

    @property
    def twig(self) -> bool:
        """Whether it grows out of another."""
        return self.off_mm > 0


@dataclass(frozen=True, slots=True, eq=False)
class Spines:
    """The spines of one region.

    Attributes
    ----------
    spines : tuple of Spine
    fences : tuple of Path
        Lines between neighbouring feathers, from the centre to the edge; empty: half way between spines.
    centre : (x, y) or None
        Where several spines start.
    middle : shapely.Polygon or None
        What a wreath leaves open.
    note : str
        What she should know about the choice; "" for nothing.
    """

    spines: tuple[Spine, ...]
    fences: tuple[Path, ...] = ()
    centre: tuple[float, float] | None = None
    middle: Polygon | None = None
    note: str = ""


def bowed(start: FloatArray, end: FloatArray, bow: float, region: Polygon) -> Path:
    """Return a gentle S from one point to another, as far as the edge leaves room for it.

    The S leaves and arrives along the straight line; ``bow`` is how far it swings from side to side, part of
    its length, to the left first as seen when positive.
    """
    t = np.linspace(0.0, 1.0, 201)
    chord = end - start
    left = np.array([chord[1], -chord[0]])
    swing = np.sin(2 * np.pi * t) * np.sin(np.pi * t) / 0.7698  # its greatest value: 4 / (3 sqrt 3)
    straight = start + t[:, None] * chord
    room = boundary_distance(region, straight)
    for part in (1.0, 0.5, 0.25):
        path = straight + bow / 2 * part * swing[:, None] * left
        if (boundary_distance(region, path)[1:-1] >= 0.4 * room[1:-1]).all():
            return as_path(path)
    return as_path(straight)
