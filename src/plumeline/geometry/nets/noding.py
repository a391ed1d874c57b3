"""Where paths touch one another: nodes, and the places along each path where it meets them.

Positions are distances along a path; what meets where is kept as whole numbers (node ids) and is never asked
of the geometry engine again, because a computed point rarely lies on its own line to the last digit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ...model import FloatArray, IntArray, Path, as_path
from ...tolerances import MEET_MM
from ..engine import line_strings

__all__ = ["Noding", "near_pairs", "nearest_path", "node_paths", "times_near"]


MERGE = 3.0
"""Stops of one path at the same node nearer than this many tolerances are one stop, not a loop."""


@dataclass(frozen=True, slots=True, eq=False)
class Noding:
    """Nodes shared by paths.

    Attributes
    ----------
    nodes : (k, 2) float64
        Position of each node, mm: one of the points that met there.
    stops : tuple of (positions, ids)
        For each path the increasing distances along it (mm) where it meets a node, and the node's id. An open
        path has at least its two ends; a closed one at least one stop, and the stretch after its last stop
        leads on to its first.
    widest_mm : float
        Greatest distance of a met point from its node (more than about the tolerance: lines too dense for it).
    """

    nodes: FloatArray
    stops: tuple[tuple[FloatArray, IntArray], ...]
    widest_mm: float


@dataclass(slots=True, eq=False)
class _Hits:
    # met points: which path, how far along it
    path: list[IntArray]
    at: list[FloatArray]

    def add(self, path: IntArray, at: FloatArray) -> None:
        self.path.append(path)
        self.at.append(at)


def node_paths(
    paths: Sequence[FloatArray],
    *,
    closed: Sequence[bool],
    splits: Sequence[bool],
    tolerance_mm: float = MEET_MM,
    pins: Sequence[tuple[int, tuple[float, float]]] = (),
) -> Noding:
    """Find where paths cross, touch or end on one another.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        At least two points each, mm.
    closed : sequence of bool
        Whether a path leads from its last point back to its first.
    splits : sequence of bool
        Whether a path may be met along its length; else it is met at its ends alone.
    tolerance_mm : float
        Points nearer than this are one node. Paths that come nearer than this without crossing or ending
        there meet at their nearest points. A path is not noded with itself.
    pins : sequence of (path number, (x, y))
        Further nodes: each at the point of its path nearest to (x, y).

    Returns
    -------
    Noding
        The nodes, and where along each path they lie.

    Notes
    -----
    Pairs from an STR tree, crossings from the engine, positions by linear referencing, nodes by single-link
    clusters of a k-d tree. O((n + h) log n) for n vertices and h meetings.
    """
    if not len(paths):
        return Noding(np.zeros((0, 2)), (), 0.0)
    ring, split = np.asarray(closed, dtype=bool), np.asarray(splits, dtype=bool)
    lines = _linestrings(paths, ring)
    length = shapely.length(lines)
    hits = _Hits([], [])
    every = np.arange(len(lines))
    fixed = ~ring | ~split  # those with a node at their start
    hits.add(every[fixed], np.zeros(int(fixed.sum())))
    hits.add(every[~ring], length[~ring])
    _meet(lines, ring, split, length, hits, tolerance_mm)
    for k, point in pins:
        hits.add(every[k : k + 1], shapely.line_locate_point(lines[k : k + 1], shapely.Point(point)))
    path, at = np.concatenate(hits.path), np.concatenate(hits.at)
    lonely = np.setdiff1d(every, path)
    path, at = np.concatenate([path, lonely]), np.concatenate([at, np.zeros(len(lonely))])
    points = shapely.get_coordinates(shapely.line_interpolate_point(lines[path], at))
    label, nodes, widest = _cluster(points, tolerance_mm)
    return Noding(nodes, _stops(path, at, label, ring, length, tolerance_mm), widest)


def _linestrings(paths: Sequence[FloatArray], ring: NDArray[np.bool_]) -> NDArray[np.object_]:
    return line_strings(paths, ring)


def _meet(
    lines: NDArray[np.object_],
    ring: NDArray[np.bool_],
    split: NDArray[np.bool_],
    length: FloatArray,
    hits: _Hits,
    tolerance_mm: float,
) -> None:
    met_at = lines.copy()  # what may be met of each path: all of it, or its ends
    whole = np.flatnonzero(~split)
    ends = shapely.get_coordinates(shapely.get_point(lines[np.repeat(whole, 2)], np.tile([0, -1], len(whole))))
    met_at[whole] = shapely.multipoints(ends.reshape(-1, 2, 2))
    i, j = _near(met_at, split, tolerance_mm)
    met = np.zeros(len(i), dtype=bool)
    for a, b in ((i, j), (j, i)):  # ends of b on a
        for which in (0, -1):
            use = np.flatnonzero(split[a] & (~ring[b] if which else ~ring[b] | ~split[b]))
            tips = shapely.get_point(lines[b[use]], which)
            near = shapely.dwithin(lines[a[use]], tips, tolerance_mm)
            use, tips = use[near], tips[near]
            hits.add(a[use], shapely.line_locate_point(lines[a[use]], tips))
            met[use] = True
    both = np.flatnonzero(split[i] & split[j])
    crossed, points = _crossing_points(lines[i[both]], lines[j[both]])
    met[both[crossed]] = True
    touch = both[~met[both]]  # near each other, neither crossing nor ending there
    points = np.concatenate([points, shapely.get_point(shapely.shortest_line(lines[i[touch]], lines[j[touch]]), 0)])
    pairs = np.concatenate([both[crossed], touch])
    for a in (i[pairs], j[pairs]):
        hits.add(a, shapely.line_locate_point(lines[a], points))


def _near(met_at: NDArray[np.object_], split: NDArray[np.bool_], within_mm: float) -> tuple[IntArray, IntArray]:
    """Return the pairs, first number lower, of what comes within a distance; of two, one at least may be split.

    Long lines lie in one another's boxes far oftener than near one another: they are asked in short stretches.
    """
    i, j = shapely.STRtree(met_at).query(_boxes(met_at, within_mm))
    pair = (i < j) & (split[i] | split[j])
    i, j = i[pair], j[pair]
    stretch, owner = _stretches(met_at)
    a, b = shapely.STRtree(stretch).query(_boxes(stretch, within_mm))
    pair = (owner[a] < owner[b]) & (split[owner[a]] | split[owner[b]])
    a, b = a[pair], b[pair]
    near = shapely.dwithin(stretch[a], stretch[b], within_mm)
    every = len(met_at)
    keep = np.isin(i * every + j, np.unique(owner[a[near]] * every + owner[b[near]]))
    return i[keep], j[keep]


def _boxes(geometries: NDArray[np.object_], wider_mm: float) -> NDArray[np.object_]:
    low_x, low_y, high_x, high_y = shapely.bounds(geometries).T
    out: NDArray[np.object_] = shapely.box(low_x - wider_mm, low_y - wider_mm, high_x + wider_mm, high_y + wider_mm)
    return out


STRETCH = 12
"""Segments of a line that are asked together whether another line comes near."""


def _stretches(geometries: NDArray[np.object_]) -> tuple[NDArray[np.object_], IntArray]:
    """Return lines in stretches of `STRETCH` segments, points one by one, and which geometry each is of."""
    parts, owner = shapely.get_parts(geometries, return_index=True)
    line = shapely.get_type_id(parts) == 1
    xy, of = shapely.get_coordinates(parts[line], return_index=True)
    first = np.searchsorted(of, np.arange(int(line.sum()) + 1))
    segments = np.diff(first) - 1
    count = -(-segments // STRETCH)
    which = np.repeat(np.arange(len(count)), count)
    nth = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    size = np.minimum(segments[which] - nth * STRETCH, STRETCH) + 1
    begin = first[which] + nth * STRETCH
    number = np.repeat(np.arange(len(which)), size)
    at = np.arange(len(number)) + np.repeat(begin - np.cumsum(size) + size, size)
    cut = shapely.linestrings(xy[at], indices=number) if len(at) else np.zeros(0, dtype=object)
    return np.concatenate([cut, parts[~line]]), np.concatenate([owner[line][which], owner[~line]])


def _crossing_points(a: NDArray[np.object_], b: NDArray[np.object_]) -> tuple[IntArray, NDArray[np.object_]]:
    # points where pairs cross, and both ends of every stretch that they share
    found = shapely.intersection(a, b)
    parts, which = shapely.get_parts(found, return_index=True)
    parts, again = shapely.get_parts(parts, return_index=True)  # a collection may hold multi-parts
    which = which[again]
    point = shapely.get_type_id(parts) == 0
    line = ~point & ~shapely.is_empty(parts)
    merged, of_line = _merged(parts[line], which[line])
    return (
        np.concatenate([which[point], of_line, of_line]),
        np.concatenate([parts[point], shapely.get_point(merged, 0), shapely.get_point(merged, -1)]),
    )


def _merged(lines: NDArray[np.object_], group: IntArray) -> tuple[NDArray[np.object_], IntArray]:
    """Return lines, those of one group that follow each other as one, and the group of each; groups are in order."""
    if not len(lines):
        return lines, group
    groups, number = np.unique(group, return_inverse=True)
    parts, which = shapely.get_parts(
        shapely.line_merge(shapely.multilinestrings(lines, indices=number)), return_index=True
    )
    return parts, groups[which]


SAME_PLACE = 6
"""Decimals of a mm: points that agree so far are one place."""


def _cluster(points: FloatArray, tolerance_mm: float) -> tuple[IntArray, FloatArray, float]:
    # paths that lie on each other meet in the same places a great many times over: each place counts once here
    _, one_of, place = np.unique(np.round(points, SAME_PLACE), axis=0, return_index=True, return_inverse=True)
    near = cKDTree(points[one_of]).query_pairs(tolerance_mm * (1 + 1e-9), output_type="ndarray")
    count = len(points)
    graph = coo_array((np.ones(len(near)), (near[:, 0], near[:, 1])), shape=(len(one_of), len(one_of)))
    total, of_place = connected_components(graph, directed=False)
    of_point = of_place[place.ravel()]
    _, begins = np.unique(of_point, return_index=True)
    label = np.argsort(np.argsort(begins))[of_point]  # numbered as they first come among the points
    size = np.bincount(label, minlength=total)
    mean = np.column_stack([np.bincount(label, points[:, k], total) / size for k in (0, 1)])
    far = np.hypot(*(points - mean[label]).T)
    order = np.lexsort((np.arange(count), far, label))
    first = order[np.concatenate([[True], np.diff(label[order]) > 0])]
    nodes = points[first]
    return label.astype(np.int64), nodes, float(np.hypot(*(points - nodes[label]).T).max())


def _stops(
    path: IntArray, at: FloatArray, label: IntArray, ring: NDArray[np.bool_], length: FloatArray, tolerance_mm: float
) -> tuple[tuple[FloatArray, IntArray], ...]:
    order = np.lexsort((label, at, path))
    path, at, label = path[order], at[order], label[order]
    first = np.searchsorted(path, np.arange(len(ring) + 1))
    out = []
    for k, (a, b) in enumerate(pairwise(first)):
        out.append(_merge_stops(at[a:b], label[a:b], bool(ring[k]), float(length[k]), MERGE * tolerance_mm))
    return tuple(out)


def _merge_stops(
    at: FloatArray, ids: IntArray, ring: bool, length: float, within_mm: float
) -> tuple[FloatArray, IntArray]:
    keep = np.concatenate([[True], (np.diff(at) > within_mm) | (np.diff(ids) != 0)])
    if ring:
        at, ids = at[keep], ids[keep]
        if len(at) > 1 and ids[0] == ids[-1] and at[0] + length - at[-1] <= within_mm:
            at, ids = at[:-1], ids[:-1]
        return at, ids
    keep[-1] = True  # an open path keeps both its ends
    at, ids = at[keep], ids[keep]
    if len(at) > 2 and ids[-1] == ids[-2] and at[-1] - at[-2] <= within_mm:
        at, ids = np.delete(at, -2), np.delete(ids, -2)
    return at, ids


def near_pairs(
    paths: Sequence[FloatArray], *, closed: Sequence[bool], within_mm: float
) -> tuple[IntArray, tuple[Path, ...]]:
    """Return which paths come within a distance of each other, ``(k, 2)`` with i < j, and the shortest way across.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    closed : sequence of bool
        Whether each leads back to its start.
    within_mm : float
        How near counts.

    Returns
    -------
    ``(k, 2)`` array of int, tuple of (2, 2) arrays
        Pairs, and the shortest way across for each.
    """
    if len(paths) < 2:
        return np.zeros((0, 2), dtype=np.int64), ()
    lines = _linestrings(paths, np.asarray(closed, dtype=bool))
    i, j = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=within_mm)
    order = np.lexsort((j, i))
    order = order[i[order] < j[order]]
    i, j = i[order], j[order]
    across = shapely.get_coordinates(shapely.shortest_line(lines[i], lines[j])).reshape(-1, 2, 2)
    return np.column_stack([i, j]), tuple(as_path(a) for a in across)


def nearest_path(paths: Sequence[FloatArray], point: tuple[float, float]) -> int:
    """Return the number of the path nearest to a point; the first of equally near ones.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open polylines, one at least.
    point : (float, float)
        A place, mm.

    Returns
    -------
    int
        From 0.
    """
    far = shapely.distance(_linestrings(paths, np.zeros(len(paths), dtype=bool)), shapely.Point(point))
    return int(np.argmin(far))


def times_near(paths: Sequence[FloatArray], points: FloatArray, *, within_mm: float) -> IntArray:
    """Return for each point ``(n, 2)`` how many of the paths pass within a distance of it.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Open polylines.
    points : (n, 2) array
        Places, mm.
    within_mm : float
        How near counts.

    Returns
    -------
    ``(n,)`` array of int
        In the order of the points.
    """
    count = np.zeros(len(points), dtype=np.int64)
    if paths and len(points):
        tree = shapely.STRtree(_linestrings(paths, np.zeros(len(paths), dtype=bool)))
        which, _ = tree.query(shapely.points(points), predicate="dwithin", distance=within_mm)
        np.add.at(count, which, 1)
    return count
