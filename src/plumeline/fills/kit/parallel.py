"""Parallel lines across a region: where they go, and what of them lies inside. Shared by the straight fills."""

from __future__ import annotations

import math
import re
from itertools import groupby
from typing import Annotated, Literal

import numpy as np
from pydantic import BeforeValidator, Field
from shapely import Polygon

from ...codes import FindingCode
from ...geometry import clip_paths, extent_along, intersect, rings, transform
from ...model import Finding, FloatArray, Frame, Path, Zone, as_path
from .limits import nearest_count
from .settings import Mm

__all__ = ["LEAST_GAP_MM", "Edge", "Gaps", "alternately", "hatch", "offsets_across", "offsets_on_page", "stretched"]

LEAST_GAP_MM = 0.5
"""Lines closer than this would be one hard ridge of thread."""

SHORTEST = 0.3
"""Bits of line shorter than this part of the spacing are left out: they are crumbs in the tips of a zone."""

STRETCH_SAID = 0.08
"""A spacing that had to give by more than this is said."""

ON_EDGE_MM = 1e-3
"""A line this close to a parallel edge of the zone would be stitched on that edge."""

NUDGE_MM = 1e-4
"""How far to both sides a line must have room when it meets a parallel edge; ends move by about as much."""

Edge = Literal["half", "full"]


def _as_gaps(value: object) -> object:
    """Return one or several spacings as a list; of a text such as ``"1, 1/4"`` or ``"2,5; 1"`` its parts."""
    if isinstance(value, str):
        return re.split(";" if ";" in value else r",\s+", value)
    return value if isinstance(value, (list, tuple)) else (value,)


Gaps = Annotated[
    tuple[Annotated[Mm, Field(ge=LEAST_GAP_MM, le=10_000.0)], ...],
    BeforeValidator(_as_gaps),
    Field(min_length=1, max_length=8),
]
"""One spacing, or several that follow each other: ``1/2`` or ``[1, "1/4"]``."""


def offsets_across(width: float, gaps: tuple[float, ...], edge: Edge | None) -> tuple[FloatArray, float]:
    """Return the offsets of lines across a width, and by what the gaps were stretched to end alike at both edges.

    Parameters
    ----------
    width : float
        From edge to edge.
    gaps : tuple of float
        Spacings that follow each other; the first is the one at both edges.
    edge : {"half", "full"} or None
        Half or all of the first gap at the edges; None: half for one gap, all for several.
    """
    period, first = sum(gaps), gaps[0]
    if (edge or ("half" if len(gaps) == 1 else "full")) == "half":
        count = nearest_count(width / period)
        stretch = width / (count * period)
        lines = np.cumsum(np.tile(gaps, count)) - first / 2
    else:
        count = nearest_count((width - first) / period)
        stretch = width / (count * period + first)
        lines = np.cumsum(np.tile(gaps, count))
    return lines * stretch, stretch


def offsets_on_page(
    low: float, high: float, gaps: tuple[float, ...], edge: Edge | None, frame: Frame, angle_deg: float
) -> FloatArray:
    """Return offsets between two limits of the frame whose phase is that of the page, unstretched.

    Counted from the page's origin the lines are the same for every zone, so they run on from block to block.
    """
    period, first = sum(gaps), gaps[0]
    half = (edge or ("half" if len(gaps) == 1 else "full")) == "half"
    pattern = np.cumsum(gaps) - (first / 2 if half else first if len(gaps) == 1 else 0.0)
    a = math.radians(angle_deg + frame.angle_deg)
    shift = frame.origin[0] * math.sin(a) + frame.origin[1] * math.cos(a)
    periods = np.arange(math.floor((low + shift) / period) - 1, math.ceil((high + shift) / period) + 1)
    every = (periods[:, None] * period + pattern[None, :]).ravel() - shift
    inside: FloatArray = every[(every > low + ON_EDGE_MM) & (every < high - ON_EDGE_MM)]
    return inside


def hatch(piece: Polygon, angle_deg: float, offsets: FloatArray, spacing_mm: float) -> list[Path]:
    """Return the stretches inside a region of lines at an angle, alternately turned.

    Parameters
    ----------
    offsets : (n,) float64
        Of each line, measured square to it (downwards for lines to the right).
    spacing_mm : float
        Stretches shorter than `SHORTEST` of it are left out.
    """
    a = math.radians(angle_deg)
    along, across = np.array([math.cos(a), -math.sin(a)]), np.array([math.sin(a), math.cos(a)])
    start, end = extent_along(piece, angle_deg)
    lines = [as_path([across * o + along * (start - 1.0), across * o + along * (end + 1.0)]) for o in offsets]
    found: list[tuple[int, Path]] = []
    for room in _room(piece, across, offsets):
        found += clip_paths(lines, room, least_mm=SHORTEST * spacing_mm)
    found.sort(key=lambda pair: (pair[0], float(pair[1][0] @ along)))
    return alternately(found)


def alternately(found: list[tuple[int, Path]]) -> list[Path]:
    """Return stretches sorted by their line's number, those of every line the other way round from the line before."""
    out: list[Path] = []
    for place, (_, group) in enumerate(groupby(found, key=lambda pair: pair[0])):
        stretches = [path for _, path in group]
        out += [as_path(path[::-1]) for path in stretches[::-1]] if place % 2 else stretches
    return out


def _room(piece: Polygon, across: FloatArray, offsets: FloatArray) -> list[Polygon]:
    # A line that falls on an edge of the zone parallel to it has room on one side only; it is no line of the fill.
    ends = [ring @ across for ring in rings(piece)]
    flat = np.concatenate([e[np.abs(e - np.roll(e, -1)) < ON_EDGE_MM] for e in ends])
    if not len(flat) or np.abs(flat[:, None] - offsets[None, :]).min(initial=math.inf) > ON_EDGE_MM:
        return [piece]
    nudge = across * NUDGE_MM
    up, down = (transform(piece, np.eye(2), (float(s * nudge[0]), float(s * nudge[1]))) for s in (1, -1))
    return intersect(up, down)


def stretched(zone: Zone, fill: str, stretch: float) -> tuple[Finding, ...]:
    """Return a finding when the spacing had to give by more than `STRETCH_SAID`; none otherwise."""
    if abs(stretch - 1.0) <= STRETCH_SAID:
        return ()
    change = f"{abs(stretch - 1) * 100:.0f} % {'wider' if stretch > 1 else 'closer'}"
    text = f"{fill}: the lines lie {change} than asked, so that both edges of the space match"
    return (
        Finding(FindingCode.SPACING_STRETCHED, "note", zone.label, text, "Choose a spacing that divides the space."),
    )
