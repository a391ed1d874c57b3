"""Continuous curves: shallow arcs from corner to corner along the seams of pieced patches."""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np
from shapely import Polygon

from ..geometry import Outline, cornered, crossings, cut_by, densify, erode, outside_mm, rings, subtract
from ..model import Filled, FloatArray, Path, Stroke, Zone, as_path
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

FLATTEST_MM = 0.05
"""An arc flattened to less than this lies on the seam; it is left out there."""

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
        most = chord / 2 * math.tan(math.radians(SHARE * sharpest) / 2)
        out.append(min(depth if depth is not None else min(chord * USUAL_DEPTH, DEEPEST_MM), most))
    return out


def arc_over(side: Path, depth_mm: float, *, tolerance_mm: float = CURVE_MM) -> Path:
    """Return an arc over a side, bulging to its right (inwards, for a ring clockwise as seen).

    A straight side gives the circular arc of that sagitta, its chords within a tenth of the tolerance. A side that
    bows gives the arc that stands as deep off its middle; one that curves (bows by more than `CURVED` of its chord)
    is moved by the arc's heights instead.
    """
    start, end = side[0], side[-1]
    chord = float(np.hypot(*(end - start)))
    if chord == 0.0 or depth_mm <= 0.0:
        return side
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


def _in_the_way(arcs: list[Path], patch: Polygon, tolerance: float) -> set[int]:
    # arcs that leave the patch or properly cross another
    bad = {i for i, arc in enumerate(arcs) if outside_mm([arc], patch, tolerance_mm=tolerance / 5) > 0.0}
    boxes = [(arc.min(axis=0), arc.max(axis=0)) for arc in arcs]
    for i, a in enumerate(arcs):
        for j in range(i):
            if _apart(boxes[i], boxes[j]):
                continue
            if len(crossings([a], [arcs[j]])):
                bad |= {i, j}
    return bad


def _apart(a: tuple[FloatArray, FloatArray], b: tuple[FloatArray, FloatArray]) -> bool:
    return bool((a[1] < b[0]).any() or (b[1] < a[0]).any())


FILL = Fill(
    name="continuous-curve",
    settings=ContinuousCurveSettings,
    draw=draw,
    stage="ruler",
    description="shallow arcs from corner to corner along the seams; a whole row in one line",
    within="outline",
)
