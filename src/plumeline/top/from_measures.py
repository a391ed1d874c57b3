"""One block from a tape measure: the true shape from its sides and diagonals."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..codes import FindingCode
from ..errors import TopError
from ..geometry import as_region
from ..model import Finding, FloatArray, Patch, Path, Seam, Top, as_path
from ..units import Unit, format_length

__all__ = ["from_measures"]

NOTICED_MM = 25.4 / 16
"""A tape is read to about this; measures that disagree by more get a finding."""

REFUSED_MM = 25.4 / 2
"""Measures that disagree by more than this can't all be right."""

_SIDES = ("top", "right", "bottom", "left")
_DIAGONALS = ("top left to bottom right", "top right to bottom left")
_PAIRS = ((0, 1), (1, 2), (2, 3), (3, 0), (0, 2), (1, 3))
"""Corners, clockwise from the top left, that each side and diagonal joins."""


def from_measures(
    sides_mm: Sequence[float], diagonals_mm: Sequence[float] = (), *, name: str = "block", unit: Unit = "in"
) -> Top:
    """Return a top of one patch with the measured sides and diagonals.

    Parameters
    ----------
    sides_mm : sequence of 4 or 3 floats
        Top, right, bottom, left; three sides (clockwise from the top) make a triangle.
    diagonals_mm : sequence of 2 floats
        Top left to bottom right, top right to bottom left; none for a triangle.
    name : str
        The patch's name.
    unit : {"in", "mm", "cm"}
        The unit of lengths in findings and refusals.

    Returns
    -------
    Top
        The patch lies with its top side level. Four sides and two diagonals say one thing more than a shape needs:
        the corners are those that miss the six measures by least squares, and what they still miss is a finding.

    Raises
    ------
    TopError
        A measure is missing or not above 0, or together they make no shape.
    """
    if len(sides_mm) not in (3, 4):
        raise TopError(
            f"{len(sides_mm)} sides are given; must be 4 (or 3 of a triangle)",
            key="sides",
            what_to_do="Write a decimal with a point, as 30.5." if len(sides_mm) > 4 else None,
        )
    wanted = 2 if len(sides_mm) == 4 else 0
    if len(diagonals_mm) != wanted:
        raise TopError(
            f"{len(diagonals_mm)} diagonals are given; {len(sides_mm)} sides need {wanted}",
            key="diagonals",
            what_to_do="Measure from corner to corner, both ways." if wanted else None,
        )
    measured = [float(m) for m in (*sides_mm, *diagonals_mm)]
    for label, value in zip((*_SIDES[: len(sides_mm)], *_DIAGONALS), measured):
        if not (math.isfinite(value) and value > 0):
            raise TopError(f"is {value:g} mm; must be above 0", key=label)
    if len(sides_mm) == 3:
        return _one_patch(name, _triangle(measured, unit), ())
    return _one_patch(name, *_quadrilateral(measured, unit))


def _triangle(sides: list[float], unit: Unit) -> FloatArray:
    top, right, left = sides
    _check_triangle((top, right, left), "the three sides", unit, least=0.0)
    return np.array([(0.0, 0.0), (top, 0.0), _apex(top, left, right)])


def _check_triangle(lengths: tuple[float, float, float], what: str, unit: Unit, *, least: float) -> None:
    longest = max(lengths)
    short = longest - (sum(lengths) - longest)
    if short >= -least if least == 0 else short > least:
        raise TopError(
            f"{what} make no triangle: {format_length(longest, unit)} is "
            f"{'as long as' if short == 0 else 'longer than'} the other two together "
            f"({format_length(sum(lengths) - longest, unit)})",
            what_to_do="Measure them again.",
        )


def _apex(base: float, from_left: float, from_right: float) -> tuple[float, float]:
    # the corner below a level base at two distances from its ends (0 deep where they just miss each other)
    x = (base**2 + from_left**2 - from_right**2) / (2 * base)
    return x, math.sqrt(max(from_left**2 - x**2, 0.0))


def _quadrilateral(m: list[float], unit: Unit) -> tuple[FloatArray, tuple[Finding, ...]]:
    from scipy.optimize import least_squares  # slow to load, needed here alone

    top, right, bottom, left, down, up = m
    for lengths, what in (
        ((top, right, down), "top, right and the diagonal from the top left"),
        ((bottom, left, down), "bottom, left and the diagonal from the top left"),
        ((top, left, up), "top, left and the diagonal from the top right"),
        ((right, bottom, up), "right, bottom and the diagonal from the top right"),
    ):
        _check_triangle(lengths, what, unit, least=NOTICED_MM)

    def corners_of(v: FloatArray) -> FloatArray:
        return np.array([(0.0, 0.0), (v[0], 0.0), (v[1], v[2]), (v[3], v[4])])

    def missed(v: FloatArray) -> FloatArray:
        c = corners_of(v)
        return np.array([math.dist(c[i], c[j]) for i, j in _PAIRS]) - m

    start = np.array([top, *_apex(top, down, right), *_apex(top, left, up)])
    found = least_squares(missed, start, xtol=1e-14, ftol=1e-14, gtol=1e-14)
    off = missed(found.x)
    misfit = float(np.abs(off).max())
    if misfit > REFUSED_MM:
        raise TopError(
            f"the measures don't close: the nearest shape misses them by {format_length(misfit, unit)}, more than "
            f"{format_length(REFUSED_MM, unit)}",
            what_to_do="Measure the sides and both diagonals again.",
        )
    said = (
        f"the nearest shape to the measures misses the {(*_SIDES, *_DIAGONALS)[int(np.abs(off).argmax())]} most, by "
        f"{format_length(misfit, unit, per_inch=64)}"
    )
    findings: tuple[Finding, ...] = ()
    if misfit > NOTICED_MM / 8:
        findings = (
            Finding(
                FindingCode.MEASURES_MISFIT,
                "warning" if misfit > NOTICED_MM else "note",
                None,
                said,
                "Measure it again if that is more than the tape can be read to.",
            ),
        )
    return corners_of(found.x), findings


def _one_patch(name: str, corners: FloatArray, findings: tuple[Finding, ...]) -> Top:
    corners = corners - corners.min(axis=0)
    try:
        outline = as_region(corners)
    except ValueError as error:
        raise TopError(f"the measures make no shape: it {error}", what_to_do="Measure it again.") from error
    ring: Path = as_path(np.vstack([corners, corners[:1]]))
    width, height = corners.max(axis=0).tolist()
    return Top((Patch(name, outline),), (Seam(name, None, ring, False),), {}, (width, height), findings)
