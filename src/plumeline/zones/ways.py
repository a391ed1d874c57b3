"""Where travel may go: in the seams of the top, and from each zone's edge to them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from shapely import Polygon

from ..geometry import NearPaths, away_from, bounds, dilate, erode, path_length, point_at, rings, turns
from ..model import FloatArray, Path, Top, Way, Zone, as_path
from ..specs import ZoneSpec
from .spaces import PART_CLEARANCE_MM, Space, spaces_of

__all__ = ["part_links", "seam_ways", "ways_of"]

INSIDE_MM = 0.25
"""A seam this far within a space is inside it; one on its outline is not."""

ON_SEAM_MM = 0.5
"""An edge this close to a seam is the seam."""

LINK_RATIO = 1.5
"""A link is at most this many insets long: from a corner, straight across, and a little askew."""

LINK_EVERY_MM = 25.4
"""Links between corners, at most this far apart: so far does a line go along a visible edge at most."""

LINK_CORNER_DEG = 30.0
"""A vertex that turns by more gets a link of its own."""

TIPS_MM = 3.175
"""So far from the parts beside it lies a square on point whose tips keep clear of the seams."""

JOINED_MM = 0.05
"""A link shorter than this joins what touches already."""

LEAST_SEAM_MM = 2.0
"""Shorter stretches of seam, between two spaces that nearly touch, lead nowhere."""

EDGE_FACTOR = 2.0
"""An edge is seen, so its length counts double."""

LINK_FACTOR = 4.0
"""A link crosses open cloth."""


def seam_ways(top: Top, specs: Sequence[ZoneSpec]) -> tuple[Way, ...]:
    """Return the stretches of seam that may hide travel, for the whole quilt.

    Left out are seams that may not be ditched (pressed open, out of true), seams inside a joined zone or under a
    laid-over shape unless it says ``travel = "any-seam"``, and every seam beside a zone of ``travel = "none"``.

    Parameters
    ----------
    top : Top
        Its seams know whether they may be travelled in.
    specs : sequence of ZoneSpec
        What the plan says of its zones.

    Returns
    -------
    tuple of Way
        Ways of the kind ``"seam"``.
    """
    return _seams(top, spaces_of(top, specs)[0])


def _seams(top: Top, spaces: Sequence[Space]) -> tuple[Way, ...]:
    barred: list[Polygon] = []
    for space in spaces:
        if space.spec.travel == "outer-seams":
            barred += erode(space.outline, INSIDE_MM)
        elif space.spec.travel == "none":
            barred += dilate(space.outline, ON_SEAM_MM, join="mitre")
    seams = [seam.path for seam in top.seams if seam.may_travel and len(seam.path) > 1]
    return tuple(Way(path, "seam") for path in away_from(seams, barred, least_mm=LEAST_SEAM_MM))


def ways_of(zone: Zone, seams: NearPaths, *, inset_mm: float, open_margin_mm: float) -> tuple[Way, ...]:
    """Return a zone's own ways: its edge, links from it to the seams; stretches of edge on a seam as seam.

    Parameters
    ----------
    seams : NearPaths
        The seams that may hide travel.
    inset_mm : float
        The zone's clearance; links are at most 1.5 times as long.
    open_margin_mm : float
        Clearance round the parts left open; an edge along one is no way.
    """
    shut = [grown for part in zone.left_open for grown in dilate(part, open_margin_mm + INSIDE_MM)]
    ways: list[Way] = []
    for ring in rings(zone.region):
        for stretch in away_from([ring], shut, closed=True, least_mm=ON_SEAM_MM):
            near, far = seams.split(stretch, ON_SEAM_MM)
            ways += [Way(path, "seam") for path in near]
            ways += [Way(path, "edge", EDGE_FACTOR) for path in far]
            ways += _links(stretch, seams, LINK_RATIO * inset_mm)
    return tuple(ways)


def part_links(zones: Sequence[Zone]) -> list[list[Way]]:
    """Return for each zone the links to the zones after it that lie a part's clearance away.

    So one line may go from a frame into what it frames. Parts of one zone may lie as far apart as `TIPS_MM`.
    """
    boxes = np.array([bounds(zone.region) for zone in zones]).reshape(-1, 4)
    within = LINK_RATIO * TIPS_MM
    out: list[list[Way]] = []
    for i, zone in enumerate(zones):
        low, high = boxes[i, :2] - within, boxes[i, 2:] + within
        near = (boxes[:, :2] <= high).all(axis=1) & (boxes[:, 2:] >= low).all(axis=1)
        others = [j for j in map(int, np.flatnonzero(near)) if j > i and zones[j].ways]
        links: list[Way] = []
        if others and zone.ways:
            edges = [way.path for way in zone.ways if way.kind != "link"]
            for own, far in ((True, within), (False, LINK_RATIO * PART_CLEARANCE_MM)):
                paths = [
                    way.path
                    for j in others
                    if (zones[j].name == zone.name) is own
                    for way in zones[j].ways
                    if way.kind != "link"
                ]
                if paths:
                    target = NearPaths(paths)
                    links += [link for edge in edges for link in _links(edge, target, far)]
        out.append(links)
    return out


def _links(path: Path, target: NearPaths, within_mm: float) -> list[Way]:
    if within_mm <= JOINED_MM:
        return []
    points = _places(path)
    which, ends = target.nearest(points, within_mm)
    far = np.hypot(*(points[which] - ends).T) > JOINED_MM
    pairs = zip(points[which][far], ends[far], strict=True)
    return [Way(as_path([start, end]), "link", LINK_FACTOR) for start, end in pairs]


def _places(path: FloatArray) -> FloatArray:
    """Return the corners and ends of an edge, and points between them at most `LINK_EVERY_MM` apart."""
    corner = np.abs(np.degrees(turns(path))) > LINK_CORNER_DEG
    corner[[0, -1]] = True
    steps = np.hypot(*np.diff(path, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(steps)])[corner]
    between = [
        np.linspace(a, b, max(int(np.ceil((b - a) / LINK_EVERY_MM)), 1), endpoint=False) for a, b in pairwise(at)
    ]
    places = point_at(path, np.concatenate([*between, at[-1:]]))
    closed = path_length([path[0], path[-1]]) < JOINED_MM
    return places[:-1] if closed else places
