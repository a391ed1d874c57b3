"""Zones of one shape and seed: filled once, where the page begins, and placed as exact copies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..geometry import outline_to_local, path_to_local, path_to_page, region_to_local, region_to_page
from ..model import Fence, Filled, FloatArray, Frame, Zone

__all__ = ["moved_to_start", "placed"]


def moved_to_start(zone: Zone) -> Zone | None:
    """Return a zone moved so that its frame begins at 0, 0, rounded as fills see it; None where it must stay.

    Two zones of one shape, seed and settings come out the same, wherever they lie and whatever their number. Fills
    draw in the zone's own frame and on that grid anyway, so what they draw is the same too. Where travel may go, which
    no fill of ours looks at and which differs from zone to zone, is left out.
    """
    if zone.frame.angle_deg:
        return None
    frame = zone.frame
    region = region_to_local(zone.region, frame)
    if len(region) != 1:  # rounding closes a neck: only what is measured about it knows where
        return None

    def point(at: tuple[float, float] | None) -> tuple[float, float] | None:
        return None if at is None else _point(path_to_local([at], frame))

    return replace(
        zone,
        region=region[0],
        outline=outline_to_local(zone.outline, frame),
        fences=tuple(Fence(path_to_local(f.path, frame), f.soft_mm) for f in zone.fences),
        left_open=tuple(piece for r in zone.left_open for piece in region_to_local(r, frame)),
        laid=tuple(piece for r in zone.laid for piece in region_to_local(r, frame)),
        ways=(),
        enter=point(zone.enter),
        leave=point(zone.leave),
        frame=Frame(),
    )


def _point(path: FloatArray) -> tuple[float, float]:
    ((x, y),) = path.tolist()
    return x, y


def placed(filled: Filled, zone: Zone) -> Filled:
    """Return what was filled where the page begins as it lies in a zone of that shape."""
    frame = zone.frame
    return replace(
        filled,
        strokes=tuple(replace(s, path=path_to_page(s.path, frame)) for s in filled.strokes),
        taken=tuple(region_to_page(r, frame) for r in filled.taken),
        fences=tuple(Fence(path_to_page(f.path, frame), f.soft_mm) for f in filled.fences),
        findings=tuple(replace(f, zone=None if f.zone is None else zone.label) for f in filled.findings),
        enclosed=tuple(region_to_page(r, frame) for r in filled.enclosed),
        barest=filled.barest
        and replace(filled.barest, place=_point(path_to_page(np.array([filled.barest.place]), frame))),
    )
