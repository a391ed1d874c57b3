"""Middle lines of a region: its long axis, the loop half way between edge and hole, cells of the nearest line.

All three are read off Voronoi diagrams of samples, whose ridges are the points equally far from two samples;
with a sampling step ``h`` and a local half width ``r`` they stray about ``h**2 / (8 r)`` from the true line.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import cKDTree
from shapely import Polygon

from ...model import FloatArray, IntArray, Path, as_path
from ..areas.pieces import cut_by
from ..areas.regions import boundary_distance, rings
from ..areas.shape import ray_length
from ..curves.polylines import arc_lengths, path_length, point_at, resample

__all__ = ["branches", "long_axis", "mid_loop", "nearest_cells", "smooth"]

SAMPLES_A_SIDE = 70
"""Sampling step of an edge is the square root of the area over this: fine enough for a 1/50 wide neck."""

MOST_SAMPLES = 2000
"""More samples of the edge than this are not taken, however thin the region: they would cost seconds."""

CORNER_RATIO = 1.15
"""A branch counts when the way round between its two edge points is this much longer than across: it leads to a
corner under 120 degrees."""

STUB = 1.8
"""An end of the axis shorter than this many half widths runs into a blunt corner; it is taken off."""

NEAR_LINE = 0.4
"""Points of the medial axis within this many half widths of a line belong to it, and are no branch."""

EARLY, IN_CORNER, NARROWED = 0.35, 1.7, 0.65
"""A way that is widest in the first part of its length, ends within so many half widths of there, and half way on has
narrowed to that part of it, runs into a corner: no arm of the region."""

AXIS_FREEDOM = 0.1
"""Smoothing moves the axis at most this part of the local width."""

FAR_AWAY = 50.0
"""Samples this many times the region's size away close the outermost cells."""

PLAIN_MM = 0.01
"""The zigzag of a border between sampled lines is straightened by this."""


def smooth(path: Path, sigma_mm: float, *, closed: bool = False, step_mm: float | None = None) -> Path:
    """Return a path rounded by a Gaussian along its length, evenly resampled; open ends stay where they are.

    Parameters
    ----------
    path : (n, 2) array
        A polyline.
    sigma_mm : float
        Of the Gaussian: bends tighter than this go.
    closed : bool
        Whether it leads back to its start.
    step_mm : float, optional
        From point to point; chosen to suit when left out.

    Returns
    -------
    (n, 2) array
        Evenly spaced points.
    """
    from scipy.ndimage import gaussian_filter1d  # slow to load

    total = path_length(path, closed=closed)
    step = step_mm or max(sigma_mm / 6, total / 2000)
    if sigma_mm <= 0 or total < 4 * step:
        return as_path(path)
    even = resample(path, step, closed=closed)
    sigma = sigma_mm / (total / (len(even) if closed else len(even) - 1))
    if closed:
        return as_path(gaussian_filter1d(even, sigma, axis=0, mode="wrap"))
    reach_n = min(len(even) - 1, int(np.ceil(4 * sigma)))
    head, tail = 2 * even[0] - even[reach_n:0:-1], 2 * even[-1] - even[-2 : -reach_n - 2 : -1]
    rounded = gaussian_filter1d(np.vstack([head, even, tail]), sigma, axis=0)[reach_n : reach_n + len(even)]
    rounded[0], rounded[-1] = even[0], even[-1]
    return as_path(rounded)


def long_axis(region: Polygon, *, step_mm: float | None = None) -> Path:
    """Return the long axis of a region, from its wider end to its narrower, both ends on the edge.

    The longest path of the medial axis, its ends taken out of blunt corners and carried on straight to the
    edge, smoothed within `AXIS_FREEDOM` of the local width. A round region gives a diameter.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    step_mm : float, optional
        From sample to sample of its edge; chosen to suit when left out.

    Returns
    -------
    (n, 2) array
        Two points at least.

    Notes
    -----
    Medial axis from the Voronoi diagram of edge samples (Brandt 1994); the longest path by two sweeps of
    Dijkstra's method, exact for a region without holes. O(n log n).
    """
    step = step_mm or _step(region)
    axis = _longest_path(region, step)
    if axis is None or path_length(axis) < step:
        return _diameter(region)
    axis = _without_stubs(axis, region)
    axis = _kept_near(smooth(axis, 0.5 * _half_width(axis, region), step_mm=step), axis, region)
    axis = _to_edge(axis, region)
    radius = boundary_distance(region, axis)
    half = len(axis) // 2
    first, last = radius[: half + 1].mean(), radius[half:].mean()
    if first < 0.95 * last or (first <= 1.05 * last and _later(axis[0], axis[-1])):
        axis = as_path(axis[::-1])
    return axis


