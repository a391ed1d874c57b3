"""CSV: every needle point and command as one row, for tables and tests."""

from __future__ import annotations

import csv
import io

import numpy as np

from ..errors import OutputError
from ..model import Needle, NeedlePoints
from .registry import PointWriter

__all__ = ["WRITER", "read_csv", "write_csv"]

_KINDS = {kind.name.lower(): kind for kind in Needle}
COLUMNS = ("command", "x_mm", "y_mm", "reach", "line", "span", "zone")


def write_csv(points: NeedlePoints, title: str = "", *, origin: tuple[float, float] | None = None) -> bytes:
    """Return needle points as CSV (RFC 4180, UTF-8): mm to 0.001, y down; lines and spans count from 1.

    ``origin`` is the place that the file calls 0, 0; the top's own corner when left out.

    Raises
    ------
    OutputError
        A point is not finite.
    """
    if not np.isfinite(points.xy).all():
        row = int(np.flatnonzero(~np.isfinite(points.xy).all(axis=1))[0])
        raise OutputError(f"needle point {row + 1} is not finite; every point must be a number", key=".csv")
    stream = io.StringIO(newline="")
    table = csv.writer(stream, lineterminator="\r\n")
    table.writerow(COLUMNS)
    names = [*points.names, ""]  # index -1 is the empty name
    xy = (np.rint((points.xy - (origin or (0.0, 0.0))) * 1000) / 1000 + 0.0).tolist()
    table.writerows(
        (Needle(kind).name.lower(), f"{x:.3f}", f"{y:.3f}", points.reach, line + 1 or "", span + 1 or "", names[zone])
        for kind, (x, y), line, span, zone in zip(
            points.kind.tolist(), xy, points.line.tolist(), points.span.tolist(), points.zone.tolist()
        )
    )
    return stream.getvalue().encode()


def read_csv(data: bytes) -> NeedlePoints:
    """Return the needle points of a CSV file written by `write_csv`; zone names in order of their first row.

    Raises
    ------
    OutputError
        The columns are not ours, or a row can't be read.
    """
    try:
        rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))
        if not rows or tuple(rows[0]) != COLUMNS:
            raise OutputError(f"has other columns; must begin with {','.join(COLUMNS)}")
        names = tuple(dict.fromkeys(row[6] for row in rows[1:] if row[6]))
        xy = np.array([(float(row[1]), float(row[2])) for row in rows[1:]]).reshape(-1, 2)
        number = {name: i for i, name in enumerate(names)}
        return NeedlePoints(
            xy,
            np.array([_KINDS[row[0]] for row in rows[1:]], np.uint8),
            np.array([int(row[5] or 0) - 1 for row in rows[1:]], np.int32),
            np.array([int(row[4] or 0) - 1 for row in rows[1:]], np.int32),
            np.array([number.get(row[6], -1) for row in rows[1:]], np.int32),
            names,
            int(rows[1][3]) if len(rows) > 1 else 1,
        )
    except OutputError:
        raise
    except (ValueError, IndexError, KeyError) as error:
        raise OutputError(f"has a row that can't be read: {error}") from error


WRITER = PointWriter(
    name="csv",
    suffix=".csv",
    description="table of every needle point and command",
    write=write_csv,
    read=read_csv,
)
