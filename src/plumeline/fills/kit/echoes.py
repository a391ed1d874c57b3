"""Echoes: curves at growing distances from a shape, and the chains of those that lead into each other."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np
from shapely import Polygon

from ...geometry import (
    arc_lengths,
    away_from,
    clip_path,
    dedupe,
    each_level,
    erode,
    erode_all,
    nearest_on,
    nearest_on_ring,
    path_length,
    point_at,
    resample,
    ring_stretch,
    rings,
)
from ...model import FloatArray, Path, as_path
from ...tolerances import SAME_MM

__all__ = ["HAIR", "Corners", "Curve", "chains_of", "curves_at", "on_edge"]

Corners: TypeAlias = Literal["round", "sharp", "mitred"]
"""Corners of echoes: see `curves_at`."""

SHORTEST = 1.0
"""Arcs shorter than this part of the gap are crumbs in the corners of a zone."""

HAIR = 0.25
"""Nearer to the edge than this part of the gap, and along it, an echo would double the seam."""

ALONG = 2.0
"""A stretch so many gaps long that keeps within a hair of the edge runs along it; a shorter one leads into it."""

BESIDE = 1.2
"""Two echoes are beside each other where they are at most this part of the gap apart: rounded corners are further."""

SAMPLE = 2.5
"""Steps in gaps at which a curve is looked at to see what it runs beside."""

WHOLE_MM = 1e-3
"""A ring is whole when clipping takes less than this from it."""

SHARE = 0.2
"""An echo goes on from the one before when at least this share of it runs beside that one."""


@dataclass(slots=True, eq=False)
class Curve:
    """A closed curve at one distance from the shape.

    ``ring``: it lies in the zone whole, clear of its edge; else ``arcs`` are what the zone holds of it. ``next`` is
    the curve it leads into; ``follows`` says that one leads into it.
    """

    path: Path
    level: int
    gap_mm: float
    ring: bool = False
    arcs: list[Path] = field(default_factory=list)
    next: Curve | None = None
    follows: bool = False


def curves_at(
    space: Polygon, piece: Polygon, depths: FloatArray, gaps: FloatArray, *, corners: Corners
) -> list[list[Curve]]:
    """Return the curves at each depth that come into a piece of a zone; the first list is the shape's own edge.

    Inner corners are rounded or sharp, outer ones round; with ``mitred`` corners both stay corners.

    Curves run with what is still open on their right-hand side as seen, and rings know the curve they lead into.
    """
    found = [[Curve(path, 0, 0.0) for path in rings(space)]]
    levels = (
        erode_all(space, depths.tolist())
        if corners == "mitred"
        else each_level(space, depths.tolist(), gaps.tolist(), sharp=corners == "sharp")
    )
    inners: dict[float, list[Polygon]] = {}
    for k, (level, gap) in enumerate(zip(levels, gaps.tolist()), start=1):
        if gap not in inners:
            inners[gap] = erode(piece, HAIR * gap)
        inner = inners[gap]
        here = [
            c for region in level for path in rings(region) if (c := _curve(path, k, gap, piece, inner)) is not None
        ]
        if not here and any(found[1:]):
            break
        _link(found[-1], here)
        found.append(here)
    return found


def _curve(path: Path, level: int, gap: float, piece: Polygon, inner: list[Polygon]) -> Curve | None:
    clipped = clip_path(path, piece, closed=True)
    if not clipped:
        return None
    if len(clipped) == 1 and abs(path_length(clipped[0]) - path_length(path, closed=True)) < WHOLE_MM:
        beside = _beside_edge([path], inner, gap, closed=True)
        if not beside:
            return Curve(path, level, gap, ring=True)
        start = float(nearest_on(path, point_at(beside[0], [path_length(beside[0]) / 2]))[0])
        clipped = [as_path(ring_stretch(path, start, start + path_length(path, closed=True)))]
    kept = [a for arc in clipped for a in _off_edge(arc, piece, inner, gap)]
    return Curve(path, level, gap, arcs=[a for a in kept if path_length(a) > SHORTEST * gap])


def _beside_edge(paths: list[Path], inner: list[Polygon], gap: float, *, closed: bool = False) -> list[Path]:
    return away_from(paths, inner, closed=closed, least_mm=ALONG * gap)


def _off_edge(arc: Path, piece: Polygon, inner: list[Polygon], gap: float) -> list[Path]:
    """Return an arc without its stretches along the edge of the piece; what is cut there turns into the edge."""
    total = path_length(arc)
    marks = [0.0]
    for stretch in _beside_edge([arc], inner, gap):
        half = path_length(stretch) / 2
        middle = float(nearest_on(arc, point_at(stretch, [half]), closed=False)[0])
        marks += [max(middle - half, 0.0), min(middle + half, total)]
    marks.append(total)
    return [_hooked(arc, run, piece) for run in np.reshape(marks, (-1, 2)).tolist() if run[1] - run[0] > SAME_MM]


def _hooked(arc: Path, run: list[float], piece: Polygon) -> Path:
    s = arc_lengths(arc)
    points = [arc[(s > run[0] + SAME_MM) & (s < run[1] - SAME_MM)]]
    start, stop = point_at(arc, run)
    points = [start[None], *points, stop[None]]
    if run[0] > 0:
        points.insert(0, on_edge(start, piece)[None])
    if run[1] < s[-1]:
        points.append(on_edge(stop, piece)[None])
    return dedupe(np.vstack(points))


def on_edge(point: FloatArray, piece: Polygon) -> FloatArray:
    """Return the point of the edges of a piece that is nearest to another."""
    feet = np.array([nearest_on_ring(ring, point) for ring in rings(piece)])
    nearest: FloatArray = feet[int(np.argmin(np.hypot(*(feet - point).T)))]
    return nearest


def _share_beside(curve: Curve, other: Path) -> float:
    """Return what share of a curve runs beside another: no further from it than their gap, or a little more."""
    points = resample(curve.path, SAMPLE * curve.gap_mm, closed=True)
    far = np.hypot(*(points - point_at(other, nearest_on(other, points), closed=True)).T)
    return float((far < BESIDE * curve.gap_mm).mean())


def _link(before: list[Curve], here: list[Curve]) -> None:
    # each curve goes on from the one that most of it runs beside; each leads into the one that needs it most
    wished = []
    for curve in here:
        shares = [_share_beside(curve, other.path) if other.ring or not other.level else 0.0 for other in before]
        best = int(np.argmax(np.round(shares, 3))) if shares else 0
        if shares and shares[best] >= SHARE:
            wished.append((round(shares[best] * path_length(curve.path, closed=True), 3), curve, before[best]))
    for _, curve, other in sorted(wished, key=lambda wish: -wish[0]):
        if other.next is None:
            other.next, curve.follows = curve, True


def chains_of(levels: list[list[Curve]]) -> list[list[Curve]]:
    """Return the runs of curves that lead into each other, each ring in one of them.

    A chain begins with the shape's own edge where its first ring follows that, and ends with a curve that leaves
    the zone where its last ring leads into one.
    """
    chains = []
    for level in levels:
        for curve in level:
            begins = curve.ring and not curve.follows if curve.level else curve.next is not None and curve.next.ring
            if not begins:
                continue
            chain = [curve]
            while (after := chain[-1].next) is not None:
                chain.append(after)
            chains.append(chain)
    return chains
