"""Edge to edge: rows of a repeat across the whole space, nested into each other, each row one line."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Literal

import numpy as np
from pydantic import Field
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import bounds, clip_crossing_path, dedupe, densify, pieces
from ..model import Filled, Finding, FloatArray, Path, Stroke, Zone, as_path
from ..tolerances import CURVE_MM
from ..units import format_length
from .kit.limits import check_amount, nearest_count
from .kit.motifs import Motif, motif_at
from .kit.parallel import alternately
from .kit.registry import Fill, too_small
from .kit.settings import ArtSettings, Artwork, Mm, length

__all__ = ["FILL", "EdgeToEdgeSettings"]

SAMPLES = 200
"""Places along a repeat at which a row's upper and lower edge are compared when rows are nested."""

CRUMB = 0.25
"""Bits of a row shorter than this part of its height are left out at the edge."""

STRETCH_SAID = 0.08
"""A repeat that had to give by more than this is said."""

LEAST_ADVANCE = 0.2
"""Rows lie at least this part of their height apart, however well they nest."""

MEETS = 0.01
"""A repeat whose ends lie this part of its height from those of its neighbours runs through."""

SAME_MM = 1e-3
"""Ends of neighbouring repeats this close are one point."""

LINES_A_ROW = 4.0
"""Lines that a row comes to across its height, for the estimate of stitches."""

LEAST_MM = 6.35
"""Rows lower than this (1/4 in) would be a band of thread."""


