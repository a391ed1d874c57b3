"""What the stitch-file formats share: whole tenths of a millimetre, moves cut to size, and the check before release.

The records are laid out here and handed to the library to encode one by one, so nothing of what it would add by itself
(ties, trims, jumps inside a line, stitches at the end of a move) gets into a file.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyembroidery as pe
from numpy.typing import NDArray

from ..errors import EngineError, OutputError
from ..model import IntArray, Needle, NeedlePoints

__all__ = ["UNITS_PER_MM", "Records", "encoded", "lay_out", "needle_points_of", "release"]

UNITS_PER_MM = 10
_COMMAND = np.array([pe.STITCH, pe.STITCH, pe.JUMP, pe.TRIM, pe.STOP, pe.END])
"""The library's command for each of `Needle`."""


@dataclass(frozen=True, slots=True, eq=False)
class Records:
    """Commands at absolute places in 0.1 mm, y down: ``kind`` indexes `Needle`, ties are stitches.

    A move of any length is one ``jump``; moves that lead nowhere are left out.
    """

    kind: NDArray[np.uint8]
    xy: IntArray


def records_of(points: NeedlePoints, origin: tuple[float, float] | None, longest: int, suffix: str) -> Records:
    """Round absolute places (never steps, so that errors don't add up) and check what the format can hold.

    Raises
    ------
    OutputError
        A place is not finite; a stitch is longer than the format can say.
    """
    if not np.isfinite(points.xy).all():
        row = int(np.flatnonzero(~np.isfinite(points.xy).all(axis=1))[0])
        raise OutputError(f"needle point {row + 1} is not finite; every point must be a number", key=suffix)
    needle = points.kind <= Needle.TIE
    start = points.xy[needle][:1] if origin is None else np.array([origin])
    shift = start if len(start) else np.zeros((1, 2))
    xy = np.rint(UNITS_PER_MM * (points.xy - shift)).astype(np.int64)
    kind = np.where(points.kind == Needle.TIE, Needle.STITCH, points.kind).astype(np.uint8)
    records = merged(kind[points.kind != Needle.END], xy[points.kind != Needle.END])
    before = np.vstack([np.zeros((1, 2), np.int64), records.xy[:-1]])[: len(records.xy)]
    step = np.abs(records.xy - before).max(axis=1, initial=0)
    if (step[records.kind != Needle.JUMP] > longest).any():
        worst = step[records.kind != Needle.JUMP].max() / UNITS_PER_MM
        raise OutputError(
            f"a stitch is {worst:.1f} mm long; {suffix[1:].upper()} holds at most {longest / UNITS_PER_MM:.1f} mm "
            "each way",
            key="machine.stitches_per_inch",
            what_to_do="Use shorter stitches.",
        )
    return records


def merged(kind: NDArray[np.uint8], xy: IntArray) -> Records:
    """Return records with moves in a row made one, and moves that lead nowhere left out."""
    jump = kind == Needle.JUMP
    keep = ~(jump & np.append(jump[1:], False))
    kind, xy = kind[keep], xy[keep]
    before = np.vstack([np.zeros((1, 2), np.int64), xy[:-1]])[: len(xy)]
    keep = ~((kind == Needle.JUMP) & (xy == before).all(axis=1))
    return Records(kind[keep], xy[keep])


def lay_out(records: Records, longest: int) -> list[tuple[int, int, int]]:
    """Return the library's stitches: moves cut into even steps that the format can hold, the end last."""
    before = np.vstack([np.zeros((1, 2), np.int64), records.xy[:-1]])[: len(records.xy)]
    step = records.xy - before
    parts = np.maximum(-(-np.abs(step).max(axis=1, initial=0) // longest), 1)
    row = np.repeat(np.arange(len(parts)), parts)
    k = np.arange(len(row)) - np.repeat(np.cumsum(parts) - parts, parts) + 1
    at = before[row] + np.rint(step[row] * (k / parts[row])[:, None]).astype(np.int64)
    out: list[tuple[int, int, int]] = list(zip(*(c.tolist() for c in (*at.T, _COMMAND[records.kind[row]]))))
    out.append((*(out[-1][:2] if out else (0, 0)), pe.END))
    return out


def encoded(stitches: list[tuple[int, int, int]], write: Callable[..., None], settings: dict[str, Any]) -> bytes:
    """Return the bytes that the library writes for stitches laid out already."""
    pattern = pe.EmbPattern()
    pattern.stitches = stitches
    stream = io.BytesIO()
    write(pattern, stream, {"encode": False, **settings})
    return stream.getvalue()


def release(data: bytes, wanted: Records, read: Callable[[bytes], Records], suffix: str) -> bytes:
    """Return the bytes when our own reader finds in them exactly what was asked for, in x and in y.

    Raises
    ------
    EngineError
        It does not; nothing is written.
    """
    found = read(data)
    if not (np.array_equal(found.kind, wanted.kind) and np.array_equal(found.xy, wanted.xy)):
        count = min(len(found.kind), len(wanted.kind))
        unlike = (found.kind[:count] != wanted.kind[:count]) | (found.xy[:count] != wanted.xy[:count]).any(axis=1)
        first = int(np.flatnonzero(unlike)[0]) if unlike.any() else count
        raise EngineError(
            f"the {suffix[1:].upper()} file did not read back as asked: {len(found.kind)} records for "
            f"{len(wanted.kind)}, the first difference at record {first + 1}. Nothing was written."
        )
    return data


def needle_points_of(records: Records) -> NeedlePoints:
    """Return records as needle points: mm from the file's origin, y down, a new line after each move or planned stop.

    After a planned stop the next line begins in the very hole where the last one ended: a stop, then a stitch of no
    length. A stop to pull the bobbin thread up, in the first hole of a line, is followed by a stitch somewhere else.
    """
    again = (records.kind[1:] == Needle.STITCH) & (records.xy[1:] == records.xy[:-1]).all(axis=1)
    planned = (records.kind == Needle.STOP) & np.append(again, False)
    ends_line = (records.kind == Needle.JUMP) | (records.kind == Needle.TRIM) | planned
    kind = np.append(records.kind, np.uint8(Needle.END))
    xy = np.vstack([records.xy, records.xy[-1:] if len(records.xy) else np.zeros((1, 2), np.int64)]) / UNITS_PER_MM
    needle = records.kind == Needle.STITCH
    moved = np.cumsum(ends_line)
    line = np.zeros(len(kind), np.int32)
    if needle.any():
        _, line_of_needle = np.unique(moved[needle], return_inverse=True)
        line[:-1] = np.interp(np.arange(len(needle)), np.flatnonzero(needle), line_of_needle).astype(np.int32)
        line[-1] = line_of_needle[-1]
    none = np.full(len(kind), -1, np.int32)
    return NeedlePoints(xy, kind, none, line, none.copy())
