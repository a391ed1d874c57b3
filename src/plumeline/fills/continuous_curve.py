"""Continuous curves: shallow arcs from corner to corner along the seams of pieced patches."""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np
from shapely import Polygon

from ..geometry import (
    Outline,
    arc_lengths,
    cornered,
    crossings,
    cut_by,
    densify,
    erode,
    is_simple,
    leaving,
    path_length,
    rings,
    subtract,
)
from ..model import Filled, Path, Stroke, Zone, as_path
from ..tolerances import CURVE_MM
from .kit.registry import Fill, too_small
from .kit.settings import FillSettings, Mm, length

__all__ = ["FILL", "ContinuousCurveSettings", "arc_over"]

USUAL_DEPTH = 1 / 8
"""Depth of an arc as a part of its side."""

DEEPEST_MM = 12.7
"""The usual depth is at most this: 1/2 in."""

SHARE = 0.4
"""Part of a corner's angle that each of the two arcs meeting there may take up."""

LEAST_RADIUS_MM = 1.5
"""A patch with a smaller inscribed circle has no room for two arcs side by side."""

CURVED = 0.05
"""A side that bows by more of its chord is a curve of its own, which its arc follows."""

WINDS = 0.5
"""A side that anywhere goes less than this part of its way along its chord winds: its arc keeps to the side itself."""

FLATTEST_MM = 0.05
"""An arc flattened to less than this lies on the seam; it is left out there."""

SMOOTH = 6
"""Points to a depth along a side that winds; its direction is taken over so many on either side."""

TRIES = 8
"""How often an arc that meets another is halved before it is left out."""


class ContinuousCurveSettings(FillSettings):
    """Settings of continuous curves."""

    fills_space: ClassVar[bool] = False

    depth_mm: Mm | None = length(
        None, least=0.5, most=100.0, description="of each arc; left out: 1/8 of the side, at most 1/2 in"
    )


def draw(
    zone: Zone, settings: ContinuousCurveSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM
) -> Filled:
    """Draw one arc a side, corner to corner of the patch itself, in order round it.

    The arcs end exactly in the corners of ``zone.outline``, whatever the inset, so that those of neighbouring
    patches meet and a whole row can be stitched in one line. Depth gives way in sharp corners and narrow patches.
    """
    strokes: list[Stroke] = []
    open_ground = subtract(zone.outline, zone.left_open)
    fences = [fence.path for fence in zone.fences if fence.soft_mm == 0]
    for patch in (piece for ground in open_ground for piece in cut_by(ground, fences)):
        if erode(patch, LEAST_RADIUS_MM):
            strokes += [Stroke(arc) for arc in _arcs(patch, settings.depth_mm, tolerance_mm)]
    if not strokes:
        return too_small(
            zone, "continuous-curve", "the patch has no corners, or no room between them", "Choose rings or outline."
        )
    return Filled(strokes=tuple(strokes))


def _arcs(patch: Polygon, depth: float | None, tolerance: float) -> list[Path]:
    sides: list[Path] = []
    depths: list[float] = []
    for i, ring in enumerate(rings(patch)):
        outline = cornered(ring)
        found = outline.sides()
        deep = _depths(outline, found, depth, hole=i > 0)
        sides += [as_path(side[::-1]) for side in found] if i > 0 else found
        depths += deep
    for _ in range(TRIES):
        arcs = [arc_over(side, deep, tolerance_mm=tolerance) for side, deep in zip(sides, depths)]
        bad = _in_the_way(arcs, patch, tolerance)
        if not bad:
            break
        depths = [d / 2 if i in bad else d for i, d in enumerate(depths)]
    else:
        bad = _in_the_way(arcs, patch, tolerance)
    return [arc for i, arc in enumerate(arcs) if i not in bad and depths[i] > FLATTEST_MM]


