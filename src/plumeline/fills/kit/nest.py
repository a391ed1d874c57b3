"""Nested mitred insets of a region, and the chains of rings that step from one to the next."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from shapely import Polygon

from ...geometry import (
    as_region,
    close_ring,
    contains,
    cornered,
    crossings,
    dedupe,
    erode_all,
    path_length,
    rings,
    rotate_start,
    signed_area,
)
from ...model import FloatArray, Path, as_path
from .limits import nearest_count
from .parallel import LEAST_GAP_MM

__all__ = ["Ring", "chains_of", "every_ring", "nested_rings", "rows_to_middle"]

SHALLOWEST = 0.75
"""A zone whose inscribed radius is under this part of the spacing takes no row."""

GIVE, FITS = 0.15, 121
"""How far a gap may give to suit the ridges, and how many gaps are tried."""

HAIR = 0.25
"""A row less than this part of a gap before a ridge looks like a doubled line; it counts extra."""

STAY = 0.01
"""Price of giving all the way, against a gap that is missed by a tenth everywhere."""

LONGEST_STEP = 4.0
"""Longest step in gaps: along the mitre of a 30 degree tip it is 3.9."""

CRUMB = 3.0
"""A ring by itself that is shorter than so many gaps isn't worth a start and a stop."""

DOUBLED_MM = 1e-4
"""Vertices that an inset leaves closer than this are one."""

STARTS = 24
"""Most mitres that are tried for the steps of one chain."""


@dataclass(slots=True, eq=False)
class Ring:
    """One closed row at a depth, and the rows at the next depth that grew out of it."""

    path: Path
    hole: bool
    next: list[Ring] = field(default_factory=list)


def rows_to_middle(
    radius: float, gaps: tuple[float, ...], rows: int | None, ridged: list[tuple[float, float]]
) -> tuple[FloatArray, float]:
    """Return the depths of rows from the edge to the middle of a zone, and by what the gaps were stretched.

    Without ridges the space across the middle becomes a whole one: ``D = q (n sum + a / 2)`` with D the inscribed
    radius. Where arms of the zone end at other depths than its middle, one even gap is chosen that comes nearest
    to ending half a gap from every such ridge, the longer ones first: a row that just misses a ridge would come
    back a hair from itself.
    """
    period, first = sum(gaps), gaps[0]
    if rows is None and radius < SHALLOWEST * first:
        return np.zeros(0), 1.0
    if rows is None and ridged and len(gaps) == 1:
        stretch = _fitted(radius, first, ridged)
        count = int(radius / (stretch * first))
    else:
        count = rows if rows is not None and len(gaps) == 1 else nearest_count((radius - first / 2) / period)
        stretch = radius / (count * period + first / 2)
    if stretch * min(gaps) < LEAST_GAP_MM:
        return np.zeros(0), 1.0
    return stretch * np.cumsum(np.tile(gaps, count))[:rows], stretch


def _fitted(radius: float, gap: float, ridged: list[tuple[float, float]]) -> float:
    tried = np.linspace(1.0 - GIVE, 1.0 + GIVE, FITS)
    depths = np.array([radius, *(depth for depth, _ in ridged)])
    lengths = np.array([gap, *(length for _, length in ridged)])
    past = np.mod(depths[None, :] / (gap * tried[:, None]), 1.0)
    miss = (past - 0.5) ** 2 + np.maximum(HAIR - past, 0.0)
    cost = (miss * lengths).sum(axis=1) / lengths.sum() + STAY * ((tried - 1.0) / GIVE) ** 2
    return float(tried[int(np.argmin(np.round(cost, 9)))])


SPIKE = 2.0
"""Rows run out beside a sharp notch by at most this many times their depth: further, and they would cross the rows of
other edges. Notches down to 60 degrees keep their mitre."""


def nested_rings(piece: Polygon, depths: FloatArray) -> list[Ring]:
    """Return the rings of the first depth that exists, each leading to those that grew out of it.

    A ring of the edge grows into those inside it; a ring round a hole into the one about it. A ring nobody
    leads to is a root. Each inset is taken from the region itself.
    """
    roots: list[Ring] = []
    above: list[tuple[Polygon, list[Ring]]] = []
    for regions in erode_all(piece, [float(depth) for depth in depths], mitre_limit=SPIKE):
        level = []
        for region in regions:
            shell, *holes = (dedupe(ring, closed=True, nearer_than_mm=DOUBLED_MM) for ring in rings(region))
            here = [Ring(shell, hole=False), *(Ring(hole, hole=True) for hole in holes)]
            _link(here, [r for outer, r in above if bool(contains(outer, shell[:1])[0])], roots)
            level.append((region, here))
        above = level
    return roots


