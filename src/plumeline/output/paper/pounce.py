"""Pounce: dots along every line, to be pricked and rubbed with chalk."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from ...geometry import path_length, point_at
from ...model import FloatArray, as_path
from .drawing import Mark, PaperDrawing, PaperKind, PaperSettings, Space, alike_note, laid_out, outline_marks

__all__ = ["DOT_EVERY_MM", "KIND"]

DOT_EVERY_MM = 25.4 / 8
"""From dot to dot (common practice, no source)."""

DOT_MM = 0.9
"""Width of a dot: a pin's hole, with ink round it to aim at."""


def draw(spaces: Sequence[Space], settings: PaperSettings) -> PaperDrawing:
    """Draw spaces as dots; none stands nearer to another than half the distance, so no hole tears into the next."""
    placed, size, words = laid_out(spaces)
    marks: list[Mark] = []
    for space in placed:
        marks += outline_marks(space, seams=False)
        dots = [_dots(run.path) for run in space.runs if run.kind in ("stitch", "step")]
        if dots:
            marks += [Mark(as_path(np.array([at, at])), "dot", width_mm=DOT_MM) for at in _apart(np.vstack(dots))]
    return PaperDrawing("", "pounce", placed[0].name, size, tuple(marks), tuple(words), (*NOTES, *alike_note(spaces)))


def _dots(path: FloatArray) -> FloatArray:
    length = path_length(path)
    return point_at(path, np.linspace(0.0, length, max(2, round(length / DOT_EVERY_MM) + 1)))


def _apart(dots: FloatArray) -> FloatArray:
    """Return the dots without those that stand within half the distance of an earlier one."""
    close = cKDTree(dots).query_pairs(DOT_EVERY_MM / 2 - 1e-6, output_type="ndarray")
    later: dict[int, list[int]] = {}
    for a, b in np.sort(close, axis=1).tolist():
        later.setdefault(b, []).append(a)
    kept = np.ones(len(dots), dtype=bool)
    for b in sorted(later):
        kept[b] = not any(kept[a] for a in later[b])
    return dots[kept]


NOTES = (
    "Prick every dot with a pin or an unthreaded needle, lay the paper on the cloth and rub chalk through the holes. "
    "Chalk may stain: test it on the same cloth first.",
)

KIND = PaperKind("pounce", "dots to prick and rub with chalk", draw)
