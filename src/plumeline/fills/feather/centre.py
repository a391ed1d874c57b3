"""Feathers round one centre: an open ring, a rosette, or bases that meet; stitched as one chain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ...geometry import as_region, boundary_distance, clip_paths, opened, path_distance, path_length, point_at, subtract
from ...model import FloatArray, Path, as_path
from .growth import Growth
from .spine import Spine

__all__ = ["RING_MM", "ROSETTE_MM", "Group", "Part", "growth_of", "round_centre"]

RING_MM = 5 / 8 * 25.4
"""Across the open ring at a common centre: wide enough that the needle never comes back to one spot."""

BASE_MM = 22.0
"""Room for each base on the ring: with less, the plumes of many feathers crowd to a knot beside it."""

ROSETTE_MM = 1.25 * 25.4
"""Across the rosette at a common centre."""

CENTRE_SHARE = 0.3
"""A ring or rosette is at most this part of the shortest spine across."""

EDGE_SHARE, LEAST_RING_MM = 0.5, 5.0
"""A ring is at most this part of the way across the zone at the centre, and not drawn below the least size."""

OPENS = 1.1
"""A feather's space that reaches this much farther from its base than its tip opens out there."""

ARC_STEP_MM = 0.8
"""Step of the points on a ring or rosette: chords stray 0.01 mm from a 5/8 in ring."""

PETAL_NOTCH = 0.45
"""Where the petals of a rosette part, as a share of its radius: 8 petals don't crowd there."""

