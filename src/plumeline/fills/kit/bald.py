"""Bald spots: what the fills of a zone leave bare of what they promise, measured once all of them have drawn."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import Polygon

from ...codes import FindingCode
from ...geometry import Bare, bare_part, close_ring
from ...model import Finding, Stroke, Zone
from ...units import format_length
from .settings import FillSettings

__all__ = ["GAP_MM", "Promise", "bare_of"]

GAP_MM = 50.8
"""What a fill without a spacing promises where the batting's label says nothing: 2 in."""

FAR = 1.5
"""Farther than this many spacings from every line is bare."""

SQ_IN_MM2 = 645.16

SAID_MM2, SQUARES = SQ_IN_MM2, 2.0
"""A bare part of a square inch is said, or of two squares of the spacing where that is less: tips of a space are."""

WARNED = 0.5
"""A bare part of this many square inches is a warning, less is a note."""

EVENER = "Choose a smaller spacing, divide the space, or use 'meander', which fills any shape evenly."
CLOSER = "Choose a smaller spacing, or divide the space at its necks."
BEHIND = "Let it fill more of the space, or put a background after it."

Promise = tuple[Polygon, str, FillSettings]
"""A part of a zone, the fill that is to fill it, and its settings."""


def bare_of(
    zone: Zone, parts: Sequence[Promise], strokes: Sequence[Stroke], gap_mm: float = GAP_MM
) -> tuple[float, tuple[Finding, ...]]:
    """Return the area in mm2 that is bare in a zone, and a finding when it is worth a word.

    Parameters
    ----------
    parts : sequence
        Regions that don't overlap, each with the fill that is to fill it.
    strokes : sequence of Stroke
        All that is stitched in the zone.
    gap_mm : float
        What fills without a spacing promise: the widest gap that the batting allows.
    """
    lines = [close_ring(s.path, s.closed) for s in strokes]
    if not lines:
        return (float(sum(region.area for region, _, _ in parts)), ())  # a finding of the fill says why
    total, said, worst = 0.0, 0.0, None
    for region, fill, settings in parts:
        promise = settings.promise_mm or gap_mm
        bare = bare_part(lines, region, FAR * promise)
        if bare is None:
            continue
        total += bare.area_mm2
        if not settings.fills_space:
            continue
        said += bare.area_mm2 / min(SAID_MM2, SQUARES * promise**2)
        if worst is None or bare.area_mm2 > worst[0].area_mm2:
            worst = bare, fill, settings
    if worst is None or said < 1.0:
        return total, ()
    return total, (_finding(zone, *worst, gap_mm),)


def _finding(zone: Zone, bare: Bare, fill: str, settings: FillSettings, gap_mm: float) -> Finding:
    promise = settings.promise_mm or gap_mm
    text = (
        f"{fill}: {bare.area_mm2 / SQ_IN_MM2:.1f} sq in are left bare, farther than {format_length(FAR * promise)} "
        f"from any line; the barest spot lies {format_length(bare.far_mm)} from the nearest line, "
        f"{format_length(bare.centre[0])} from the left and {format_length(bare.centre[1])} from the top"
    )
    what = BEHIND if settings.promise_mm is None else CLOSER if fill == "meander" else EVENER
    much = bare.area_mm2 >= WARNED * SQ_IN_MM2
    return Finding(FindingCode.BALD_SPOT, "warning" if much else "note", zone.label, text, what)
