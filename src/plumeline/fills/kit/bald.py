"""Bald spots: what the fills of a zone leave bare of what they promise, measured once all of them have drawn."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import Polygon

from ...codes import FindingCode
from ...geometry import Bare, bare_spots_each, close_ring
from ...model import Barest, Finding, Stroke, Zone
from ...units import format_area, format_length
from .settings import FillSettings

__all__ = ["FAR", "GAP_MM", "Promise", "bare_of", "worth_a_word"]

GAP_MM = 50.8
"""What a fill without a spacing promises where the batting's label says nothing: 2 in."""

FAR = 1.5
"""Farther than this many spacings from every line is bare."""

SEEN_MM = 1.0
"""So much more is forgiven: two threads, less than any eye tells from the spacing."""

MUCH = 0.05
"""Where more than this part of the space is bare, it is told however slim the spots are."""

SQ_IN_MM2 = 645.16

WARNED = 0.5
"""Bare spots of this many square inches in all are a warning, less is a note."""

LEAST_SQ_IN = 0.1
"""Less than this is called small: a corner that no row reaches, which a figure would make more of than it is."""

EVENER = "Choose a smaller spacing, divide the space, or use 'meander', which fills any shape evenly."
CLOSER = "Choose a smaller spacing, or divide the space at its necks."
BEHIND = "Let it fill more of the space, or put a background after it."

Promise = tuple[Polygon, str, FillSettings]
"""A part of a zone, the fill that is to fill it, and its settings."""


def worth_a_word(spots: Sequence[Bare], promise_mm: float) -> list[Bare]:
    """Return the bare spots that lie farther than the promise by more than `SEEN_MM`."""
    return [spot for spot in spots if spot.far_mm > FAR * promise_mm + SEEN_MM]


def bare_of(
    zone: Zone, parts: Sequence[Promise], strokes: Sequence[Stroke], gap_mm: float = GAP_MM
) -> tuple[float, Barest | None, tuple[Finding, ...]]:
    """Return the area in mm2 that is bare in a zone, and its barest place with a finding when it is worth a word.

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
        return (float(sum(region.area for region, _, _ in parts)), None, ())  # a finding of the fill says why
    promised = [settings.promise_mm or gap_mm for _, _, settings in parts]
    found: list[list[Bare]] = [[] for _ in parts]
    for promise in set(promised):
        own = [k for k, p in enumerate(promised) if p == promise]
        for k, spots in zip(own, bare_spots_each(lines, [parts[k][0] for k in own], FAR * promise)):
            found[k] = spots
    total, slim_mm2, filled_mm2 = 0.0, 0.0, 0.0
    said: list[tuple[float, Bare, str, FillSettings]] = []
    slim: list[tuple[float, Bare, str, FillSettings]] = []
    for (region, fill, settings), promise, spots in zip(parts, promised, found):
        total += sum(spot.area_mm2 for spot in spots)
        if settings.fills_space:
            said += [(spot.far_mm / promise, spot, fill, settings) for spot in worth_a_word(spots, promise)]
            slim += [(spot.far_mm / promise, spot, fill, settings) for spot in spots]
            slim_mm2, filled_mm2 = slim_mm2 + sum(spot.area_mm2 for spot in spots), filled_mm2 + region.area
    if slim_mm2 > MUCH * filled_mm2:
        said = slim
    if not said:
        return total, None, ()
    area = sum(spot.area_mm2 for _, spot, _, _ in said)
    times, worst, fill, settings = max(said, key=lambda one: round(one[0], 6))
    return total, Barest(worst.centre, times / FAR), (_finding(zone, worst, fill, settings, area, len(said), gap_mm),)


def _finding(
    zone: Zone, bare: Bare, fill: str, settings: FillSettings, area_mm2: float, count: int, gap_mm: float
) -> Finding:
    promise = settings.promise_mm or gap_mm
    left, top, _, _ = zone.outline.bounds  # of the space: what is drawn once is placed in others like it
    across, down, far, near = (
        format_length(mm, zone.unit) for mm in (bare.centre[0] - left, bare.centre[1] - top, bare.far_mm, FAR * promise)
    )
    much = "a small spot is" if count == 1 else "small spots are"
    if area_mm2 >= LEAST_SQ_IN * SQ_IN_MM2:
        much = f"{format_area(area_mm2, zone.unit)} are"
    spots = "" if count == 1 else f", in {count} places"
    text = (
        f"{fill}: {much} left bare, farther than {near} from any line{spots}; the barest spot "
        f"lies {far} from the nearest line, {across} from the left and {down} from the top "
        "of the space"
    )
    what = BEHIND if settings.promise_mm is None else CLOSER if fill == "meander" else EVENER
    much_bare = area_mm2 >= WARNED * SQ_IN_MM2
    return Finding(FindingCode.BALD_SPOT, "warning" if much_bare else "note", zone.label, text, what)
