"""A top from a vector drawing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as FilePath

import numpy as np

from ..drawing import Drawing, read_svg
from ..errors import TopError, nearest
from ..geometry import close_ring
from ..model import Finding, Path, Top, as_path
from ..specs import matching
from ..units import format_length
from .assemble import CLOSE_GAPS_MM, assemble

__all__ = ["from_drawing", "top_of_drawing"]

LEAST_TOP_MM = 4 * 25.4
MOST_TOP_MM = 130 * 25.4
"""Less than a mug rug, or more than the largest bed quilts: the drawing's unit is probably not what it says."""

OTHER_UNITS_PER_INCH = (72, 90)
"""What else drawings count as an inch, beside the 96 of today's standard."""


def from_drawing(
    path: str | FilePath,
    *,
    close_gaps_mm: float = CLOSE_GAPS_MM,
    guides: Sequence[str] = (),
    pressed_open: bool = False,
) -> Top:
    """Return the top that an SVG drawing shows, at true size, its top left corner at 0, 0.

    Parameters
    ----------
    path : path
        The drawing. Closed shapes are patches, named as `read_svg` says; open lines cut the patches they cross.
    close_gaps_mm : float
        Corners and edges nearer than this are the same. What is no wider than this is mended, with a note; wider
        overlaps are refused, wider openings are warned of.
    guides : sequence of str
        Names of lines that cut nothing (``*`` for any ending; it may fit none). A closed shape of such a name is no
        patch but a guide too; its path repeats its first point at the end.
    pressed_open : bool
        Seams pressed open are never stitched in the ditch.

    Returns
    -------
    Top
        Patches in drawing order; a patch that lines cut becomes ``name-1``, ``name-2`` in reading order.

    Raises
    ------
    DrawingError
        The file can't be read as a drawing at true size.
    TopError
        What it shows makes no top; the message names the patch and what to do.
    """
    drawing = read_svg(path)
    return top_of_drawing(
        drawing,
        close_gaps_mm=close_gaps_mm,
        guides=guides,
        pressed_open=pressed_open,
        file=FilePath(path).name,
    )


def top_of_drawing(
    drawing: Drawing,
    *,
    close_gaps_mm: float = CLOSE_GAPS_MM,
    guides: Sequence[str] = (),
    pressed_open: bool = False,
    file: str | None = None,
) -> Top:
    """Return the top of a drawing already read; see `from_drawing`."""
    if not (np.isfinite(close_gaps_mm) and close_gaps_mm >= 0):
        raise TopError(f"is {close_gaps_mm}; must be 0 or more", file=file, key="top.close_gaps")
    guided = _guides(drawing, guides, file)
    shapes = [s for s in drawing.shapes if not _matches(s.name, guides)]
    lines = [line for line in drawing.lines if not _matches(line.name, guides)]
    top = assemble(
        shapes, lines, guided, close_gaps_mm=max(close_gaps_mm, 1e-3), may_travel=not pressed_open, file=file
    )
    findings = (*drawing.findings, *_size_findings(top.size), *top.findings)
    return Top(top.patches, top.seams, top.guides, top.size, findings)


def _matches(name: str, patterns: Sequence[str]) -> bool:
    return any(matching(pattern, [name]) for pattern in patterns)


def _guides(drawing: Drawing, patterns: Sequence[str], file: str | None) -> dict[str, Path]:
    drawn = [(line.name, line.path) for line in drawing.lines]
    drawn += [(shape.name, as_path(close_ring(shape.shell))) for shape in drawing.shapes]
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


def _size_findings(size: tuple[float, float]) -> list[Finding]:
    width, height = size
    # whole thirty-seconds, the unit once: "63 29/32 x 63 29/32 in"
    out = [
        Finding(
            "size-read",
            "note",
            None,
            f"read as {format_length(width).removesuffix(' in')} x {format_length(height)}",
            "Compare it with the quilt; set the drawing's width and height right if it differs.",
        )
    ]
    if min(width, height) < LEAST_TOP_MM or max(width, height) > MOST_TOP_MM:
        others = [
            f"{format_length(width * 96 / u).removesuffix(' in')} x {format_length(height * 96 / u)} at {u}"
            for u in OTHER_UNITS_PER_INCH
        ]
        out.append(
            Finding(
                "size-implausible",
                "warning",
                None,
                f"the top would be {format_length(width).removesuffix(' in')} x {format_length(height)}, which is "
                f"{'small' if min(width, height) < LEAST_TOP_MM else 'large'} for a quilt; if the drawing does not "
                f"count 96 units to the inch, it is {others[0]} or {others[1]} to the inch",
                "Set the drawing's width and height in in or mm.",
            )
        )
    return out
