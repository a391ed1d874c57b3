"""The chart of a bed: a one-to-one map onto a strip, in which plume sides are plain curves that never cross.

Two harmonic fields make it: ``across`` is 0 on the spine and 1 on the outline; ``along`` grows from plume to
plume. On the outline ``along`` is drawn towards the wished labels with a strength of ``stretch`` over the width of a
plume (a Robin condition). A harmonic map whose boundary runs once round a convex curve is one-to-one (Rado,
Kneser, Choquet; discretely: Tutte 1963, Floater 2003).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...geometry import arc_lengths, as_region, contains, inscribed_circle
from ...geometry.fields.fields import Strip, harmonic, slit, stiffness, unwrapped
from ...geometry.fields.mesh import Mesh, mesh_region
from ...model import FloatArray, IntArray
from .bed import Bed, Row

__all__ = ["Chart", "make_charts"]

FINE = 48
"""Mesh steps over the square root of the area: halving the step moves the plumes by less than half a millimetre."""

COARSE = 20
"""Mesh steps for a first look: plumes stand within a millimetre or two of where they will."""

LEAST_STEP_MM, MOST_STEP_MM = 0.8, 7.0

EVENLY = 1.8
"""With this much of the pull that a stretch of 1 would have, plumes stay alike without running slant to the edge."""

EVEN_HEADS = 0.85
"""Along a vine heads stand by this part where they are wished to, else where the chart has them: there, those on the
hollow side of a wave are twice as wide."""

SPREAD = 0.07
"""Share of the wished labels mixed in where the labels would otherwise stand still (behind a hole, in a pocket)."""

SLIGHT, SPREAD_SLIGHT = 0.03, 0.004
"""A set-back of fewer labels than this, as corners of the outline give, is mended on the spot with this share."""

TIE = 0.06
"""Corners of a ring are taken this much back, so that ties, common in symmetric blocks, do not hang on rounding."""

KNOTS_APART = 0.75
"""Corners nearer than this many plumes to a corner already minded are not minded."""


@dataclass(frozen=True, eq=False, slots=True)
class Chart:
    """One strip of a bed with the labels of its plumes.

    Attributes
    ----------
    strip : Strip
        The map from chart to plane.
    count : int
        Number of plumes.
    first, span : float
        Label of the first side, and of the end of the outline (for a closed spine its start again).
    tip : float or None
        Label straight ahead of the tip.
    top : (n, 4)
        Label, chart coordinate, x, y along the outline, label increasing.
    foot : (m, 4)
        Spine place in mm, chart coordinate, x, y along the inner side: up the left of the spine, round its tip and down
        the right, so that places run to twice its length; for a closed spine, several times round.
    turn_mm : float
        Length of the spine.
    """

    strip: Strip
    count: int
    first: float
    span: float
    tip: float | None
    top: FloatArray
    foot: FloatArray
    turn_mm: float

    @property
    def last(self) -> float:
        """Label of the last side."""
        return self.first + self.count

    @property
    def closed(self) -> bool:
        """Whether the spine is closed."""
        return self.tip is None


def make_charts(bed: Bed, stretch: float, *, fine: float = FINE) -> list[Chart]:
    """Return the chart of an open feather, or those of the outer and inner rows of a closed one."""
    step = float(np.clip(np.sqrt(bed.region.area) / fine, LEAST_STEP_MM, MOST_STEP_MM * FINE / fine))
    return _closed_charts(bed, stretch, step) if len(bed.rings) == 2 else [_open_chart(bed, stretch, step)]


def _open_chart(bed: Bed, stretch: float, step: float) -> Chart:
    row, spine = bed.rows[0], bed.spine
    cut = np.vstack([bed.tail, spine])
    mesh = mesh_region(bed.outlined, step, lines=[cut], axis=_axis(spine))
    line = mesh.lines[0]
    points, triangles, right = slit(mesh.points, mesh.triangles, line, _from(mesh.rings[0], int(line[0])))
    ring = np.append(_from(mesh.rings[0], int(line[0])), right[0])
    at = arc_lengths(points[ring])
    base = int(np.hypot(*(points[line] - spine[0]).T).argmin())
    inner = np.concatenate([line[base:], right[base:-1][::-1]])
    matrix = stiffness(points, triangles)

    outer = ring if base else ring[1:-1]
    across = harmonic(
        matrix, np.concatenate([inner, outer]), np.concatenate([np.zeros(len(inner)), np.ones(len(outer))])
    )
    # both sides of a tail are ends of the strip, without a tail the base itself is
    fixed = np.concatenate([line[: base + 1], right[: base + 1]])
    values = np.repeat([0.0, row.span], base + 1)
    wished = np.interp(at, row.at, row.label)
    along = harmonic(matrix, fixed, values, robin=(ring[1:-1], _robin(at, row, stretch)[1:-1], wished[1:-1]))
    mended = _increasing(along[ring], wished)
    if np.abs(mended - along[ring]).max() > SLIGHT:
        ends = np.concatenate([fixed, ring[1:-1]])
        along = harmonic(matrix, ends, np.concatenate([values, mended[1:-1]]))
    along[ring] = mended
    places = arc_lengths(points[line[base:]])
    return Chart(
        Strip(along[triangles], across[triangles], points[triangles], row.span),
        row.count,
        row.first,
        row.span,
        row.ahead[1] if row.ahead else None,
        np.column_stack([_minding_corners(_evened(along[ring], wished, bed.vine), at, row), along[ring], points[ring]]),
        np.column_stack(
            [
                np.concatenate([places, 2 * places[-1] - places[-2::-1]]),
                np.maximum.accumulate(along[inner]),
                points[inner],
            ]
        ),
        float(places[-1]),
    )


def _closed_charts(bed: Bed, stretch: float, step: float) -> list[Chart]:
    mesh = mesh_region(bed.region, step, lines=[bed.spine], closed=[True], axis=_axis(bed.spine[:2]))
    middle = mesh.points[mesh.triangles].mean(axis=1)
    inner = contains(as_region(bed.spine), middle)
    return [_ring_chart(bed, mesh, i, ~inner if i == 0 else inner, stretch) for i in (0, 1)]


def _ring_chart(bed: Bed, mesh: Mesh, which: int, part: np.ndarray, stretch: float) -> Chart:
    row = bed.rows[which]
    points = mesh.points
    used, triangles = np.unique(mesh.triangles[part], return_inverse=True)
    number = np.full(len(points), -1)
    number[used] = np.arange(len(used))
    triangles = triangles.reshape(-1, 3)
    points = points[used]
    ring = number[mesh.rings[which]]
    ring = ring if which == 0 else ring[::-1]
    ring = _from(ring, int(np.hypot(*(points[ring] - bed.rings[which][0]).T).argmin()), by_index=True)
    line = number[mesh.lines[0]]
    matrix = stiffness(points, triangles)
    at = arc_lengths(points[ring], closed=True)
    wished = np.interp(at[:-1], row.at, row.label)
    across = harmonic(matrix, np.concatenate([line, ring]), np.repeat([0.0, 1.0], [len(line), len(ring)]))

    # the angle about a point of the hole grows by one turn round the ring; what is left over is single-valued
    period = float(row.count)
    centre, _ = inscribed_circle(as_region(bed.rings[1]))
    angle = np.arctan2(points[:, 1] - centre[1], points[:, 0] - centre[0]) * (period / (2 * np.pi))
    turning = unwrapped(triangles, angle, period)
    load = _load(points, triangles, turning)
    aim = wished - np.unwrap(angle[ring], period=period)
    weight = _robin(at, row, stretch)
    weight = np.concatenate([[weight[0] + weight[-1]], weight[1:-1]])
    rest = harmonic(matrix, ring[:0], np.zeros(0), robin=(ring, weight, aim), load=-load)
    along = angle + rest
    on_ring = np.unwrap(along[ring], period=period)
    mended = _increasing(np.append(on_ring, on_ring[0] + period), np.append(wished, wished[0] + period))[:-1]
    if np.abs(mended - on_ring).max() > SLIGHT:
        rest = harmonic(matrix, ring, mended - np.unwrap(angle[ring], period=period), load=-load)
        along = angle + rest
        on_ring = mended
    strip = Strip(unwrapped(triangles, along, period), across[triangles], points[triangles], period, period)
    places = arc_lengths(points[line], closed=True)
    on_spine = np.unwrap(along[line], period=period)
    on_spine += period * np.round((on_ring[0] - on_spine[0]) / period)
    evened = _evened(on_ring, wished + (on_ring - wished).mean(), bed.vine)
    label = _minding_corners(np.append(evened, evened[0] + period), at, row)[:-1]
    return Chart(
        strip,
        row.count,
        0.0,
        period,
        None,
        _tiled(label, on_ring, points[ring], period, period),
        _tiled(places[:-1], np.maximum.accumulate(on_spine), points[line], float(places[-1]), period),
        float(places[-1]),
    )


def _tiled(key: FloatArray, along: FloatArray, places: FloatArray, key_period: float, period: float) -> FloatArray:
    laps = np.arange(-2, 4)
    return np.vstack([np.column_stack([key + k * key_period, along + k * period, places]) for k in laps])


def _load(points: FloatArray, triangles: IntArray, corners: FloatArray) -> FloatArray:
    # the Laplace operator applied to a field given at the corners of each triangle
    p = points[triangles]
    edge = np.roll(p, -2, axis=1) - np.roll(p, -1, axis=1)
    area2 = np.abs(edge[:, 0, 0] * edge[:, 1, 1] - edge[:, 0, 1] * edge[:, 1, 0])
    flow = np.einsum("tik,ti->tk", edge, corners)
    local = np.einsum("tik,tk->ti", edge, flow) / (2 * area2)[:, None]
    load = np.zeros(len(points))
    np.add.at(load, triangles, local)
    return load


def _robin(at: FloatArray, row: Row, stretch: float) -> FloatArray:
    step = np.diff(at)
    own = np.concatenate([[step[0] / 2], (step[1:] + step[:-1]) / 2, [step[-1] / 2]])
    return np.asarray(EVENLY * stretch * own / np.interp(at, row.at, row.width))


def _increasing(along: FloatArray, wished: FloatArray) -> FloatArray:
    """Return values that increase everywhere, nearest to the given ones; the ends stay."""
    if (np.diff(along) > 0).all():
        return along
    mended = (np.maximum.accumulate(along) + np.minimum.accumulate(along[::-1])[::-1]) / 2
    share = SPREAD if np.abs(mended - along).max() > SLIGHT else SPREAD_SLIGHT
    mended = (1 - share) * mended + share * _between(wished, along)
    return np.asarray(mended)


def _evened(along: FloatArray, wished: FloatArray, vine: float) -> FloatArray:
    """Return the labels of places along the outline; along a vine nearly the wished ones."""
    return np.asarray(along + EVEN_HEADS * vine * (wished - along))


def _between(wished: FloatArray, along: FloatArray) -> FloatArray:
    # the wished values, stretched to the same ends
    return np.asarray(along[0] + (wished - wished[0]) * (along[-1] - along[0]) / (wished[-1] - wished[0]))


def _minding_corners(along: FloatArray, at: FloatArray, row: Row) -> FloatArray:
    """Return labels on the outline: a plume points into each corner, two meet at each notch, one crowns the tip."""
    from scipy.interpolate import PchipInterpolator  # slow to load, needed here alone

    closed = row.ahead is None
    span, start = row.span, along[0]
    ahead = [] if row.ahead is None else [(float(np.interp(row.ahead[0], at, along)), row.ahead[1])]
    knots = [] if closed else [(start, 0.0), (along[-1], span), *ahead]
    rough = along - start if closed else np.interp(along, *np.array(sorted(knots)).T)
    for place, inward in sorted(row.corners, key=lambda c: not c[1]):
        value = float(np.interp(place, at, rough)) - row.first - (TIE if closed else 0.0)
        target = row.first + (np.floor(value) + 0.5 if inward else float(np.round(value)))
        taken = [t + k * span for _, t in knots for k in ((-1, 0, 1) if closed else (0,))]
        if all(abs(target - t) >= KNOTS_APART for t in taken) and 0 < target < span:
            knots.append((float(np.interp(place, at, along)), float(target)))
    if not knots:
        return np.asarray(along - start)
    knots.sort()
    if closed:
        knots = [(x + k * span, y + k * span) for k in (-1, 0, 1) for x, y in knots]
    x, y = np.array(knots).T
    keep = np.concatenate([[True], (np.diff(x) > 1e-6) & (np.diff(y) > 1e-6)])
    if keep.sum() < 2:
        return np.asarray(along + (y[0] - x[0]))
    return np.asarray(PchipInterpolator(x[keep], y[keep])(along))


def _axis(spine: FloatArray) -> tuple[FloatArray, FloatArray]:
    way = spine[-1] - spine[0]
    return spine[0], way / np.hypot(*way)


def _from(ring: IntArray, node: int, *, by_index: bool = False) -> IntArray:
    at = node if by_index else int(np.flatnonzero(ring == node)[0])
    return np.roll(ring, -at)
