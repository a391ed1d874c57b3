"""Marks: only what she draws on the top before quilting; the rest is sewn by eye between these lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ...model import FloatArray, Stroke, as_path
from ...units import format_length
from .drawing import Mark, PaperDrawing, PaperKind, PaperSettings, Space, Words, alike_note, laid_out

__all__ = ["KIND", "grid_ticks"]

BY_LINE = ("channel", "crosshatch", "rays", "chords")
"""Fills of straight lines: marked by their lines, with ticks along the edge."""

WHOLE = ("motif", "edge-to-edge", "rings", "echo", "outline", "continuous-curve", "lines", "ditch")
"""Fills whose lines are marked as they are; those of no list are sewn by eye between edge, fences and spine."""

TICK_MM = 5.0
"""Length of a tick at the edge."""


def draw(spaces: Sequence[Space], settings: PaperSettings) -> PaperDrawing:
    """Draw what is marked on the top."""
    placed, size, words = laid_out(spaces)
    marks: list[Mark] = []
    notes = [NOTE]
    for space in placed:
        marks += [Mark(p, "outline", True, 0.4) for p in space.outlines]
        marks += [Mark(p, "fence", width_mm=0.45, dash_mm=(0.1, 1.6)) for p in space.fences]
        lines = [s for s in space.strokes if s.fill in BY_LINE]
        marks += [
            Mark(s.path, "stitch", s.closed, 0.4) for s in space.strokes if s.fill in WHOLE and s.role == "stitch"
        ]
        marks += [Mark(p, "spine", width_mm=0.6) for p in _spines(space)]
        for k, stroke in enumerate(lines):
            if k % settings.grid_every == 0:
                marks.append(Mark(stroke.path, "stitch", width_mm=0.3))
        ticks = grid_ticks([s.path for s in lines], space.outlines)
        marks += [Mark(tick, "tick", width_mm=0.45) for tick, _ in ticks]
        words += [
            Words((float(at[0]), float(at[1])), format_length(far, settings.units, per_inch=16), 1.7)
            for (tick, far) in ticks
            for at in [tick[0] + (tick[0] - tick[1]) * 0.35]
        ]
        if ticks:
            notes.append(
                "Ticks show where each line meets the edge; the figure is how far along that edge, clockwise from its "
                "corner. With them you can chalk the grid without this print."
            )
    return PaperDrawing(
        "", "marks", placed[0].name, size, tuple(marks), tuple(words), (*dict.fromkeys(notes), *alike_note(spaces))
    )


def _spines(space: Space) -> Iterator[FloatArray]:
    """Give the spines of feathers: a chain on an open spine ends with the way back along it."""
    chains: dict[int | None, list[Stroke]] = {}
    for stroke in space.strokes:
        if stroke.fill == "feather":
            chains.setdefault(stroke.chain, []).append(stroke)
    for chain in chains.values():
        if chain[-1].role == "backtrack":
            yield chain[-1].path


def grid_ticks(
    lines: Sequence[FloatArray], outlines: Sequence[FloatArray], *, within_mm: float = 1.0
) -> list[tuple[FloatArray, float]]:
    """Return a tick for each end of a straight line on an edge, and how far along its side from the corner, mm.

    Parameters
    ----------
    lines : sequence of (n, 2)
        The lines.
    outlines : sequence of (k, 2)
        Closed edges; a line's end within ``within_mm`` of one gets a tick there, pointing outwards along the line.
    """
    out: list[tuple[FloatArray, float]] = []
    sides = [(ring[k], ring[(k + 1) % len(ring)]) for ring in outlines for k in range(len(ring))]
    if not sides:
        return out
    a, b = np.array([s[0] for s in sides]), np.array([s[1] for s in sides])
    way = b - a
    length = np.maximum(np.hypot(way[:, 0], way[:, 1]), 1e-9)
    for path in lines:
        for end, inner in ((path[0], path[1]), (path[-1], path[-2])):
            along = np.clip(((end - a) * way).sum(axis=1) / length, 0.0, length)
            foot = a + way * (along / length)[:, None]
            far = np.hypot(*(foot - end).T)
            k = int(np.argmin(far))
            if far[k] > within_mm:
                continue
            out_way = (end - inner) / max(float(np.hypot(*(end - inner))), 1e-9)
            out.append((as_path(np.array([end + TICK_MM * out_way, end])), float(along[k])))
    return out


NOTE = (
    "Solid lines are drawn on the top, dotted ones are fences that the quilting stops at. "
    "Test the marker on the same cloth first: heat can set some inks for good."
)

KIND = PaperKind("marks", "only what is drawn on the top: edges, fences, spines, grid lines and ticks", draw)
