"""DST: records of three bytes, 0.1 mm, at most 12.1 mm each way.

The library encodes; the header is ours, because the library's gives wrong extents. Every file is read back by the
reader here, which knows only the published table of the record's bits, before it is let out.
"""

from __future__ import annotations

import numpy as np
import pyembroidery as pe

from ..errors import OutputError
from ..model import IntArray, Needle, NeedlePoints
from ._names import ascii_text
from ._pattern import (
    Records,
    encoded,
    lay_out,
    merged,
    needle_points_of,
    records_of,
    release,
)
from .registry import PointWriter

__all__ = ["WRITER", "read_dst", "write_dst"]

LONGEST = 121
"""Longest step each way in 0.1 mm: 1 + 3 + 9 + 27 + 81."""
HEADER = 512
NAME_LENGTH = 16
TRIM_JUMPS = 5
"""A trim is this many tiny jumps that lead nowhere; readers set to fewer see it too."""
LONGEST_TRIM = 12
"""Trims of other programs may be longer; more jumps than this are no trim."""

# Value of each bit, highest first, of the three bytes of a record; y is UP in the file.
X_BITS = (
    (0, 0, 0, 0, -9, 9, -1, 1),
    (0, 0, 0, 0, -27, 27, -3, 3),
    (0, 0, 0, 0, -81, 81, 0, 0),
)
Y_BITS = (
    (1, -1, 9, -9, 0, 0, 0, 0),
    (3, -3, 27, -27, 0, 0, 0, 0),
    (0, 0, 81, -81, 0, 0, 0, 0),
)


def write_dst(points: NeedlePoints, title: str, *, origin: tuple[float, float] | None = None) -> bytes:
    """Return needle points as a DST file.

    Parameters
    ----------
    points : NeedlePoints
        One reach, mm, y down.
    title : str
        The first 16 characters, in plain ASCII, go into the header.
    origin : (x, y), optional
        The place that the file calls 0, 0; the first needle point when left out.

    Raises
    ------
    OutputError
        A point is not finite, or a stitch is over 12.1 mm either way.
    EngineError
        The file did not read back as asked.
    """
    wanted = records_of(points, origin, LONGEST, ".dst")
    data = encoded(lay_out(wanted, LONGEST), pe.EmbPattern.write_dst, {"trim_at": TRIM_JUMPS})
    return release(_header(data[HEADER:], title) + data[HEADER:], wanted, _records, ".dst")


def read_dst(data: bytes) -> NeedlePoints:
    """Return what a DST file holds: mm from its origin, y down; a colour change is a stop.

    Raises
    ------
    OutputError
        The file is no DST file, or is cut off.
    """
    return needle_points_of(_records(data))


def _steps(body: bytes) -> tuple[IntArray, IntArray]:
    """Return the steps, y down, and the third bytes of all records before the end."""
    triples = np.frombuffer(body[: len(body) // 3 * 3], np.uint8).reshape(-1, 3)
    end = np.flatnonzero((triples[:, 2] & 0xF3) == 0xF3)
    if not len(end):
        raise OutputError("has no end record; the file is cut off or no DST file")
    triples = triples[: end[0]]
    values = np.arange(256)
    bits = (values[:, None] >> np.arange(7, -1, -1)) & 1
    step = np.zeros((len(triples), 2), np.int64)
    for byte in range(3):
        step[:, 0] += (bits @ np.array(X_BITS[byte]))[triples[:, byte]]
        step[:, 1] -= (bits @ np.array(Y_BITS[byte]))[triples[:, byte]]
    return step, triples[:, 2].astype(np.int64)


def _records(data: bytes) -> Records:
    if len(data) < HEADER + 3 or not data.startswith(b"LA:"):
        raise OutputError("has no DST header; the file is cut off or no DST file")
    step, flags = _steps(data[HEADER:])
    kind = np.full(len(flags), Needle.STITCH, np.uint8)
    kind[(flags & 0x80) > 0] = Needle.JUMP
    kind[(flags & 0xC0) == 0xC0] = Needle.STOP
    at = np.cumsum(step, axis=0)
    jump = kind == Needle.JUMP
    keep = np.ones(len(kind), dtype=bool)
    back = (step[1:] == -2 * step[:-1]).all(axis=1) & (np.abs(step[:-1]).sum(axis=1) > 0) & jump[1:] & jump[:-1]
    for first in np.flatnonzero(back).tolist():
        count = _dummies(step[first : first + LONGEST_TRIM].tolist())
        if count and keep[first] and jump[first : first + count].all():
            keep[first : first + count - 1] = False
            kind[first + count - 1] = Needle.TRIM
    return merged(kind[keep], at[keep])


def _dummies(step: list[list[int]]) -> int:
    """Return how many jumps at the head lead forth and back and nowhere, and so mean a trim: at least 3, or 0.

    A trim is one step, any number of double steps back and forth, and one step to where it began.
    """
    x, y = step[0]
    sign = -1
    for i, (u, v) in enumerate(step[1:], 2):
        if (u, v) == (sign * x, sign * y):
            return i if i > 2 else 0
        if (u, v) != (sign * 2 * x, sign * 2 * y):
            return 0
        sign = -sign
    return 0


def _header(body: bytes, title: str) -> bytes:
    step, flags = _steps(body)
    at = np.vstack([np.zeros((1, 2), np.int64), np.cumsum(step, axis=0)])
    (left, top), (right, bottom) = at.min(axis=0).tolist(), at.max(axis=0).tolist()
    x, y = at[-1].tolist()
    name = ascii_text(title)[:NAME_LENGTH].strip()
    fields = [
        f"LA:{name:<{NAME_LENGTH}}",
        f"ST:{len(flags) + 1:7d}",
        f"CO:{int(((flags & 0xC0) == 0xC0).sum()):3d}",
        f"+X:{right:5d}",
        f"-X:{-left:5d}",
        f"+Y:{-top:5d}",
        f"-Y:{bottom:5d}",
        f"AX:{'-' if x < 0 else '+'}{abs(x):5d}",
        f"AY:{'-' if y > 0 else '+'}{abs(y):5d}",
        "MX:+    0",
        "MY:+    0",
        "PD:******",
    ]
    return ("\r".join(fields) + "\r\x1a").encode("ascii").ljust(HEADER, b" ")


WRITER = PointWriter(
    name="dst",
    suffix=".dst",
    description="stitch file, the common one; to 0.1 mm",
    write=write_dst,
    read=read_dst,
)
