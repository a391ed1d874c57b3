"""Spines that grow out of others as twigs: one into each branch of a region."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import Polygon

from ...geometry import (
    arc_lengths,
    boundary_distance,
    branches,
    nearest_on,
    path_length,
    point_at,
    smooth,
    subtract,
)
from ...model import Path, as_path
from .spine import Spine, Spines

__all__ = ["beside", "with_twigs"]

TWIG_LEAST, TWIGS_MOST = 1.0, 12
"""A branch of a space takes a twig of its own from this many of its widths on; and a space has no more than so many."""

TWIG_ROOM_MM = 9.0
"""A branch with a smaller half width has no room for a twig with plumes on either side."""

TWIG_OFF_MM, TWIG_OFF = 5.0, 0.4
"""A twig's own plumes begin so far beside the spine that it leaves, and this part of the half width there: between,
that spine's plumes need their room."""

TWIG_BACK, TWIG_BLEND = 0.35, 1.0
"""A twig leaves its spine so many half widths before the middle of the branch, if that runs the same way, and has come
over to its middle after so many."""


def with_twigs(region: Polygon, laid: Spines) -> Spines:
    """Return the spines with a twig for each branch of the region that leaves the only one of them."""
    if len(laid.spines) != 1:
        return laid
    main = laid.spines[0]
    twigs: list[Spine] = []
    space = region if laid.middle is None else subtract(region, [laid.middle])[0]
    for branch in branches(space, main.path, closed=main.closed, least=TWIG_LEAST, most=TWIGS_MOST):
        grown = [main, *twigs]
        far = [float(np.abs(np.hypot(*(s.path - branch[0]).T)).min()) for s in grown]
        twig = _twig(space, grown[int(np.argmin(far))], branch)
        twigs += [twig] if twig is not None else []
    return replace(laid, spines=(main, *twigs))


def _twig(region: Polygon, spine: Spine, branch: Path) -> Spine | None:
    # out of the spine along it, over to the middle of the branch, and on to its end; None where it would be too short
    half = float(boundary_distance(region, branch[:1])[0])
    total, length = path_length(spine.path, closed=spine.closed), path_length(branch)
    off = max(TWIG_OFF_MM, TWIG_OFF * half)
    inner = boundary_distance(region, point_at(branch, np.linspace(0.2, 0.7, 6) * length))
    if length < TWIG_BLEND * half + off or np.median(inner) < TWIG_ROOM_MM:
        return None
    place = float(nearest_on(spine.path, branch[:1], closed=spine.closed)[0])
    way = point_at(branch, np.array([half]))[0] - branch[0]
    ahead = point_at(spine.path, np.array([min(place + 1.0, total)]), closed=spine.closed)[0]
    heading = ahead - point_at(spine.path, np.array([max(place - 1.0, 0.0)]), closed=spine.closed)[0]
    same = float(way @ heading / max(np.hypot(*way) * np.hypot(*heading), 1e-9))
    place -= TWIG_BACK * half * max(same, 0.0)
    start = point_at(spine.path, np.array([place if spine.closed else max(place, 0.0)]), closed=spine.closed)[0]
    gone = arc_lengths(branch)
    rest = branch[gone > TWIG_BLEND * half]
    t = np.linspace(0.0, 1.0, 40)[:, None]
    over = (1 - t) ** 2 * start + 2 * t * (1 - t) * (branch[0] + start) / 2 + t**2 * rest[0]
    path = smooth(as_path(np.vstack([over, rest[1:]])), 0.3 * half)
    return beside(region, spine, path)


def beside(region: Polygon, spine: Spine, path: Path) -> Spine | None:
    """Return a path that starts on a spine as a twig of it: what lies far enough beside; None when nothing does."""
    off = max(TWIG_OFF_MM, TWIG_OFF * float(boundary_distance(region, path[:1])[0]))
    on = point_at(spine.path, nearest_on(spine.path, path, closed=spine.closed), closed=spine.closed)
    near = np.flatnonzero(np.hypot(*(path - on).T) < off)
    rest = path[int(near[-1]) + 1 if len(near) else 0 :]
    return Spine(as_path(rest), off_mm=off) if len(rest) > 2 else None
