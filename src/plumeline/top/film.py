"""Marker lines on clear film over the top, found in a squared-up photo: solid ones are spines, dotted ones fences."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter1d, label, maximum_filter
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from ..errors import TopError
from ..geometry import arc_lengths, point_at, simplify_path
from ..model import FloatArray, Path, as_path

__all__ = ["FilmLine", "film_lines"]

Mask = NDArray[np.bool_]

CHANGED = 22.0
"""Marker differs from the cloth below it by more than this, in even colours; light and focus change by less."""

GAP_MM = 14.0
"""Dots and dashes no further apart than this are one line."""

LEAST_MM, LEAST_MARK_MM = 40.0, 1.5
"""A shorter line is a stain; a smaller mark is print or noise."""

SOLID = 0.85
"""A line that shows along more than this share of its length is solid: a spine; else dotted: a fence."""

SMOOTH_MM, STRAY_MM = 4.0, 0.3
"""Found lines are smoothed by so much, and kept to this."""

HUES = (("red", 20.0), ("orange", 60.0), ("yellow", 95.0), ("green", 145.0), ("blue", 290.0), ("purple", 330.0))
"""Names of the colours by their hue angle in the even colours (CIE 1976), degrees."""

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

    Raises
    ------
    TopError
        They differ in size, or show no line.

    Notes
    -----
    What changed by more than `CHANGED`, the photos' general difference taken out, is marker. Marks nearer than `GAP_MM`
    are one line; it runs along the longest shortest way through them, kept to their middle.
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
    near = distance_transform_edt(~marked) <= GAP_MM / 2 * px_a_mm
    grouped, count = label(near)
    groups = np.asarray(grouped, dtype=np.int32)
    found = list(_each(marked, groups, count, px_a_mm, with_film, strength))
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
    marked: Mask,
    groups: NDArray[np.int32],
    count: int,
    px_a_mm: float,
    colours: NDArray[np.float32],
    strength: NDArray[np.float32],
) -> Iterator[tuple[str, Path, bool]]:
    """Yield kind, path and whether it is solid of each group of marks, from the top down."""
    for number in range(1, count + 1):
        rows, cols = np.nonzero((groups == number) & marked)
        if not len(rows):
            continue
        box = np.s_[max(0, rows.min() - 40) : rows.max() + 41, max(0, cols.min() - 40) : cols.max() + 41]
        corner = np.array([box[1].start, box[0].start], dtype=np.float64)
        own = marked[box] & (groups[box] == number)
        along = _middle(own, groups[box] == number)
        path = (along + corner + 0.5) / px_a_mm
        long = float(arc_lengths(path)[-1])
        if long < LEAST_MM:
            continue
        share = _shown(own, along)
        # the middles of the marks have the marker's own colour, their edges some of the cloth's
        full = strength[rows, cols] >= np.quantile(strength[rows, cols], 0.8)
        name = _colour(np.median(colours[rows[full], cols[full]], axis=0).astype(np.float64))
        smooth = np.column_stack([gaussian_filter1d(v, SMOOTH_MM, mode="nearest") for v in _even(path).T])
        smooth[0], smooth[-1] = path[0], path[-1]
        solid = share >= SOLID
        yield f"{'spine' if solid else 'fence'}-{name}", as_path(simplify_path(smooth, STRAY_MM)), solid


def _even(path: FloatArray) -> FloatArray:
    """Return a path with a point every millimetre."""
    long = float(arc_lengths(path)[-1])
    return point_at(path, np.linspace(0, long, max(2, math.ceil(long) + 1)))


def _middle(own: Mask, near: Mask) -> FloatArray:
    """Return the longest shortest way through marks, in pixels ``(n, 2)``: x, y; it keeps to where they lie thick."""
    away = distance_transform_edt(~own)
    inside = distance_transform_edt(own)
    # a step costs least in the middle of a mark; between marks it costs more the further it strays
    price = np.where(own, 1 / (0.3 + inside), 4.0 + away)
    number = np.full(near.shape, -1)
    number[near] = np.arange(int(near.sum()))
    rows, cols, costs = [], [], []
    for dy, dx in ((0, 1), (1, 0), (1, 1), (1, -1)):
        a = (slice(0, near.shape[0] - dy), slice(max(0, -dx), near.shape[1] - max(0, dx)))
        b = (slice(dy, near.shape[0]), slice(max(0, dx), near.shape[1] - max(0, -dx)))
        both = near[a] & near[b]
        rows.append(number[a][both])
        cols.append(number[b][both])
        costs.append((price[a][both] + price[b][both]) / 2 * math.hypot(dy, dx))
    size = int(near.sum())
    graph = coo_matrix(
        (np.concatenate(costs), (np.concatenate(rows), np.concatenate(cols))), shape=(size, size)
    ).tocsr()
    at = np.argwhere(near)[:, ::-1].astype(np.float64)
    marks = number[own]
    # the two ends lie farthest apart along the way; lengths, not costs, tell which they are
    first = marks[int(np.argmax(dijkstra(graph, directed=False, indices=marks[:1])[0][marks]))]
    cost, before = dijkstra(graph, directed=False, indices=np.array([first]), return_predecessors=True)
    last = marks[int(np.argmax(cost[0][marks]))]
    way = [int(last)]
    while way[-1] != first:
        way.append(int(before[0, way[-1]]))
    along = at[way]
    return along if tuple(along[0]) <= tuple(along[-1]) else along[::-1]


def _shown(own: Mask, along: FloatArray) -> float:
    """Return along how much of a line there is marker."""
    thick = maximum_filter(own, 3)
    x, y = along.astype(int).T
    return float(thick[y, x].mean())


def _colour(lab: FloatArray) -> str:
    """Return the name of a marker's colour."""
    if math.hypot(lab[1], lab[2]) < GREY:
        return "black"
    hue = math.degrees(math.atan2(lab[2], lab[1])) % 360
    return min(HUES, key=lambda named: min(abs(hue - named[1]), 360 - abs(hue - named[1])))[0]
