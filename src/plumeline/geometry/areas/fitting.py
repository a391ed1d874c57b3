"""Fitting one shape onto another: the largest that goes in, a frame stretched corner to corner, a silhouette."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from scipy.spatial import ConvexHull, QhullError, cKDTree
from shapely import Polygon

from ...model import FloatArray, IntArray, Path, as_path
from ..curves.polylines import arc_lengths, path_length, point_at, resample
from ..engine import line_string
from .offsets import dilate, erode
from .regions import contains, rings, unite

__all__ = ["Patchwork", "convex_outline", "largest_scale", "near_passes", "nearest_shift", "silhouette"]

SECTIONS = 64
"""Halvings of the search along an edge: a scale is then right to one part in a million million."""

SAMPLES = 16
"""Samples in the distance asked of `near_passes`."""

MEETING = 0.1
"""Strands nearer than this part of that distance meet."""

ALONG = 4
"""Samples this close along one strand are never two strands."""


def convex_outline(paths: Sequence[FloatArray]) -> Path:
    """Return the corners of the smallest convex shape round paths, ``(k, 2)``; the points themselves when in a row.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.

    Returns
    -------
    (n, 2) array
        First point not repeated.
    """
    points = np.unique(np.vstack(paths), axis=0)
    try:
        return as_path(points[ConvexHull(points).vertices])
    except QhullError:
        return as_path(points)


def largest_scale(convex: FloatArray, region: Polygon, centre: FloatArray) -> float:
    """Return how many times larger a convex shape may be, grown from the origin and put on a centre in a region.

    Parameters
    ----------
    convex : (k, 2)
        Corners in order, either way round, with the origin inside.
    region : shapely.Polygon
        Holes count too.
    centre : (2,)
        Where the origin lies in the region.

    Returns
    -------
    float
        0 when the centre is outside the region, or the origin outside the shape.

    Notes
    -----
    The shape touches the edge first where its gauge, the largest of ``n . b / h`` over its sides, is least; along an
    edge of the region the gauge is convex, so a search by thirds finds that place. O(edges x sides).
    """
    after = np.roll(convex, -1, axis=0)
    normal = np.column_stack([(after - convex)[:, 1], (convex - after)[:, 0]])
    far = (normal * convex).sum(axis=1)
    if (far < 0).all():
        normal, far = -normal, -far
    if len(convex) < 3 or (far <= 0).any() or not contains(region, [centre])[0]:
        return 0.0
    side = normal / far[:, None]
    best = np.inf
    for ring in rings(region):
        a = ring - centre
        step = np.roll(a, -1, axis=0) - a
        start, slope = a @ side.T, step @ side.T
        low, high = np.zeros(len(a)), np.ones(len(a))
        for _ in range(SECTIONS):
            third = (high - low) / 3
            left = (start + slope * (low + third)[:, None]).max(axis=1) <= (
                start + slope * (high - third)[:, None]
            ).max(axis=1)
            high, low = np.where(left, high - third, high), np.where(left, low, low + third)
        best = min(best, float((start + slope * low[:, None]).max(axis=1).min()))
    return best


def silhouette(
    paths: Sequence[FloatArray],
    closed: Sequence[bool],
    margin_mm: float,
    *,
    notch_mm: float = 0.0,
    open_at: Sequence[FloatArray] = (),
) -> list[Polygon]:
    """Return the outer contour of paths, filled, with a margin round it; largest first.

    Parameters
    ----------
    paths : sequence of (n, 2) arrays
        Polylines.
    closed : sequence of bool
        Whether each leads back to its start.
    margin_mm : float
        How far the contour lies outside them.
    notch_mm : float
        Notches narrower than twice this and the margin are filled too.
    open_at : sequence of (2,)
        What the contour encloses stays open where it holds one of these points: a border goes round them.

    Returns
    -------
    list of shapely.Polygon
        Empty for no paths.
    """
    lines = [line_string(p, c) for p, c in zip(paths, closed) if len(p) > 1]
    grown = unite(piece for line in lines for piece in dilate(line, max(margin_mm, 1e-3) + notch_mm))
    filled = [piece for shape in grown for piece in erode(_filled(shape, open_at), notch_mm, join="round")]
    return unite(filled)


def _filled(shape: Polygon, open_at: Sequence[FloatArray]) -> Polygon:
    holes = [h for h in shape.interiors if any(contains(Polygon(h), [at])[0] for at in open_at)]
    return Polygon(shape.exterior, holes)


def near_passes(paths: Sequence[FloatArray], closed: Sequence[bool], within_mm: float) -> tuple[FloatArray, FloatArray]:
    """Return where strands pass each other without meeting, nearer than a distance: places ``(k, 2)``, mm ``(k,)``.

    Strands that draw near until they cross or touch don't count: only places where the distance from strand to
    strand is least and not nothing (`MEETING` of the distance asked for). Nearest first; right to 1/10 of it.

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
    ``(k, 2)`` array, ``(k,)`` array
        Places and distances.
    """
    step = within_mm / SAMPLES
    kept = [(p, bool(c)) for p, c in zip(paths, closed) if path_length(p, closed=c) > MEETING * within_mm]
    if not kept:
        return np.zeros((0, 2)), np.zeros(0)
    strands = [resample(p, step, closed=c) for p, c in kept]
    points = np.vstack(strands)
    count = np.array([len(s) for s in strands])
    which = np.repeat(np.arange(len(strands)), count)
    first, many, ring = (np.cumsum(count) - count)[which], count[which], np.array([c for _, c in kept])[which]
    own = np.arange(len(points))
    ahead, back = own - first + 1, own - first - 1
    ahead = first + np.where(ring, ahead % many, np.minimum(ahead, many - 1))
    back = first + np.where(ring, back % many, np.maximum(back, 0))
    pairs = cKDTree(points).query_pairs(within_mm, output_type="ndarray")
    i, j = pairs[:, 0], pairs[:, 1]
    apart = np.where(ring[i], np.minimum(j - i, many[i] - (j - i)), j - i)
    keep = (which[i] != which[j]) | (apart > ALONG)
    i, j = i[keep], j[keep]
    x, y = points[:, 0].copy(), points[:, 1].copy()

    def apart_of(a: IntArray, b: IntArray) -> FloatArray:
        return np.sqrt((x[a] - x[b]) ** 2 + (y[a] - y[b]) ** 2)

    far = apart_of(i, j)
    for a, b in itertools.product((back, own, ahead), repeat=2):
        least = (far > MEETING * within_mm) & (far <= apart_of(a[i], b[j]) + 1e-9)
        i, j, far = i[least], j[least], far[least]
    order = np.argsort(far, kind="stable")
    return (points[i] + points[j])[order] / 2, far[order]


def nearest_shift(corners: FloatArray, targets: FloatArray) -> int:
    """Return by how many places to turn ``targets`` so that its sides are to each other as those of ``corners``.

    Where several ways are alike (a square's), the one whose corners lie nearest, middles and sizes apart.

    Parameters
    ----------
    corners, targets : ``(k, 2)`` array
        Of two shapes, in one sense.

    Returns
    -------
    int
        From 0 to k - 1.
    """

    def sides(ring: FloatArray) -> FloatArray:
        logs = np.log(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T))
        even: FloatArray = logs - logs.mean()
        return even

    def unit(ring: FloatArray) -> FloatArray:
        moved = ring - ring.mean(axis=0)
        scaled: FloatArray = moved / np.sqrt((moved**2).sum())
        return scaled

    own, place = sides(corners), unit(corners)
    turned = [np.roll(targets, -k, axis=0) for k in range(len(targets))]
    odd = np.array([((sides(t) - own) ** 2).sum() for t in turned])
    off = np.array([((unit(t) - place) ** 2).sum() for t in turned])
    return int(np.argmin(np.where(odd <= odd.min() + ALIKE, off, np.inf)))


ALIKE = 0.15
"""Ways of matching sides whose squared log ratios differ by less are alike: sides some tenths longer or shorter."""


class Patchwork:
    """A three- or four-cornered frame stretched onto sides given as paths, corner to corner.

    Method: transfinite blending. Four sides: S. A. Coons, "Surfaces for Computer-Aided Design of Space Forms", MIT
    MAC-TR-41, 1967. Three: the flat triangle, and each side's bow faded out towards the corner across from it.

    Parameters
    ----------
    sides : sequence of (n, 2)
        In order round, each beginning where the one before ends.
    """

    def __init__(self, sides: Sequence[FloatArray]) -> None:
        self._sides = [np.asarray(s, dtype=np.float64) for s in sides]

    def _on(self, k: int, t: FloatArray) -> FloatArray:
        side = self._sides[k]
        return point_at(side, t * arc_lengths(side)[-1])

    def four(self, u: FloatArray, v: FloatArray) -> FloatArray:
        """Return the points at ``u`` (0 to 1 along the first side) and ``v`` (0 to 1 from it to the third)."""
        top, right, foot, left = (
            self._on(0, u),
            self._on(1, v),
            self._on(2, 1.0 - u),
            self._on(3, 1.0 - v),
        )
        a, b, c, d = (side[0] for side in self._sides)
        u, v = u[:, None], v[:, None]
        corners = (1 - u) * (1 - v) * a + u * (1 - v) * b + u * v * c + (1 - u) * v * d
        out: FloatArray = (1 - v) * top + v * foot + (1 - u) * left + u * right - corners
        return out

    def three(self, weights: FloatArray) -> FloatArray:
        """Return the points with weights ``(n, 3)`` of the three corners."""
        corners = np.array([side[0] for side in self._sides])
        out: FloatArray = weights @ corners
        for k in range(3):
            a, b = weights[:, k], weights[:, (k + 1) % 3]
            both = a + b
            t = np.divide(b, both, out=np.zeros_like(b), where=both > 0)
            flat = corners[k] + (corners[(k + 1) % 3] - corners[k]) * t[:, None]
            out = out + both[:, None] * (self._on(k, np.clip(t, 0, 1)) - flat)
        return out
