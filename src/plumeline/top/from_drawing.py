"""A top from a vector drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Literal

import numpy as np

from ..codes import FindingCode
from ..drawing import Drawing, open_drawing
from ..errors import TopError, nearest
from ..geometry import close_ring
from ..model import Finding, Path, Top, as_path
from ..specs import matching
from ..units import Unit, format_length
from .assemble import CLOSE_GAPS_MM, assemble
from .from_lines import faces_between, gap_finding, gaps_between, lines_are_enough, said_of_lines
from .naming import lines_apart_by_name, numbered
from .painting import laid_side_by_side
from .size import LARGE_MM, LONGEST_MM
from .sizing import SaidSize, resized, size_missing, unit_of
from .told import joined

__all__ = ["ReadAs", "from_drawing", "top_of_drawing"]

ReadAs = Literal["painted", "lines"]
"""What makes a patch: a shape as it is painted, or a face between lines."""

LEAST_TOP_MM = 4 * 25.4
MOST_TOP_MM = LARGE_MM
"""Less than a mug rug, or more than the largest bed quilts: the drawing's unit is probably not what it says."""

OTHER_UNITS_PER_INCH = (72, 90)
"""What else drawings count as an inch, beside the 96 of today's standard."""


def from_drawing(
    path: str | FilePath,
    *,
    close_gaps_mm: float = CLOSE_GAPS_MM,
    guides: Sequence[str] = (),
    pressed_open: bool = False,
    read: ReadAs = "painted",
    size: SaidSize | None = None,
    page: int | None = None,
    unit: Unit = "in",
) -> Top:
    """Return the top that a drawing shows, at true size, its top left corner at 0, 0.

    Parameters
    ----------
    path : path
        The drawing. Closed shapes are patches, named as `read_drawing` says, equal names numbered in reading order;
        open lines cut the patches they cross.
    close_gaps_mm : float
        Corners and edges nearer than this are the same. What is no wider than this is mended, with a note; wider
        openings are warned of.
    guides : sequence of str
        Names of lines that cut nothing (``*`` for any ending; it may fit none). A closed shape of such a name is no
        patch but a guide too; its path repeats its first point at the end.
    pressed_open : bool
        Seams pressed open are never stitched in the ditch.
    read : {"painted", "lines"}
        ``"painted"``: shapes as they are seen, later ones on top. ``"lines"``: all outlines are seams, and every face
        between them is a patch.
    size : SaidSize
        The top's width, height or one known length; it overrides what the file says.
    page : int, optional
        Which page, from 1, of a file of several.
    unit : {"in", "mm", "cm"}
        The unit of lengths and areas in findings.

    Returns
    -------
    Top
        Patches in drawing order; a patch that lines cut becomes ``name-1``, ``name-2`` in reading order.

    Raises
    ------
    DrawingError
        The file can't be read as a drawing.
    TopError
        It says no size and none is given, or what it shows makes no top; the message names the patch and what to do.
    """
    file = FilePath(path).name
    notes: list[Finding] = []
    unit_mm = None
    opened = open_drawing(path, page=page)
    if size:
        before = opened.extent(lambda name: _matches(name, guides))
        unit_mm = unit_of(before, size, file=file)
        grown = unit_mm / before.unit_mm
        notes.append(resized(before, unit_mm, (before.width * grown, before.height * grown), unit))
    drawing = opened.read(unit_mm=unit_mm, unit=unit)
    if not (size or drawing.sized):
        raise size_missing(drawing, file)
    top = top_of_drawing(
        drawing,
        close_gaps_mm=close_gaps_mm,
        guides=guides,
        pressed_open=pressed_open,
        read=read,
        unit=unit,
        file=file,
    )
    return replace(top, findings=(*notes, *top.findings))


def top_of_drawing(
    drawing: Drawing,
    *,
    close_gaps_mm: float = CLOSE_GAPS_MM,
    guides: Sequence[str] = (),
    pressed_open: bool = False,
    read: ReadAs = "painted",
    unit: Unit = "in",
    file: str | None = None,
) -> Top:
    """Return the top of a drawing already read; see `from_drawing`.

    Parameters
    ----------
    drawing : Drawing
        As `read_drawing` gives it.
    close_gaps_mm : float
        Corners and edges nearer than this are the same.
    guides : sequence of str
        Names of lines that cut nothing.
    pressed_open : bool
        Whether seams are pressed open.
    read : ReadAs
        Whether shapes are read as painted, or outlines as cut lines.
    unit : {"in", "mm", "cm"}
        The unit of lengths and areas in findings.
    file : str, optional
        Its name, for messages.

    Returns
    -------
    Top
        Patches, seams, guides, and what was noticed.

    Raises
    ------
    TopError
        ``close_gaps_mm`` is less than 0, or there is no patch in the drawing.
    """
    if not (np.isfinite(close_gaps_mm) and close_gaps_mm >= 0):
        raise TopError(f"is {close_gaps_mm}; must be 0 or more", file=file, key="top.close_gaps")
    within = max(close_gaps_mm, 1e-3)
    guided = _guides(drawing, guides, file)
    kept = replace(
        drawing,
        shapes=tuple(s for s in drawing.shapes if not _matches(s.name, guides)),
        lines=tuple(line for line in drawing.lines if not line.bare and not _matches(line.name, guides)),
    )
    notes: list[Finding] = []
    lines = lines_apart_by_name(kept.lines)
    by_itself = read != "lines" and not kept.shapes and (drawing.outlines or lines_are_enough(kept, within_mm=within))
    if read == "lines" or by_itself:
        shapes, lines = faces_between(kept, within_mm=within), []
        if gaps := gaps_between(kept, within_mm=within):
            notes.append(gap_finding(gaps, unit))
        notes.append(_lines_note(len(shapes), by_itself))
    else:
        painted = laid_side_by_side(kept.shapes, lines, within_mm=within, unit=unit)
        shapes, lines = painted.shapes, painted.lines
        notes += painted.findings
    if not shapes:
        raise _no_patch(kept, within, read, unit, file)
    try:
        top = assemble(
            numbered(shapes),
            lines,
            guided,
            close_gaps_mm=within,
            may_travel=not pressed_open,
            layered=True,
            unit=unit,
            file=file,
        )
    except TopError as error:
        way = said_of_lines(kept, within_mm=within, unit=unit) if read == "painted" else None
        if way:
            error.what_to_do = f"{error.what_to_do or ''} Or: {way}".strip()
        raise
    findings = (*drawing.findings, *_size_findings(top.size, unit), *notes, *top.findings)
    return replace(top, findings=joined(findings))


