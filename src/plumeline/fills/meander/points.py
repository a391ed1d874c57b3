"""Where the meander's tree has its points: scattered evenly, drawn into corners, strung through necks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import Polygon

from ...geometry import boundary_distance, bounds, circumcircles, contains, edge_samples, erode, resample, rings, turns
from ...model import FloatArray

__all__ = ["TreePoints", "tree_points"]

FIELD_DEPTH = 0.5
"""Depth of the outermost row of points, in points' pitches: the line then lies about half a spacing from the edge."""

NARROW = 0.25
"""Clearance, in pitches, below which points serve only to join what lies beyond: the line would double there."""

NARROWEST = 0.1
"""Clearance, in pitches, below which no line passes."""

WIDE = 0.53
"""Clearance, in pitches, up to which points are strung along the middle of a neck; beyond it the rim's row does."""

APART = 0.62
"""Least distance of two points, in pitches: less makes knots, more makes bald spots."""

JITTER = 0.42
"""How far a point may stray from the even grid, in pitches: more is uneven, less shows the grid."""

CORNER = np.radians(55.0)
"""Turn of the edge from which a corner gets points of its own: sharper than 125 degrees."""


@dataclass(frozen=True, slots=True, eq=False)
class TreePoints:
    """Points of the tree.

    Attributes
    ----------
    xy : (n, 2)
    rim, neck, narrow : (n,) bool
        In the row along the edge; in a tip or a neck; in a place too narrow but to pass.
    """

    xy: FloatArray
    rim: NDArray[np.bool_]
    neck: NDArray[np.bool_]
    narrow: NDArray[np.bool_]


def tree_points(region: Polygon, pitch: float, margin: float, rng: np.random.Generator) -> TreePoints:
    """Return the points of the tree.

    Parameters
    ----------
    region : shapely.Polygon
        Where the line may run: the zone less a margin.
    pitch : float
        Mean distance of points, mm.
    margin : float
        Width of that margin, mm; depths count from the zone's edge.
    """
    tips = _tips(region, pitch, margin)
    necks, clearance = _necks(region, pitch, margin, rng)
    rim = _rim(region, pitch, margin, rng)
    field = _field(region, pitch, margin, rng)
    groups = [tips, necks, rim, field]
    xy = np.vstack(groups)
    if not len(xy):
        return TreePoints(xy, *(np.zeros(0, dtype=bool) for _ in range(3)))
    group = np.repeat(np.arange(4), [len(g) for g in groups])
    room = np.full(len(xy), np.inf)
    room[len(tips) : len(tips) + len(necks)] = clearance
    if len(tips):
        room[: len(tips)] = boundary_distance(region, tips) + margin
    # Two points nearer than twice the clearance are neighbours in the mesh, so the tree passes the neck.
    reach = np.where(room < FIELD_DEPTH * pitch, 0.85 * room, APART * pitch)
    kept = _thinned(xy, reach, group + rng.random(len(xy)))
    return TreePoints(xy[kept], group[kept] == 2, group[kept] <= 1, room[kept] < NARROW * pitch)


def _field(region: Polygon, pitch: float, margin: float, rng: np.random.Generator) -> FloatArray:
    left, top, right, bottom = bounds(region)
    turn, shift = rng.uniform(0, np.pi / 3), rng.uniform(0, pitch, 2)
    centre, radius = np.array([(left + right) / 2, (top + bottom) / 2]), np.hypot(right - left, bottom - top) / 2
    n = int(radius / pitch * 1.2) + 2
    i, j = np.meshgrid(np.arange(-n, n + 1), np.arange(-n, n + 1))
    even = np.column_stack([(i + (j % 2) / 2).ravel(), (j * np.sqrt(3) / 2).ravel()]) * pitch
    c, s = np.cos(turn), np.sin(turn)
    even = even @ np.array([[c, s], [-s, c]]) + centre + shift
    even = even[(even[:, 0] > left) & (even[:, 0] < right) & (even[:, 1] > top) & (even[:, 1] < bottom)]
    angle, stray = rng.uniform(0, 2 * np.pi, len(even)), JITTER * pitch * np.sqrt(rng.random(len(even)))
    even = even + np.column_stack([np.cos(angle), np.sin(angle)]) * stray[:, None]
    deep = erode(region, FIELD_DEPTH * pitch - margin, tolerance_mm=0.01 * pitch)
    return np.vstack([np.zeros((0, 2)), *(even[contains(part, even)] for part in deep)])


