"""EXP: pairs of signed bytes, 0.1 mm, at most 12.7 mm each way, no header.

Encoded by the library, read back by the reader here before it is let out. Jumps are written ``80 04`` and stops
``80 01 00 00``: the forms that all published descriptions agree on.
"""

from __future__ import annotations

import numpy as np
import pyembroidery as pe

from ..errors import OutputError
from ..model import Needle, NeedlePoints
from ._pattern import Records, encoded, lay_out, merged, needle_points_of, records_of, release
from .registry import PointWriter

__all__ = ["WRITER", "read_exp", "write_exp"]

LONGEST = 127
"""Longest step each way in 0.1 mm: a signed byte, without the -128 that leads a command."""
COMMAND = 0x80
_KIND_OF = {0x01: Needle.STOP, 0x02: Needle.JUMP, 0x04: Needle.JUMP, 0x80: Needle.TRIM}
"""Second byte of a command. Sources disagree on 02 (a jump, or a stitch); we never write it."""


def write_exp(points: NeedlePoints, title: str = "", *, origin: tuple[float, float] | None = None) -> bytes:
    """Return needle points as an EXP file, which has no room for a title.

    Parameters
    ----------
    points : NeedlePoints
        One reach, mm, y down.
    title : str
        Not used.
    origin : (x, y), optional
        The place that the file calls 0, 0; the first needle point when left out.

    Raises
    ------
    OutputError
        A point is not finite, or a stitch is over 12.7 mm either way.
    EngineError
        The file did not read back as asked.
    """
    wanted = records_of(points, origin, LONGEST, ".exp")
    return release(encoded(lay_out(wanted, LONGEST), pe.EmbPattern.write_exp, {}), wanted, _records, ".exp")


def read_exp(data: bytes) -> NeedlePoints:
    """Return what an EXP file holds: mm from its origin, y down; a colour change is a stop.

    Raises
    ------
    OutputError
        The file is cut off, or holds a command that no description knows.
    """
    return needle_points_of(_records(data))


def _records(data: bytes) -> Records:
    if len(data) % 2:
        raise OutputError("has an odd number of bytes; the file is cut off or no EXP file")
    pairs = np.frombuffer(data, np.uint8).reshape(-1, 2)
    lead = np.flatnonzero(pairs[:, 0] == COMMAND)
    if len(lead) and (lead[-1] == len(pairs) - 1 or (np.diff(lead) == 1).any()):
        raise OutputError("has a command without its second pair of bytes; the file is cut off or no EXP file")
    kind = np.full(len(pairs), Needle.STITCH, np.uint8)
    table = np.full(256, 255, np.uint8)
    table[list(_KIND_OF)] = list(_KIND_OF.values())
    kind[lead + 1] = table[pairs[lead, 1]]
    if (kind == 255).any():
        code = int(pairs[np.flatnonzero(kind == 255)[0] - 1, 1])
        raise OutputError(f"holds the command 80 {code:02X}, which is unknown")
    step = pairs.view(np.int8).astype(np.int64) * [1, -1]  # y is up in the file
    step[kind == Needle.TRIM] = 0  # its second pair is a number of its own, not a step
    keep = np.ones(len(pairs), dtype=bool)
    keep[lead] = False
    return merged(kind[keep], np.cumsum(step[keep], axis=0))


WRITER = PointWriter(
    name="exp",
    suffix=".exp",
    description="stitch file that keeps trims and moves apart; to 0.1 mm",
    write=write_exp,
    read=read_exp,
)