def _step(region: Polygon) -> float:
    return float(max(region.area**0.5 / SAMPLES_A_SIDE, region.length / MOST_SAMPLES))


def _later(a: FloatArray, b: FloatArray) -> bool:
    # ends of equal width: the base is the left one, of two in one column the lower as seen
    if abs(a[0] - b[0]) > abs(a[1] - b[1]) * 1e-3:
        return bool(a[0] > b[0])
    return bool(a[1] < b[1])


def _half_width(path: Path, region: Polygon) -> float:
    return float(np.median(boundary_distance(region, path)))


def _ridges(samples: FloatArray) -> tuple[FloatArray, IntArray, IntArray]:
    from scipy.spatial import Voronoi  # slow to load

    middle = samples.mean(axis=0)
    diagram = Voronoi(samples - middle)
    ends = np.asarray(diagram.ridge_vertices, dtype=np.intp)
    finite = (ends >= 0).all(axis=1)
    return diagram.vertices + middle, ends[finite], np.asarray(diagram.ridge_points, dtype=np.intp)[finite]


def _longest_path(region: Polygon, step: float) -> Path | None:
    return _farthest(*_inner_ridges(region, step))


def _inner_ridges(region: Polygon, step: float) -> tuple[FloatArray, IntArray]:
    # the medial axis as vertices and edges, without the branches that lead to blunt corners
    samples, ring, at, total = _edge_samples(region, step)
    vertices, ends, pair = _ridges(samples)
    i, j = pair.T
    round_way = np.abs(at[i] - at[j])
    round_way = np.minimum(round_way, total[i] - round_way)
    across = np.hypot(*(samples[i] - samples[j]).T)
    inside = boundary_distance(region, vertices) > 0
    keep = ((ring[i] != ring[j]) | (round_way > CORNER_RATIO * across)) & inside[ends].all(axis=1)
    return vertices, ends[keep]


