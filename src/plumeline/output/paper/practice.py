"""Practice: the design growing in steps for the hand, in the order it is sewn, and two rows to trace."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ...geometry import arc_lengths, path_length, point_at, tangents
from ...model import FloatArray, Path, as_path
from ..sheet import Run
from .drawing import MARGIN_MM, Mark, PaperDrawing, PaperKind, PaperSettings, Space, Words, arrow
from .trace import stitched_marks

__all__ = ["KIND", "steps_of"]

LEAST_STEPS, MOST_STEPS = 4, 8

STEP_OF_MM = 450.0
"""About how much of a line is new in one step: a minute or two of drawing."""

BESIDE_MM = 0.9
"""A stretch gone along twice is drawn this far beside itself, so that it can be read."""

ACROSS, ROWS = 2, 2
"""Steps in a row, and rows to trace."""

NEW, OLD, TWICE = "#111111", "#bdbdbd", "#b1443a"


def steps_of(runs: Sequence[Run]) -> list[list[Run]]:
    """Return runs of stitching split into four to eight steps of like length, in order; each run's kind is kept.

    A step ends where a run does if one ends near; a run longer than a step is cut.
    """
    sewn = [run for run in runs if run.kind in ("stitch", "backtrack", "step")]
    total = sum(path_length(run.path) for run in sewn)
    if not sewn or total <= 0:
        return []
    count = min(max(LEAST_STEPS, math.ceil(total / STEP_OF_MM)), MOST_STEPS)
    steps: list[list[Run]] = [[] for _ in range(count)]
    begun = 0.0
    for run in sewn:
        length = path_length(run.path)
        first, last = int(begun / total * count), min(int((begun + length) / total * count), count - 1)
        for k in range(first, last + 1):
            start, end = max(total * k / count - begun, 0.0), min(total * (k + 1) / count - begun, length)
            if k == count - 1:
                end = length
            if end - start > 1e-6:
                steps[k].append(_part(run, start, end))
        begun += length
    return [step for step in steps if step]


def _part(run: Run, start: float, end: float) -> Run:
    lengths = arc_lengths(run.path)
    inner = run.path[(lengths > start + 1e-9) & (lengths < end - 1e-9)]
    first, last = point_at(run.path, [start, end])
    return Run(as_path(np.vstack([first, inner, last])), run.kind, run.zone, run.line)


def draw(spaces: Sequence[Space], settings: PaperSettings) -> PaperDrawing:
    """Draw the first space growing, and twice more in grey to trace; alike and further spaces add nothing to learn."""
    space = spaces[0]
    steps = steps_of(space.runs)
    wide, high = space.size[0] + 10.0, space.size[1] + 14.0
    marks: list[Mark] = []
    words: list[Words] = []
    for k, step in enumerate(steps):
        shift = np.array([MARGIN_MM + (k % ACROSS) * wide, MARGIN_MM + 6.0 + (k // ACROSS) * high])
        words.append(Words((float(shift[0]), float(shift[1]) - 2.0), f"step {k + 1}", 3.4, "start", True))
        marks += [Mark(as_path(p + shift), "outline", True, 0.25, "#9a9a9a", (2.0, 1.2)) for p in space.outlines]
        marks += [_line(run, shift, OLD) for before in steps[:k] for run in before if run.kind != "backtrack"]
        for run in step:
            marks.append(_line(run, shift, TWICE if run.kind == "backtrack" else NEW))
            head = arrow(run.path + shift, path_length(run.path) / 2, colour=NEW, length_mm=2.0)
            marks += [head] if head is not None else []
        first, last = step[0].path[0] + shift, step[-1].path[-1] + shift
        words.append(Words((float(first[0]), float(first[1]) - 1.2), "from here", 2.0, colour="#1f7a3d"))
        words.append(Words((float(last[0]), float(last[1]) + 2.8), "rest here", 2.0, colour="#b3261e"))
    below = MARGIN_MM + 6.0 + math.ceil(len(steps) / ACROSS) * high
    for k in range(ROWS * ACROSS):
        shift = np.array([MARGIN_MM + (k % ACROSS) * wide, below + (k // ACROSS) * high])
        words.append(Words((float(shift[0]), float(shift[1]) - 2.0), "trace with a pencil", 3.4, "start", True))
        marks += stitched_marks(space.moved(shift), ink="#c4c4c4", width_mm=0.5)
        marks += [Mark(as_path(p + shift), "outline", True, 0.25, "#9a9a9a", (2.0, 1.2)) for p in space.outlines]
    size = (2 * MARGIN_MM + ACROSS * wide - 10.0, below + ROWS * high - 14.0 + MARGIN_MM)
    return PaperDrawing("", "practice", space.name, size, tuple(marks), tuple(words), NOTES)


def _line(run: Run, shift: FloatArray, colour: str) -> Mark:
    path: Path = as_path(run.path + shift)
    if run.kind == "backtrack":
        way = tangents(path)
        path = as_path(path + BESIDE_MM * np.column_stack([-way[:, 1], way[:, 0]]))
    return Mark(path, "backtrack" if run.kind == "backtrack" else "stitch", width_mm=0.4, colour=colour)


NOTES = (
    "Follow each step with a finger, then with a pencil, then without the print. Black is new, grey is done. Red runs "
    "beside a line that is sewn a second time: on the cloth it lies exactly on it. Rest where the words say so.",
)

KIND = PaperKind("practice", "the design in growing steps, and two rows to trace", draw)
