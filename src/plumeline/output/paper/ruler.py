"""Ruler work: each line with the ruler's edge beside it, how often the ruler moves, and the longest one wanted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ...codes import FindingCode
from ...geometry import path_length, turns
from ...model import Finding, FloatArray, as_path
from ...units import format_length
from .drawing import Mark, PaperDrawing, PaperKind, PaperSettings, Space, Words, alike_note, laid_out, outline_marks
from .trace import stitched_marks

__all__ = ["KIND", "RulerRun", "ruler_moves", "ruler_runs"]

CORNER_DEG = 20.0
"""A line that turns by more at one place is two runs of the ruler."""

STRAIGHT_SHARE = 0.01
"""A run that bows by less than this share of its length lies along a straight ruler."""

HOLD_MM = 25.4
"""Of the ruler's length, what the hand and the start of the next stretch take (common practice, no source)."""

LEAST_MM = 12.7
"""Shorter runs are sewn by eye along the last one."""

EDGE_INK = "#d0861d"


@dataclass(frozen=True, slots=True, eq=False)
class RulerRun:
    """One stretch along one lie of the line; ``straight``: a straight ruler serves."""

    path: FloatArray
    length_mm: float
    straight: bool


def ruler_runs(path: FloatArray) -> list[RulerRun]:
    """Return a line cut at its corners, in order."""
    if len(path) < 2:
        return []
    angle = np.abs(np.degrees(turns(path)))
    bounds = [0, *np.flatnonzero(angle > CORNER_DEG).tolist(), len(path) - 1]
    out = []
    for a, b in pairwise(bounds):
        run = path[a : b + 1]
        length = path_length(run)
        if length > 1e-6:
            out.append(RulerRun(run, length, _bow(run) <= STRAIGHT_SHARE * length))
    return out


def _bow(run: FloatArray) -> float:
    chord = run[-1] - run[0]
    far = float(np.hypot(*chord))
    if far < 1e-9:
        return math.inf
    off = (run - run[0]) @ np.array([-chord[1], chord[0]]) / far
    return float(np.abs(off).max())


def ruler_moves(length_mm: float, ruler_mm: float) -> int:
    """Return how often the ruler is laid down for a straight run.

    Examples
    --------
    >>> ruler_moves(11 * 25.4, 12 * 25.4), ruler_moves(30 * 25.4, 12 * 25.4)
    (1, 3)
    """
    return max(1, math.ceil(length_mm / (ruler_mm - HOLD_MM) - 1e-9))


def draw(spaces: Sequence[Space], settings: PaperSettings) -> PaperDrawing:
    """Draw spaces for ruler work."""
    placed, size, words = laid_out(spaces)
    marks: list[Mark] = []
    moves, longest, curved, number = 0, 0.0, 0.0, 0
    off = settings.foot_mm / 2
    for space in placed:
        marks += outline_marks(space)
        marks += stitched_marks(space, ink="#111111", width_mm=0.4)
        for run in (r for r in space.runs if r.kind == "stitch"):
            for lie in ruler_runs(run.path):
                if not lie.straight:
                    curved += lie.length_mm
                    continue
                if lie.length_mm < LEAST_MM:
                    continue
                number += 1
                moves += ruler_moves(lie.length_mm, settings.ruler_mm)
                longest = max(longest, lie.length_mm)
                marks.append(_edge(lie.path, off))
                words.append(_number(lie.path, off, number))
    said = format_length
    notes = [
        f"Orange dashes are the ruler's edge, {said(off, settings.units, per_inch=16)} beside the line: half of a "
        f"{said(settings.foot_mm, settings.units, per_inch=16)} ruler foot. Numbers are the order.",
        f"{number} straight runs; a {said(settings.ruler_mm, settings.units, per_inch=16)} ruler is laid down "
        f"{moves} times. The longest run is {said(longest, settings.units, per_inch=16)}: a ruler of "
        f"{said(longest + HOLD_MM, settings.units, per_inch=4)} does each in one."
        if number
        else "There is no straight run here.",
    ]
    findings: tuple[Finding, ...] = ()
    if curved > 0:
        text = f"{said(curved, settings.units, per_inch=4)} of it is curved: a straight ruler can't follow that."
        what = "Use a curved ruler of the same curve, or guide that part by hand."
        notes.append(f"{text} {what}")
        findings = (Finding(FindingCode.RULER_CURVED, "note", placed[0].name, text, what),)
    return PaperDrawing(
        "", "ruler", placed[0].name, size, tuple(marks), tuple(words), (*notes, *alike_note(spaces)), findings
    )


def _side(path: FloatArray) -> FloatArray:
    way = path[-1] - path[0]
    return np.array([way[1], -way[0]]) / max(float(np.hypot(*way)), 1e-9)


def _edge(path: FloatArray, off: float) -> Mark:
    edge = as_path(path[[0, -1]] + off * _side(path))
    return Mark(edge, "ruler", width_mm=0.3, colour=EDGE_INK, dash_mm=(3.0, 1.5))


def _number(path: FloatArray, off: float, number: int) -> Words:
    at = path[[0, -1]].mean(axis=0) + (off + 1.6) * _side(path)
    return Words((float(at[0]), float(at[1]) + 0.8), str(number), 2.2, colour=EDGE_INK)


KIND = PaperKind("ruler", "each line with the ruler's edge, its moves and the longest ruler wanted", draw)
