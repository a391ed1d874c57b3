"""Measured points put to the corners that are seen, seams put where the better camera has them, and how sure that is.

A finger touches a corner in a photo to a pixel or two, the seams that meet there tell it to a fraction of one. Only the
touch is made better; what the tape says stays as it is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.polynomial import legendre
from scipy.special import stdtrit

from ..codes import FindingCode
from ..model import Finding, FloatArray
from ..units import Unit, format_length
from .as_pieced import EndLine, end_lines
from .camera import Camera
from .camera_doubt import CameraDoubt, camera_doubt
from .photo import BENDS_FROM, SquaredUp, square_up
from .photo_points import MeasuredPoints
from .seam_net import SeamNet
from .seams_seen import SeenSeam

__all__ = ["placed_seams", "sharpened"]

TOUCH_MM = 4.0
"""A finger misses a corner by less; a point further off was measured somewhere else."""

AGREE_MM = 0.5
"""Seams that pass their corner by more than this do not tell where it is."""

WORSE = 1.1
"""Points put to corners may fit so much worse by chance, the tape's slips now being all that is left."""

CROSS = 0.3
"""Least singular value of the ways across seams that tell where they meet: two cross by 25 degrees at least."""

CHANCE = 0.01
"""How often the measured points may put a place of a seam further off than is said."""

RARE = 1e-4
"""Corners that would move the camera as chance seldom moves it are not those that were measured."""

SEEN_MM = 0.25
"""What finding a seam in the photo adds (standard deviation): measured in made photos, most of it near corners."""

STATIONS = 9
"""Places of a seam at which it is moved and doubted."""


def sharpened(
    points: MeasuredPoints, fit: SquaredUp, size: tuple[int, int], net: SeamNet, seen: Sequence[SeenSeam], unit: Unit
) -> SquaredUp:
    """Return the camera with each point at the corner that was touched, where that is seen; the same if none is.

    Parameters
    ----------
    points, fit, size
        The measured points, what `square_up` made of them, and the size of the photo in pixels.
    net, seen
        The planned seams, and what was seen of each.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    SquaredUp
        Fitted to the corners instead of the touches.

    Notes
    -----
    A corner is taken when two seams at least cross there, all pass it within `AGREE_MM`, and it lies within `TOUCH_MM`
    of the touch. All stay as they were touched when the points fit clearly worse for it, or the camera moves by more
    than its points left open: then other places were measured.
    """
    at_corner = dict(_corners_seen(list(end_lines(seen))))
    if not at_corner:
        return fit
    corners = np.array([at_corner[k] for k in sorted(at_corner)])
    touched = fit.camera.to_top(points.pixels)
    apart = np.hypot(*(touched[:, None] - corners[None]).transpose(2, 0, 1))
    nearest = apart.argmin(axis=1)
    off = apart[np.arange(len(touched)), nearest]
    moves = (off < TOUCH_MM) & fit.used
    if not moves.any():
        return fit
    pixels = points.pixels.copy()
    pixels[moves] = fit.camera.to_photo(corners[nearest[moves]])
    better = square_up(replace(points, pixels=pixels), size, unit=unit)
    if not _believed(fit, better, points):
        return fit
    far = float(off[moves].max())
    said = Finding(
        FindingCode.POINTS_AT_CORNERS,
        "note",
        None,
        f"{int(moves.sum())} of {len(touched)} points lie at corners that the photo shows, and were put to them, by up "
        f"to {format_length(far, unit, per_inch=32)}",
        "Nothing, if you measured the corners.",
    )
    return replace(better, findings=(*better.findings, said))


def _believed(fit: SquaredUp, better: SquaredUp, points: MeasuredPoints) -> bool:
    """Return whether a camera of corners is what the touched points leave open: else other places were measured."""
    if better.residual_mm > WORSE * fit.residual_mm or int(better.used.sum()) < int(fit.used.sum()):
        return False
    places = fit.camera.to_top(points.pixels)
    moved = better.camera.to_top(points.pixels) - places
    doubt = _doubt(fit, points)
    reach = _reach(doubt, RARE)
    return all(
        bool((np.abs(moved[:, axis]) <= reach * doubt.across(places, np.tile(way, (len(places), 1)))).all())
        for axis, way in enumerate(np.eye(2))
    )


def _doubt(fit: SquaredUp, points: MeasuredPoints) -> CameraDoubt:
    used = fit.used
    return camera_doubt(fit.camera, points.pixels[used], fit.misses[used], bends=len(points.places) >= BENDS_FROM)


def _reach(doubt: CameraDoubt, chance: float) -> float:
    """Return beyond how many standard deviations no more than chance lies."""
    return float(stdtrit(doubt.free, 1 - chance / 2))


def _corners_seen(lines: Sequence[EndLine]) -> list[tuple[int, FloatArray]]:
    """Return the corners that the lines running into them tell, by number."""
    about: dict[int, list[tuple[FloatArray, FloatArray]]] = {}
    for corner, at, across in lines:
        about.setdefault(corner, []).append((at, across))
    out = []
    for corner, own in about.items():
        across = np.array([a for _, a in own])
        wanted = np.array([float(a @ at) for at, a in own])
        if np.linalg.svd(across, compute_uv=False)[-1] < CROSS or len(own) < 2:
            continue
        place = np.asarray(np.linalg.lstsq(across, wanted)[0], dtype=np.float64)
        if np.abs(across @ place - wanted).max() < AGREE_MM:
            out.append((corner, place))
    return out


def placed_seams(
    seen: Sequence[SeenSeam], before: Camera, fit: SquaredUp, points: MeasuredPoints
) -> tuple[SeenSeam, ...]:
    """Return seams seen through one camera as another has them, each with how far it may be off.

    Parameters
    ----------
    seen : sequence of SeenSeam
        Through the camera before.
    before : Camera
        Of the picture in which they were seen.
    fit : SquaredUp
        The camera that is used.
    points : MeasuredPoints
        What it was fitted to; ``fit.misses`` are its misses.

    Returns
    -------
    tuple of SeenSeam
        In the order of ``seen``.
    """
    doubt = _doubt(fit, points)
    reach = _reach(doubt, CHANCE)
    share = np.linspace(0, 1, STATIONS)
    out = []
    for s in seen:
        at, normal = s.across(share)
        new = fit.camera.to_top(before.to_photo(at))
        moved = ((new - at) * normal).sum(axis=1)
        # a camera moves a seam smoothly: terms of the third degree follow it
        shift = legendre.legfit(2 * share - 1, moved, 3)
        curve = legendre.legadd(s.curve, shift) if s.seen else s.curve
        off = reach * math.hypot(float(doubt.across(new, normal).max()), SEEN_MM) if s.seen else 0.0
        out.append(replace(s, curve=np.asarray(curve, dtype=np.float64), may_be_off_mm=off))
    return tuple(out)
