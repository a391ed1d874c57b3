"""Zones of one shape and seed: filled once, where the page begins, and placed as exact copies."""

from __future__ import annotations

from dataclasses import replace

from ..geometry import filled_to_page, zone_to_local
from ..model import Filled, Frame, Zone

__all__ = ["moved_to_start", "placed"]


def moved_to_start(zone: Zone) -> Zone | None:
    """Return a zone moved so that its frame begins at 0, 0, rounded as fills see it; None where it must stay.

    Two zones of one shape, seed and settings come out the same, wherever they lie and whatever their number. Fills
    draw in the zone's own frame and on that grid anyway, so what they draw is the same too. Where travel may go, which
    no fill of ours looks at and which differs from zone to zone, is left out.
    """
    if zone.frame.angle_deg:
        return None
    there = zone_to_local(replace(zone, ways=()))
    if len(there) != 1:  # rounding closes a neck: only what is measured about it knows where
        return None
    return replace(there[0], frame=Frame())


def placed(filled: Filled, zone: Zone) -> Filled:
    """Return what was filled where the page begins as it lies in a zone of that shape."""
    findings = tuple(replace(f, zone=None if f.zone is None else zone.label) for f in filled.findings)
    return replace(filled_to_page(filled, zone.frame), findings=findings)
