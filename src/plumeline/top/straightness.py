"""How straight the seams really are.

Two measures, both in mm and both seen by the eye beside a straight line:

* **bow**: a seam meant to be straight strays from the chord between its ends.
* **run-out**: a side of a patch is straight but leans. A patch whose sides all point nearly along multiples of 45
  degrees (squares, rectangles, half-square and setting triangles, mitred borders) or of 60 degrees (hexagons, sixty
  degree triangles) from some direction is meant to be true. The direction taken is that of the side which lets the
  others lean least, summed over their lengths, so that one bad corner is charged to the side it spoils and not shared
  out among all. A side's run-out is how far its one end lies off the true line through its other end.

One corner of a 12 in square moved by 3/8 in along one side leaves a run-out of 3/8 in on the side that leans; the tip
of a 3 in star point missed by 1/8 in leaves a run-out of about 1/8 in on the seams that meet there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon

from ..geometry import cornered, leans, near_paths, rings
from ..model import FloatArray, Path, Seam, Top

__all__ = ["CrookedSeam", "Side", "crooked_seams", "off_true_mm", "sides_meant_true", "sides_out_of_true"]

CORNER_DEG = 20.0
"""A turn of more than this is a corner; less is a wobble in a side."""

BOW_SHARE = 0.03
"""A path that strays by more of its chord than this is a curve, not a straight seam gone wrong."""

MOST_OFF_MM = 12.7
"""Nobody sews a seam further out of true than 1/2 in and goes on: what leans more is meant to slope."""

MEANT_SEAMS, MEANT_RAD = 5, math.radians(0.1)
"""So many seams of the top that lean alike are meant to: a slip of the needle does not come out the same five times."""

ONE_LINE_MM = 6.35
"""Seams that run alike and pass each other by no more than 1/4 in lie on one line."""

CROOKED_MM = 25.4 / 16
"""The eye sees more than this beside a straight line."""

ON_SIDE_MM = 0.01
"""A seam lies on a patch's side when its middle is this near."""


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One side of a patch, from corner to corner: how far it bows, and how far it runs out of true, in mm."""

    path: Path
    bow_mm: float
    run_out_mm: float

    @property
    def off_mm(self) -> float:
        """How far it is out of true."""
        return max(self.bow_mm, self.run_out_mm)

    @property
    def lean_rad(self) -> float:
        """How far it leans."""
        return math.asin(min(self.run_out_mm / float(np.hypot(*(self.path[-1] - self.path[0]))), 1.0))

    @property
    def middle(self) -> FloatArray:
        """The middle between its ends."""
        middle: FloatArray = (self.path[0] + self.path[-1]) / 2
        return middle


@dataclass(frozen=True, slots=True, eq=False)
class CrookedSeam:
    """A seam that is out of true, by how much in mm."""

    seam: Seam
    off_mm: float

    @property
    def name(self) -> str:
        """What to call it: ``"the seam between 'star-1-1' and 'plain-1-1'"``."""
        if self.seam.b is None:
            return f"the outer edge of '{self.seam.a}'"
        return f"the seam between '{self.seam.a}' and '{self.seam.b}'"


def off_true_mm(path: FloatArray) -> float | None:
    """Return the greatest distance of a path from the chord between its ends, in mm.

    None when the path is not meant to be straight: it closes on itself, or strays by more than 3 % of its chord.

    Parameters
    ----------
    path : (n, 2) array
        A seam or a side.

    Returns
    -------
    float or None
        0 for a straight one.
    """
    points = np.asarray(path, dtype=np.float64)
    chord = points[-1] - points[0]
    length = float(np.hypot(*chord))
    if length == 0:
        return None
    away = points - points[0]
    off = float(np.abs(away[:, 0] * chord[1] - away[:, 1] * chord[0]).max()) / length
    return off if off <= BOW_SHARE * length else None


def sides_out_of_true(outline: Polygon) -> list[Side]:
    """Return the straight sides of a patch with how far each is out of true, clockwise from the top left corner.

    A curved side is left out. Where the patch is not meant to be true, only the bow of a side counts.

    Parameters
    ----------
    outline : shapely.Polygon
        Of a patch.

    Returns
    -------
    list of Side
        One for each straight side.
    """
    paths = cornered(rings(outline)[0], least_deg=CORNER_DEG).sides()
    bows = [off_true_mm(p) for p in paths]
    straight = [k for k, bow in enumerate(bows) if bow is not None]
    chords = np.array([paths[k][-1] - paths[k][0] for k in straight]).reshape(-1, 2)
    run_out = np.hypot(chords[:, 0], chords[:, 1]) * np.abs(np.sin(leans(chords)))
    return [Side(paths[k], bows[k] or 0.0, float(r)) for k, r in zip(straight, run_out)]


def crooked_seams(top: Top, *, more_than_mm: float = CROOKED_MM) -> list[CrookedSeam]:
    """Return the seams that are out of true by more than a limit, in the order of the top's seams.

    A seam is as crooked as the worse of the two patch sides on which it lies. A side that leans by more than 1/2 in, or
    as four others of the top do, is meant to slope. Empty when all is true.

    Parameters
    ----------
    top : Top
        Any top.
    more_than_mm : float
        What is off by less counts as true.

    Returns
    -------
    list of CrookedSeam
        Each with the seam, how far it is off, and what to call it.
    """
    sides = sides_meant_true(top, more_than_mm=more_than_mm)
    out = []
    for seam in top.seams:
        found = 0.0
        middles = (seam.path[:-1] + seam.path[1:]) / 2
        for name in (seam.a, seam.b):
            own = [s for s in sides.get(name or "", ()) if s.off_mm > more_than_mm]
            if own:
                at = near_paths(middles, [s.path for s in own], within_mm=ON_SIDE_MM)
                found = max([found, *(own[k].off_mm for k in set(at[at >= 0].tolist()))])
        if found > more_than_mm:
            out.append(CrookedSeam(seam, found))
    return out


def sides_meant_true(top: Top, *, more_than_mm: float = CROOKED_MM) -> dict[str, list[Side]]:
    """Return the straight sides of each patch; those that are meant to slope have no run-out."""
    return _without_meant({p.name: sides_out_of_true(p.outline) for p in top.patches}, more_than_mm)


def _without_meant(sides: Mapping[str, Sequence[Side]], more_than_mm: float) -> dict[str, list[Side]]:
    """Return the sides by patch, those that are meant to slope without their run-out."""
    ways: dict[tuple[float, float], FloatArray] = {}
    leaning = [s for own in sides.values() for s in own if s.run_out_mm > more_than_mm]
    seams: dict[tuple[float, float], float] = {}  # one for both of its patches
    for side in leaning:
        x, y = np.round(side.middle, 1).tolist()
        seams.setdefault((x, y), side.lean_rad)
        ways.setdefault((x, y), side.path[-1] - side.path[0])
    lean = np.array(list(seams.values()))
    line = np.array([_line(at, way) for at, way in ways.items()]).reshape(-1, 2)

    def meant(side: Side) -> bool:
        if side.run_out_mm > MOST_OFF_MM:
            return True
        alike = line[np.abs(lean - side.lean_rad) <= MEANT_RAD]
        # the sides of several patches along one long seam lean alike, however it came about: they are one
        apart = np.unique(alike[:, 0])
        return sum(_lines_apart(alike[alike[:, 0] == way, 1]) for way in apart) >= MEANT_SEAMS

    return {
        name: [replace(s, run_out_mm=0.0) if s.run_out_mm > more_than_mm and meant(s) else s for s in own]
        for name, own in sides.items()
    }


def _line(at: tuple[float, float], way: FloatArray) -> tuple[float, float]:
    """Return which multiple of 45 degrees a seam runs nearest to, and how far off the zero its line passes, mm."""
    x, y = way / np.hypot(*way)
    eighth = round(math.atan2(y, x) / (math.pi / 4)) % 8
    back = -1.0 if eighth >= 4 else 1.0  # to and fro are one
    return float(eighth % 4), back * (at[0] * y - at[1] * x)


def _lines_apart(off: FloatArray) -> int:
    return 1 + int((np.diff(np.sort(off)) > ONE_LINE_MM).sum())
