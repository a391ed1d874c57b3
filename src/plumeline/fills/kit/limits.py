"""Limits that all fills share: how much line a setting may ask for."""

from __future__ import annotations

import math
from typing import Final

from ...errors import FillError
from ...model import Zone
from ...units import format_length

__all__ = ["STITCHES_MOST", "check_amount", "nearest_count", "stitches_about"]

STITCHES_MOST: Final = 5_000_000
"""Most stitches one fill of one zone may come to: more is a slip of the pen, and would fill memory."""

STITCH_MM: Final = 2.54
"""Stitch length the estimate is made with: 10 per inch."""

TIE: Final = 1e-6
"""Counts this close below a half are rounded up, so that a moved zone never tips the other way."""


def check_amount(zone: Zone, spacing_mm: float, *, key: str = "spacing") -> None:
    """Refuse a spacing so small that the zone would take more than `STITCHES_MOST` stitches.

    The estimate is the zone's area over the spacing, in stitches of 1/10 in.

    Parameters
    ----------
    zone : Zone
        What is to be filled.
    spacing_mm : float
        From line to line.
    key : str
        The setting that the message names.

    Raises
    ------
    FillError
        The message says the estimate and the least spacing that is allowed.

    Examples
    --------
    >>> from shapely import box
    >>> from plumeline.model import Zone
    >>> square = box(0, 0, 2000, 2000)
    >>> check_amount(Zone("field", "", 1, square, square), 6.0)
    >>> check_amount(Zone("field", "", 1, square, square), 0.1)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ...
    plumeline.errors.FillError: zone 'field': spacing: is 0.1 mm, which comes to about 15.7 million stitches; ...
    """
    area = float(zone.region.area)
    estimate = stitches_about(zone, spacing_mm)
    if estimate > STITCHES_MOST:
        least = area / STITCHES_MOST / STITCH_MM
        inches = f" ({format_length(_rounded_up(least, 25.4 / 64), per_inch=64)})" if zone.unit == "in" else ""
        raise FillError(
            f"is {spacing_mm:g} mm, which comes to about {estimate / 1e6:.1f} million stitches; "
            f"must be at most {STITCHES_MOST // 1_000_000} million",
            zone=zone.label,
            key=key,
            what_to_do=f"Choose a spacing of at least {_rounded_up(least, 0.01):.2f} mm{inches} or divide the zone.",
        )


def stitches_about(zone: Zone, spacing_mm: float) -> float:
    """Return about how many stitches lines so far apart take in a zone."""
    return float(zone.region.area) / spacing_mm / STITCH_MM


def _rounded_up(mm: float, step_mm: float) -> float:
    return math.ceil(mm / step_mm) * step_mm  # up, so that what is advised is also allowed


def nearest_count(ratio: float, *, least: int = 1) -> int:
    """Return the whole number nearest to a ratio, at least ``least``; halves go up, steadily under rounding."""
    return max(least, int(ratio + 0.5 + TIE))
