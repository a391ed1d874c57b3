"""Lengths, transforms and view boxes of SVG as numbers and 3 x 3 matrices (column vectors)."""

from __future__ import annotations

import math
import re
from typing import Final

import numpy as np

from ..model import FloatArray

__all__ = ["LONGEST_LIST", "UNITS_MM", "is_aspect", "length_px", "parse_transform", "parse_view_box", "view_box_matrix"]

PX_MM: Final = 25.4 / 96
"""A CSS pixel: 96 to the inch."""

UNITS_MM: Final = {
    "mm": 1.0,
    "cm": 10.0,
    "in": 25.4,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
    "q": 0.25,
    "px": PX_MM,
    "em": 16 * PX_MM,
    "rem": 16 * PX_MM,
    "ex": 8 * PX_MM,
    "": PX_MM,
}
"""Millimetres in one of each unit of CSS; a bare number counts pixels, a letter of text (em) is 16 of them high."""

LONGEST_LENGTH = 80
LONGEST_LIST = 10_000
"""Letters of a length, and of a transform or view box: longer ones are mistakes, and slow to search."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_LENGTH = re.compile(rf"^\s*({_NUMBER})\s*(mm|cm|in|pt|pc|q|px|em|rem|ex|%|)\s*$", re.IGNORECASE)
_STEP = re.compile(r"([a-zA-Z]+)\s*\(([^)]*)\)")


def length_px(text: str | None, default: float = 0.0, *, whole: float | None = None) -> float:
    """Return a length attribute in user units (pixels); ``whole`` is what a percentage is of.

    Raises
    ------
    ValueError
        It is no length, is a percentage of nothing known, or is not finite.
    """
    if text is None:
        return default
    match = _LENGTH.match(text) if len(text) <= LONGEST_LENGTH else None
    if not match or (match[2] == "%" and whole is None):
        raise ValueError(f"{text!r} is no length")
    if match[2] == "%":
        value = float(match[1]) / 100 * (whole or 0.0)
    else:
        value = float(match[1]) * UNITS_MM[match[2].lower()] / PX_MM
    if not math.isfinite(value):
        raise ValueError(f"{text!r} is not finite")
    return value


def _numbers(text: str) -> list[float]:
    if len(text) > LONGEST_LIST:
        raise ValueError(f"{text[:40]!r}... has more than {LONGEST_LIST} letters")
    parts = [p for p in re.split(r"[\s,]+|(?<=[\d.])(?=[+-])", text.strip()) if p]
    if not all(re.fullmatch(_NUMBER, p) for p in parts):
        raise ValueError(f"{text!r} holds something that is no number")
    values = [float(p) for p in parts]
    if not np.isfinite(values).all():
        raise ValueError(f"{text!r} is not finite")
    return values


def parse_transform(text: str | None) -> FloatArray:
    """Return a ``transform`` attribute as one matrix; the last step of the list is applied first.

    Raises
    ------
    ValueError
        A step is unknown or has the wrong number of values.
    """
    matrix = np.eye(3)
    if not text or not text.strip():
        return matrix
    if len(text) > LONGEST_LIST:
        raise ValueError(f"{text[:40]!r}... has more than {LONGEST_LIST} letters")
    if _STEP.sub("", text).strip(" ,\t\r\n"):
        raise ValueError(f"{text!r} is no transform")
    with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused where it is used
        for name, inside in _STEP.findall(text):
            matrix = matrix @ _step(name, _numbers(inside))
    return matrix


def _step(name: str, v: list[float]) -> FloatArray:
    match name, len(v):
        case "matrix", 6:
            return np.array([[v[0], v[2], v[4]], [v[1], v[3], v[5]], [0, 0, 1]])
        case "translate", 1 | 2:
            return np.array([[1, 0, v[0]], [0, 1, v[1] if len(v) > 1 else 0], [0, 0, 1]], dtype=np.float64)
        case "scale", 1 | 2:
            return np.diag([v[0], v[-1], 1.0])
        case "rotate", 1 | 3:
            c, s = math.cos(math.radians(v[0])), math.sin(math.radians(v[0]))
            x, y = v[1:] or (0.0, 0.0)
            return np.array([[c, -s, x - c * x + s * y], [s, c, y - s * x - c * y], [0, 0, 1]])
        case "skewX", 1:
            return np.array([[1, math.tan(math.radians(v[0])), 0], [0, 1, 0], [0, 0, 1]])
        case "skewY", 1:
            return np.array([[1, 0, 0], [math.tan(math.radians(v[0])), 1, 0], [0, 0, 1]])
        case _:
            raise ValueError(f"{name}() with {len(v)} values is no transform")


def parse_view_box(text: str | None) -> tuple[float, float, float, float] | None:
    """Return ``viewBox`` as x, y, width, height; None when there is none.

    Raises
    ------
    ValueError
        It does not hold four numbers, or its width or height is not above 0.
    """
    if text is None:
        return None
    values = _numbers(text)
    if len(values) != 4 or values[2] <= 0 or values[3] <= 0:
        raise ValueError(f"{text!r} is no view box: four numbers, the last two above 0")
    return values[0], values[1], values[2], values[3]


def is_aspect(text: str | None) -> bool:
    """Whether a ``preserveAspectRatio`` is one that SVG knows; none is."""
    words = (text or "").replace("defer", "").split()
    return not words or bool(re.fullmatch(r"none|x(Min|Mid|Max)Y(Min|Mid|Max)", words[0]))


def view_box_matrix(
    box: tuple[float, float, float, float] | None, width: float, height: float, aspect: str | None
) -> FloatArray:
    """Return the matrix that takes a view box into a viewport at the origin.

    ``aspect`` is ``preserveAspectRatio``: one scale for both directions, centred, unless it says otherwise; one that
    SVG does not know says nothing.
    """
    if box is None:
        return np.eye(3)
    x, y, w, h = box
    words = ((aspect if is_aspect(aspect) else None) or "").replace("defer", "").split()
    align = words[0] if words else "xMidYMid"
    sx, sy = width / w, height / h
    if align == "none":
        return np.array([[sx, 0, -x * sx], [0, sy, -y * sy], [0, 0, 1]])
    scale = max(sx, sy) if "slice" in words else min(sx, sy)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    dx = (width - w * scale) * share[align[1:4]]
    dy = (height - h * scale) * share[align[5:8]]
    return np.array([[scale, 0, dx - x * scale], [0, scale, dy - y * scale], [0, 0, 1]])
