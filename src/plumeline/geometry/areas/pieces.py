"""The pieces of a zone between its firm fences."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely import LineString, MultiPolygon, Polygon

from ...model import Fence, FloatArray, Zone
from .regions import pieces_of

__all__ = ["cut_by", "pieces"]


def pieces(zone: Zone, *, extra: Sequence[Fence] = ()) -> list[Polygon]:
    """Return the pieces of a zone's region between its firm fences (and ``extra`` ones), largest first.

    Without a firm fence, or when none reaches across, the region itself comes back as the one piece.
    """
    return cut_by(zone.region, [f.path for f in (*zone.fences, *extra) if f.soft_mm == 0])


def cut_by(region: Polygon, lines: Sequence[FloatArray]) -> list[Polygon]:
    """Return the pieces that lines of no width cut a region into, largest first.

    A line that ends inside the region cuts nothing there.
    """
    if not len(lines):
        return [region]
    drawn = [LineString(line) for line in lines]
    noded = shapely.node(shapely.union_all([region.boundary, *drawn]))
    faces = shapely.polygonize(list(noded.geoms) if hasattr(noded, "geoms") else [noded])
    inside = [face for face in faces.geoms if isinstance(face, Polygon) and region.covers(face.representative_point())]
    return pieces_of(MultiPolygon(inside)) if len(inside) > 1 else [region]
