"""One reach fitted to where its marks lie now: turned and moved, never stretched."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from ..errors import LineError, OutputError, nearest
from ..lines import Refit, marks_in, named_marks, refit
from ..model import Reach, as_path
from ..output import find_writer
from .files import reach_stem, sheet_of
from .writing import Quilt

__all__ = ["refit_reach", "refitted_files"]


def refit_reach(quilt: Quilt, number: int, measured: Mapping[str, tuple[float, float]]) -> Refit:
    """Return how a reach lies now, from marks measured on the cloth.

    Parameters
    ----------
    quilt : Quilt
        Stitched reach by reach.
    number : int
        Of the reach, from 1.
    measured : mapping of mark to (x, y)
        At least two marks of the reach, mm right and down from any one point of the machine's frame, which becomes
        0, 0 of the refitted file.

    Raises
    ------
    LineError
        There is no such reach or mark, or fewer than two marks are measured.
    """
    reach = _reach(quilt, number)
    marks = marks_in(reach, named_marks(quilt.reaches))
    for name in measured:
        if name not in marks:
            near = nearest(name, marks)
            raise LineError(
                f"has {name!r}, which is no mark of reach {number}; its marks are {', '.join(marks) or 'none'}",
                key="--marks",
                what_to_do=f"Did you mean {near!r}?" if near else None,
            )
    if len(measured) < 2:
        raise LineError(
            f"has {len(measured)} mark{'s' if len(measured) != 1 else ''}; must have two or more",
            key="--marks",
            what_to_do='Write them as "A=RIGHT,DOWN B=RIGHT,DOWN".',
        )
    return refit([marks[name] for name in measured], list(measured.values()))


def _reach(quilt: Quilt, number: int) -> Reach:
    if len(quilt.reaches) < 2:
        raise LineError(
            "is given, but the machine gets to the whole quilt at once",
            key="--reach",
            what_to_do="State [machine] reach = [width, height] in the plan.",
        )
    sewn = sorted({line.reach for line in quilt.lines})
    for reach in quilt.reaches:
        if reach.number == number and number not in sewn:
            raise LineError(
                f"is {number}, where nothing is sewn; there is stitching in {', '.join(map(str, sewn)) or 'none'}",
                key="--reach",
            )
        if reach.number == number:
            return reach
    raise LineError(f"is {number}; the quilt has reaches 1 to {len(quilt.reaches)}", key="--reach")


def refitted_files(quilt: Quilt, number: int, fit: Refit, formats: Sequence[str]) -> dict[str, bytes]:
    """Return the stitch files of one reach, every point turned and moved; 0, 0 is where she measured from.

    Raises
    ------
    OutputError
        A format is a drawing and goes to no machine.
    """
    stem = f"{reach_stem(quilt, number)}-refit"
    files: dict[str, bytes] = {}
    for name in formats:
        writer = find_writer(name)
        if writer.takes == "points":
            for points in (p for p in quilt.points if p.reach == number):
                moved = replace(points, xy=fit.apply(points.xy))
                files[f"{stem}{writer.suffix}"] = writer.write(moved, quilt.plan.title, origin=(0.0, 0.0))
        elif writer.for_machine:
            lines = [replace(x, path=as_path(fit.apply(x.path))) for x in quilt.lines if x.reach == number]
            sheet = replace(sheet_of(quilt), lines=lines, origin=(0.0, 0.0))
            files[f"{stem}{writer.suffix}"] = writer.write(sheet)
        else:
            raise OutputError(f"has {name!r}, a drawing; must be formats that a machine follows", key="formats")
    return files