def branches(
    region: Polygon,
    main: Path,
    *,
    closed: bool = False,
    least: float = 1.0,
    most: int = 12,
    step_mm: float | None = None,
) -> list[Path]:
    """Return the branches of a region's medial axis that leave a line through it, the longest first.

    Parameters
    ----------
    region : shapely.Polygon
        Any region.
    main : Path
        A line through the region, as `long_axis` or `mid_loop` gives it; ``closed`` for a loop.
    closed : bool
        Whether ``main`` leads back to its start.
    least : float
        A branch counts from this many widths of the place where it leaves.
    most : int
        No more are returned.
    step_mm : float, optional
        From sample to sample of its edge; chosen to suit when left out.

    Returns
    -------
    list of Path
        From where each leaves the line, or an earlier branch, to the edge at its end, ``(n, 2)``; empty without any.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import dijkstra

    step = step_mm or _step(region)
    vertices, edges = _inner_ridges(region, step)
    if not len(edges):
        return []
    used, index = np.unique(edges, return_inverse=True)
    a, b = index.reshape(edges.shape).T
    points = vertices[used]
    graph = coo_array((np.hypot(*(points[a] - points[b]).T) + 1e-12, (a, b)), shape=(len(used), len(used))).tocsr()
    radius = boundary_distance(region, points)
    line = resample(main, step, closed=closed)
    off, _ = cKDTree(line).query(points)
    near = off < NEAR_LINE * radius
    out: list[Path] = []
    while near.any() and len(out) < most:
        far, before, _ = dijkstra(
            graph, directed=False, indices=np.flatnonzero(near), min_only=True, return_predecessors=True
        )
        node = _far_end(far)
        way = [node]
        while before[way[-1]] >= 0:
            way.append(int(before[way[-1]]))
        if far[node] + radius[node] < 2 * least * radius[way[-1]] or len(way) < 3:
            break
        near[way] = True
        if _into_corner(far[way], radius[way]):
            continue
        found = points[way[::-1]]
        # taken out of a corner at its end, and carried on to the edge
        left = path_length(found) - arc_lengths(found)
        cut = np.flatnonzero(left < STUB * boundary_distance(region, found))
        found = found[: max(int(cut[0]) if len(cut) else len(found), 2)]
        out.append(as_path(np.vstack([found, _end_on_edge(region, found)])))
    return out


def _into_corner(far: FloatArray, radius: FloatArray) -> bool:
    # from its end back to where it leaves: a way that only narrows, and is soon done, runs into a corner, not an arm
    widest = int(radius.argmax())
    length = float(far[0])
    return bool(
        far[widest] < EARLY * length
        and length - far[widest] < IN_CORNER * radius[widest]
        and radius[np.abs(far - (far[widest] + length) / 2).argmin()] < NARROWED * radius[widest]
    )


def _end_on_edge(region: Polygon, path: FloatArray) -> FloatArray:
    # where a path, carried straight on, meets the edge
    back = max(len(path) - 1 - 8, 0)
    way = path[-1] - path[back]
    way = way / max(float(np.hypot(*way)), 1e-12)
    return np.asarray(path[-1] + way * ray_length(region, path[-1], way))[None]


def _edge_samples(region: Polygon, step: float) -> tuple[FloatArray, IntArray, FloatArray, FloatArray]:
    parts = [resample(ring, step, closed=True) for ring in rings(region)]
    # half a step on, so that no sample is a corner: a corner would own the wedge that the axis runs into
    parts = [as_path((p + np.roll(p, -1, axis=0)) / 2) for p in parts]
    which = np.repeat(np.arange(len(parts)), [len(p) for p in parts])
    at = np.concatenate([arc_lengths(p) for p in parts])
    total = np.concatenate([np.full(len(p), path_length(p, closed=True)) for p in parts])
    return np.vstack(parts), which, at, total


def _farthest(vertices: FloatArray, edges: IntArray) -> Path | None:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components, dijkstra

    if not len(edges):
        return None
    used, index = np.unique(edges, return_inverse=True)
    a, b = index.reshape(edges.shape).T
    points = vertices[used]
    weight = np.hypot(*(points[a] - points[b]).T) + 1e-12
    graph = coo_array((weight, (a, b)), shape=(len(used), len(used))).tocsr()
    _, part = connected_components(graph, directed=False)
    weight_of = np.bincount(part[a], weights=weight)
    start = int(np.flatnonzero(part == int(np.argmax(weight_of)))[0])
    far = _far_end(dijkstra(graph, directed=False, indices=np.asarray(start)))
    length, before = dijkstra(graph, directed=False, indices=np.asarray(far), return_predecessors=True)
    way = [_far_end(length)]
    while way[-1] != far:
        way.append(int(before[way[-1]]))
    return as_path(points[way])


def _far_end(length: FloatArray) -> int:
    return int(np.argmax(np.where(np.isfinite(length), length, -1.0)))


def _without_stubs(axis: Path, region: Polygon) -> Path:
    radius, s = boundary_distance(region, axis), arc_lengths(axis)
    blunt = np.flatnonzero(s < STUB * radius)
    first = int(blunt.max()) if len(blunt) else 0
    blunt = np.flatnonzero(s[-1] - s < STUB * radius)
    last = int(blunt.min()) if len(blunt) else len(axis) - 1
    if last - first < 2:  # little but stubs: a squarish region
        return _diameter(region)
    return as_path(axis[first : last + 1])


def _kept_near(moved: Path, axis: Path, region: Polygon) -> Path:
    # brings each point back to within the freedom of where it was
    s, t = arc_lengths(axis), arc_lengths(moved)
    old = point_at(axis, t * (s[-1] / t[-1]))
    shift = moved - old
    far = np.hypot(*shift.T)
    room = AXIS_FREEDOM * 2 * np.maximum(boundary_distance(region, old), 0.0)
    out: FloatArray = old + shift * np.minimum(1.0, room / np.maximum(far, 1e-12))[:, None]
    return smooth(as_path(out), path_length(out) / 100)


def _to_edge(axis: Path, region: Polygon) -> Path:
    out = [axis]
    for end, sign in ((0, -1), (-1, 1)):
        radius = max(float(boundary_distance(region, axis[[end]])[0]), 1e-6)
        inner = point_at(axis, radius if end == 0 else path_length(axis) - radius)[0]
        heading = axis[end] - inner
        size = float(np.hypot(*heading))
        if size < 1e-9:
            continue
        heading = heading / size
        ahead = ray_length(region, axis[end], heading)
        tail = (axis[end] + heading * ahead)[None]
        out = [tail, *out] if sign < 0 else [*out, tail]
    return resample(np.vstack(out), path_length(np.vstack(out)) / 200)


def _diameter(region: Polygon) -> Path:
    # the longest chord through the middle, of 36 directions
    centre = np.asarray(shapely.maximum_inscribed_circle(region, tolerance=0.01).coords[0])
    best: tuple[float, FloatArray] = (0.0, np.vstack([centre, centre]))
    for angle in np.arange(36) * np.pi / 36:
        heading = np.array([np.cos(angle), -np.sin(angle)])
        back, ahead = ray_length(region, centre, -heading), ray_length(region, centre, heading)
        if back + ahead > best[0] * (1 + 1e-6):
            best = (back + ahead, np.array([centre - back * heading, centre + ahead * heading]))
    return resample(best[1], max(best[0] / 200, 1e-3))


def mid_loop(region: Polygon, *, step_mm: float | None = None) -> Path | None:
    """Return the closed loop half way between the outer edge and the holes, clockwise as seen; None without a hole.

    With several holes apart from each other, the loop round the hole that takes the longest one.

    Parameters
    ----------
    region : shapely.Polygon
        With a hole.
    step_mm : float, optional
        From sample to sample of its edges; chosen to suit when left out.

    Returns
    -------
    ``(n, 2)`` array or None
        First point not repeated.
    """
    edges = rings(region)
    if len(edges) < 2:
        return None
    width = region.area / path_length(edges[0], closed=True)
    step = step_mm or max(min(_step(region), width / 4), region.length / MOST_SAMPLES)
    samples, ring, _, _ = _edge_samples(region, step)
    vertices, ends, pair = _ridges(samples)
    between = (ring[pair[:, 0]] == 0) != (ring[pair[:, 1]] == 0)
    lines = shapely.linestrings(vertices[ends[between]])
    merged = shapely.line_merge(shapely.multilinestrings(lines))
    loops = [np.asarray(g.coords)[:-1] for g in getattr(merged, "geoms", [merged]) if g.is_closed]
    if not loops:
        return None
    loop = max(loops, key=lambda p: path_length(p, closed=True))
    x, y = loop.T
    if float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum()) < 0:
        loop = loop[::-1]
    start = int(np.lexsort((loop[:, 0], loop[:, 1]))[0])
    return as_path(np.roll(loop, -start, axis=0))


def nearest_cells(region: Polygon, paths: Sequence[Path], *, step_mm: float | None = None) -> list[list[Polygon]]:
    """Return for each path the pieces of a region that lie nearer to it than to any other, largest first.

    Paths may start at one common point: samples are set at the same distances along each from its start.

    Parameters
    ----------
    region : shapely.Polygon
        What is shared out.
    paths : sequence of (n, 2) arrays
        Polylines in it.
    step_mm : float, optional
        From sample to sample of the paths; chosen to suit when left out.

    Returns
    -------
    list of lists of shapely.Polygon
        One list a path.
    """
    if len(paths) < 2:
        return [[region] for _ in paths]
    step = step_mm or _step(region)
    samples, owner = [], []
    for k, path in enumerate(paths):
        count = max(int(path_length(path) / step), 1)
        samples.append(point_at(path, (np.arange(count) + 0.5) * step))
        owner += [k] * count
    points = np.vstack(samples)
    left, top, right, bottom = region.bounds
    far = FAR_AWAY * np.hypot(right - left, bottom - top) * np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)])
    vertices, ends, pair = _ridges(np.vstack([points, points.mean(axis=0) + far]))
    of_path = np.array(owner + [-1] * len(far))
    between = (of_path[pair] >= 0).all(axis=1) & (of_path[pair[:, 0]] != of_path[pair[:, 1]])
    merged = shapely.line_merge(shapely.multilinestrings(shapely.linestrings(vertices[ends[between]])))
    plain = shapely.simplify(merged, PLAIN_MM)
    lines = [np.asarray(g.coords) for g in getattr(plain, "geoms", [plain])]
    cells: list[list[Polygon]] = [[] for _ in paths]
    nearest = cKDTree(points)
    for face in cut_by(region, lines):
        cells[owner[int(nearest.query(np.asarray(face.representative_point().coords[0]))[1])]].append(face)
    return cells
