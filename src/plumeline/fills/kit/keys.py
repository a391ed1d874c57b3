"""Piano keys round a ring-shaped border: square to its outer edge, meeting at the mitres."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import Polygon

from ...geometry import Band, arc_lengths, clip_path, path_length
from ...model import FloatArray, Path, as_path
from .limits import nearest_count

__all__ = ["keys_round"]

REACH = 0.25
"""Keys are drawn this part of the border's width too long, then clipped: seams wander."""


def keys_round(band: Band, piece: Polygon, spacing_mm: float) -> tuple[list[Path], float]:
    """Return the keys of a border in order round it, alternately turned, and the greatest stretch.

    Each mitre is divided evenly; from each of its points one key runs square to the edge on either side, so the
    two meet on the mitre and are one bent line. Between the corners of the hole each side is divided evenly by
    itself. Without corners the keys stand at even steps along the middle of the band.
    """
    if not len(band.corners):
        return _keys_of_ring(band, piece, spacing_mm)
    outer, inner = band.outer[band.corners], band.inner[band.corners]
    reach = REACH * band.width_mm
    drawn: list[FloatArray] = []
    stretches: list[float] = []
    for j in range(len(outer)):
        before, after = (j - 1) % len(outer), (j + 1) % len(outer)
        bent, bent_stretch = _corner(outer[before], outer[j], outer[after], inner[j], spacing_mm, reach)
        straight, straight_stretch = _side(outer[j], outer[after], inner[j], inner[after], spacing_mm, reach)
        drawn += bent + straight
        stretches += [bent_stretch, straight_stretch]
    return _clipped(drawn, piece), max(stretches, key=lambda s: abs(s - 1.0))


def _clipped(keys: Sequence[FloatArray], piece: Polygon) -> list[Path]:
    # the key itself of each, without what it was drawn too long; alternately turned
    found = [clip_path(key, piece) for key in keys]
    kept = [max(stretches, key=path_length) for stretches in found if stretches]
    return [as_path(key[::-1]) if i % 2 else key for i, key in enumerate(kept)]


def _foot(point: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    side = (b - a) / np.hypot(*(b - a))
    foot: FloatArray = a + side * float((point - a) @ side)
    return foot


def _beyond(point: FloatArray, foot: FloatArray, reach: float) -> FloatArray:
    step = foot - point
    size = float(np.hypot(*step))
    out: FloatArray = foot + step * (reach / size) if size > 0 else foot
    return out


def _corner(
    before: FloatArray, corner: FloatArray, after: FloatArray, hole: FloatArray, spacing: float, reach: float
) -> tuple[list[FloatArray], float]:
    # bent keys, from the hole's corner out to the tip
    room = (
        float(np.hypot(*(_foot(hole, corner, after) - corner)) + np.hypot(*(_foot(hole, before, corner) - corner))) / 2
    )
    count = nearest_count(room / spacing)
    keys = []
    for i in range(count)[::-1]:
        at = corner + (hole - corner) * (i + 0.5) / count
        ends = [_beyond(at, _foot(at, a, b), reach) for a, b in ((before, corner), (corner, after))]
        keys.append(np.array([ends[0], at, ends[1]]))
    return keys, room / count / spacing


def _side(
    a: FloatArray, b: FloatArray, hole_a: FloatArray, hole_b: FloatArray, spacing: float, reach: float
) -> tuple[list[FloatArray], float]:
    # straight keys between the feet of the hole's two corners
    foot_a, foot_b = _foot(hole_a, a, b), _foot(hole_b, a, b)
    room = float(np.hypot(*(foot_b - foot_a)))
    count = nearest_count(room / spacing)
    keys = []
    for i in range(count):
        t = (i + 0.5) / count
        out, inn = foot_a + (foot_b - foot_a) * t, hole_a + (hole_b - hole_a) * t
        keys.append(np.array([_beyond(inn, out, reach), _beyond(out, inn, reach)]))
    return keys, room / count / spacing


def _keys_of_ring(band: Band, piece: Polygon, spacing: float) -> tuple[list[Path], float]:
    middle = band.row(0.5)
    around = path_length(middle, closed=True)
    count = nearest_count(around / spacing, least=3)
    at = np.arange(count) * around / count
    own = arc_lengths(middle, closed=True)
    keys = []
    for edge in (band.outer, band.inner):
        ring = np.vstack([edge, edge[:1]])
        keys.append(np.column_stack([np.interp(at, own, ring[:, 0]), np.interp(at, own, ring[:, 1])]))
    return _clipped([np.array(pair) for pair in zip(*keys)], piece), around / count / spacing
