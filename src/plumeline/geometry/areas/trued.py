"""What an outline out of true was meant to be: true directions, straight sides."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from shapely import Polygon

from ...model import FloatArray
from ..curves.corners import cornered
from ..curves.polylines import arc_lengths
from .regions import as_region, intersect, rings, subtract

__all__ = ["leans", "straightened"]

LEAN_RAD = math.radians(6)
"""Sides that lean more than this were not meant to be true (1/8 in on a 1 1/4 in side)."""

TURNS_RAD = (math.pi / 4, math.pi / 3)
"""The directions of piecing: multiples of 45 degrees, multiples of 60."""

CORNER_DEG = 20.0
"""A turn of more than this is a corner; less is a wobble in a side."""

CURVED_SHARE = 0.03
"""A side that strays by more of its chord than this is a curve, not a straight one gone wrong."""

FLAT_TURN_RAD = math.radians(10)
"""Sides that meet at less than this have no corner to be found by crossing them."""

ROUNDING_MM2 = 0.01
"""What of straight sides lies outside a region by rounding alone."""

LEAST_LEFT = 0.5
"""What straight sides leave of a region is at least this share of it, or the region was meant as it is."""


def leans(chords: Sequence[FloatArray] | FloatArray) -> FloatArray:
    """Return how far each side of an outline leans against its true directions, radians; zeros where it has none.

    Parameters
    ----------
    chords : (n, 2) array
        From corner to corner.

    Returns
    -------
    ``(n,)`` array
        Radians, positive clockwise as seen.

    Notes
    -----
    An outline whose sides all point nearly along multiples of 45 degrees, or of 60, from one of them is meant to be
    true. That side is taken from which the others run out least, summed over their lengths.
    """
    chord = np.asarray(chords, dtype=np.float64).reshape(-1, 2)
    none = np.zeros(len(chord))
    if len(chord) < 3:
        return none
    length, heading = np.hypot(chord[:, 0], chord[:, 1]), np.arctan2(chord[:, 1], chord[:, 0])
    for turn in TURNS_RAD:
        # lean[i, k]: of side k when side i is true
        lean = heading[None, :] - heading[:, None]
        lean -= turn * np.round(lean / turn)
        run_out = length * np.abs(np.sin(lean))
        fits = (np.abs(lean) <= LEAN_RAD).all(axis=1)
        if fits.any():
            askew = np.abs(heading - turn * np.round(heading / turn))
            # a leaning parallelogram fits either pair of sides: the pair nearer to the page's own directions is true
            order = np.lexsort((np.round(askew, 9), np.round(run_out.sum(axis=1), 6), ~fits))
            return np.asarray(lean[order[0]])
    return none


def straightened(region: Polygon, *, inside: bool) -> Polygon | None:
    """Return a region with straight sides in their true directions; None where it has a side curved by design.

    Parameters
    ----------
    region : shapely.Polygon
        With corners.
    inside : bool
        Whether each side is laid so far in that it crosses the edge nowhere; else through its own mean.

    Returns
    -------
    shapely.Polygon or None
        Corner for corner; with ``inside``, holes stay as they are. None too where straight sides do not close.
    """
    sides = cornered(rings(region)[0], least_deg=CORNER_DEG).sides()
    if len(sides) < 3:
        return None
    chords = np.array([side[-1] - side[0] for side in sides])
    if any(_stray(side) > CURVED_SHARE * float(np.hypot(*chord)) for side, chord in zip(sides, chords)):
        return None
    heading = np.arctan2(chords[:, 1], chords[:, 0]) - leans(chords)
    way = np.column_stack([np.cos(heading), np.sin(heading)])
    inwards = np.column_stack([-way[:, 1], way[:, 0]])  # clockwise as seen, y down
    depth = np.array([_depth(side, normal, inside) for side, normal in zip(sides, inwards)])
    corners = []
    for k, side in enumerate(sides):
        cross = float(way[k - 1, 0] * way[k, 1] - way[k - 1, 1] * way[k, 0])
        if abs(cross) < math.sin(FLAT_TURN_RAD):
            corners.append(side[0] + (depth[k] - side[0] @ inwards[k]) * inwards[k])
        else:
            corners.append(np.linalg.solve(inwards[[k - 1, k]], depth[[k - 1, k]]))
    try:
        outline = as_region(np.array(corners))
    except ValueError:
        return None
    if not inside or (not region.interiors and not subtract(outline, [region], sliver_mm2=ROUNDING_MM2)):
        return outline  # cutting one to the other would leave their common edge with splinters
    pieces = intersect(outline, region)
    return pieces[0] if len(pieces) == 1 and pieces[0].area >= LEAST_LEFT * region.area else None


def _stray(side: FloatArray) -> float:
    away, chord = side - side[0], side[-1] - side[0]
    return float(np.abs(away[:, 0] * chord[1] - away[:, 1] * chord[0]).max() / max(float(np.hypot(*chord)), 1e-9))


def _depth(side: FloatArray, inwards: FloatArray, inside: bool) -> float:
    along = side @ inwards
    if inside:
        return float(along.max())
    s = arc_lengths(side)
    return float(np.trapezoid(along, s) / s[-1])
