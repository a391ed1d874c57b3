"""The pieces of a zone between its firm fences."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import LineString, MultiPolygon, Polygon

from ...model import Fence, FloatArray, Zone
from .regions import pieces_of

__all__ = ["cut_by", "pieces"]


def pieces(zone: Zone, *, extra: Sequence[Fence] = ()) -> list[Polygon]:
    """Return the pieces of a zone's region between its firm fences, largest first.

    Parameters
    ----------
    zone : Zone
        Its soft fences cut nothing.
    extra : sequence of Fence
        Further fences, which only this call knows.

    Returns
    -------
    list of shapely.Polygon
        Without a firm fence, or when none reaches across, the region itself is the one piece.

    Examples
    --------
    >>> from shapely import box
    >>> from plumeline.model import Fence, Zone, as_path
    >>> square = box(0, 0, 100, 100)
    >>> zone = Zone("block", "", 1, square, square, fences=(Fence(as_path([(30, -1), (30, 101)])),))
    >>> [round(piece.area) for piece in pieces(zone)]
    [7000, 3000]
    """
    return cut_by(zone.region, [f.path for f in (*zone.fences, *extra) if f.soft_mm == 0])


def cut_by(region: Polygon, lines: Sequence[FloatArray]) -> list[Polygon]:
    """Return the pieces that lines of no width cut a region into, largest first.

    A line that ends inside the region cuts nothing there.

    Parameters
    ----------
    region : shapely.Polygon
        What is cut.
    lines : sequence of (n, 2) arrays
        Open polylines.

    Returns
    -------
    list of shapely.Polygon
        The region itself where they cut nothing.
    """
    if not len(lines):
        return [region]
    drawn = [LineString(line) for line in lines]
    noded = shapely.node(shapely.union_all([region.boundary, *drawn]))
    faces = shapely.polygonize(list(noded.geoms) if hasattr(noded, "geoms") else [noded])
    inside = [face for face in faces.geoms if isinstance(face, Polygon) and region.covers(face.representative_point())]
    return pieces_of(MultiPolygon(inside)) if len(inside) > 1 else [region]
