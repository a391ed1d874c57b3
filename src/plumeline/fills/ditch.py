"""Stitch in the ditch: the seams round the chosen patches themselves."""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from ..geometry import clip_path, dedupe, dilate, rings, subtract
from ..model import Filled, Stroke, Zone
from ..tolerances import CURVE_MM
from .kit.registry import Fill, too_small
from .kit.settings import FillSettings

__all__ = ["FILL", "DitchSettings"]

LEAST_AREA_MM2 = 4.0
"""An outline smaller than this is no patch: a needle could not turn in it."""

DOUBLED_MM = 1e-3
"""Corners of the patch closer than this are one."""

ROOM_MM = 1.0
"""Margin of the ground outside which nothing is looked at."""


class DitchSettings(FillSettings):
    """Stitch in the ditch has no settings: the seams say where it goes."""

    fills_space: ClassVar[bool] = False


def draw(zone: Zone, settings: DitchSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw the outline of the zone, every ring at distance 0; stretches along a part left open stay unstitched."""
    if zone.outline.area < LEAST_AREA_MM2:
        return too_small(zone, "ditch", "the patch is a speck", "Take it out of the zone.")
    strokes = []
    ground = subtract(dilate(zone.outline, ROOM_MM, join="mitre")[0], zone.left_open) if zone.left_open else []
    for ring in (dedupe(ring, closed=True, nearer_than_mm=DOUBLED_MM) for ring in rings(zone.outline)):
        if not zone.left_open:
            strokes.append(Stroke(ring, closed=True))
            continue
        strokes += [Stroke(path) for region in ground for path in clip_path(ring, region, closed=True)]
    return Filled(strokes=tuple(strokes))


FILL = Fill(
    name="ditch",
    settings=DitchSettings,
    draw=draw,
    stage="ditch",
    description="in the seams round each patch, to hold the layers and make them stand",
    within="outline",
)
