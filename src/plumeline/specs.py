"""What the plan says of each zone, handed from `plan` to `zones`: frozen, mm, names still to be looked up."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, TypeAlias

__all__ = [
    "FRAMED",
    "GUIDE_IN",
    "INSIDE",
    "LETTERS",
    "OLD_INSIDE",
    "AlikeSpec",
    "ArcSpec",
    "DivideStep",
    "FenceSpec",
    "FramedSpec",
    "GuideSpec",
    "Halves",
    "LeaveOpen",
    "LineSource",
    "PointPlace",
    "ShapeSpec",
    "SpineSpec",
    "WaveSpec",
    "ZoneSpec",
    "families_of",
    "family_matching",
    "guides_matching",
    "matching",
]

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Letters of sides and marks, in order: without I and O, which are read as figures."""

PointPlace: TypeAlias = tuple[float, float]
"""A point of the top: x, y in mm."""

LineSource: TypeAlias = str | tuple[PointPlace, ...]
"""A line: the name of a guide of the drawing (``*`` for any letters), or its points."""


@dataclass(frozen=True, slots=True)
class FenceSpec:
    """A limit line and how far a plume may lean over it (0: firm)."""

    line: LineSource
    soft_mm: float = 0.0


FRAMED = "framed"
"""The part of a zone that is its own outline, sewn as a line."""


@dataclass(frozen=True, slots=True)
class FramedSpec:
    """A zone's outline sewn as its own line: so many rows, each ``times`` over."""

    rows: int = 1
    spacing_mm: float = 6.35
    times: int = 1


INSIDE, OLD_INSIDE = "inside", ("rest",)
"""The part that every division but the last leaves over, and what plans called it before."""

GUIDE_IN = " in "
"""Between the name of a guide and the patch or block that it lies in: ``vine in star-1-2``."""


@dataclass(frozen=True, slots=True)
class ArcSpec:
    """Part of a circle; ``rise_mm`` is its height over the chord, to the left of its way when above 0."""

    start: PointPlace
    end: PointPlace
    rise_mm: float


@dataclass(frozen=True, slots=True)
class WaveSpec:
    """An even wave of so many whole waves, ``height_mm`` from crest to trough; it swings to the left first."""

    start: PointPlace
    end: PointPlace
    height_mm: float
    waves: int


@dataclass(frozen=True, slots=True)
class SpineSpec:
    """A line out of a corner: ``squarest`` or the one that lies so; its bow in percent of its length."""

    corner: str
    length_mm: float | None
    bow_percent: float


@dataclass(frozen=True, slots=True)
class GuideSpec:
    """A guide that the plan writes out: points, or one of an arc, a wave, a spine.

    ``patch``: in each patch of that name, from the top left of the box round it; ``block``: in each block of that
    kind, in the block's own coordinates; neither: on the top.
    """

    name: str
    points: tuple[PointPlace, ...] = ()
    straight: bool = False
    closed: bool = False
    arc: ArcSpec | None = None
    wave: WaveSpec | None = None
    spine: SpineSpec | None = None
    patch: str | None = None
    block: str | None = None


@dataclass(frozen=True, slots=True)
class LeaveOpen:
    """A part that stays unstitched: a closed shape of the drawing by name, or a disc."""

    name: str | None = None
    centre: PointPlace | None = None
    radius_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class ShapeSpec:
    """A shape laid over the seams.

    Attributes
    ----------
    kind : str
        ``on-point`` and ``square`` use ``width_mm`` as their side; ``rectangle`` and ``oval`` both sizes;
        ``circle`` uses ``width_mm`` as its diameter; ``polygon`` its ``points``, which lie on the top as given.
    at : (x, y), str, tuple of str or None
        Its middle: a point; the centroid of a patch (one shape for each that a ``*`` finds); the place where
        several named patches meet. None for a polygon.
    turn_deg : float
        Turn about its middle, counter-clockwise as seen.
    """

    kind: Literal["on-point", "square", "rectangle", "circle", "oval", "polygon"]
    at: PointPlace | str | tuple[str, ...] | None = None
    width_mm: float = 0.0
    height_mm: float = 0.0
    points: tuple[PointPlace, ...] = ()
    turn_deg: float = 0.0


