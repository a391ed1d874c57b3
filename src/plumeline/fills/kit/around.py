"""Rows parallel to a shape laid over the seams: about it, and within it, on all its sides."""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from ...codes import FindingCode
from ...geometry import boundary_distance, inscribed_circle, rings, space_about, subtract
from ...model import Finding, FloatArray, Zone, as_path
from .echoes import HAIR, Curve, curves_at
from .nest import Ring

__all__ = ["arcs_of", "mitred_rows", "no_shape", "rows_from", "spaces_beside"]

BEYOND = 2.0
"""The plane about a shape reaches so many depths beyond a zone: its own edge must not be echoed."""

SLIVER_MM2 = 1.0
"""A zone that a shape leaves less of than this lies within the shape."""


def spaces_beside(zone: Zone, piece: Polygon) -> tuple[list[Polygon], float]:
    """Return the spaces whose edges the rows follow, and the greatest depth that a piece of the zone has in them.

    About the shapes laid over the zone; where none is, within the shape that the zone lies in. Empty without either.
    """
    within = [shape for shape in zone.laid if not subtract(piece, [shape], sliver_mm2=SLIVER_MM2)]
    about = [shape for shape in zone.laid if not any(shape is other for other in within)]
    if about:
        corners = rings(piece)[0]
        far = np.min([-boundary_distance(shape, corners) for shape in about], axis=0)
        deepest = float(far.max())
        return space_about(about, piece, BEYOND * max(deepest, 1.0)), deepest
    if not within:
        return [], 0.0
    smallest = min(within, key=lambda shape: round(float(shape.area), 6))
    return [smallest], inscribed_circle(smallest)[1]


def rows_from(gaps: tuple[float, ...], deepest: float, *, first: float = 1.0, count: int | None = None) -> FloatArray:
    """Return depths that follow each other by the gaps, the first one at a part of the first gap.

    Never stretched: rows in all the pieces about one shape then run on from piece to piece. None lies within a hair of
    the greatest depth, where it would double back on itself.
    """
    most = int(deepest / min(gaps)) + 2
    steps = np.tile(gaps, -(-most // len(gaps)))
    depths: FloatArray = np.cumsum(steps) - (1.0 - first) * gaps[0]
    return depths[depths < deepest - HAIR * min(gaps)][:count]


def mitred_rows(
    zone: Zone, piece: Polygon, gaps: tuple[float, ...], *, first: float = 1.0, count: int | None = None
) -> tuple[list[Ring], list[list[list[Curve]]]]:
    """Return the rows parallel to the shape of a zone, with mitred corners.

    Returns
    -------
    whole : list of Ring
        Rows that lie in the zone from end to end, each leading to the next one.
    levels : list of list of list of Curve
        For each space the curves at each depth, the shape's own edge first; their ``arcs`` are the rows that end on
        the zone's edge.
    """
    spaces, deepest = spaces_beside(zone, piece)
    depths = rows_from(gaps, deepest, first=first, count=count)
    if not len(depths):
        return [], []
    apart = np.diff(np.concatenate([[0.0], depths]))
    levels = [curves_at(space, piece, depths, apart, corners="mitred") for space in spaces]
    roots: list[Ring] = []
    for found in levels:
        made = {id(curve): Ring(curve.path, hole=False) for level in found[1:] for curve in level if curve.ring}
        led = set()
        for level in found[1:]:
            for curve in level:
                if curve.ring and curve.next is not None and curve.next.ring:
                    made[id(curve)].next.append(made[id(curve.next)])
                    led.add(id(curve.next))
        roots += [ring for key, ring in made.items() if key not in led]
    return roots, levels


def arcs_of(levels: list[list[list[Curve]]]) -> list[FloatArray]:
    """Return the rows that end on the zone's edge, each level turned the other way round from the one before."""
    return [
        as_path(arc[::-1]) if k % 2 else arc
        for found in levels
        for k, level in enumerate(found)
        for curve in level
        for arc in curve.arcs
    ]


def no_shape(zone: Zone, fill: str) -> Finding:
    """Return the warning for a zone whose fill is to follow a shape where none is laid."""
    return Finding(
        FindingCode.NO_SHAPE_TO_FOLLOW,
        "warning",
        zone.label,
        f"{fill}: of is 'shape', but no shape is laid over this zone; its own edge is followed instead",
        'List a zone with a shape after this one, or take of = "shape" out.',
    )