class EdgeToEdgeSettings(ArtSettings):
    """Settings of edge-to-edge rows."""

    art: str = Field("scroll-border", description="a border motif of the library, or an SVG file beside the plan")
    height_mm: Mm | None = length(
        None, least=LEAST_MM, most=2_000.0, description="of a row; left out: as the motif is drawn"
    )
    gap_mm: Mm = length(6.35, least=0.5, most=500.0, description="least room between two rows, nested into each other")
    stagger: Literal["none", "half"] = Field("half", description="every second row half a repeat on, or all alike")


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Whole rows over a box: one repeat at its size (its left middle at 0), and where rows and repeats go."""

    paths: tuple[Path, ...]
    closed: tuple[bool, ...]
    height_mm: float
    stretch: float
    middles: FloatArray
    lefts: tuple[FloatArray, ...]
    advance_mm: float

    @property
    def running(self) -> bool:
        """Whether one line runs through the repeat from side to side, so that a row is one line."""
        path = self.paths[0]
        wide = float(self.lefts[0][1] - self.lefts[0][0])
        gap = np.abs(path[-1] - path[0] - (wide, 0.0)).max()
        return len(self.paths) == 1 and not self.closed[0] and float(gap) < MEETS * self.height_mm


def draw(
    zone: Zone, settings: EdgeToEdgeSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM
) -> Filled:
    """Lay rows over the whole zone and clip them; every second row runs the other way, so that rows join at the edge.

    The rows of a zone that fences divide run on from piece to piece.

    Returns
    -------
    Filled
        One stroke a row and stretch inside; a note says by how much to advance from row to row. Artwork that doesn't
        run from its left side to its right gives its own strokes, repeated.
    """
    art = settings.artwork
    height = settings.height_mm or motif_at(art).size_mm
    check_amount(zone, height / LINES_A_ROW, key="height")
    rows = _rows(art, height, settings, bounds(zone.region))
    if rows is not None:
        lay = _rows_in if rows.running else _stamps_in
        strokes = tuple(stroke for piece in pieces(zone) for stroke in lay(rows, piece))
        if strokes:
            return Filled(strokes, findings=_said(zone, settings, rows, height))
    what = "Join the space with its neighbours, or choose another fill."
    return too_small(zone, "edge-to-edge", "no row of at least 1/4 in goes into the space", what)


def _rows(
    art: Artwork, height: float, settings: EdgeToEdgeSettings, box: tuple[float, float, float, float]
) -> _Rows | None:
    """Return rows that fill a box from edge to edge: the height gives up or down to whole rows, repeats sideways."""
    left, top, right, bottom = box
    gap, half = settings.gap_mm, settings.stagger == "half"
    upper, lower, nested = _reach(motif_at(art, height), half)
    room = bottom - top - gap
    count = nearest_count((room - (lower - upper)) / (nested + gap) + 1.0)
    grown = height * _scale(room, gap, count, upper, lower, nested)
    if grown < LEAST_MM or right - left < LEAST_MM:
        return None
    motif = motif_at(art, grown)
    # grown with more or fewer parts its reach may differ a little: measured again
    upper, lower, nested = _reach(motif, half)
    scale = _scale(room, gap, count, upper, lower, nested)
    wide = float(np.ptp(motif.frame[:, 0])) * scale
    repeats = nearest_count((right - left) / wide)
    stretch = (right - left) / (repeats * wide)
    advance = nested * scale + gap
    start = (motif.frame[0] + motif.frame[-1]) / 2
    shift = np.array([0.5 if half and k % 2 else 0.0 for k in range(count)])
    return _Rows(
        paths=tuple(as_path((p - start) * (scale * stretch, scale)) for p in motif.paths),
        closed=motif.closed,
        height_mm=motif.size_mm * scale,
        stretch=stretch,
        middles=np.asarray(top + gap / 2 - upper * scale + np.arange(count) * advance, dtype=np.float64),
        lefts=tuple(left + (np.arange(-1, repeats + 1) + s) * wide * stretch for s in shift),
        advance_mm=advance,
    )


def _scale(room: float, gap: float, count: int, upper: float, lower: float, nested: float) -> float:
    return (room - (count - 1) * gap) / (lower - upper + (count - 1) * nested)


def _reach(motif: Motif, half: bool) -> tuple[float, float, float]:
    """Return how far a row reaches above (negative) and below its middle, and from row to row when they touch.

    Rows touch where the lower edge of one, over all places along the repeat, comes furthest down into the upper edge
    of the next.
    """
    start = (motif.frame[0] + motif.frame[-1]) / 2
    wide = float(np.ptp(motif.frame[:, 0]))
    drawn = [densify(p, wide / (4 * SAMPLES), closed=c) for p, c in zip(motif.paths, motif.closed)]
    points = np.vstack(drawn) - start
    place = np.floor(points[:, 0] / wide * SAMPLES).astype(int) % SAMPLES
    up, down = np.full(SAMPLES, np.inf), np.full(SAMPLES, -np.inf)
    np.minimum.at(up, place, points[:, 1])
    np.maximum.at(down, place, points[:, 1])
    touching = float((down - np.roll(up, SAMPLES // 2 if half else 0)).max())
    upper, lower = float(up.min()), float(down.max())
    return upper, lower, max(touching, LEAST_ADVANCE * (lower - upper))


def _rows_in(rows: _Rows, piece: Polygon) -> list[Stroke]:
    repeat = rows.paths[0]
    found: list[tuple[int, Path]] = []
    for row, (middle, lefts) in enumerate(zip(rows.middles, rows.lefts)):
        line = np.vstack([repeat + np.array([left, middle]) for left in lefts])
        whole = dedupe(line, nearer_than_mm=SAME_MM)
        found += [(row, path) for path in clip_crossing_path(whole, piece, least_mm=CRUMB * rows.height_mm)]
    return [Stroke(path) for path in alternately(found)]


def _stamps_in(rows: _Rows, piece: Polygon) -> list[Stroke]:
    strokes: list[Stroke] = []
    for row, (middle, lefts) in enumerate(zip(rows.middles, rows.lefts)):
        for left, (path, closed) in itertools.product(
            lefts[::-1] if row % 2 else lefts, list(zip(rows.paths, rows.closed))
        ):
            for part in clip_crossing_path(
                path + np.array([left, middle]), piece, closed=closed, least_mm=CRUMB * rows.height_mm
            ):
                ring = closed and np.array_equal(part[0], part[-1])
                strokes.append(Stroke(as_path(part[:-1]) if ring else part, closed=ring))
    return strokes


def _said(zone: Zone, settings: EdgeToEdgeSettings, rows: _Rows, height: float) -> tuple[Finding, ...]:
    count = len(rows.middles)
    size = f"{count} row{'s' if count > 1 else ''} of {settings.art}, {format_length(rows.height_mm, zone.unit)} high"
    advance = f"; advance {format_length(rows.advance_mm, zone.unit)} after each row" if count > 1 else ""
    what = "Mark the advance along both sides of the quilt before the first row."
    found = [Finding(FindingCode.ROWS_ADVANCE, "note", zone.label, size + advance, what)]
    if abs(rows.stretch - 1.0) > STRETCH_SAID or abs(rows.height_mm / height - 1.0) > STRETCH_SAID:
        along = f"{rows.stretch * rows.height_mm / height * 100:.0f} % as long"
        text = f"edge-to-edge: rows are {rows.height_mm / height * 100:.0f} % as high as asked and repeats {along}, "
        text += "so that whole ones go in"
        found.append(
            Finding(FindingCode.MOTIF_STRETCHED, "note", zone.label, text, "Choose a height that divides the space.")
        )
    if not rows.running:
        text = f"edge-to-edge: {settings.art} doesn't run from side to side, so a row is several lines"
        found.append(Finding(FindingCode.ROWS_IN_PARTS, "note", zone.label, text, "Choose a border motif."))
    return tuple(found)


FILL = Fill(
    name="edge-to-edge",
    settings=EdgeToEdgeSettings,
    draw=draw,
    stage="background",
    description="rows of one repeat across the whole space, nested, each row one line",
)