MOST_CORNERS = 8
"""Corners of a space divided on point that have names of their own; further ones count as the last."""

_USUAL = {
    "frame": "frame",
    "on-point": "corner",
    "circle": "outside",
    "wedges": "wedge",
    "grid": "cell",
    "line": "side",
}


@dataclass(frozen=True, slots=True)
class DivideStep:
    """One division of what the one before left.

    ``name`` is the part's name where it is not the usual one; ``width_mm`` is a frame's (None: a tenth of the
    space); ``radius_mm`` a circle's (None: ``fit_percent`` of the largest that goes in);
    ``more_lines`` are the lines after the first that divide one by one; ``apart``: each corner is a part of its own;
    ``follow``: whether a frame's inner edge goes with the seams as they are, or straight within them.
    """

    by: Literal["frame", "on-point", "circle", "wedges", "grid", "line"]
    name: str | None = None
    width_mm: float | None = None
    radius_mm: float | None = None
    fit_percent: float = 100.0
    count: int = 0
    rows: int = 0
    cols: int = 0
    follow: Literal["seam", "straight"] = "seam"
    line: LineSource = ()
    more_lines: tuple[LineSource, ...] = ()
    apart: bool = False

    @property
    def stem(self) -> str:
        """The name of its part, or the beginning of its parts' names."""
        return self.name or _USUAL[self.by]

    @property
    def leaves_rest(self) -> bool:
        """Whether something is left over for the next division."""
        return self.by in ("frame", "on-point", "circle")

    @property
    def part_names(self) -> tuple[str, ...]:
        """The names of all its parts without ``rest``.

        Examples
        --------
        >>> DivideStep(by="grid", rows=1, cols=2).part_names
        ('cell-1-1', 'cell-1-2')
        """
        if self.by == "wedges":
            return tuple(f"{self.stem}-{k + 1}" for k in range(self.count))
        if self.by == "grid":
            return tuple(f"{self.stem}-{r + 1}-{c + 1}" for r in range(self.rows) for c in range(self.cols))
        if self.by == "line":
            # each further line can cut every piece that is there; none cuts more than all lines before it, plus one
            count = len(self.more_lines) + 1
            return tuple(f"{self.stem}-{k + 1}" for k in range(1 + count * (count + 1) // 2))
        if self.apart:
            return tuple(f"{self.stem}-{k + 1}" for k in range(MOST_CORNERS))
        return (self.stem,)


Halves: TypeAlias = Literal["left-right", "top-bottom"]
"""Halves of a top that mirror each other."""


@dataclass(frozen=True, slots=True)
class AlikeSpec:
    """How the spaces of one entry that are alike share one design.

    Attributes
    ----------
    any_size : bool
        Whether spaces of one shape and several sizes share it too, enlarged or reduced.
    within_mm : float or None
        How far outlines may be off each other; None for the usual share of their size.
    turn_deg, mirror : tuple of rows
        Turn counter-clockwise as seen and mirroring left to right by row and column, repeated over the top; empty for
        none.
    halves : tuple of "left-right", "top-bottom"
        Which halves of all these spaces mirror each other: what lies in the right or lower one is the other's image.
    """

    any_size: bool = False
    within_mm: float | None = None
    turn_deg: tuple[tuple[float, ...], ...] = ()
    mirror: tuple[tuple[bool, ...], ...] = ()
    halves: tuple[Halves, ...] = ()

    def at(self, row: int, column: int, rows: int, columns: int) -> tuple[float, bool]:
        """Return turn and mirroring wished at a row and column, counted from 0, of so many.

        The image of a design that is mirrored first and turned then is mirrored once more and turned the other way;
        left to right is upside down after half a turn.
        """
        if "left-right" in self.halves and 2 * column > columns - 1:
            turn, mirrored = self.at(row, columns - 1 - column, rows, columns)
            return -turn, not mirrored
        if "top-bottom" in self.halves and 2 * row > rows - 1:
            turn, mirrored = self.at(rows - 1 - row, column, rows, columns)
            return 180.0 - turn, not mirrored

        def said(table: tuple[tuple[float, ...], ...]) -> float:
            return table[row % len(table)][column % len(table[row % len(table)])] if table else 0

        return float(said(self.turn_deg)), bool(said(self.mirror))


@dataclass(frozen=True, slots=True)
class ZoneSpec:
    """One zone entry of the plan.

    Attributes
    ----------
    patches : tuple of str
        Names of patches; ``*`` stands for any letters, a leading ``!`` takes out again. Empty for a shape.
    shape : ShapeSpec or None
        A shape laid over the seams, instead of patches.
    each : {"patch", "joined"} or None
        One zone a patch; one for each group of patches that share a seam; None: one zone of all.
    least_mm : float or None
        Spaces that no circle of this diameter goes into stay open.
    inset_mm : float or None
        Clearance from the seams; None for the default.
    travel : {"outer-seams", "any-seam", "none"}
        Which seams may hide travel.
    vary : bool or None
        Whether repeats of one entry are drawn differently; None: where their fill is left to chance.
    alike : AlikeSpec or None
        Whether and how its spaces that are alike share one design.
    done : bool
        Whether it is stitched already: it stays as it was written and is in no new stitch file.
    framed : FramedSpec or None
        How its outline is sewn as its own line.
    shares : bool
        Whether other zones may have the same patches: it is only stitched in the ditch and takes up no room.
    """

    name: str
    patches: tuple[str, ...] = ()
    shape: ShapeSpec | None = None
    each: Literal["patch", "joined"] | None = None
    least_mm: float | None = None
    inset_mm: float | None = None
    fences: tuple[FenceSpec, ...] = ()
    leave_open: tuple[LeaveOpen, ...] = ()
    travel: Literal["outer-seams", "any-seam", "none"] = "outer-seams"
    thread: str = "main"
    divide: tuple[DivideStep, ...] = ()
    enter: PointPlace | None = None
    leave: PointPlace | None = None
    vary: bool | None = None
    alike: AlikeSpec | None = None
    done: bool = False
    framed: FramedSpec | None = None
    shares: bool = False
    order: Literal["last"] | None = None

    @property
    def part_names(self) -> tuple[str, ...]:
        """The names of all parts, ``inside`` last where there is one; an undivided zone is one part without a name.

        Examples
        --------
        >>> ZoneSpec("star", divide=(DivideStep(by="frame"), DivideStep(by="on-point"))).part_names
        ('frame', 'corner', 'inside')
        """
        names = [name for step in self.divide for name in step.part_names]
        return (*names, *(("",) if not self.divide else (INSIDE,) if self.divide[-1].leaves_rest else ()))


def matching(pattern: str, names: Iterable[str]) -> list[str]:
    """Return the names that a pattern stands for, in their order; ``*`` is any letters, also none.

    Examples
    --------
    >>> matching("wedge-*", ["inside", "wedge-1", "wedge-2"])
    ['wedge-1', 'wedge-2']
    """
    rule = re.compile(".*".join(re.escape(piece) for piece in pattern.split("*")), re.DOTALL)
    return [name for name in names if rule.fullmatch(name)]


def families_of(names: Iterable[str]) -> dict[str, list[str]]:
    """Return the names of alike patches together, by what they share."""
    families: dict[str, list[str]] = {}
    for name in names:
        families.setdefault(_family(name), []).append(name)
    return families


def _family(name: str) -> str:
    """Return what alike patches share: the name without numbers (``star-1-2`` and ``star-2-1``: ``star``)."""
    return re.sub(r"[-_ ]?\d+", "", name) or name


def family_matching(pattern: str, names: Iterable[str]) -> list[str]:
    """Return the names that a pattern with ``*`` means but for their number.

    Examples
    --------
    >>> family_matching("*-tip", ["star-1-1-tip-3", "star-1-1-sky"])
    ['star-1-1-tip-3']
    """
    return [n for n in names if "*" in pattern and matching(pattern, [re.sub(r"-\d+$", "", n)])]


def guides_matching(pattern: str, names: Iterable[str]) -> list[str]:
    """Return the guides that a pattern stands for; a guide made for many patches answers to its own name too.

    Examples
    --------
    >>> guides_matching("vine", ["vine in star-1-1", "vine in star-1-2", "edge"])
    ['vine in star-1-1', 'vine in star-1-2']
    """
    known = list(names)
    return matching(pattern, known) or [n for n in known if GUIDE_IN in n and matching(pattern, [n.split(GUIDE_IN)[0]])]
