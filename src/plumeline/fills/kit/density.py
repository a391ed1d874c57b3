"""A fill whose spacing is set so that it comes out as tight as another zone."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from ...codes import FindingCode
from ...errors import FillError
from ...geometry import close_ring, seen_length
from ...model import Filled, Finding, Stroke, Zone
from ...tolerances import CURVE_MM, DOUBLED_MM
from .registry import Fill
from .settings import SpacedSettings

__all__ = ["density_of", "matched", "seen_mm"]

INCH_MM = 25.4

CLOSE = 0.01
"""A density this near to the one wanted, as a part of it, is met."""

MISSED = 0.03
"""A density further off than this is said: lines, plumes and leaves come whole."""

TRIALS = 10
"""Spacings tried: two or three meet a meander, more help where whole lines or plumes make the density jump."""

CLOSEST_MM = 1.0
"""Closest mean spacing tried."""


def seen_mm(strokes: Iterable[Stroke]) -> float:
    """Return the length of the lines that are seen: a stretch that is sewn again counts once. 0 for no strokes."""
    return seen_length([close_ring(s.path, s.closed) for s in strokes], within_mm=DOUBLED_MM)


def density_of(filled: Filled, zone: Zone, *, over_zone: bool = False) -> float:
    """Return the inches of line seen per square inch of what a fill drew in a zone.

    Counted over what the fill takes, as a motif or counted echoes do, unless it is ``over_zone``; a fill that says
    nothing of it takes all.
    """
    taken = 0.0 if over_zone else sum(float(part.area) for part in filled.taken)
    return seen_mm(filled.strokes) / (taken or float(zone.region.area)) * INCH_MM


def matched(
    fill: Fill,
    zone: Zone,
    settings: SpacedSettings,
    *,
    rng: Callable[[], np.random.Generator],
    tolerance_mm: float = CURVE_MM,
) -> Filled:
    """Fill a zone at the density that its settings want.

    Parameters
    ----------
    rng : callable
        Returns the zone's generator afresh for each trial.

    Returns
    -------
    Filled
        The trial that came nearest, with a finding when it is more than `MISSED` off.

    Raises
    ------
    FillError
        Nothing is stitched in the other zone.

    Notes
    -----
    Parallel lines a distance s apart come to 1 / s per area; every fill comes to about so much, times something of
    its own that hardly changes with s. So the spacing is corrected by the ratio of what came out to what is wanted.
    """
    wanted = settings.wanted_density
    if wanted is None:
        return fill(zone, settings, rng=rng(), tolerance_mm=tolerance_mm)
    if wanted <= 0:
        raise FillError(
            f"is {settings.density!r}, but nothing is stitched there",
            zone=zone.label,
            key="density",
            what_to_do="Name another zone, or give a spacing.",
        )
    spacing, best, best_miss = INCH_MM / wanted, Filled(), float("inf")
    closer, wider = 0.0, np.inf  # the widest spacing that came out too dense, the closest that came out too open
    tried: set[float] = set()
    for _ in range(TRIALS):
        if round(spacing, 6) in tried:
            break
        tried.add(round(spacing, 6))
        filled = fill(zone, settings.spaced(spacing), rng=rng(), tolerance_mm=tolerance_mm)
        got = density_of(filled, zone, over_zone=settings.over_zone)
        miss = got / wanted - 1.0
        if abs(miss) < abs(best_miss) or not best.strokes:
            best, best_miss = filled, miss
        if abs(miss) <= CLOSE:
            break
        closer, wider = (max(closer, spacing), wider) if miss > 0 else (closer, min(wider, spacing))
        spacing = max(spacing * (got / wanted if got else 0.5), CLOSEST_MM)
        if not closer < spacing < wider and 0.0 < closer < wider < np.inf:
            spacing = float(np.sqrt(closer * wider))
    if abs(best_miss) <= MISSED:
        return best
    how = f"{100 * abs(best_miss):.0f} % {'tighter' if best_miss > 0 else 'more open'}"
    said = f"{settings.density:g}" if isinstance(settings.density, float) else settings.density or f"{wanted:g}"
    return replace(best, findings=(*best.findings, _missed(zone, f"{fill.name}: {how} than density = {said}")))


def _missed(zone: Zone, what: str) -> Finding:
    return Finding(
        FindingCode.DENSITY_NOT_MET,
        "note",
        zone.label,
        f"{what}; lines, plumes and leaves come whole",
        "Nothing, or give a size or a spacing, or use a fill that gives way, such as meander.",
    )
