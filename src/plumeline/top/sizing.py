"""The size that she says a drawing has."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..codes import FindingCode
from ..drawing import Drawing
from ..errors import TopError
from ..model import Finding
from ..units import Unit, format_length

__all__ = ["Known", "SaidSize", "resized", "size_missing", "unit_of"]


@dataclass(frozen=True, slots=True)
class Known:
    """One length that she knows: between two points, in the file's own units."""

    start: tuple[float, float]
    end: tuple[float, float]
    length_mm: float


@dataclass(frozen=True, slots=True)
class SaidSize:
    """The size of the whole top: its width, or its height, or one known length in it; at most one of them."""

    width_mm: float | None = None
    height_mm: float | None = None
    known: Known | None = None

    def __bool__(self) -> bool:
        return self != SaidSize()


def unit_of(drawing: Drawing, said: SaidSize, *, file: str | None, guides: frozenset[int] = frozenset()) -> float:
    """Return the millimetres in a unit of the file that give a drawing the size she says.

    ``guides``: indices of shapes that are no patches and don't count.

    Raises
    ------
    TopError
        The drawing has no extent in that direction, or the two points are one.
    """
    if said.known is not None:
        apart = float(np.hypot(*np.subtract(said.known.end, said.known.start)))
        if not apart > 0:
            raise TopError("has the same point twice; must have two", file=file, key="top.known")
        return said.known.length_mm / apart
    rings = [s.shell for k, s in enumerate(drawing.shapes) if k not in guides]
    paths = rings or [line.path for line in drawing.lines if not line.bare]
    if not paths:
        raise TopError("draws nothing that has a size", file=file, what_to_do="Draw the patches.")
    xy = np.vstack(paths)
    width, height = (xy.max(axis=0) - xy.min(axis=0)).tolist()
    drawn, wanted = (width, said.width_mm) if said.width_mm is not None else (height, said.height_mm)
    if not drawn > 0 or wanted is None:
        raise TopError("draws nothing that has a size", file=file, what_to_do="Draw the patches.")
    return float(drawing.unit_mm * wanted / drawn)


def size_missing(drawing: Drawing, file: str | None) -> TopError:
    """Return the error of a drawing that says no size, when she says none either."""
    paths = [s.shell for s in drawing.shapes] or [line.path for line in drawing.lines]
    if paths:
        xy = np.vstack(paths)
        width, height = ((xy.max(axis=0) - xy.min(axis=0)) / drawing.unit_mm).tolist()
        drawn = f"; what is drawn is {width:.6g} x {height:.6g} units of its own"
    else:
        drawn = ""
    return TopError(
        f"says no true size (no width and height in inches or millimetres){drawn}",
        file=file,
        what_to_do="Write the finished top's width below [top], as width = 42 (or height, or known = { from = [x, y], "
        "to = [x, y], length = 12 }); 'plumeline new' and 'plumeline fill' take --width 42.",
    )


def resized(before: Drawing, unit_mm: float, size: tuple[float, float], unit: Unit) -> Finding:
    """Return the note that the size is hers, with what the file itself says."""
    share = before.unit_mm / unit_mm
    own = " x ".join(format_length(s * share, unit) for s in size)
    said = f"; by its own units it would be {own}" if before.sized else ""
    return Finding(
        FindingCode.SIZE_SAID,
        "note",
        None,
        f"sized as you say: {format_length(size[0], unit)} x {format_length(size[1], unit)}{said}",
        "Nothing, if that is the quilt.",
    )