def _depths(outline: Outline, sides: list[Path], depth: float | None, *, hole: bool) -> list[float]:
    # an arc of sagitta h over a chord c leaves it at the angle a with tan(a / 2) = 2 h / c
    inner = 360.0 - outline.inner_deg if hole else outline.inner_deg
    out = []
    for j, side in enumerate(sides):
        chord = float(np.hypot(*(side[-1] - side[0])))
        sharpest = min(inner[j], inner[(j + 1) % len(sides)], 180.0)
        chord = path_length(side) if _winds(side) else chord
        most = chord / 2 * math.tan(math.radians(SHARE * sharpest) / 2)
        out.append(min(depth if depth is not None else min(chord * USUAL_DEPTH, DEEPEST_MM), most))
    return out


def arc_over(side: Path, depth_mm: float, *, tolerance_mm: float = CURVE_MM) -> Path:
    """Return an arc over a side, bulging to its right (inwards, for a ring clockwise as seen).

    A straight side gives the circular arc of that sagitta, its chords within a tenth of the tolerance. A side that
    bows gives the arc that stands as deep off its middle; one that curves (bows by more than `CURVED` of its chord)
    is moved by the arc's heights instead. One that winds, as round an S, is moved square to itself.
    """
    start, end = side[0], side[-1]
    if depth_mm <= 0.0:
        return side
    if _winds(side):
        return _beside(side, depth_mm)
    chord = float(np.hypot(*(end - start)))
    way = (end - start) / chord
    inwards = np.array([-way[1], way[0]])
    off = (side - start) @ inwards
    bow = float(off[int(np.argmax(np.abs(off)))])
    straight = abs(bow) <= CURVED * chord and depth_mm + bow > FLATTEST_MM
    deep = depth_mm + bow if straight else depth_mm
    radius = (chord**2 / 4 + deep**2) / (2 * deep)
    step = min(2.0 * math.sqrt(2.0 * radius * tolerance_mm / 10), chord / 8)
    points = densify(side[[0, -1]] if straight else side, step)
    along = np.clip((points - start) @ way, 0.0, chord) - chord / 2
    height = np.sqrt(np.maximum(radius**2 - along**2, 0.0)) - (radius - deep)
    height[[0, -1]] = 0.0
    return as_path(points + inwards * height[:, None])


def _winds(side: Path) -> bool:
    chord = side[-1] - side[0]
    across = float(np.hypot(*chord))
    if across == 0.0:
        return True
    step = np.diff(side, axis=0)
    bow = np.abs((side - side[0]) @ np.array([-chord[1], chord[0]])).max() / across
    return bool(bow > CURVED * across and (step @ chord / across < WINDS * np.hypot(*step.T)).any())


def _beside(side: Path, depth_mm: float) -> Path:
    """Return a side moved square to itself, by nothing at its ends and by the depth in its middle."""
    points = densify(side, depth_mm / SMOOTH)
    s = arc_lengths(points)
    way = np.gradient(points, s, axis=0)
    near = np.ones(2 * SMOOTH + 1) / (2 * SMOOTH + 1)  # over the depth to either side, so that corners come out round
    way = np.column_stack([np.convolve(np.pad(w, SMOOTH, mode="edge"), near, mode="valid") for w in way.T])
    way /= np.maximum(np.hypot(*way.T), FLATTEST_MM)[:, None]
    t = s / s[-1]
    height = 4 * depth_mm * t * (1 - t)
    return as_path(points + np.column_stack([-way[:, 1], way[:, 0]]) * height[:, None])


def _in_the_way(arcs: list[Path], patch: Polygon, tolerance: float) -> set[int]:
    # arcs that leave the patch or properly cross another or themselves
    if not arcs:
        return set()
    bad = set(leaving(arcs, patch, tolerance_mm=tolerance / 5))
    bad |= {i for i, arc in enumerate(arcs) if not is_simple(arc)}
    low, high = (np.array([end(arc, axis=0) for arc in arcs]) for end in (np.min, np.max))
    for i, arc in enumerate(arcs):
        near = ((low[:i] <= high[i]) & (high[:i] >= low[i])).all(axis=1)
        for j in np.flatnonzero(near).tolist():
            if len(crossings([arc], [arcs[j]])):
                bad |= {i, j}
    return bad


FILL = Fill(
    name="continuous-curve",
    settings=ContinuousCurveSettings,
    draw=draw,
    stage="ruler",
    description="shallow arcs from corner to corner along the seams; a whole row in one line",
    within="outline",
)
