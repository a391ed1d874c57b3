"""Meander (stipple): one line that wanders everywhere and never crosses itself.

A random tree grows through the zone; the line runs round it and is then relaxed until its strands lie evenly. See
``points.py``, ``tree.py`` and ``relax.py`` for the three steps.
"""

from __future__ import annotations

import numpy as np

from ...codes import FindingCode
from ...geometry import contains, path_length, pieces
from ...model import Filled, Finding, Stroke, Zone, as_path
from ...tolerances import CURVE_MM
from ..kit.limits import check_amount
from ..kit.registry import Fill, too_small
from ..kit.settings import Mm, SpacedSettings, length, number
from ..kit.tips import led_into_tips
from .arms import waves_in_arms
from .lines import meander_lines

__all__ = ["FILL", "MeanderSettings"]

CRUMB = 2.0
"""A closed line of its own that is shorter than so many spacings is a dot: it is left out beside other lines."""


class MeanderSettings(SpacedSettings):
    """Settings of the meander."""

    spacing_mm: Mm = length(12.7, least=0.5, description="mean distance from strand to strand")
    wander: float = number(
        2.0, least=1.5, most=2.6, description="how far the line strolls: small is busy, large is lazy"
    )


def draw(zone: Zone, settings: MeanderSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw the meander in a zone.

    Returns
    -------
    Filled
        One open stroke from edge to edge for each piece of the zone, from ``zone.enter`` to ``zone.leave`` where
        they are given; a closed one more for each place behind a neck too narrow to pass, and a wave from edge to
        edge for each arm that the line does not get into. None, and a finding, when the line can't turn anywhere.

    Notes
    -----
    O(n log n) in the length of the line. No stroke crosses itself or another, and none leaves the region.
    """
    check_amount(zone, settings.spacing_mm)
    lines = meander_lines(zone, settings.spacing_mm, settings.wander, rng=rng, tolerance_mm=tolerance_mm)
    if not lines:
        return too_small(zone, "meander", "there is no room for the line to turn", "Choose a closer spacing.")
    strokes: list[Stroke] = []
    rest = [Stroke(as_path(w.path), closed=w.closed) for w in lines]
    for piece in pieces(zone):
        inside = [bool(contains(piece, s.path[len(s.path) // 2][None])[0]) for s in rest]
        own = [s for s, within in zip(rest, inside) if within]
        rest = [s for s, within in zip(rest, inside) if not within]
        own = [s for s in own if not _is_crumb(s, settings.spacing_mm)] or own
        own += waves_in_arms(own, piece, settings.spacing_mm)
        strokes += led_into_tips(own, piece, settings.spacing_mm, look="lobe")
    drawn = (*strokes, *rest)
    findings: tuple[Finding, ...] = ()
    if len(drawn) > len(pieces(zone)):
        findings = (
            Finding(
                FindingCode.MEANDER_IN_PARTS,
                "note",
                zone.label,
                f"meander: {len(drawn)} lines, because necks are too narrow for one to pass both ways",
                "Choose a closer spacing, or give the zone travel = 'any-seam'.",
            ),
        )
    return Filled(drawn, findings=findings)


def _is_crumb(stroke: Stroke, spacing: float) -> bool:
    return stroke.closed and path_length(stroke.path, closed=True) < CRUMB * spacing


FILL = Fill(
    name="meander",
    settings=MeanderSettings,
    draw=draw,
    stage="background",
    description="one line that wanders everywhere and never crosses itself (stipple)",
    by_chance=True,
)