def _lines_note(count: int, by_itself: bool) -> Finding:
    why = "it holds no closed shape, so it is " if by_itself else ""
    faces = f"{count} {'face' if count == 1 else 'faces'} between the lines, each a patch"
    return Finding(
        FindingCode.READ_AS_LINES, "note", None, f"{why}read as line art: {faces}", "Nothing, if the number is right."
    )


def _no_patch(drawing: Drawing, within: float, read: ReadAs, unit: Unit, file: str | None) -> TopError:
    way = said_of_lines(drawing, within_mm=within, unit=unit)
    if read == "lines":
        gaps = gaps_between(drawing, within_mm=within)
        return TopError(
            "has no lines that enclose a patch",
            file=file,
            what_to_do=gap_finding(gaps, unit).what_to_do if gaps else "Let the lines meet.",
        )
    return TopError("has no closed shape; patches are closed shapes", file=file, what_to_do=way or "Draw the patches.")


def _matches(name: str, patterns: Sequence[str]) -> bool:
    return any(matching(pattern, [name]) for pattern in patterns)


def _guides(drawing: Drawing, patterns: Sequence[str], file: str | None) -> dict[str, Path]:
    drawn = [(line.name, line.path) for line in drawing.lines]
    drawn += [(s.name, s.shell if s.open_ended else as_path(close_ring(s.shell))) for s in drawing.shapes]
    out: dict[str, Path] = {}
    for name, path in drawn:
        if not _matches(name, patterns):
            continue
        if name in out:
            raise TopError(
                "is the name of two guides; each needs its own",
                file=file,
                key=f"guide '{name}'",
                what_to_do="Rename one of them in the drawing.",
            )
        out[name] = path
    for pattern in patterns:
        if not any(_matches(name, [pattern]) for name, _ in drawn):
            near = nearest(pattern.strip("*"), sorted({name for name, _ in drawn}))
            raise TopError(
                f"{pattern!r} is the name of no line in the drawing",
                file=file,
                key="top.guides",
                what_to_do=f"Did you mean {near!r}?" if near else "Name the line in the drawing, or take it out.",
            )
    return out


def _size_findings(size: tuple[float, float], unit: Unit) -> list[Finding]:
    width, height = size
    if max(size) > LONGEST_MM:
        raise TopError(
            f"the top would be {_by(width, height, unit)}; must be at most {LONGEST_MM / 1000:g} m either way",
            what_to_do="Write the top's true width below [top], as width = 42; the drawing may be in mm.",
        )
    # whole sixteenths, the unit once: "63 15/16 x 63 15/16 in"
    out = [
        Finding(
            FindingCode.SIZE_READ,
            "note",
            None,
            f"read as {_by(width, height, unit)}",
            "Compare it with the quilt; if it differs, write its true width below [top], as width = 42 (new and fill "
            "take --width 42).",
        )
    ]
    large = max(width, height) > MOST_TOP_MM
    if min(width, height) < LEAST_TOP_MM or large:
        others = [f"{_by(width * 96 / u, height * 96 / u, unit)} at {u}" for u in OTHER_UNITS_PER_INCH]
        out.append(
            Finding(
                FindingCode.SIZE_IMPLAUSIBLE,
                "warning",
                None,
                f"the top would be {_by(width, height, unit)}, which is "
                f"{'small' if min(width, height) < LEAST_TOP_MM else 'large'} for a quilt; if the drawing does not "
                f"count 96 units to the inch, it is {others[0]} or {others[1]} to the inch"
                + (f"; if its inches are mm, it is {_by(width / 25.4, height / 25.4, unit)}" if large else ""),
                "Write the top's true width below [top], as width = 42 (new and fill take --width 42).",
            )
        )
    return out


def _by(width: float, height: float, unit: Unit) -> str:
    return f"{format_length(width, unit).removesuffix(f' {unit}')} x {format_length(height, unit)}"
