"""Noding lines and finding the faces between them, with the edge-to-face table kept as integers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ...model import FloatArray, Path, as_path
from ..engine import geometries, line_string, segments_of
from .snapping import NODE_GRID_MM

__all__ = ["Faces", "are_thin", "chains", "covering", "faces", "is_thin", "merge_faces", "near_paths"]


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """The faces that lines cut the plane into.

    Attributes
    ----------
    regions : tuple of shapely.Polygon
        The bounded faces, from the top left.
    edges : ``(k, 2, 2)`` array
        The straight pieces of line between nodes that have a face on at least one side.
    sides : ``(k, 2)`` array of int
        The faces on the two sides of each edge, in no order; -1 for outside.
    loose : tuple of Path
        Straight pieces of line that bound no face: free ends, and bridges between rings.
    """

    regions: tuple[Polygon, ...]
    edges: FloatArray
    sides: np.ndarray
    loose: tuple[Path, ...]


def faces(paths: Sequence[FloatArray], *, grid_mm: float = NODE_GRID_MM) -> Faces:
    """Return the faces between paths (a closed path repeats its first point here).

    All crossings are made nodes first, rounded to ``grid_mm``; O(n log n). No paths: no faces.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    grid_mm : float
        Places are rounded to this.

    Returns
    -------
    Faces
        The faces as regions, and the edges between them.
    """
    drawn = [line_string(p) for p in paths if len(p) > 1]
    if not drawn:
        return Faces((), np.zeros((0, 2, 2)), np.zeros((0, 2), dtype=int), ())
    noded = shapely.union_all(drawn, grid_size=grid_mm)
    pieces = _segments(noded)
    polygons, cuts, dangles, _ = shapely.polygonize_full(segments_of(pieces[:, 0], pieces[:, 1]).tolist())
    found = shapely.get_parts(polygons)
    bounds, areas = shapely.bounds(found).tolist(), shapely.area(found).tolist()
    order = sorted(range(len(found)), key=lambda k: (round(bounds[k][1], 3), round(bounds[k][0], 3), areas[k]))
    regions = [found[k] for k in order]
    edges, sides = _edge_table(regions)
    loose = [as_path(np.asarray(g.coords)) for part in (cuts, dangles) for g in part.geoms]
    loose.sort(key=lambda p: tuple(p.ravel()))
    return Faces(tuple(regions), edges, sides, tuple(loose))


def _segments(lines: BaseGeometry) -> FloatArray:
    parts = shapely.get_parts(lines)
    xy, which = shapely.get_coordinates(parts, return_index=True)
    same = which[:-1] == which[1:]
    return np.stack([xy[:-1][same], xy[1:][same]], axis=1)


def _edge_table(regions: Sequence[Polygon]) -> tuple[FloatArray, np.ndarray]:
    if not regions:
        return np.zeros((0, 2, 2)), np.zeros((0, 2), dtype=int)
    rings = [(i, ring) for i, p in enumerate(regions) for ring in (p.exterior, *p.interiors)]
    xy, which = shapely.get_coordinates([ring for _, ring in rings], return_index=True)
    same = which[:-1] == which[1:]
    face = np.array([i for i, _ in rings])[which[:-1][same]]
    pairs = np.stack([xy[:-1][same], xy[1:][same]], axis=1)
    swap = (pairs[:, 0, 0] > pairs[:, 1, 0]) | ((pairs[:, 0, 0] == pairs[:, 1, 0]) & (pairs[:, 0, 1] > pairs[:, 1, 1]))
    pairs[swap] = pairs[swap][:, ::-1]
    # polygonize hands back the coordinates it was given, so equal edges are equal to the bit
    flat = pairs.reshape(-1, 4)
    order = np.lexsort(flat.T[::-1])
    fresh = np.concatenate([[True], (np.diff(flat[order], axis=0) != 0).any(axis=1)])
    edges, index = flat[order][fresh], np.empty(len(flat), dtype=int)
    index[order] = np.cumsum(fresh) - 1
    sides = np.full((len(edges), 2), -1)
    order = np.lexsort((face, index))
    first = np.concatenate([[True], np.diff(index[order]) > 0])
    sides[index[order][first], 0] = face[order][first]
    sides[index[order][~first], 1] = face[order][~first]
    return edges.reshape(-1, 2, 2), sides


def covering(regions: Sequence[Polygon], shapes: Sequence[Polygon]) -> list[tuple[int, ...]]:
    """Return for each region the indices of the shapes that it lies in, judged by a point inside it.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Such as the faces between paths.
    shapes : sequence of shapely.Polygon
        What they may lie in.

    Returns
    -------
    list of tuples of int
        Empty tuples for those in none.
    """
    if not shapes:
        return [()] * len(regions)
    points = geometries(shapely.point_on_surface(geometries(regions))).tolist()
    found: list[list[int]] = [[] for _ in regions]
    # the shapes ask for points: the engine prepares what asks, so a shape of many corners costs no more for each point
    shape, at = shapely.STRtree(points).query(list(shapes), predicate="intersects")
    for i, k in zip(at.tolist(), shape.tolist()):
        found[i].append(k)
    return [tuple(sorted(f)) for f in found]


def is_thin(region: Polygon, width_mm: float) -> bool:
    """Return whether no circle of this diameter fits into a region.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    width_mm : float
        Diameter of the circle.

    Returns
    -------
    bool
        True where none fits.
    """
    return bool(are_thin([region], width_mm)[0])


def are_thin(regions: Sequence[Polygon], width_mm: float) -> np.ndarray:
    """Return for each region whether no circle of this diameter fits into it, ``(n,)`` bool.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Any number of them.
    width_mm : float
        Diameter of the circle.

    Returns
    -------
    ``(n,)`` array of bool
        In the order of the regions.
    """
    every = geometries(regions)
    areas = shapely.area(every)
    # less than the circle's own area never holds it, more than half the width times the edge always does
    thin = np.asarray(areas < np.pi / 4 * width_mm**2)
    unsure = ~thin & (areas <= width_mm / 2 * shapely.length(every))
    thin[unsure] = shapely.is_empty(shapely.buffer(every[unsure], -width_mm / 2, quad_segs=4))
    return thin


def near_paths(points: FloatArray, paths: Sequence[FloatArray], *, within_mm: float) -> np.ndarray:
    """Return for each point the index of a path within a distance of it (the first), or -1.

    Parameters
    ----------
    points : (n, 2) array
        Places, mm.
    paths : sequence of (n, 2) arrays
        Open polylines.
    within_mm : float
        How near counts.

    Returns
    -------
    ``(n,)`` array of int
        In the order of the points.
    """
    out = np.full(len(points), -1)
    usable = [i for i, p in enumerate(paths) if len(p) > 1]
    if not usable or not len(points):
        return out
    tree = shapely.STRtree([line_string(paths[i]) for i in usable])
    at, path = tree.query(shapely.points(points), predicate="dwithin", distance=within_mm)
    for i, k in sorted(zip(at.tolist(), path.tolist()), reverse=True):
        out[i] = usable[k]
    return out


def merge_faces(regions: Sequence[Polygon]) -> list[Polygon]:
    """Return the union of faces that share edges, keeping their nodes; one polygon where they hang together.

    Parameters
    ----------
    regions : sequence of shapely.Polygon
        Faces that share edges exactly.

    Returns
    -------
    list of shapely.Polygon
        One for each that hangs together.
    """
    if len(regions) == 1:
        return [regions[0]]
    merged = shapely.coverage_union_all(geometries(regions))
    return [p for p in shapely.get_parts(merged) if isinstance(p, Polygon)]


def chains(edges: FloatArray) -> list[Path]:
    """Return edges ``(k, 2, 2)`` joined end to end into the longest paths that pass no branching.

    A loop repeats its first point. Paths start at their top-left end and are sorted from the top left.

    Parameters
    ----------
    edges : (n, 2) array
        Each as its two ends.

    Returns
    -------
    list of (n, 2) arrays
        In reading order.
    """
    if not len(edges):
        return []
    xy, ids = np.unique(edges.reshape(-1, 2), axis=0, return_inverse=True)
    pairs = np.asarray(ids).reshape(-1, 2)
    at: list[list[int]] = [[] for _ in xy]
    for k, (a, b) in enumerate(pairs.tolist()):
        at[a].append(k)
        at[b].append(k)
    rank = np.lexsort((xy[:, 0], xy[:, 1])).tolist()
    used = np.zeros(len(pairs), dtype=bool)

    def walk(node: int) -> list[int]:
        trail = [node]
        while True:
            free = [k for k in at[node] if not used[k]]
            if not free or (len(trail) > 1 and len(at[node]) != 2):
                return trail
            used[free[0]] = True
            a, b = pairs[free[0]].tolist()
            node = b if a == node else a
            trail.append(node)

    out: list[list[int]] = []
    for node in [n for n in rank if len(at[n]) != 2] + rank:
        while any(not used[k] for k in at[node]):
            out.append(walk(node))
    paths = [as_path(xy[trail if _starts_first(xy, trail) else trail[::-1]]) for trail in out]
    return sorted(paths, key=lambda p: (p[0, 1], p[0, 0], p[-1, 1], p[-1, 0], p[1, 1], p[1, 0]))


def _starts_first(xy: FloatArray, trail: list[int]) -> bool:
    a, b = (trail[0], trail[-1]) if trail[0] != trail[-1] else (trail[1], trail[-2])
    return bool((xy[a, 1], xy[a, 0]) <= (xy[b, 1], xy[b, 0]))
