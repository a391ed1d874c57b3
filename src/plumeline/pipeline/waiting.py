"""Which fills will take long: said before they begin."""

from __future__ import annotations

from collections.abc import Sequence

from ..fills.kit.limits import STITCHES_MOST, stitches_about
from ..fills.kit.stack import Layer
from ..model import Zone

__all__ = ["SAID_SECONDS", "seconds_of", "wait_said"]

SAID_SECONDS = 20.0
"""Who waits longer than this wonders whether anything is being done."""

SECONDS = {"curl": 2.5e-4, "echo": 2.5e-4, "meander": 1e-4, "pebble": 5e-4, "rings": 2e-5, "spiral": 3e-5}
"""Processor time for a square whose side is the spacing, measured in plain squares of 6, 12 and 24 in.
Other fills are not announced."""


LINE_APART = {"pebble": 0.5}
"""How far apart a fill's lines are, as a share of the spacing that it promises."""


def seconds_of(zone: Zone, layers: Sequence[Layer]) -> float:
    """Return about how long a zone takes to fill, in seconds; each layer as if it had the whole zone.

    A layer that will be refused for its many stitches takes none.
    """
    took = 0.0
    for layer in layers:
        spacing = layer.settings.promise_mm
        if spacing and stitches_about(zone, spacing * LINE_APART.get(layer.fill.name, 1.0)) <= STITCHES_MOST:
            took += SECONDS.get(layer.fill.name, 0.0) * zone.region.area / spacing**2
    return took


def wait_said(zone: Zone, layers: Sequence[Layer]) -> str | None:
    """Return what is said before a zone that takes long; None when it is soon filled."""
    seconds = seconds_of(zone, layers)
    if seconds <= SAID_SECONDS:
        return None
    slowest = max(layers, key=lambda layer: seconds_of(zone, [layer]))
    span = f"{round(seconds, -1):.0f} seconds" if seconds < 120 else f"{seconds / 60:.0f} minutes"
    return f"{zone.label}: {slowest.fill.name} takes about {span} here; a wider spacing is quicker"
