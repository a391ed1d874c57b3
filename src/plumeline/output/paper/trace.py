"""Trace: fine dark lines to lay under cloth or film, with starts, stops, arrows and the order of sewing."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import numpy as np

from ...geometry import path_length
from ...model import FloatArray, as_path
from ..sheet import Run
from .drawing import (
    Mark,
    PaperDrawing,
    PaperKind,
    PaperSettings,
    Space,
    Words,
    alike_note,
    arrow,
    laid_out,
    outline_marks,
)

__all__ = ["KIND", "stitched_marks"]

ARROW_EVERY_MM = 75.0
"""From arrow to arrow: the way is never in doubt within a hand's width."""

BADGE_MM = 2.6
"""Half the size of the marks for start and stop."""

START, STOP = "#1f7a3d", "#b3261e"


def draw(spaces: Sequence[Space], settings: PaperSettings) -> PaperDrawing:
    """Draw spaces for tracing."""
    return traced(spaces, ink="#111111", width_mm=0.45, kind="trace", notes=NOTES)


NOTES = (
    "Lay this under the cloth on a light table, or under clear film. Green rings are starts, red squares are stops, "
    "numbers are the order, arrows the way. Dashed grey is the edge of the space, dotted a fence: neither is sewn.",
)


def traced(spaces: Sequence[Space], *, ink: str, width_mm: float, kind: str, notes: tuple[str, ...]) -> PaperDrawing:
    """Return the drawing of spaces in an ink, with order and way."""
    placed, size, words = laid_out(spaces)
    marks: list[Mark] = []
    for space in placed:
        marks += outline_marks(space)
        marks += stitched_marks(space, ink=ink, width_mm=width_mm)
        more, said = _order(space, ink)
        marks += more
        words += said
    return PaperDrawing("", kind, placed[0].name, size, tuple(marks), tuple(words), (*notes, *alike_note(spaces)))


def stitched_marks(space: Space, *, ink: str, width_mm: float) -> list[Mark]:
    """Return what is stitched for the first time: no travel, and no stretch twice; short steps are drawn finer."""
    out = [Mark(run.path, "stitch", width_mm=width_mm, colour=ink) for run in space.runs if run.kind == "stitch"]
    return out + [
        Mark(run.path, "step", width_mm=width_mm / 2, colour=ink, dash_mm=(1.2, 1.0))
        for run in space.runs
        if run.kind == "step"
    ]


def _order(space: Space, ink: str) -> tuple[list[Mark], list[Words]]:
    """Return arrows, and a numbered start and stop for each stretch sewn without leaving the space."""
    marks: list[Mark] = []
    words: list[Words] = []
    stretches = [list(group) for _, group in groupby(space.runs, key=lambda run: run.line)]
    for number, runs in enumerate(stretches, start=1):
        for run in runs:
            if run.kind == "stitch":
                marks += _arrows(run, ink)
        start, stop = runs[0].path[0], runs[-1].path[-1]
        label = str(number) if len(stretches) > 1 else ""
        if np.hypot(*(stop - start)) < 2 * BADGE_MM:  # beside each other, so that neither hides the other
            stop = stop + np.array([2.4 * BADGE_MM, 0.0])
        marks += [_ring(start), _square(stop)]
        words += [
            Words((float(start[0]), float(start[1]) - BADGE_MM - 0.8), f"start {label}".strip(), 2.4, colour=START),
            Words((float(stop[0]), float(stop[1]) + BADGE_MM + 2.6), f"stop {label}".strip(), 2.4, colour=STOP),
        ]
    return marks, words


def _arrows(run: Run, ink: str) -> list[Mark]:
    length = path_length(run.path)
    count = max(1, round(length / ARROW_EVERY_MM))
    found = [arrow(run.path, length * (k + 0.5) / count, colour=ink) for k in range(count)]
    return [mark for mark in found if mark is not None]


def _ring(at: FloatArray) -> Mark:
    angle = np.linspace(0, 2 * np.pi, 25)[:-1]
    circle = at + BADGE_MM * np.column_stack([np.cos(angle), np.sin(angle)])
    return Mark(as_path(circle), "mark", True, 0.5, START)


def _square(at: FloatArray) -> Mark:
    corners = at + 0.85 * BADGE_MM * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    return Mark(as_path(corners), "mark", True, 0.5, STOP)


KIND = PaperKind("trace", "fine dark lines to trace, with starts, stops, arrows and order", draw)
