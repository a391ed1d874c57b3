"""Marker lines on clear film over the top, found in a squared-up photo: solid ones are spines, dotted ones fences."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, gaussian_filter1d, label, maximum_filter

from ..errors import TopError
from ..geometry import arc_lengths, point_at, simplify_path
from ..model import FloatArray, Path, as_path
from .marks_traced import traced_marks

__all__ = ["FilmLine", "film_lines"]

Mask = NDArray[np.bool_]

CHANGED = 22.0
"""Marker differs from the cloth below it by more than this, in even colours; light and focus change by less."""

LEAST_MM, LEAST_BRANCH_MM, LEAST_MARK_MM = 40.0, 15.0, 1.5
"""A shorter line is a stain; a shorter branch of a line a slip of the hand; a smaller mark is print or noise."""

SOLID = 0.85
"""A line that shows along more than this share of its length is solid: a spine; else dotted: a fence."""

SMOOTH_MM, STRAY_MM = 4.0, 0.3
"""Found lines are smoothed by so much, and kept to this."""

HUES = (("red", 20.0), ("orange", 60.0), ("yellow", 95.0), ("green", 145.0), ("blue", 290.0), ("purple", 330.0))
"""Names of the colours by their hue angle in the even colours (CIE 1976), degrees."""

MIDDLE_MM = 1.0
"""From the edge of a mark to its middle, about."""

HUES_APART, RARE = 20, 0.05
"""Markers whose hues are nearer than this, degrees, are one colour; a hue so much rarer than the most is a fringe."""

GREY = 18.0
"""A marker with less colour than this is black."""


@dataclass(frozen=True, slots=True, eq=False)
class FilmLine:
    """A line on film: its name, ``spine-red-1`` or ``fence-blue-2``, its path on the top, whether it is solid."""

    name: str
    path: Path
    solid: bool


def film_lines(with_film: NDArray[np.float32], without: NDArray[np.float32], px_a_mm: float) -> tuple[FilmLine, ...]:
    """Return the marker lines that one photo shows and another, of the top without film, does not.

    Parameters
    ----------
    with_film, without : (rows, cols, 3) arrays
        Both squared up, of one size, in even colours.
    px_a_mm : float
        Their pixels a millimetre.

    Returns
    -------
    tuple of FilmLine
        Each with its name, its path and whether it is solid.

    Raises
    ------
    TopError
        They differ in size, or show no line.

    Notes
    -----
    What changed by more than `CHANGED`, the photos' general difference taken out, is marker. Marks are told apart by
    colour, and those of one colour traced along their middles (`traced_marks`).
    """
    if with_film.shape != without.shape:
        raise TopError("is not of the same size as the photo without film", what_to_do="Square both up alike.")
    change = with_film - without
    change -= np.median(change.reshape(-1, 3), axis=0)
    strength = np.sqrt((change**2).sum(axis=2))
    marked = strength > CHANGED
    pieces, count = label(marked, structure=np.ones((3, 3)))
    sizes = np.bincount(pieces.ravel(), minlength=count + 1)
    marked &= (sizes >= (LEAST_MARK_MM * px_a_mm) ** 2)[pieces]
    found = list(_each(marked, px_a_mm, with_film, strength))
    if not found:
        raise TopError(
            "shows no marker line on film", what_to_do="Draw with a wide marker of a colour that the top does not have."
        )
    numbers: dict[str, int] = {}
    out = []
    for kind, path, solid in found:
        numbers[kind] = numbers.get(kind, 0) + 1
        out.append(FilmLine(f"{kind}-{numbers[kind]}", path, solid))
    return tuple(out)


def _each(
    marked: Mask, px_a_mm: float, colours: NDArray[np.float32], strength: NDArray[np.float32]
) -> Iterator[tuple[str, Path, bool]]:
    """Yield kind, path and whether it is solid of each line, colour by colour, from the top down."""
    for name, own in sorted(_by_colour(marked, px_a_mm, colours, strength).items()):
        for line in traced_marks(own, px_a_mm):
            path = (line.path + 0.5) / px_a_mm
            if float(arc_lengths(path)[-1]) < (LEAST_BRANCH_MM if line.branch else LEAST_MM):
                continue
            if not line.closed and tuple(path[0]) > tuple(path[-1]):
                path = path[::-1]
            solid = line.inked >= SOLID
            yield f"{'spine' if solid else 'fence'}-{name}", _smooth(path, closed=line.closed), solid


def _smooth(path: FloatArray, *, closed: bool) -> Path:
    even = _even(path)
    if closed:
        ring = np.column_stack([gaussian_filter1d(v, SMOOTH_MM, mode="wrap") for v in even[:-1].T])
        return as_path(np.vstack([ring, ring[:1]]))
    smooth = np.column_stack([gaussian_filter1d(v, SMOOTH_MM, mode="nearest") for v in even.T])
    smooth[0], smooth[-1] = even[0], even[-1]
    return as_path(simplify_path(smooth, STRAY_MM))


def _by_colour(
    marked: Mask, px_a_mm: float, colours: NDArray[np.float32], strength: NDArray[np.float32]
) -> dict[str, Mask]:
    """Return the marks of each colour of marker.

    The middle of a mark has the marker's own colour, its edge some of the cloth's: colours are those of the middles,
    and each spot takes that of most middles about it.
    """
    radius = max(1, round(MIDDLE_MM * px_a_mm))
    middles = marked & (strength >= 0.8 * maximum_filter(np.where(marked, strength, 0), 2 * radius + 1))
    lab = colours[middles].astype(np.float64)
    kinds = _kinds(lab)
    named: dict[str, NDArray[np.float64]] = {}
    for kind in range(int(kinds.max(initial=-1)) + 1):
        some = kinds == kind
        if some.any():
            votes = named.setdefault(_colour(np.median(lab[some], axis=0)), np.zeros(marked.shape))
            votes[middles] += some
    votes_of = {name: gaussian_filter(votes, MIDDLE_MM * px_a_mm) for name, votes in named.items()}
    most = np.maximum.reduce(list(votes_of.values())) if votes_of else np.zeros(marked.shape)
    return {name: marked & (votes >= most) & (most > 0) for name, votes in votes_of.items()}


def _kinds(lab: FloatArray) -> NDArray[np.int64]:
    """Return for each colour which of the markers it is: peaks of hue, and grey."""
    from scipy.signal import find_peaks  # slow to load, needed here alone

    hue = np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) % 360
    grey = np.hypot(lab[:, 1], lab[:, 2]) < GREY
    counts = gaussian_filter1d(np.bincount(hue[~grey].astype(int), minlength=360).astype(np.float64), 8.0, mode="wrap")
    peaks, _ = find_peaks(np.tile(counts, 3), distance=HUES_APART, height=RARE * max(float(counts.max()), 1e-9))
    own = peaks[(peaks >= 360) & (peaks < 720)] - 360
    out = np.zeros(len(lab), dtype=np.int64)
    if len(own):
        apart = np.abs(hue[:, None] - own[None])
        out = np.asarray(np.minimum(apart, 360 - apart).argmin(axis=1), dtype=np.int64)
    out[grey] = len(own)
    return out


def _even(path: FloatArray) -> FloatArray:
    """Return a path with a point every millimetre."""
    long = float(arc_lengths(path)[-1])
    return point_at(path, np.linspace(0, long, max(2, math.ceil(long) + 1)))


def _colour(lab: FloatArray) -> str:
    """Return the name of a marker's colour."""
    if math.hypot(lab[1], lab[2]) < GREY:
        return "black"
    hue = math.degrees(math.atan2(lab[2], lab[1])) % 360
    return min(HUES, key=lambda named: min(abs(hue - named[1]), 360 - abs(hue - named[1])))[0]
