"""What one paper shows, before it is cut into sheets: marks and words in millimetres, and the notes beside them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, TypeAlias

import numpy as np

from ...geometry import arc_lengths, point_at
from ...model import Finding, FloatArray, Path, Stroke, as_path
from ...specs import LETTERS
from ..sheet import Run

__all__ = [
    "LETTERS",
    "MARGIN_MM",
    "Mark",
    "PaperDrawing",
    "PaperKind",
    "PaperSettings",
    "Space",
    "Words",
    "alike_note",
    "arrow",
    "laid_out",
    "mirrored",
    "outline_marks",
]

Anchor: TypeAlias = Literal["start", "middle", "end"]

MARGIN_MM = 8.0
"""White round a drawing."""

ARROW_MM = 2.6
"""Length of an arrow's head: read at arm's length, and small beside a plume."""


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """One drawn thing: a polyline, or with ``rings`` a filled shape with holes; ``kind`` is its class in the SVG."""

    path: Path
    kind: str
    closed: bool = False
    width_mm: float = 0.4
    colour: str | None = "#111111"
    dash_mm: tuple[float, ...] = ()
    fill: str | None = None
    holes: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True)
class Words:
    """One line of words on its base line."""

    at: tuple[float, float]
    text: str
    size_mm: float = 3.0
    anchor: Anchor = "middle"
    bold: bool = False
    colour: str = "#222222"


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperSettings:
    """How paper is made, mm.

    Attributes
    ----------
    slot_mm, bridge_mm : float
        Width of a cut stencil's slots, and of the bridges that hold its pieces together.
    ruler_mm, foot_mm : float
        Length of her ruler; width of the ruler foot, half of which the ruler's edge lies off the line.
    grid_every : int
        Of a set of straight lines, on a marks sheet 2 draws every second one.
    units : str
        Unit of lengths in words.
    """

    slot_mm: float = 25.4 * 3 / 32
    bridge_mm: float = 25.4 / 8
    ruler_mm: float = 25.4 * 12
    foot_mm: float = 25.4 / 2
    grid_every: int = 1
    units: str = "in"


@dataclass(frozen=True, slots=True, eq=False)
class Space:
    """One space to be quilted, moved so that its upper left corner is 0, 0.

    Attributes
    ----------
    name : str
        Of its zone.
    count : int
        How many spaces of the quilt are alike; they print once.
    outlines, seams, fences : tuple of Path
        The edge of each part (closed), seams inside and around, limit lines.
    runs : tuple of Run
        The stitching in its order, travel and doubled stretches told by their kind.
    strokes : tuple of Stroke
        What the fills drew.
    size : (width, height)
        mm.
    labels : tuple of str
        What each outline is called, where it is not just the zone.
    """

    name: str
    count: int
    outlines: tuple[Path, ...]
    seams: tuple[Path, ...]
    fences: tuple[Path, ...]
    runs: tuple[Run, ...]
    strokes: tuple[Stroke, ...]
    size: tuple[float, float]
    labels: tuple[str, ...] = ()

    def moved(self, by: FloatArray) -> Space:
        """Return this space moved."""
        shift = np.asarray(by, dtype=np.float64)
        return replace(
            self,
            outlines=tuple(as_path(p + shift) for p in self.outlines),
            seams=tuple(as_path(p + shift) for p in self.seams),
            fences=tuple(as_path(p + shift) for p in self.fences),
            runs=tuple(replace(r, path=as_path(r.path + shift)) for r in self.runs),
            strokes=tuple(replace(s, path=as_path(s.path + shift)) for s in self.strokes),
        )


@dataclass(frozen=True, slots=True, eq=False)
class PaperDrawing:
    """All that one paper shows.

    Attributes
    ----------
    title, kind, zone : str
        What it says of itself.
    size : (width, height)
        mm; everything lies between 0, 0 and this.
    notes : tuple of str
        Printed on the first page, before the cautions.
    true_size : bool
        False for a sketch that is fitted to one sheet.
    cut_lines : tuple of Path
        Centre lines of what a cutter cuts; only a stencil has them.
    """

    title: str
    kind: str
    zone: str
    size: tuple[float, float]
    marks: tuple[Mark, ...] = ()
    words: tuple[Words, ...] = ()
    notes: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    true_size: bool = True
    cut_lines: tuple[Path, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class PaperKind:
    """One kind of paper: its name, one line of what it is for, and what draws it.

    ``draw`` gets the distinct spaces of a zone, laid side by side, and returns marks, words, notes and findings.
    """

    name: str
    description: str
    draw: Callable[[Sequence[Space], PaperSettings], PaperDrawing]


def outline_marks(space: Space, *, seams: bool = True, colour: str = "#9a9a9a") -> list[Mark]:
    """Return a space's edges, the seams in grey and the fences dotted."""
    marks = [Mark(p, "seam", width_mm=0.2, colour="#c8c8c8") for p in space.seams] if seams else []
    marks += [Mark(p, "outline", True, 0.25, colour, (2.0, 1.2)) for p in space.outlines]
    marks += [Mark(p, "fence", width_mm=0.35, colour=colour, dash_mm=(0.1, 1.4)) for p in space.fences]
    return marks


