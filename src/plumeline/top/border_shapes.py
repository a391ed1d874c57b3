"""The patches of one border: plain or pieced strips, corners butted, mitred or of cornerstones. Lengths in mm."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from ..drawing import Shape
from ..model import FloatArray, as_path
from .blocks import Border, PiecedBorder
from .traditional import FABRIC_COLOURS

__all__ = ["MOST_UNITS", "Box", "border_shapes", "square"]

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""

MOST_UNITS = 400
"""Units along one side of a pieced border: bars of 1/4 in round a king size quilt."""

UNIT: dict[PiecedBorder, float] = {"squares": 1.0, "keys": 0.5, "sawtooth": 1.0, "geese": 0.5}
"""Length of a unit along the border, as a share of its width, before it is stretched to fill the side."""

_SIDES = ("top", "right", "bottom", "left")
_CORNERS = ("top-left", "top-right", "bottom-right", "bottom-left")


def square(x: float, y: float, wide: float, high: float) -> FloatArray:
    """Return the corners of an upright rectangle, clockwise from its top left."""
    return np.array([[x, y], [x + wide, y], [x + wide, y + high], [x, y + high]])


def border_shapes(border: Border, box: Box) -> Iterator[Shape]:
    """Give the patches of a border round a box: ``NAME-top`` and so on, ``NAME-corner-top-left`` for cornerstones.

    A pieced border's patches are ``NAME-top-FABRIC-1`` and on, along each side clockwise. Butted: the sides are sewn
    on first, top and bottom run the whole width.
    """
    left, top, right, bottom = box
    w = border.width_mm
    inner = square(left, top, right - left, bottom - top)
    outer = square(left - w, top - w, right - left + 2 * w, bottom - top + 2 * w)
    for k, side in enumerate(_SIDES):
        b = (k + 1) % 4
        if border.corners == "mitred":
            yield Shape(f"{border.name}-{side}", as_path([outer[k], outer[b], inner[b], inner[k]]))
            continue
        along = (inner[b] - inner[k]) / float(np.hypot(*(inner[b] - inner[k])))
        across = np.array([-along[1], along[0]])
        longer = w if border.corners == "butted" and side in ("top", "bottom") else 0.0
        start, end = inner[k] - longer * along, inner[b] + longer * along
        if border.pieced is None:
            yield Shape(f"{border.name}-{side}", as_path([start - w * across, end - w * across, end, start]))
        else:
            yield from _units(border, side, start - w * across, end - w * across, across)
    if border.corners == "cornerstones":
        for name, (x, y) in zip(_CORNERS, np.minimum(inner, outer), strict=True):
            yield Shape(f"{border.name}-corner-{name}", as_path(square(float(x), float(y), w, w)))


def _units(border: Border, side: str, start: FloatArray, end: FloatArray, across: FloatArray) -> Iterator[Shape]:
    """Give the pieces of one side, from its outer line ``start`` to ``end`` inwards."""
    pieced = border.pieced or "squares"
    length, w = float(np.hypot(*(end - start))), border.width_mm
    count = border.count[side in ("left", "right")] if border.count else max(1, round(length / (UNIT[pieced] * w)))
    along = (end - start) / length
    seen: Counter[str] = Counter()
    for k in range(count):
        a, b = k * length / count, (k + 1) * length / count
        for fabric, points in _unit(pieced, k, a, b, w):
            seen[fabric] += 1
            ring = start + np.outer([u for u, _ in points], along) + np.outer([v for _, v in points], across)
            name = f"{border.name}-{side}-{fabric}-{seen[fabric]}"
            yield Shape(name, as_path(ring), (), FABRIC_COLOURS[fabric])


_Unit = tuple[str, tuple[tuple[float, float], ...]]


def _unit(pieced: PiecedBorder, k: int, a: float, b: float, w: float) -> tuple[_Unit, ...]:
    """Return one unit between two places along a border, its outer edge at 0 and its inner at its width."""
    if pieced == "sawtooth":
        return ("background", ((a, 0.0), (b, 0.0), (a, w))), ("tooth", ((b, 0.0), (b, w), (a, w)))
    if pieced == "geese":
        return (
            ("goose", ((a, 0.0), (b, w / 2), (a, w))),
            ("background", ((a, 0.0), (b, 0.0), (b, w / 2))),
            ("background", ((a, w), (b, w / 2), (b, w))),
        )
    return ((("dark", "light")[k % 2], ((a, 0.0), (b, 0.0), (b, w), (a, w))),)
