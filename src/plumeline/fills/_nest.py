"""Nested mitred insets of a region, and the chains of rings that step from one to the next."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from shapely import Polygon

from ..geometry import contains, crossings, erode, rings, rotate_start
from ..model import FloatArray, Path, as_path
from ._parallel import LEAST_GAP_MM
from .limits import nearest_count

__all__ = ["Ring", "chains_of", "nested_rings", "rows_to_middle"]

SHALLOWEST = 0.75
"""A zone whose inscribed radius is under this part of the spacing takes no row."""

STARTS = 64
"""Most vertices of a chain's first ring that are tried as the foot of its mitre."""


@dataclass(slots=True, eq=False)
class Ring:
    """One closed row at a depth, and the rows at the next depth that grew out of it."""

    path: Path
    hole: bool
    next: list[Ring] = field(default_factory=list)


def rows_to_middle(radius: float, gaps: tuple[float, ...], rows: int | None) -> tuple[FloatArray, float]:
    """Return the depths of rows from the edge to the middle of a zone of an inscribed radius, and their stretch.

    The depths are stretched so that the space across the middle is a whole one: ``D = q (n sum + a / 2)``.
    """
    period, first = sum(gaps), gaps[0]
    if rows is None and radius < SHALLOWEST * first:
        return np.zeros(0), 1.0
    if rows is not None and len(gaps) == 1:
        count = rows
        stretch = radius / (count * period + first / 2)
    else:
        count = nearest_count((radius - first / 2) / period)
        stretch = radius / (count * period + first / 2)
    depths = stretch * np.cumsum(np.tile(gaps, count))[:rows]
    if stretch * min(gaps) < LEAST_GAP_MM:
        return np.zeros(0), 1.0
    return depths, stretch


def nested_rings(piece: Polygon, depths: FloatArray) -> list[Ring]:
    """Return the rings of the first depth that exists, each leading to those that grew out of it.

    A ring of the edge grows into those inside it; a ring round a hole into the one about it. A ring nobody
    leads to is a root. Each inset is taken from the region itself.
    """
    roots: list[Ring] = []
    above: list[tuple[Polygon, list[Ring]]] = []
    for depth in depths:
        level = []
        for region in erode(piece, float(depth)):
            shell, *holes = rings(region)
            here = [Ring(shell, hole=False), *(Ring(hole, hole=True) for hole in holes)]
            _link(here, [r for outer, r in above if bool(contains(outer, shell[:1])[0])], roots)
            level.append((region, here))
        above = level
    return roots


def _link(here: list[Ring], parents: list[list[Ring]], roots: list[Ring]) -> None:
    found = parents[0] if parents else []
    for ring in here:
        if ring.hole:
            about = Polygon(ring.path)
            before = [r for r in found if r.hole and bool(contains(about, r.path[:1])[0])]
        else:
            before = [r for r in found if not r.hole]
        for parent in before:
            parent.next.append(ring)
        if not before:
            roots.append(ring)


def chains_of(roots: list[Ring], *, enter: tuple[float, float] | None = None) -> list[list[Path]]:
    """Return chains of rings, each started so that a short step leads from its start to the start of the next.

    Every ring is in exactly one chain. A chain goes on into the largest of the rings that grew out of its last
    one; the others start chains of their own.
    """
    chains: list[list[Path]] = []
    waiting = list(roots)
    seen: set[int] = set()
    while waiting:
        ring = waiting.pop(0)
        chain: list[Path] = []
        follow: Ring | None = ring
        while follow is not None and id(follow) not in seen:
            seen.add(id(follow))
            chain.append(follow.path)
            after = sorted(follow.next, key=lambda r: -abs(Polygon(r.path).area))
            waiting += after[1:]
            follow = after[0] if after else None
        if chain:
            chains.append(_aligned(chain, enter))
    return chains


def _aligned(chain: list[Path], enter: tuple[float, float] | None) -> list[Path]:
    if len(chain) == 1:
        return chain
    first = chain[0]
    tried = np.unique(np.linspace(0, len(first) - 1, min(len(first), STARTS)).astype(int))
    far = np.zeros(len(first)) if enter is None else np.hypot(*(first - np.asarray(enter)).T)
    results = [_walked(chain, int(i)) for i in tried]
    costs = [round(cost, 3) + round(float(far[i]), 3) for i, (cost, _) in zip(tried, results)]
    return results[int(np.argmin(costs))][1]


def _walked(chain: list[Path], start: int) -> tuple[float, list[Path]]:
    rows, cost = [rotate_start(chain[0], start)], 0.0
    for ring in chain[1:]:
        at = rows[-1][0]
        turned = _started_near(ring, at)
        if len(crossings([np.array([at, turned[0]])], [np.vstack([r, r[:1]]) for r in (rows[-1], ring)])):
            turned = _started_at_nearest(ring, at)
        cost += float(np.hypot(*(turned[0] - at)))
        rows.append(turned)
    return cost, rows


def _started_near(ring: Path, at: FloatArray) -> Path:
    return rotate_start(ring, int(np.argmin(np.round(np.hypot(*(ring - at).T), 6))))


def _started_at_nearest(ring: Path, at: FloatArray) -> Path:
    # the nearest point of the ring becomes its first vertex: that step crosses nothing
    a, b = ring, np.roll(ring, -1, axis=0)
    edge = b - a
    t = np.clip(((at - a) * edge).sum(axis=1) / (edge**2).sum(axis=1), 0.0, 1.0)
    foot = a + edge * t[:, None]
    i = int(np.argmin(np.round(np.hypot(*(foot - at).T), 6)))
    turned = np.roll(ring, -(i + 1), axis=0)
    if t[i] in (0.0, 1.0):
        return rotate_start(ring, i if t[i] == 0.0 else (i + 1) % len(ring))
    return as_path(np.vstack([foot[i : i + 1], turned]))
