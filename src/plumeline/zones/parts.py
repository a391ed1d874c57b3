"""Divide a space into its parts."""

from __future__ import annotations

from shapely import Polygon

from ..errors import ZoneError
from ..geometry import (
    Division,
    divide_by_circle,
    divide_by_frame,
    divide_by_grid,
    divide_by_line,
    divide_on_point,
    divide_wedges,
    inscribed_circle,
)
from ..model import FloatArray, Top, as_path
from ..specs import DivideStep
from .guides import line_of
from .spaces import Space

__all__ = ["frame_width_mm", "parts_of"]

QUARTER_INCH_MM = 6.35
"""Frame widths that nobody stated are rounded to this: what a ruler shows."""

ROUND_UP = 0.2
"""Share of a quarter inch by which rounding leans up: a 12 in block gets 1 1/4 in, a 14 in block 1 1/2."""


def frame_width_mm(outline: Polygon) -> float:
    """Return the width of a frame that nobody stated: a tenth of the space, in quarter inches (12 in: 1 1/4)."""
    _, radius = inscribed_circle(outline)
    return max(round(2 * radius / 10 / QUARTER_INCH_MM + ROUND_UP), 1) * QUARTER_INCH_MM


def parts_of(top: Top, space: Space) -> list[tuple[str, tuple[Polygon, ...]]]:
    """Return the parts of a space by name, in the order of its divisions, ``rest`` last where there is one.

    An undivided space is one part without a name. A part may lie in several pieces, or in none where the one
    before it left nothing.

    Raises
    ------
    ZoneError
        A division does not suit the shape of the space.
    """
    if not space.spec.divide:
        return [("", (space.outline,))]
    parts: dict[str, tuple[Polygon, ...]] = dict.fromkeys(space.spec.part_names, ())
    left: tuple[Polygon, ...] = (space.outline,)
    for place, step in enumerate(space.spec.divide):
        rest: tuple[Polygon, ...] = ()
        for region in left:
            try:
                division = _divided(top, space, step, region)
            except ValueError as error:
                zone, key = space.spec.name, f"divide.{place + 1}"
                raise ZoneError(f"{step.by}: the space {error}", zone=zone, key=key) from None
            for name, pieces in zip(step.part_names, division.parts):
                parts[name] += pieces
            rest += division.rest
        left = rest
    if "rest" in parts:
        parts["rest"] = left
    return list(parts.items())


def _divided(top: Top, space: Space, step: DivideStep, region: Polygon) -> Division:
    if step.by == "frame":
        return divide_by_frame(region, step.width_mm if step.width_mm is not None else frame_width_mm(region))
    if step.by == "on-point":
        return divide_on_point(region)
    if step.by == "circle":
        return divide_by_circle(region, step.radius_mm, fit_percent=step.fit_percent)
    if step.by == "wedges":
        return divide_wedges(region, step.count)
    if step.by == "grid":
        return divide_by_grid(region, step.rows, step.cols)
    return divide_by_line(region, _dividing_line(top, space, step))


def _dividing_line(top: Top, space: Space, step: DivideStep) -> FloatArray:
    lines = line_of(top, step.line, zone=space.spec.name, key="divide")
    if len(lines) > 1:
        raise ZoneError(
            f"'{step.line}' is the name of {len(lines)} guides; a division takes one line",
            zone=space.spec.name,
            key="divide",
        )
    return as_path(lines[0])