def arrow(path: FloatArray, at_mm: float, *, colour: str = "#111111", length_mm: float = ARROW_MM) -> Mark | None:
    """Return an arrow head on a path that points along it; None where the path is too short for one."""
    total = float(arc_lengths(path)[-1]) if len(path) > 1 else 0.0
    if total < 2 * length_mm:
        return None
    tip, tail = point_at(path, [min(at_mm + length_mm / 2, total), max(at_mm - length_mm / 2, 0.0)])
    way = tip - tail
    far = float(np.hypot(*way))
    if far < 1e-9:
        return None
    way /= far
    across = np.array([-way[1], way[0]])
    back = tip - way * length_mm
    head = np.array(
        [tip, back + across * length_mm * 0.42, back + way * length_mm * 0.28, back - across * length_mm * 0.42]
    )
    return Mark(as_path(head), "arrow", True, colour=None, fill=colour)


_FLIPPED: dict[Anchor, Anchor] = {"start": "end", "middle": "middle", "end": "start"}


def mirrored(drawing: PaperDrawing) -> PaperDrawing:
    """Return a drawing as seen from the back; words stay readable.

    Parameters
    ----------
    drawing : PaperDrawing
        Any of the paper drawings.

    Returns
    -------
    PaperDrawing
        Its left and right changed over.
    """
    wide = drawing.size[0]

    def flip(path: Path) -> Path:
        return as_path(np.column_stack([wide - path[:, 0], path[:, 1]]))

    return replace(
        drawing,
        marks=tuple(replace(m, path=flip(m.path), holes=tuple(flip(h) for h in m.holes)) for m in drawing.marks),
        words=tuple(replace(w, at=(wide - w.at[0], w.at[1]), anchor=_FLIPPED[w.anchor]) for w in drawing.words),
        cut_lines=tuple(flip(p) for p in drawing.cut_lines),
        notes=(*drawing.notes, "Mirrored: for iron-on transfer, or for tracing from the back."),
    )


GAP_MM = 12.0
"""Between spaces that lie side by side."""

NAME_MM = 7.0
"""Strip above each space for its name."""


def laid_out(spaces: Sequence[Space]) -> tuple[list[Space], tuple[float, float], list[Words]]:
    """Return the spaces side by side, the size of the whole and each one's name above it."""
    placed, words, x, high = [], [], MARGIN_MM, 0.0
    for space in spaces:
        placed.append(space.moved(np.array([x, MARGIN_MM + NAME_MM])))
        alike = f" ({space.count} alike)" if space.count > 1 else ""
        words.append(Words((x, MARGIN_MM + NAME_MM - 3.0), f"{space.name}{alike}", 3.4, "start", True))
        x += space.size[0] + GAP_MM
        high = max(high, space.size[1])
    return placed, (x - GAP_MM + MARGIN_MM, high + 2 * MARGIN_MM + NAME_MM), words


def alike_note(spaces: Sequence[Space]) -> tuple[str, ...]:
    """Return the note that alike spaces print once; none where all differ."""
    more = sum(space.count for space in spaces) - len(spaces)
    if not more:
        return ()
    return (f"{sum(s.count for s in spaces)} spaces, {len(spaces)} of them different: alike spaces print once.",)
