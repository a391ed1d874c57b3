"""Measure: a sketch of each piece with lettered sides and diagonals, and room to write what the tape says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ...geometry import corners_from_upper_left
from ...model import FloatArray
from .drawing import LETTERS, MARGIN_MM, Mark, PaperDrawing, PaperKind, PaperSettings, Space, Words

__all__ = ["KIND"]

ROOM_MM = 150.0
"""A piece is sketched about this large, with room for figures round it."""

BLANK = "________"


def draw(spaces: Sequence[Space], settings: PaperSettings) -> PaperDrawing:
    """Draw each piece of each space as a sketch, not at true size."""
    marks: list[Mark] = []
    words: list[Words] = []
    outlines = [
        (label, ring)
        for space in spaces
        for label, ring in zip(space.labels or (space.name,) * len(space.outlines), space.outlines, strict=True)
    ]
    across = max(1, round(len(outlines) ** 0.5))
    for k, (name, ring) in enumerate(outlines):
        low, high = ring.min(axis=0), ring.max(axis=0)
        scale = ROOM_MM / float((high - low).max())
        shift = np.array([(k % across) * ROOM_MM * 1.5, (k // across) * ROOM_MM * 1.5]) + 0.25 * ROOM_MM + MARGIN_MM
        small = (ring - low) * scale + shift
        marks.append(Mark(small, "outline", True, 0.5))
        words.append(Words((float(shift[0]), float(shift[1] - 0.16 * ROOM_MM)), name, 3.2, "start", True))
        corners = corners_from_upper_left(small)
        words += _sides(corners)
        if len(corners) == 4:
            for a, b, letter in ((0, 2, "diagonal 1"), (1, 3, "diagonal 2")):
                marks.append(Mark(corners[[a, b]], "mark", width_mm=0.2, dash_mm=(1.5, 1.5)))
                at = corners[a] + 0.3 * (corners[b] - corners[a])
                words.append(Words((float(at[0]), float(at[1])), f"{letter} {BLANK}", 2.4))
    rows = -(-len(outlines) // across)
    size = (across * ROOM_MM * 1.5 + 2 * MARGIN_MM, rows * ROOM_MM * 1.5 + 2 * MARGIN_MM)
    return PaperDrawing("", "measure", spaces[0].name, size, tuple(marks), tuple(words), NOTES, true_size=False)


def _sides(corners: FloatArray) -> Iterator[Words]:
    middle = corners.mean(axis=0)
    for k, corner in enumerate(corners[: len(LETTERS)]):
        at = (corner + corners[(k + 1) % len(corners)]) / 2
        out = (at - middle) / max(float(np.hypot(*(at - middle))), 1e-9)
        place = at + out * 0.08 * ROOM_MM
        yield Words((float(place[0]), float(place[1])), f"{LETTERS[k]} {BLANK}", 2.6)


NOTES = (
    "Lay the top flat and smooth, without pulling. Measure along each side from seam to seam, to the nearest 1/16 in, "
    "and write it on its line; the diagonals show whether the corners are square. Where a side bows, write by how "
    "much at its middle, and whether in or out.",
    "Sides are lettered clockwise from the upper left. In a plan, for each piece: [[measured]] patch = its name, "
    "sides = [A, B, C, D] (or only some: { A = 12, C = 12 }), diagonals = [1, 2], bows = { A = 1/8 }, above 0 "
    "where a side bows out; lengths in quotes. Measure the whole top too: [[measured]] top, right, bottom, left.",
)

KIND = PaperKind("measure", "a sketch with lettered sides and room for what the tape says", draw)