PETAL_ROUND = 0.5
"""Exponent of a petal's outline, a power of a cosine: plump, with a sharp notch."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One feather's part of the zone and its spine."""

    region: Polygon
    spine: Spine


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Feathers stitched as one chain.

    Attributes
    ----------
    growths : tuple of Growth
        In stitching order.
    link : tuple of Path
        The ring or rosette in pieces, from each base to the next, the last piece back to the first base; empty
        for a single feather and for feathers that meet in one point.
    twig : bool
        A single feather that grows out of one before it: the two are one line.
    """

    growths: tuple[Growth, ...]
    link: tuple[Path, ...] = ()
    twig: bool = False


def growth_of(region: Polygon, spine: Spine) -> Growth:
    """Return the growth of a spine; holes that it does not run round are cut open to the edge."""
    whole = opened(region, spine.path, closed=spine.closed) if region.interiors else region
    return Growth(whole, spine.path, spine.closed, spine.floating)


def round_centre(
    parts: Sequence[Part],
    region: Polygon,
    centre: Literal["ring", "rosette", "meet"],
    firm: Sequence[Path],
    fences: Sequence[Path],
) -> tuple[Group, list[Path]]:
    """Return feathers that start at one point as a group, clockwise as seen, and the fences clear of the ring.

    ``region`` is the whole zone's. A centre without room for a ring lets the feathers meet. A ring that would
    cross a firm fence is left out: its feathers then have no link.
    """
    middle: FloatArray = np.mean([p.spine.path[0] for p in parts], axis=0)
    parts = _clockwise(parts, middle)
    shortest = min(path_length(p.spine.path) for p in parts)
    room = 2 * float(boundary_distance(region, middle[None])[0])
    wanted = max(RING_MM, len(parts) * BASE_MM / np.pi) if centre == "ring" else ROSETTE_MM
    across = min(wanted, CENTRE_SHARE * shortest, EDGE_SHARE * room)
    if centre == "meet" or across < LEAST_RING_MM:
        spines = [Spine(as_path(np.vstack([middle, p.spine.path[1:]]))) for p in parts]
        growths = [growth_of(p.region, s) for p, s in zip(parts, spines, strict=True)]
        return Group(tuple(growths)), list(fences)
    radius = across / 2
    paths = [_beyond(p.spine.path, middle, radius) for p in parts]
    bases = np.array([p[0] for p in paths])
    bits = (_ring if centre == "ring" else _rosette)(middle, radius, bases)
    flower = as_region(np.vstack(bits))
    own = [growth_of(subtract(p.region, [flower])[0], Spine(path)) for p, path in zip(parts, paths, strict=True)]
    growths = [replace(growth, ringed=_tapers(growth)) for growth in own]
    link = tuple(as_path(np.vstack([bit, after])) for bit, after in zip(bits, np.roll(bases, -1, axis=0), strict=True))
    if path_distance(middle, firm) <= radius:
        link = ()
    outside = [line for _, line in clip_paths(list(fences), _all_but(flower, fences))]
    return Group(tuple(growths), link), outside


def _clockwise(parts: Sequence[Part], middle: FloatArray) -> list[Part]:
    away = [point_at(p.spine.path, RING_MM / 2)[0] - middle for p in parts]
    return [parts[k] for k in np.argsort([np.arctan2(a[1], a[0]) for a in away], kind="stable")]


def _beyond(path: Path, middle: FloatArray, radius: float) -> Path:
    # what of a spine lies beyond the circle, starting on it
    far = np.hypot(*(path - middle).T)
    k = int(np.flatnonzero(far < radius).max(initial=0))
    t = (radius - far[k]) / max(float(far[k + 1] - far[k]), 1e-12)
    start = path[k] + np.clip(t, 0.0, 1.0) * (path[k + 1] - path[k])
    return as_path(np.vstack([start, path[k + 1 :]]))


def _all_but(flower: Polygon, fences: Sequence[Path]) -> Polygon:
    reach = np.vstack([np.asarray(flower.exterior.coords), *fences])
    (left, top), (right, bottom) = reach.min(axis=0) - 1.0, reach.max(axis=0) + 1.0
    return subtract(as_region([(left, top), (right, top), (right, bottom), (left, bottom)]), [flower])[0]


def _turns(middle: FloatArray, bases: FloatArray) -> NDArray[np.float64]:
    # angles of the bases, rising from the first round to the first again
    x, y = (bases - middle).T
    angle = np.arctan2(y, x)
    return np.append(angle[0] + np.mod(angle - angle[0], 2 * np.pi), angle[0] + 2 * np.pi)


def _ring(middle: FloatArray, radius: float, bases: FloatArray) -> list[FloatArray]:
    turn = _turns(middle, bases)
    bits = []
    for base, a, b in zip(bases, turn[:-1], turn[1:], strict=True):
        t = np.linspace(a, b, max(int(np.ceil((b - a) * radius / ARC_STEP_MM)), 4), endpoint=False)
        bit = middle + radius * np.column_stack([np.cos(t), np.sin(t)])
        bits.append(np.vstack([base, bit[1:]]))
    return bits


def _rosette(middle: FloatArray, radius: float, bases: FloatArray) -> list[FloatArray]:
    # petal tips at the bases and half way between: from a tip in to a notch, out to the tip between, and again
    turn = _turns(middle, bases)
    bits = []
    for base, a, b in zip(bases, turn[:-1], turn[1:], strict=True):
        t = np.linspace(0.0, 2.0, 2 * max(int(np.ceil(3 * radius / ARC_STEP_MM)), 12), endpoint=False)
        far = radius * (PETAL_NOTCH + (1 - PETAL_NOTCH) * np.abs(np.cos(np.pi * t)) ** PETAL_ROUND)
        angle = a + (b - a) * t / 2
        bit = middle + far[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        bits.append(np.vstack([base, bit[1:]]))
    return bits


def _tapers(growth: Growth) -> bool:
    """Whether a feather's space is narrow at its tip, as in a corner: there few full plumes at the ring suit the rest.

    A space that opens out beyond the tip, as towards the middle of a side, needs its small plumes at the ring.
    """
    start, tip = growth.spine[0], growth.spine[-1]
    ring = np.asarray(growth.region.exterior.coords)
    return bool(np.hypot(*(ring - start).T).max() <= OPENS * np.hypot(*(tip - start)))
