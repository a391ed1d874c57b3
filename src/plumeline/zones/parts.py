"""Divide a space into its parts."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import Polygon

from ..errors import ZoneError
from ..geometry import (
    Division,
    clip_path,
    divide_by_circle,
    divide_by_frame,
    divide_by_grid,
    divide_by_line,
    divide_on_point,
    divide_wedges,
    inscribed_circle,
)
from ..model import FloatArray, Top, as_path
from ..specs import INSIDE, DivideStep, LineSource
from .guides import line_of
from .spaces import Space

__all__ = ["frame_width_mm", "parts_of"]

CROSSES_MM = 1.0
"""A line that runs less than this inside a space lies beside it."""

QUARTER_INCH_MM = 6.35
"""Frame widths that nobody stated are rounded to this: what a ruler shows."""

ROUND_UP = 0.2
"""Share of a quarter inch by which rounding leans up: a 12 in block gets 1 1/4 in, a 14 in block 1 1/2."""


def frame_width_mm(outline: Polygon) -> float:
    """Return the width of a frame that nobody stated: a tenth of the space, in quarter inches (12 in: 1 1/4)."""
    _, radius = inscribed_circle(outline)
    return max(round(2 * radius / 10 / QUARTER_INCH_MM + ROUND_UP), 1) * QUARTER_INCH_MM


def parts_of(top: Top, space: Space) -> list[tuple[str, tuple[Polygon, ...]]]:
    """Return the parts of a space by name, in the order of its divisions, ``inside`` last where there is one.

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
            names = step.part_names
            for at, pieces in enumerate(division.parts):
                parts[names[min(at, len(names) - 1)]] += pieces  # more pieces than names: none may get lost
            rest += division.rest
        left = rest
    if INSIDE in parts:
        parts[INSIDE] = left
    return list(parts.items())


def _divided(top: Top, space: Space, step: DivideStep, region: Polygon) -> Division:
    if step.by == "frame":
        width = step.width_mm if step.width_mm is not None else frame_width_mm(region)
        return divide_by_frame(region, width, straight=step.follow == "straight")
    if step.by == "on-point":
        return divide_on_point(region, apart=step.apart)
    if step.by == "circle":
        return divide_by_circle(region, step.radius_mm, fit_percent=step.fit_percent)
    if step.by == "wedges":
        return divide_wedges(region, step.count)
    if step.by == "grid":
        return divide_by_grid(region, step.rows, step.cols)
    return _divided_by_lines(region, [_dividing_line(top, space, line) for line in (step.line, *step.more_lines)])


def _divided_by_lines(region: Polygon, lines: Sequence[FloatArray]) -> Division:
    """Divide by the first line; each further one divides the pieces that it crosses, in their places."""
    parts = list(divide_by_line(region, lines[0]).parts)
    for line in lines[1:]:
        cut: list[tuple[Polygon, ...]] = []
        for part in parts:
            for piece in part:
                crosses = clip_path(line, piece, least_mm=CROSSES_MM)
                cut += divide_by_line(piece, line).parts if crosses else [(piece,)]
        if len(cut) == sum(map(len, parts)):
            raise ValueError("is not crossed by every line; each must run from edge to edge of what it divides")
        parts = cut
    return Division(tuple(parts))


def _dividing_line(top: Top, space: Space, line: LineSource) -> FloatArray:
    lines = line_of(top, line, zone=space.spec.name, key="divide")
    if len(lines) > 1:  # a guide of many patches: the one that lies in this space
        lines = [path for path in lines if clip_path(path, space.outline, least_mm=CROSSES_MM)] or lines
    if len(lines) > 1:
        raise ZoneError(
            f"'{line}' is the name of {len(lines)} guides; a division takes one line",
            zone=space.spec.name,
            key="divide",
        )
    return as_path(lines[0])
