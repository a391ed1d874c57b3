"""A photo squared up: the camera from measured points, bad points named, what can't be used refused."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.special import fdtri

from ..codes import FindingCode
from ..errors import TopError
from ..geometry import plane_map
from ..model import Finding, FloatArray
from ..units import Unit, format_length
from .camera import Camera, fit_camera, misses_mm
from .photo_points import LEAST_POINTS, MeasuredPoints

__all__ = ["BENDS_FROM", "SquaredUp", "square_up"]

BENDS_FROM = 8
"""So many points tell the lens from the tape; with fewer the picture is a picture and no measure."""

ON_LINE = 0.01
"""Points nearer to a line than this share of their spread lie on it."""

CHANCE = 1e-3
"""How often a set of good points may lose one of them as an outlier."""

OUT_MM = 4.0
"""A point that misses by less than twice what tape and finger do is kept, however well the others fit."""

LOOSE_MM = 6.35
"""A mean miss of more than 1/4 in is no slip of tape or finger."""

SWAPPED_SHARE = 0.04
"""Two points are swapped when that leaves less than this share of the squares of all misses."""

SLANTED = 2.5
"""A photo whose pixels are so many times as long as they are wide was taken very slanted, or a measure is wrong."""

COARSE_PX = 1.0
"""With fewer pixels a millimetre, seams are told to no better than a millimetre."""


@dataclass(frozen=True, slots=True, eq=False)
class SquaredUp:
    """A photo's camera, and how the points fit it.

    Attributes
    ----------
    camera : Camera
        From the points that are used.
    misses : (n,) array
        How far each point lies from where it was measured, mm.
    used : (n,) bool array
        Outliers are not.
    residual_mm : float
        Root mean square of the misses of the used points; nan where every set of four fits exactly.
    findings : tuple of Finding
    """

    camera: Camera
    misses: FloatArray
    used: np.ndarray
    residual_mm: float
    findings: tuple[Finding, ...]


def square_up(points: MeasuredPoints, size: tuple[int, int], *, unit: Unit = "in") -> SquaredUp:
    """Return the camera that measured points tell of a photo.

    Parameters
    ----------
    points : MeasuredPoints
        Four or more; from `BENDS_FROM` on with the lens's radial term.
    size : (width, height)
        Of the photo in pixels.
    unit : {"in", "mm", "cm"}
        For the words.

    Returns
    -------
    SquaredUp
        Its camera, how far each point is missed, which are used, and what was noticed.

    Raises
    ------
    TopError
        A point lies outside the photo, too many lie on one line, two are swapped, or all run the wrong way round.

    Notes
    -----
    An outlier is a point without which the squares of all misses fall by more than chance lets them (F test on two
    numbers, at `CHANCE` over all points); the worst goes first, at most a quarter of the points.
    """
    _inside(points, size, unit)
    _spread_out(points, unit)
    _right_way_round(points, unit)
    bends = len(points.pixels) >= BENDS_FROM
    used = np.ones(len(points.pixels), dtype=bool)
    camera = fit_camera(points.pixels, points.places, size, bends=bends)
    while (worst := _outlier(points, used, size, camera, bends)) is not None:
        if used.all():
            _not_swapped(points, size, camera, bends, unit)
        used[worst] = False
        camera = fit_camera(points.pixels[used], points.places[used], size, bends=bends)
    misses = misses_mm(camera, points.pixels, points.places)
    free = 2 * int(used.sum()) - _unknowns(bends)
    residual = math.sqrt(float((misses[used] ** 2).mean())) if free > 0 else math.nan
    if residual > LOOSE_MM:
        _not_swapped(points, size, camera, bends, unit)
    found = SquaredUp(camera, misses, used, residual, ())
    findings = tuple(_findings(points, found, unit))
    return SquaredUp(camera, misses, used, residual, findings)


def _unknowns(bends: bool) -> int:
    return 9 if bends else 8


def _outlier(
    points: MeasuredPoints, used: np.ndarray, size: tuple[int, int], camera: Camera, bends: bool
) -> int | None:
    """Return the point without which the others fit better than chance lets them; None where all are good."""
    kept = np.flatnonzero(used)
    free = 2 * (len(kept) - 1) - _unknowns(bends)
    if free < 1 or len(used) - len(kept) >= max(1, len(used) // 4):
        return None
    misses = misses_mm(camera, points.pixels[kept], points.places[kept])
    if misses.max() < OUT_MM / 2:
        return None
    every = float((misses**2).sum())
    left = []
    for k in kept.tolist():
        others = kept[kept != k]
        if _on_one_line(points.places[others]):
            left.append(math.inf)
            continue
        again = fit_camera(points.pixels[others], points.places[others], size, bends=bends)
        left.append(float((misses_mm(again, points.pixels[others], points.places[others]) ** 2).sum()))
    best = int(np.argmin(left))
    gain = every - left[best]
    if gain < OUT_MM**2:
        return None
    ratio = (gain / 2) / max(left[best] / free, 1e-12)
    return int(kept[best]) if ratio > fdtri(2, free, 1 - CHANCE / len(kept)) else None


def _inside(points: MeasuredPoints, size: tuple[int, int], unit: Unit) -> None:
    width, height = size
    for k, (x, y) in enumerate(points.pixels.tolist()):
        if not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5):
            raise TopError(
                f"{points.called(k, unit)} lies at {x:g}, {y:g} px, outside the photo; it has {width} x {height} px",
                file=points.file,
                what_to_do="Read the pixels off the photo as it is shown, turned upright.",
            )


def _lines_of(places: FloatArray) -> Iterator[tuple[tuple[int, int], np.ndarray]]:
    """Yield every pair of points, and which points lie on the line through them."""
    spread = float(np.hypot(*np.ptp(places, axis=0)))
    for i, j in combinations(range(len(places)), 2):
        way = places[j] - places[i]
        long = float(np.hypot(*way))
        if long < ON_LINE * spread:
            continue
        off = np.abs((places - places[i]) @ np.array([-way[1], way[0]])) / long
        yield (i, j), off < ON_LINE * spread


def _on_one_line(places: FloatArray) -> bool:
    return any(on.sum() >= len(places) - 1 for _, on in _lines_of(places))


def _spread_out(points: MeasuredPoints, unit: Unit) -> None:
    for places, where in ((points.places, "on the top"), (points.pixels, "in the photo")):
        for _, on in _lines_of(places):
            if on.sum() >= len(places) - 1:
                names = ", ".join(str(k + 1) for k in np.flatnonzero(on)[:8].tolist())
                more = " and more" if on.sum() > 8 else ""
                raise TopError(
                    f"points {names}{more} lie on one line {where}; two points at least must lie off it",
                    file=points.file,
                    what_to_do="Measure the four corners of the top, and places between them.",
                )


def _turn(a: FloatArray, b: FloatArray, c: FloatArray) -> float:
    return float((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]))


def _turned_over(pixels: FloatArray, places: FloatArray) -> FloatArray:
    """Return for each point how many of the triangles with it run the other way round in the photo, as a share."""
    against, count = np.zeros(len(places)), np.zeros(len(places))
    for trio in combinations(range(len(places)), 3):
        one, other = _turn(*places[list(trio)]), _turn(*pixels[list(trio)])
        if _flat(places[list(trio)], one) or _flat(pixels[list(trio)], other):
            continue
        count[list(trio)] += 1
        against[list(trio)] += one * other < 0
    return against / np.maximum(count, 1)


def _flat(corners: FloatArray, twice_area: float) -> bool:
    sides = np.hypot(*(corners - np.roll(corners, 1, axis=0)).T)
    return abs(twice_area) < 0.03 * float(sides.max()) ** 2


MOST_TRIOS_OF = 24
"""Points whose triangles are all looked at; more need no more to tell which way round a photo is."""


def _right_way_round(points: MeasuredPoints, unit: Unit) -> None:
    """Refuse points that no photo shows: mirrored, or two of the four corners swapped."""
    pixels, places = points.pixels[:MOST_TRIOS_OF], points.places[:MOST_TRIOS_OF]
    share = _turned_over(pixels, places)
    if share.mean() > 0.8:
        raise TopError(
            "has points that run the other way round in the photo than on the top: right and down, or x and y, are "
            "swapped, or the photo is mirrored",
            file=points.file,
            what_to_do="right is counted from the left edge of the top, down from its upper edge.",
        )
    if len(points.places) > LEAST_POINTS or not share.any():
        return
    pairs = [(i, j) for i, j in combinations(range(len(places)), 2) if _swap_mends(pixels, places, i, j)]
    if pairs:
        likely = " or ".join(f"{i + 1} and {j + 1}" for i, j in pairs[:2])
        raise TopError(
            f"has points that cross over in the photo: points {likely} are swapped",
            file=points.file,
            what_to_do="Swap the pixels of the two, and look at the picture that comes out.",
        )
    raise TopError(
        "has points that lie in the photo as no photo of a flat top shows them",
        file=points.file,
        what_to_do=f"Measure {points.called(int(share.argmax()), unit)} again.",
    )


def _swapped(pixels: FloatArray, i: int, j: int) -> FloatArray:
    order = np.arange(len(pixels))
    order[[i, j]] = j, i
    return pixels[order]


def _swap_mends(pixels: FloatArray, places: FloatArray, i: int, j: int) -> bool:
    changed = _swapped(pixels, i, j)
    if _turned_over(changed, places).any():
        return False
    depth = plane_map(places, changed).depth(places)
    return bool((depth > 0).all() or (depth < 0).all())


def _not_swapped(points: MeasuredPoints, size: tuple[int, int], camera: Camera, bends: bool, unit: Unit) -> None:
    """Refuse points of which two are swapped: with more than four of them the others tell which."""
    if len(points.places) < LEAST_POINTS + 2 - bends:
        return
    misses = misses_mm(camera, points.pixels, points.places)
    every = float((misses**2).sum())
    worst = np.argsort(-misses, kind="stable")[:6].tolist()
    best, pair = every, (0, 0)
    for i, j in combinations(sorted(worst), 2):
        pixels = _swapped(points.pixels, i, j)
        again = fit_camera(pixels, points.places, size, bends=bends)
        left = float((misses_mm(again, pixels, points.places) ** 2).sum())
        if left < best:
            best, pair = left, (i, j)
    if best < SWAPPED_SHARE * every and every - best > 2 * OUT_MM**2:
        one, other = (points.called(k, unit) for k in pair)
        raise TopError(
            f"has the pixels of {one} and {other} swapped",
            file=points.file,
            what_to_do="Swap their x_px and y_px.",
        )


def _findings(points: MeasuredPoints, found: SquaredUp, unit: Unit) -> Iterator[Finding]:
    for k in np.flatnonzero(~found.used).tolist():
        yield Finding(
            FindingCode.PHOTO_OUTLIER,
            "warning",
            None,
            f"{points.called(k, unit)} lies {_said(found.misses[k], unit)} from where the others put it, and is not "
            "used",
            "Measure it again, or touch its place in the photo again.",
        )
    count = int(found.used.sum())
    if math.isnan(found.residual_mm):
        text = f"{count} points: the picture fits them exactly, so nothing tells how true it is"
    else:
        worst = int(np.argmax(np.where(found.used, found.misses, -1)))
        text = (
            f"{count} points fit to {_said(found.residual_mm, unit)} in the mean; the worst is "
            f"{points.called(worst, unit)} with {_said(found.misses[worst], unit)}"
        )
    if found.residual_mm > LOOSE_MM:
        yield Finding(
            FindingCode.PHOTO_LOOSE, "warning", None, text, "Measure again; the tape may have been read from its end."
        )
    else:
        yield Finding(FindingCode.PHOTO_RESIDUAL, "note", None, text, "Nothing, if that is as near as your tape is.")
    if len(points.places) < BENDS_FROM:
        yield Finding(
            FindingCode.PHOTO_FEW_POINTS,
            "note",
            None,
            f"with {len(points.places)} points the lens is not known; lines may be out by {_said(8.0, unit)}",
            f"Use it as a picture only; measure {BENDS_FROM} points or more, corners and mid-sides, to judge seams.",
        )
    yield from _seen(points, found, unit)


def _seen(points: MeasuredPoints, found: SquaredUp, unit: Unit) -> Iterator[Finding]:
    short, long = found.camera.px_a_mm(points.places.mean(axis=0))
    if long > SLANTED * short:
        yield Finding(
            FindingCode.PHOTO_SLANTED,
            "warning",
            None,
            f"a millimetre has {long:.1f} pixels one way and {short:.1f} the other: it was taken very slanted, or a "
            "measure is wrong",
            "Take it from straight above if you can; check the measures.",
        )
    if short < COARSE_PX:
        yield Finding(
            FindingCode.PHOTO_COARSE,
            "note",
            None,
            f"the photo has {short:.1f} pixels a millimetre; seams are told no nearer than {_said(1 / short, unit)}",
            "Take it nearer, or with more pixels.",
        )


def _said(mm: float, unit: Unit) -> str:
    return f"{mm:.1f} mm" if unit != "in" else f"{format_length(mm, unit)} ({mm:.1f} mm)"
