"""One feather to be grown, and one grown: what layout and drawing hand to each other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ...model import Fence, Finding, Path, Stroke

if TYPE_CHECKING:
    from shapely import Polygon

__all__ = ["Grown", "Growth", "Plume"]


@dataclass(frozen=True, eq=False, slots=True)
class Growth:
    """One feather to be grown.

    Attributes
    ----------
    region : shapely.Polygon
        The piece between firm fences that the feather fills. Without holes for an open spine (cut a hole
        open to the outline first); with one hole for a closed spine that runs round it.
    spine : Path
        From the base to the tip, ``(n, 2)``; the closed loop, first point not repeated, when ``closed``.
        The base lies on the region's outline unless ``floating``; the tip may reach the outline, the
        feather's own tip is trimmed back to leave room for the last plume.
    closed : bool
        A wreath, or a vine round a ring.
    floating : bool
        The base lies inside the region.
    soft : tuple of Fence
        Soft fences along the region's outline, with the amount a plume may lean over them.
    ringed : bool
        The base lies on a ring or rosette that several feathers share, and the space tapers towards the tip.
    """

    region: Polygon
    spine: Path
    closed: bool = False
    floating: bool = False
    soft: tuple[Fence, ...] = ()
    ringed: bool = False


@dataclass(frozen=True, slots=True)
class Plume:
    """The figures of one plume, mm: its widest, its length along the middle, its side of the spine, its tip place."""

    width_mm: float
    length_mm: float
    side: Literal["left", "tip", "right"]


@dataclass(frozen=True, eq=False, slots=True)
class Grown:
    """One grown feather.

    Attributes
    ----------
    strokes : tuple of Stroke
        One chain in stitching order, each stroke starting bitwise where the one before ends; roles
        ``stitch`` and ``backtrack``. Starts and ends at the base. Empty when nothing fits.
    silhouette : shapely.Polygon or None
        The plumes as one area.
    plumes : tuple of Plume
        Figures of each plume, base left round the tip to base right.
    skipped : int
        Plumes left out because they would have crossed a neighbour.
    findings : tuple of Finding
        What she should know.
    """

    strokes: tuple[Stroke, ...] = ()
    silhouette: Polygon | None = None
    plumes: tuple[Plume, ...] = ()
    skipped: int = 0
    findings: tuple[Finding, ...] = ()