def every_ring(roots: list[Ring]) -> list[Path]:
    """Return the paths of all rings that grew out of some, each once, those of one depth together."""
    seen: dict[int, Path] = {}
    level = roots
    while level:
        seen.update((id(ring), ring.path) for ring in level if id(ring) not in seen)
        level = [inner for ring in level for inner in ring.next if id(inner) not in seen]
    return list(seen.values())


def _link(here: list[Ring], parents: list[list[Ring]], roots: list[Ring]) -> None:
    found = parents[0] if parents else []
    for ring in here:
        if ring.hole:
            about = as_region(ring.path)
            before = [r for r in found if r.hole and bool(contains(about, r.path[:1])[0])]
        else:
            before = [r for r in found if not r.hole]
        for parent in before:
            parent.next.append(ring)
        if not before:
            roots.append(ring)


def chains_of(roots: list[Ring], gap_mm: float, *, enter: tuple[float, float] | None = None) -> list[list[Path]]:
    """Return chains of rings, each started so that a short step leads from its start to the start of the next.

    Every ring is in one chain, but crumbs in the tips of a zone, which are left out. A chain goes on into the
    largest of the rings that grew out of its last one, as long as a step of at most `LONGEST_STEP` gaps leads
    there; the others start chains of their own.
    """
    chains: list[list[Path]] = []
    waiting = list(roots)
    seen: set[int] = set()
    while waiting:
        follow: Ring | None = waiting.pop(0)
        chain: list[Path] = []
        while follow is not None and id(follow) not in seen:
            seen.add(id(follow))
            chain.append(follow.path)
            after = sorted(follow.next, key=lambda ring: -abs(signed_area(ring.path)))
            waiting += after[1:]
            follow = after[0] if after else None
        while chain:
            chains.append(_aligned(chain, gap_mm * LONGEST_STEP, enter))
            chain = chain[len(chains[-1]) :]
    whole = [chain for chain in chains if len(chain) > 1 or path_length(chain[0], closed=True) > CRUMB * gap_mm]
    return whole or chains


def _aligned(chain: list[Path], longest: float, enter: tuple[float, float] | None) -> list[Path]:
    # the chain as far as steps lead, along the mitre whose steps are shortest or that starts where she comes in
    first = chain[0]
    starts = _feet(chain) if enter is None else _corners_of(first)
    walks = [_walked(chain, _started_near(first, start), longest) for start in starts]
    far = np.zeros(len(starts)) if enter is None else np.hypot(*(starts - np.asarray(enter)).T)
    costs = [(-len(rows), round(cost + float(away), 3)) for (rows, cost), away in zip(walks, far)]
    return walks[costs.index(min(costs))][0]


def _corners_of(ring: Path) -> FloatArray:
    corners = cornered(ring).points
    few = corners if len(corners) else ring
    chosen: FloatArray = few[:: -(-len(few) // STARTS)]
    return chosen


def _feet(chain: list[Path]) -> FloatArray:
    # the outer ends of the mitres that reach the innermost ring, followed outwards from corner to nearest corner
    feet = _corners_of(chain[-1])
    for ring in chain[-2::-1]:
        corners = cornered(ring).points
        feet = np.array([_started_near(as_path(corners) if len(corners) else ring, foot)[0] for foot in feet])
    first = np.unique(np.round(feet, 6), axis=0, return_index=True)[1]
    return feet[np.sort(first)]


def _walked(chain: list[Path], first: Path, longest: float) -> tuple[list[Path], float]:
    rows, cost = [first], 0.0
    for ring in chain[1:]:
        at = rows[-1][0]
        for turned in (_started_near(ring, at), _started_at_nearest(ring, at)):
            step = float(np.hypot(*(turned[0] - at)))
            if step <= longest and not len(
                crossings([np.array([at, turned[0]])], [close_ring(rows[-1]), close_ring(ring)])
            ):
                break
        else:
            return rows, cost
        rows.append(turned)
        cost += step
    return rows, cost


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
