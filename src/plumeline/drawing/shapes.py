"""What a drawing holds once it is read: named shapes and lines in mm, y down."""

from __future__ import annotations

from dataclasses import dataclass

from ..model import Finding, Path

__all__ = ["Art", "Drawing", "OpenLine", "Shape"]

ON_TOP = 2**31
"""The order of a line that lies on everything."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A closed shape: its name, its outline and holes as drawn (not yet checked), its fill (``#rrggbb``).

    Attributes
    ----------
    filled : bool
        Whether its inside is painted, so that it hides what lies under it; else it is only an outline.
    open_ended : bool
        Whether the outline was drawn as an open line, which only its paint closes.
    order : int
        What has a higher number was painted later and lies on top.
    sheer : bool
        Whether it is painted so faintly that it covers nothing, and counts only where nothing else is painted.
    """

    name: str
    shell: Path
    holes: tuple[Path, ...] = ()
    colour: str | None = None
    filled: bool = True
    open_ended: bool = False
    order: int = 0
    sheer: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class OpenLine:
    """An open line: its name, its path, its stroke's colour (``#rrggbb``), its place in the order of painting.

    ``bare``: a closed outline that nothing paints, which can only serve as a guide; its path repeats its first point.
    """

    name: str
    path: Path
    colour: str | None = None
    order: int = ON_TOP
    bare: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A drawing: closed shapes and open lines in drawing order, the page's size in mm.

    Attributes
    ----------
    unit_mm : float
        Millimetres in one unit of the file (a user unit of an SVG, a point of a PDF page, a unit of a DXF file).
    sized : bool
        Whether the file says its true size; else ``unit_mm`` is only a guess.
    outlines : bool
        Whether the file holds outlines only, so that the faces between them are what was meant.
    origin : (x, y)
        Where in mm the file's own 0, 0 lies; the page's top left corner in all but DXF files.
    """

    shapes: tuple[Shape, ...]
    lines: tuple[OpenLine, ...]
    size: tuple[float, float]
    findings: tuple[Finding, ...] = ()
    unit_mm: float = 25.4 / 96
    sized: bool = True
    outlines: bool = False
    origin: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Art:
    """Line art at the size it was drawn: its strokes in drawing order, which are closed, the page's size in mm."""

    paths: tuple[Path, ...]
    closed: tuple[bool, ...]
    size: tuple[float, float]
    findings: tuple[Finding, ...] = ()
