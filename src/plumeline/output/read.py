"""Any file of ours, read back and summed up."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from ..errors import OutputError
from ..model import FloatArray, Needle, NeedlePoints
from ..opening import read_plain_file
from .registry import Writer, writer_for_file
from .sheet import Drawn

__all__ = ["FileSummary", "is_foreign", "read_any", "read_file", "summary_of"]

LARGEST_BYTES = 500_000_000
"""Far above any quilt; keeps a wrong file from filling the memory."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class FileSummary:
    """What a file holds.

    Attributes
    ----------
    format : str
        Name of the format.
    size_mm : (width, height)
        Of what is stitched; 0, 0 when nothing is.
    low_mm, high_mm : (x, y)
        Its least and greatest x and y from what the file calls 0, 0; y down, as on the cloth.
    lines, jumps : int
        A jump is the move from one line to the next.
    sewn_mm : float
        Length of all lines.
    stitches, trims, stops : int or None
        None for drawings, which hold no needle points.
    shortest_stitch_mm, longest_stitch_mm : float or None
        Ties left out where the file tells them apart.
    paths : tuple of (n, 2) float64
        The lines, mm, y down, for a picture.
    """

    format: str
    size_mm: tuple[float, float]
    low_mm: tuple[float, float]
    high_mm: tuple[float, float]
    lines: int
    jumps: int
    sewn_mm: float
    stitches: int | None
    trims: int | None
    stops: int | None
    shortest_stitch_mm: float | None
    longest_stitch_mm: float | None
    paths: tuple[FloatArray, ...]


FOREIGN = (".svg", ".svgz", ".dxf", ".pdf")
"""What drawings end in that plumeline need not have written."""


def is_foreign(path: str | os.PathLike[str]) -> bool:
    """Return whether a file is a drawing that holds no stitching of plumeline: it is read as a top's drawing is.

    Parameters
    ----------
    path : path
        A file.

    Returns
    -------
    bool
        False where it is not there, or of another kind.
    """
    file = Path(path)
    if file.suffix.lower() not in FOREIGN or not file.is_file():
        return False
    if file.suffix.lower() in (".svgz", ".pdf"):
        return True
    try:
        read = read_file(file)[1]
    except OutputError:
        return True
    return isinstance(read, Drawn) and not read.runs


def read_any(path: str | os.PathLike[str]) -> FileSummary:
    """Read a stitch file or drawing that plumeline can write, and sum it up; see `read_file`.

    Parameters
    ----------
    path : path
        A file.

    Returns
    -------
    FileSummary
        Counts, lengths and size.
    """
    writer, read = read_file(path)
    return summary_of(read, writer.name)


def read_file(path: str | os.PathLike[str]) -> tuple[Writer, NeedlePoints | Drawn]:
    """Read a stitch file or drawing that plumeline can write, and return its format and what it holds.

    Parameters
    ----------
    path : path
        A file.

    Returns
    -------
    Writer, NeedlePoints or Drawn
        Stitch formats give needle points, drawn ones what is drawn.

    Raises
    ------
    OutputError
        The file is missing, too large, of no known suffix, or can't be read as what its suffix says.
    """
    file = Path(path)
    if os.path.isdir(file):  # noqa: PTH112 - the other way fails on a name that is too long
        what_to_do = "Name one of the files in it."
        raise OutputError("is a folder; must be a plain file", file=str(file), what_to_do=what_to_do)
    writer = writer_for_file(file.name)
    data = read_plain_file(file, OutputError, most=LARGEST_BYTES, missing="Check its name, and the folder it lies in.")
    try:
        return writer, writer.read(data)
    except OutputError as error:
        raise error.at(file=str(path)) from error.__cause__


def summary_of(read: NeedlePoints | Drawn, name: str) -> FileSummary:
    """Sum up what a reader gave back.

    Parameters
    ----------
    read : NeedlePoints or Drawn
        As a reader gives it.
    name : str
        Of the format.

    Returns
    -------
    FileSummary
        Counts, lengths and size.
    """
    if isinstance(read, Drawn):
        return _of_drawing(read, name)
    needle = read.kind <= Needle.TIE
    xy, line, kind = read.xy[needle], read.line[needle], read.kind[needle]
    cuts = np.flatnonzero(np.diff(line)) + 1
    paths = tuple(p for p in np.split(xy, cuts) if len(p))
    step = np.hypot(*np.diff(xy, axis=0).T) if len(xy) else np.zeros(0)
    sewn = np.diff(line) == 0
    plain = step[sewn & (kind[1:] != Needle.TIE)]
    return replace(
        _summed(name, paths, float(step[sewn].sum())),
        stitches=int(sewn.sum()),
        trims=int((read.kind == Needle.TRIM).sum()),
        stops=int((read.kind == Needle.STOP).sum()),
        shortest_stitch_mm=float(plain.min()) if len(plain) else None,
        longest_stitch_mm=float(plain.max()) if len(plain) else None,
    )


def _of_drawing(drawn: Drawn, name: str) -> FileSummary:
    lines: dict[int, list[FloatArray]] = {}
    for run in drawn.runs:
        if run.kind != "jump":
            mine = lines.setdefault(run.line, [])
            mine.append(run.path[1:] if mine else run.path)
    paths = tuple(np.vstack(parts) for parts in lines.values())
    return _summed(name, paths, float(sum(np.hypot(*np.diff(p, axis=0).T).sum() for p in paths)))


def _summed(name: str, paths: tuple[FloatArray, ...], sewn_mm: float) -> FileSummary:
    every = np.vstack(paths) if paths else np.zeros((1, 2))
    (left, top), (right, bottom) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    return FileSummary(
        format=name,
        size_mm=(right - left, bottom - top),
        low_mm=(left, top),
        high_mm=(right, bottom),
        lines=len(paths),
        jumps=max(len(paths) - 1, 0),
        sewn_mm=sewn_mm,
        stitches=None,
        trims=None,
        stops=None,
        shortest_stitch_mm=None,
        longest_stitch_mm=None,
        paths=paths,
    )