def _rim(region: Polygon, pitch: float, margin: float, rng: np.random.Generator) -> FloatArray:
    # Pushed inwards by chance: all at one depth, they would make a comb of equal fingers along the edge.
    found = [np.zeros((0, 2))]
    for part in erode(region, FIELD_DEPTH * pitch - margin, join="round", tolerance_mm=0.01 * pitch):
        for ring in rings(part):
            path = resample(ring, 0.05 * pitch, closed=True)
            step = np.roll(path, -1, axis=0) - path
            length = float(np.hypot(*step.T).sum())
            count = max(int(length / (0.95 * pitch)), 1)
            at = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) / count % 1.0
            index = np.minimum((at * len(path)).astype(int), len(path) - 1)
            inwards = np.column_stack([-step[index, 1], step[index, 0]])
            inwards /= np.maximum(np.hypot(*inwards.T), 1e-12)[:, None]
            found.append(path[index] + inwards * rng.uniform(0, 0.3 * pitch, count)[:, None])
    points = np.vstack(found)
    inside: FloatArray = points[contains(region, points)]
    return inside


def _tips(region: Polygon, pitch: float, margin: float) -> FloatArray:
    found = [np.zeros((0, 2))]
    for ring in rings(region):
        turn = turns(ring, closed=True)
        for i in np.flatnonzero(turn > CORNER):
            before, after = ring[i - 1] - ring[i], ring[(i + 1) % len(ring)] - ring[i]
            half = (np.pi - turn[i]) / 2
            inwards = before / np.hypot(*before) + after / np.hypot(*after)
            inwards /= np.hypot(*inwards)
            first = (0.26 * pitch - margin) / np.sin(half)
            last = (WIDE * pitch - margin) / np.sin(half)
            steps = np.arange(first, max(last, first + 0.1 * pitch), 0.8 * pitch)
            points = ring[i] + steps[:, None] * inwards
            # A leg shorter than that, or another edge near: the corner's bisector means nothing there.
            room = boundary_distance(region, points)
            found.append(points[room > 0.9 * steps * np.sin(half)])
    return np.vstack(found)


def _necks(region: Polygon, pitch: float, margin: float, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    outline = rings(region)
    edge = edge_samples(outline, [np.zeros(len(r), dtype=np.int64) for r in outline], 0.15 * pitch).points
    # Many samples on one line make the triangulation six times slower than the same ones a hair off it.
    centres, radii = circumcircles(edge + rng.normal(0, 1e-4 * pitch, edge.shape))
    clearance = radii + margin
    some = (clearance > NARROWEST * pitch) & (clearance < WIDE * pitch)
    centres, clearance = centres[some], clearance[some]
    inside = contains(region, centres)
    return centres[inside], clearance[inside]


def _thinned(xy: FloatArray, reach: FloatArray, rank: FloatArray) -> NDArray[np.int64]:
    """Return the indices kept when, in the order of rank, each point drops those within their own reach of it."""
    pairs = cKDTree(xy).query_pairs(float(reach.max()), output_type="ndarray")
    first_wins = rank[pairs[:, 0]] < rank[pairs[:, 1]]
    winner = np.where(first_wins, pairs[:, 0], pairs[:, 1])
    loser = np.where(first_wins, pairs[:, 1], pairs[:, 0])
    near = np.hypot(*(xy[winner] - xy[loser]).T) < reach[loser]
    winner, loser = winner[near], loser[near]
    # Rounds: whoever has no undecided winner over it stays, and drops its losers.
    state = np.zeros(len(xy), dtype=np.int8)  # 0 undecided, 1 kept, -1 dropped
    while (state == 0).any():
        held = np.zeros(len(xy), dtype=bool)
        held[loser] = True
        state[(state == 0) & ~held] = 1
        state[loser[state[winner] == 1]] = -1
        open_pair = (state[winner] == 0) & (state[loser] == 0)
        winner, loser = winner[open_pair], loser[open_pair]
    return np.flatnonzero(state == 1)
