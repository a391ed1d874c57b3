"""The file of measured points: where places of the top lie in a photo, and on the top by the tape."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import TopError, shown
from ..model import FloatArray
from ..opening import read_plain_file
from ..units import format_length, parse_length

__all__ = ["COLUMNS", "MeasuredPoints", "read_points"]

COLUMNS = ("x_px", "y_px", "right", "down")
"""The first line of the file."""

MOST_BYTES, MOST_POINTS = 100_000, 200
"""Nobody measures more points of one top with a tape."""

LEAST_POINTS = 4
"""A plane map has eight unknowns, each point tells two."""

FARTHEST_MM = 10_000.0
"""The farthest place that a tape reaches on a top."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPoints:
    """Points known in a photo and on the top: ``pixels`` and ``places`` (mm, from the top's upper left corner)."""

    file: str
    rows: tuple[int, ...]
    pixels: FloatArray
    places: FloatArray

    def called(self, k: int, unit: str) -> str:
        """Return what a point is called to her: its number, its row in the file, and where it lies."""
        right, down = (format_length(v, unit) for v in self.places[k].tolist())
        return f"point {k + 1} (row {self.rows[k]}: {right} right, {down} down)"


def read_points(path: str | Path, *, unit: str = "in") -> MeasuredPoints:
    """Return the points of a file of ``x_px,y_px,right,down``.

    Parameters
    ----------
    path : path
        A table with commas, the names of its columns in the first row.
    unit : str
        Unit of bare numbers in ``right`` and ``down``; ``1 1/2`` and ``38 mm`` are lengths too.

    Returns
    -------
    MeasuredPoints
        Places in the photo and on the top, row by row.

    Raises
    ------
    TopError
        It can't be read, a row is no point, there are fewer than four, or two lie at one place.
    """
    path = Path(path)
    data = read_plain_file(
        path, TopError, most=MOST_BYTES, missing=f"Write a table with the first row {','.join(COLUMNS)}."
    )
    try:
        lines = data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise TopError("is no text", file=path.name, what_to_do="Save it as CSV with the encoding UTF-8.") from None
    rows = [(n, [cell.strip() for cell in row]) for n, row in enumerate(_cells(lines, path.name), 1) if any(row)]
    head = [cell.lower() for cell in rows[0][1]] if rows else []
    if not rows or sorted(head) != sorted(COLUMNS):
        raise TopError(
            f"begins with {shown(','.join(head)) or 'nothing'}; must begin with {','.join(COLUMNS)}",
            file=path.name,
            what_to_do="Name the four columns in the first row; commas between.",
        )
    points = [_point(dict(zip(head, row, strict=True)), path.name, n, unit) for n, row in _whole(rows, path.name)]
    _check_count(len(points), path.name)
    table = np.array(points)
    out = MeasuredPoints(path.name, tuple(n for n, _ in rows[1:]), table[:, :2], table[:, 2:])
    _refuse_doubles(out, unit)
    return out


def _cells(lines: list[str], file: str) -> list[list[str]]:
    try:
        return list(csv.reader(lines, strict=True))
    except csv.Error as error:
        raise TopError(f"is no table: {error}", file=file, what_to_do="Save it as CSV with commas.") from None


def _whole(rows: list[tuple[int, list[str]]], file: str) -> list[tuple[int, list[str]]]:
    for n, row in rows[1:]:
        if len(row) != len(COLUMNS):
            raise TopError(
                f"has {len(row)} cells; must have {len(COLUMNS)}: {','.join(COLUMNS)}",
                file=file,
                key=f"row {n}",
                what_to_do='A length with a comma in it goes in quotes, or write it as "1 1/2".',
            )
    return rows[1:]


def _point(row: dict[str, str], file: str, number: int, unit: str) -> list[float]:
    out = []
    for name in COLUMNS:
        try:
            # a comma in a number is a slip of the country's habit, and told as such by the count of cells
            value = float(row[name]) if name.endswith("_px") else parse_length(row[name], unit)
        except ValueError as error:
            rule = f"is {shown(row[name])!r}; must be a number of pixels" if name.endswith("_px") else str(error)
            rule = f"is missing; every point needs {', '.join(COLUMNS)}" if not row[name] else rule
            raise TopError(rule, file=file, key=f"row {number}: {name}") from None
        if not math.isfinite(value):
            raise TopError(f"is {shown(row[name])}; must be finite", file=file, key=f"row {number}: {name}")
        if not name.endswith("_px") and abs(value) > FARTHEST_MM:
            raise TopError(
                f"is {format_length(value, unit)}; must be at most {format_length(FARTHEST_MM, unit)}",
                file=file,
                key=f"row {number}: {name}",
                what_to_do="Say the unit of the numbers with --units.",
            )
        out.append(value)
    return out


def _check_count(count: int, file: str) -> None:
    if not LEAST_POINTS <= count <= MOST_POINTS:
        raise TopError(
            f"has {count} {'point' if count == 1 else 'points'}; must have {LEAST_POINTS} to {MOST_POINTS}",
            file=file,
            what_to_do="Measure the four corners at least; with eight points or more seams can be judged.",
        )


def _refuse_doubles(points: MeasuredPoints, unit: str) -> None:
    for places, where, near in ((points.pixels, "in the photo", 0.5), (points.places, "on the top", 0.5)):
        apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
        apart[np.tril_indices(len(places))] = np.inf
        i, j = np.unravel_index(int(apart.argmin()), apart.shape)
        if apart[i, j] < near:
            raise TopError(
                f"{points.called(int(i), unit)} and {points.called(int(j), unit)} lie at the same place {where}",
                file=points.file,
                what_to_do="Take one of them out, or correct it.",
            )
