"""Spirals wound through a chain of nested rings: turning by rays, or following the rings with a short jog.

Depth is counted in rings: ``z = 0`` on the outermost ring, 1 on the next, -1/2 on the edge. An arm of a double
spiral lies at ``z`` and the other at ``z + 1`` everywhere, so neighbours stay one spacing apart.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ...geometry import close_ring, nearest_on, path_length, point_at, ring_stretch, tangents, turns
from ...model import FloatArray

__all__ = ["follow", "rings_round", "turn_by_rays"]

RAYS = 360
"""Rays of a turning spiral; more would only cost time at the sizes of blocks."""

WINDOW = 3.0
"""Length of a jog from ring to ring, in spacings: shorter looks like a step, longer spreads into corners."""

LEAN_IN = 0.4
"""How far inside the innermost ring a single spiral ends, in spacings."""

SEAMS = 36
"""Places tried for the jog on the innermost ring."""

UNEVEN_WIDTH = 1.6
"""A ring-shaped space whose width varies more than this is wound beside a cut instead, at even spacing."""

CORNER_RAD = 0.35
"""Turning within a jog beyond this spoils it: it would cut a corner."""


def turn_by_rays(
    edge: FloatArray, rings: Sequence[FloatArray], centre: FloatArray, spacing: float, *, arms: int, start_rad: float
) -> FloatArray | None:
    """Return a true spiral whose radius is interpolated between the rings along rays, or None.

    None comes back when a ring is not star-shaped about the centre, or two rings lie less than a fifth or more
    than 2.3 spacings apart on some ray.

    Notes
    -----
    With two arms the second lies half a turn on and the two meet in the middle, straight through the centre.
    """
    theta = np.linspace(0, 2 * np.pi, RAYS, endpoint=False)
    radii = [_polar(ring, centre, theta) for ring in (edge, *rings)]
    if any(r is None for r in radii):
        return None
    table = np.array(radii)
    gaps = table[1:-1] - table[2:]
    if len(gaps) and (gaps.min() < 0.2 * spacing or gaps.max() > 2.3 * spacing):
        return None
    depth = np.concatenate([[-0.5], np.arange(len(rings)), [len(rings) - 0.35]])
    table = np.vstack([table, np.zeros(RAYS)])
    turns_in = (depth[-1] + 0.5) / arms
    t = np.linspace(0, turns_in, max(int(turns_in * RAYS), 24))

    def arm(phase: float) -> FloatArray:
        angle = start_rad + phase + 2 * np.pi * t
        r = _radius(table, depth, arms * t - 0.5, angle)
        found: FloatArray = centre + r[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        return found

    first = arm(0.0)
    return first if arms == 1 else np.vstack([first, arm(np.pi)[::-1][1:]])


def _polar(ring: FloatArray, centre: FloatArray, theta: FloatArray) -> FloatArray | None:
    points = close_ring(ring) - centre
    angle = np.unwrap(np.arctan2(points[:, 1], points[:, 0]))
    if abs(angle[-1] - angle[0]) < 6:
        return None
    if angle[-1] < angle[0]:
        angle, points = angle[::-1], points[::-1]
    if (np.diff(angle) <= -1e-9).any():
        return None
    # along each chord the radius on a ray is exact: cross the ray with the chord
    at = np.mod(theta - angle[0], 2 * np.pi) + angle[0]
    k = np.clip(np.searchsorted(angle, at, side="right") - 1, 0, len(points) - 2)
    a, b = points[k], points[k + 1]
    ray = np.column_stack([np.cos(at), np.sin(at)])
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    across = ray[:, 0] * (b - a)[:, 1] - ray[:, 1] * (b - a)[:, 0]
    flat = np.abs(across) < 1e-12
    return np.asarray(np.where(flat, np.hypot(a[:, 0], a[:, 1]), cross / np.where(flat, 1.0, across)))


def rings_round(edge: FloatArray, hole: FloatArray, spacing: float) -> list[FloatArray] | None:
    """Return rings that go round a hole, spread evenly between edge and hole on every ray, or None.

    None comes back when edge or hole is not star-shaped about the hole's middle, when the width between them
    varies by more than `UNEVEN_WIDTH`, or when not two rings go in.
    """
    theta = np.linspace(0, 2 * np.pi, 4 * RAYS, endpoint=False)
    centre = hole.mean(axis=0)
    outer, inner = _polar(edge, centre, theta), _polar(hole, centre, theta)
    if outer is None or inner is None:
        return None
    width = outer - inner
    count = round(float(np.median(width)) / spacing)
    if width.min() <= 0 or width.max() > UNEVEN_WIDTH * width.min() or count < 2:
        return None
    ray = np.column_stack([np.cos(theta), np.sin(theta)])
    return [centre + (outer - (k + 0.5) / count * width)[:, None] * ray for k in range(count)]


def _radius(table: FloatArray, depth: FloatArray, z: FloatArray, angle: FloatArray) -> FloatArray:
    k = np.clip(np.searchsorted(depth, z, side="right") - 1, 0, len(depth) - 2)
    f = (z - depth[k]) / (depth[k + 1] - depth[k])
    place = np.mod(angle, 2 * np.pi) / (2 * np.pi) * RAYS
    i = np.floor(place).astype(int) % RAYS
    part = place - np.floor(place)
    j = (i + 1) % RAYS
    outer = table[k, i] * (1 - part) + table[k, j] * part
    inner = table[k + 1, i] * (1 - part) + table[k + 1, j] * part
    return np.asarray(outer * (1 - f) + inner * f)


def follow(
    edge: FloatArray, rings: Sequence[FloatArray], spacing: float, *, arms: int, near: FloatArray | None
) -> Iterator[FloatArray]:
    """Yield spirals that follow the rings and change from one to the next in a short jog, best place first.

    Parameters
    ----------
    edge, rings
        Closed paths, the rings outermost first, each one spacing inside the one before.
    arms : {1, 2}
        Two: in and out again, both ends at the edge. One: ends in the middle.
    near : point or None
        Where the outer end is wanted.
    """
    inner = rings[-1]
    total = path_length(inner, closed=True)
    window = min(WINDOW * spacing, 0.45 * total)
    seams = [_traced(rings, edge, point_at(inner, [at], closed=True)[0]) for at in total * np.arange(SEAMS) / SEAMS]
    opens = [
        _traced(rings, edge, point_at(inner, [at - window], closed=True)[0]) for at in total * np.arange(SEAMS) / SEAMS
    ]
    wound = [_Winding(edge, rings, seam, opened) for seam, opened in zip(seams, opens)]
    far = [(0.0 if near is None else float(np.hypot(*(w.outer_end - near)))) + 12 * spacing * w.corners for w in wound]
    for i in np.argsort(far, kind="stable"):
        yield wound[i].path(arms, spacing)


def _traced(rings: Sequence[FloatArray], edge: FloatArray, start: FloatArray) -> list[float]:
    """Return the distance along the edge and each ring, outermost first, of the gradient line out of a point."""
    at, places = start, []
    for ring in (*rings[::-1], edge):
        s = float(nearest_on(ring, at[None])[0])
        places.append(s)
        at = point_at(ring, [s], closed=True)[0]
    return places[::-1]


class _Winding:
    """The edge and rings cut at a jog: ring parts and windows from the opened place to the seam."""

    def __init__(
        self, edge: FloatArray, rings: Sequence[FloatArray], seam: Sequence[float], opened: Sequence[float]
    ) -> None:
        self.windows: list[FloatArray] = []
        self.parts: list[FloatArray] = []
        for ring, stop, start in zip((edge, *rings), seam, opened):
            total = path_length(ring, closed=True)
            span = (stop - start) % total
            self.windows.append(point_at(ring, start + np.linspace(0, span, 33), closed=True))
            self.parts.append(ring_stretch(ring, stop, stop + (total - span)))
        self.outer_end = self.windows[0][24]
        self.corners = float(sum(max(np.abs(turns(w)).sum() - CORNER_RAD, 0.0) for w in self.windows[1:]))
        self.last = len(rings) - 1

    def level(self, z: FloatArray) -> FloatArray:
        """Return the points of the window at depth ``z[i]`` and fraction ``i / (n - 1)``."""
        depth = np.concatenate([[-0.5], np.arange(self.last + 1)])
        z = np.clip(z, depth[0], depth[-1])
        k = np.clip(np.searchsorted(depth, z, side="right") - 1, 0, len(depth) - 2)
        f = ((z - depth[k]) / (depth[k + 1] - depth[k]))[:, None]
        stack = np.array(self.windows)
        row = np.arange(len(z))
        blended: FloatArray = stack[k, row] * (1 - f) + stack[k + 1, row] * f
        return blended

    def arm(self, first: int, step: int) -> FloatArray:
        """Return the arm from the edge inwards that runs on ring ``first``, ``first + step``, ..."""
        g = np.linspace(0, 1, 33)
        z = first - step * (1 - g)
        shown = z >= -0.5
        pieces = [self.level(z)[shown]]
        for ring in range(first, self.last + 1, step):
            pieces.append(self.parts[ring + 1])
            if ring + step <= self.last:
                pieces.append(self.level(ring + step * g))
        return np.vstack(pieces)

    def path(self, arms: int, spacing: float) -> FloatArray:
        """Return the whole spiral, from one outer end to the other or to the middle."""
        if arms == 1:
            return np.vstack([self.arm(0, 1), _curl_in(self.windows[-1], spacing)])
        if self.last == 0:
            return np.vstack([self.arm(0, 2), self.windows[0][:1]])
        return np.vstack([self.arm(0, 2), self.arm(1, 2)[::-1]])


def _curl_in(window: FloatArray, spacing: float) -> FloatArray:
    """Return the last bit of a single spiral: on along the innermost window, leaning inwards."""
    way = tangents(window)
    inward = np.column_stack([-way[:, 1], way[:, 0]])  # rings run clockwise as seen
    curled: FloatArray = window + inward * np.linspace(0, LEAN_IN * spacing, len(window))[:, None]
    return curled
