"""G-code (ISO 6983-1): absolute millimetres, y turned up, a pause wherever a hand is needed.

The origin is the lower left corner of what is drawn. The needle itself is the machine's business: the file only moves,
and pauses before and after each line.
"""

from __future__ import annotations

import re

import numpy as np

from ..errors import OutputError
from ..model import FloatArray, as_path
from ._names import ascii_text
from .cautions import CAUTIONS
from .registry import LineWriter
from .sheet import Bounds, Drawn, Run, Shape, Sheet, draw

__all__ = ["WRITER", "GcodeSink", "read_gcode", "write_gcode"]

FEED_MM_MIN = 1524
"""1 in a second, a calm pace; the machine's own override is there to change it."""
WIDEST = 100
"""Longest comment; controls take 256 characters a line at most, some far fewer."""


def write_gcode(sheet: Sheet) -> bytes:
    """Return a sheet's lines as G-code; shapes are left out.

    Raises
    ------
    OutputError
        A coordinate is not finite.
    """
    return draw(sheet, GcodeSink(sheet.origin))


class GcodeSink:
    """Writes moves as it is told of runs."""

    def __init__(self, origin: tuple[float, float] | None = None) -> None:
        self._zero = origin

    def begin(self, title: str, names: tuple[str, ...], bounds: Bounds) -> None:
        """Write title, cautions and the settings of the control."""
        self._origin = np.array([bounds[0], bounds[3]] if self._zero is None else self._zero)
        self._rows = [*_comment(title)]
        for caution in CAUTIONS:
            self._rows += _comment(caution)
        zero = "the lower left corner" if self._zero is None else "the first registration mark of the reach"
        self._rows += [*_comment(f"mm, absolute, y up, origin at {zero}"), "G21", "G90", "G94"]
        self._line: int | None = None

    def shape(self, shape: Shape) -> None:
        """Shapes are not stitched."""

    def run(self, run: Run) -> None:
        """Write a run; a new line pauses before it, and the one before pauses at its end."""
        if run.kind == "jump":
            return
        points = (run.path - self._origin) * [1, -1]
        if run.line != self._line:
            self._stop()
            self._line = run.line
            x, y = points[0]
            self._rows += [*_comment(f"line {run.line + 1}"), f"G0 X{x:.3f} Y{y:.3f}"]
            self._rows += [*_comment("needle down, bobbin thread up"), "M0", f"G1 F{FEED_MM_MIN}"]
        self._rows += [f"G1 X{x:.3f} Y{y:.3f}" for x, y in points[1:].tolist()]

    def finish(self) -> bytes:
        """Return the file."""
        self._stop()
        return ("\n".join([*self._rows, "M2"]) + "\n").replace("-0.000", "0.000").encode("ascii")

    def _stop(self) -> None:
        if self._line is not None:
            self._rows += [*_comment("end of the line: tie off, needle up"), "M0"]


def _comment(text: str) -> list[str]:
    plain = ascii_text(text).replace("(", "[").replace(")", "]")
    words, rows = plain.split(), [""]
    for word in words:
        if len(rows[-1]) + len(word) + 1 > WIDEST:
            rows.append("")
        rows[-1] = f"{rows[-1]} {word[:WIDEST]}".strip()
    return [f"({row})" for row in rows]


_MOVE = re.compile(r"G(?P<code>[01]) X(?P<x>-?\d+(?:\.\d+)?) Y(?P<y>-?\d+(?:\.\d+)?)")


def read_gcode(data: bytes) -> Drawn:
    """Return the lines of a G-code file written by `write_gcode`: from its own origin, y down again.

    Raises
    ------
    OutputError
        The file is no G-code in absolute millimetres.
    """
    rows = data.decode("ascii", "replace").splitlines()
    if "G21" not in rows or "G90" not in rows:
        raise OutputError("is no G-code in absolute millimetres (G21, G90)")
    lines: list[list[tuple[float, float]]] = []
    for row in rows:
        found = _MOVE.fullmatch(row)
        if found:
            if found["code"] == "0":
                lines.append([])
            if not lines:
                raise OutputError("stitches before it has moved to a start")
            lines[-1].append((float(found["x"]), -float(found["y"])))
        elif row.startswith(("G0", "G1 X", "G2 ", "G3 ")):
            raise OutputError(f"has a move that plumeline did not write: {row[:40]!r}")
    title = rows[0].strip("()") if rows else ""
    paths: list[FloatArray] = [as_path(line) for line in lines]
    return Drawn(title, (), (), tuple(Run(path, "stitch", -1, i) for i, path in enumerate(paths)))


WRITER = LineWriter(
    name="gcode",
    suffix=".gcode",
    description="moves for a machine that takes G-code, with pauses",
    write=write_gcode,
    read=read_gcode,
    for_machine=True,
)
