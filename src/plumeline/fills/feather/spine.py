"""A spine, and the spines of one region."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Polygon

from ...model import Path

__all__ = ["Spine", "Spines"]


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
