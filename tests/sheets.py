"""Sheets and needle points that tests of outputs share."""

from __future__ import annotations

import numpy as np

from plumeline.model import Line, Machine, Needle, NeedlePoints, Span, as_path
from plumeline.output import Shape, Sheet
from plumeline.stitches import stitch_lines


def loop(centre, radius, turn=5.5, count=60):
    t = np.linspace(0, turn, count)
    return np.column_stack([centre[0] + radius * np.cos(t), centre[1] + radius * np.sin(t)])


def square(x, y, side):
    return as_path([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])


def one_zone(shift=(0.0, 0.0)):
    """Two lines of stitching, backtracking and a step in one zone, with its outline."""
    path = as_path(np.vstack([loop((40, 40), 25), loop((60, 40), 20, -4.0)[1:], [(90.0, 90.0)]]) + shift)
    spans = (
        Span(0, 40, "stitch", 0, zone=0),
        Span(40, 59, "backtrack", 0, zone=0),
        Span(59, 118, "stitch", 1, zone=0),
        Span(118, 119, "step", 1, zone=0),
    )
    other = as_path(loop((60, 90), 9) + shift)
    lines = (Line(path, spans), Line(other, (Span(0, len(other) - 1, "stitch", 2, zone=0),)))
    shapes = (Shape(as_path(square(0, 0, 110) + shift), True, "outline", 0),)
    return Sheet(title="one zone", names=("square",), lines=lines, shapes=shapes)


def two_zones():
    """One line through two zones with travel in and between them, on a top of patches and seams."""
    parts = [loop((40, 40), 25), loop((140, 40), 25), loop((140, 90), 12)]
    path = as_path(np.vstack(parts))
    spans = (
        Span(0, 59, "stitch", 0, zone=0),
        Span(59, 60, "seam"),
        Span(60, 119, "stitch", 1, zone=1),
        Span(119, 120, "edge", zone=1),
        Span(120, 179, "stitch", 2, zone=1),
    )
    last = as_path([(10.0, 150.0), (30.0, 150.0), (30.0, 120.0)])
    lines = (Line(path, spans), Line(last, (Span(0, 2, "stitch", 3, zone=0),)))
    shapes = (
        Shape(square(0, 0, 100), True, "patch", -1, "#e9dfc8"),
        Shape(square(100, 0, 100), True, "patch", -1, None),
        Shape(as_path([(100.0, 0.0), (100.0, 200.0)]), False, "seam"),
        Shape(square(4, 4, 92), True, "outline", 0),
        Shape(as_path([(110.0, 60.0), (190.0, 61.0)]), False, "fence", 1),
    )
    return Sheet(
        title="Étoile <& sons> ☂\x07",
        names=('Stern "ä" / ☂', "big star, inside 2"),
        lines=lines,
        shapes=shapes,
        size=(200.0, 200.0),
    )


SHEETS = {
    "empty": Sheet(title="empty"),
    "one zone": one_zone(),
    "two zones": two_zones(),
    "far away": one_zone((1e5, -2e5)),
    "left of the origin": one_zone((-300.0, -300.0)),
    "same names": Sheet(title="", names=("a", "a", "A", "top"), shapes=(Shape(square(0, 0, 9), True, "outline", 3),)),
}


def points_of(sheet, machine=None):
    machine = machine or Machine(trimmer=True)
    return stitch_lines(sheet.lines, machine, names=sheet.names)


def needle_points(xy, commands):
    """Needle points from a list of places and command names, one line."""
    none = np.full(len(xy), -1, np.int32)
    kind = np.array([Needle[c.upper()] for c in commands], np.uint8)
    return NeedlePoints(np.array(xy, float).reshape(-1, 2), kind, none, np.zeros(len(xy), np.int32), none.copy())


POINTS = {
    **{name: points_of(sheet) for name, sheet in SHEETS.items()},
    "no trimmer": points_of(two_zones(), Machine(ties="back")),
    "bobbin stops": points_of(two_zones(), Machine(trimmer=True, bobbin_mm=900.0)),
    "one drop": needle_points([(7, 7), (7, 7), (7, 7)], ["jump", "stitch", "end"]),
    "nothing": needle_points([], []),
    "moves in a row": needle_points(
        [(0, 0), (0, 0), (50, 0), (0.2, 0.2), (1, 1), (1, 1)], ["stitch", "trim", "jump", "jump", "stitch", "end"]
    ),
}
