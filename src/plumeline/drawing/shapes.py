"""What a drawing holds once it is read: named shapes and lines in mm, y down."""

from __future__ import annotations

from dataclasses import dataclass

from ..model import Finding, Path

__all__ = ["Art", "Drawing", "OpenLine", "Shape"]


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A closed shape: its name, its outline and holes as drawn (not yet checked), its fill (``#rrggbb``)."""

    name: str
    shell: Path
    holes: tuple[Path, ...] = ()
    colour: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class OpenLine:
    """An open line: its name, its path, its stroke's colour (``#rrggbb``)."""

    name: str
    path: Path
    colour: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A drawing at true size: closed shapes and open lines in drawing order, the page's size in mm."""

    shapes: tuple[Shape, ...]
    lines: tuple[OpenLine, ...]
    size: tuple[float, float]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Art:
    """Line art at the size it was drawn: its strokes in drawing order, which are closed, the page's size in mm."""

    paths: tuple[Path, ...]
    closed: tuple[bool, ...]
    size: tuple[float, float]
    findings: tuple[Finding, ...] = ()
