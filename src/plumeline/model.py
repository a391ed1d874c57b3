"""What one room hands to the next: frozen, millimetres, x right, y DOWN as on the page.

Angles are degrees, counter-clockwise as seen on the page, 0 = to the right.
Paths are ``(n, 2)`` float64 arrays, read-only and finite; a closed path does not repeat its first point.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .codes import FindingCode

if TYPE_CHECKING:
    from shapely import Polygon

    from .units import Unit

__all__ = [
    "Barest",
    "Batting",
    "BattingKind",
    "BattingSample",
    "BoolArray",
    "Fabric",
    "Fence",
    "Filled",
    "Finding",
    "FloatArray",
    "Frame",
    "IntArray",
    "Line",
    "Machine",
    "Needle",
    "NeedlePoints",
    "Patch",
    "Path",
    "Photo",
    "Reach",
    "Relief",
    "Seam",
    "Severity",
    "Span",
    "Stage",
    "Stroke",
    "Thread",
    "Top",
    "Way",
    "Zone",
    "as_path",
]

FloatArray: TypeAlias = NDArray[np.float64]
IntArray: TypeAlias = NDArray[np.int64]
BoolArray: TypeAlias = NDArray[np.bool_]
Path: TypeAlias = FloatArray
"""A polyline: ``(n, 2)``, mm, y down, read-only, finite."""

Severity: TypeAlias = Literal["note", "warning", "error"]
Stage: TypeAlias = Literal["ditch", "ruler", "motif", "background", "last"]
"""Sewing order within a reach, first to last."""


def as_path(points: ArrayLike) -> Path:
    """Return points as a `Path`: a read-only float64 copy, checked for shape and finiteness.

    Parameters
    ----------
    points : (n, 2) array_like
        mm, y down.

    Returns
    -------
    Path
        ``(n, 2)`` float64.

    Raises
    ------
    ValueError
        The points are not ``(n, 2)`` or not finite.

    Examples
    --------
    >>> as_path([(0, 0), (25.4, 0)]).shape
    (2, 2)
    """
    path = np.array(points, dtype=np.float64)
    if path.ndim != 2 or path.shape[1] != 2:
        raise ValueError(f"a path has shape (n, 2), not {path.shape}")
    if not np.isfinite(path).all():
        raise ValueError("a path must be finite")
    path.setflags(write=False)
    return path


@dataclass(frozen=True, slots=True)
class Finding:
    """Something the program noticed, with what to do about it.

    ``code`` is stable and documented in ``docs/findings.md``.
    """

    code: FindingCode
    severity: Severity
    zone: str | None
    text: str
    what_to_do: str


@dataclass(frozen=True, slots=True)
class Frame:
    """Where a zone lies: its origin on the page (mm) and its turn (degrees, counter-clockwise as seen)."""

    origin: tuple[float, float] = (0.0, 0.0)
    angle_deg: float = 0.0

    def to_page(self, points: ArrayLike) -> FloatArray:
        """Return points given in this frame as points of the page."""
        page: FloatArray = np.asarray(points, dtype=np.float64) @ self._turn() + np.asarray(self.origin)
        return page

    def to_local(self, points: ArrayLike) -> FloatArray:
        """Return points of the page as points of this frame."""
        local: FloatArray = (np.asarray(points, dtype=np.float64) - np.asarray(self.origin)) @ self._turn().T
        return local

    def _turn(self) -> FloatArray:
        # Row vectors, y down: a turn that is counter-clockwise as seen has the usual signs swapped.
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        return np.array([[c, -s], [s, c]])


@dataclass(frozen=True, slots=True, eq=False)
class Fabric:
    """A picture of printed fabric: ``pixels`` ``(rows, cols, 3)`` uint8, repeated every ``width_mm`` on the cloth."""

    pixels: NDArray[np.uint8]
    width_mm: float

    @property
    def height_mm(self) -> float:
        """How far its repeat is from top to bottom."""
        rows, cols = self.pixels.shape[:2]
        return float(self.width_mm * rows / cols)


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A photo of the top, squared up: ``pixels`` ``(rows, cols, 3)`` uint8 from the top's upper left corner on."""

    pixels: NDArray[np.uint8]
    px_a_mm: float

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in mm."""
        rows, cols = self.pixels.shape[:2]
        return cols / self.px_a_mm, rows / self.px_a_mm


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """One piece of the pieced top: its name, its outline at true size, its fabric's colour (``#rrggbb``) and print."""

    name: str
    outline: Polygon
    colour: str | None = None
    fabric: Fabric | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Seam:
    """A stretch of seam between patches ``a`` and ``b`` (``b`` is None at the quilt's edge)."""

    a: str
    b: str | None
    path: Path
    may_travel: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Top:
    """The pieced quilt top: patches, the seams between them, named guide lines, width and height in mm.

    ``photo``: how it really looks, drawn behind the lines in every picture in place of the patches' colours.
    """

    patches: tuple[Patch, ...]
    seams: tuple[Seam, ...]
    guides: Mapping[str, Path]
    size: tuple[float, float]
    findings: tuple[Finding, ...] = ()
    photo: Photo | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Fence:
    """A limit line, never stitched; ``soft_mm`` is how far a plume may lean over it (0: firm)."""

    path: Path
    soft_mm: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """Where travel may go: in a seam, along the zone's own edge, on a link between the two, or on old stitching.

    ``factor`` weighs its length against stitching; ``passes`` is how often it may be gone along.
    """

    path: Path
    kind: Literal["seam", "edge", "link", "stitched"]
    factor: float = 1.0
    passes: int = 2


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """One space to be filled.

    Attributes
    ----------
    region : shapely.Polygon
        ONE valid polygon that may be stitched: inset done; holes, parts left open and other parts taken out.
    outline : shapely.Polygon
        The space before inset and cut-outs, for reference and for fits "to the patch".
    fences : tuple of Fence
        Cuts of no width inside the region; see ``geometry.pieces``.
    left_open : tuple of shapely.Polygon
        The parts left open (already out of ``region``).
    ways : tuple of Way
        Where travel may go for this zone.
    enter, leave : (x, y) or None
        Wished start and end of the stitching.
    frame : Frame
        Origin and angle of the zone, moved and turned with it.
    chance : int
        Seed of everything left to chance in this zone part.
    laid : tuple of shapely.Polygon
        The shapes laid over the seams that bound it, each with its clearance: grown where the zone lies about it,
        shrunk where the zone is in it.
    unit : {"in", "mm", "cm"}
        The unit of lengths in what is said of it.
    """

    name: str
    part: str
    number: int
    region: Polygon
    outline: Polygon
    fences: tuple[Fence, ...] = ()
    left_open: tuple[Polygon, ...] = ()
    ways: tuple[Way, ...] = ()
    enter: tuple[float, float] | None = None
    leave: tuple[float, float] | None = None
    frame: Frame = field(default_factory=Frame)
    chance: int = 0
    laid: tuple[Polygon, ...] = ()
    unit: Unit = "in"

    @property
    def label(self) -> str:
        """Name, part and number as said to her: ``"big star, inside 2"``."""
        alone = self.number == 1 and self.part in ("", "inside")
        return ", ".join(filter(None, (self.name, f"{self.part}{'' if alone else f' {self.number}'}".strip())))


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """One drawn polyline that must be stitched.

    Attributes
    ----------
    path : Path
        ``(n, 2)``; first point not repeated when closed.
    role : {"stitch", "backtrack", "step"}
        ``backtrack`` goes exactly along stitching already there; ``step`` is a short visible link.
    chain : int or None
        Strokes of one zone and fill with one chain number follow each other without a break, in the
        order given, and reverse as a whole.
    atomic : bool
        Entered only at its ends; the joining never splits it.
    entry : {"ends", "anywhere"}
        Where a line may enter a closed stroke.
    """

    path: Path
    closed: bool = False
    role: Literal["stitch", "backtrack", "step"] = "stitch"
    chain: int | None = None
    atomic: bool = False
    entry: Literal["ends", "anywhere"] = "anywhere"
    zone: str = ""
    fill: str = ""
    thread: str = "main"


@dataclass(frozen=True, slots=True)
class Barest:
    """The place of a zone that is farthest from every line for what its fills promise, and how many times too far."""

    place: tuple[float, float]
    times: float


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """What a fill returns: strokes, the region it used up, fences it set itself, findings.

    ``enclosed``: parts of what it used up that it leaves to the fills after it.
    ``bare_mm2``: what of the zone lies farther from every line than its fills promise; measured once all of them
    have drawn, so a single fill leaves it at 0. ``barest``: the worst place of a bald spot that is told.
    """

    strokes: tuple[Stroke, ...] = ()
    taken: tuple[Polygon, ...] = ()
    fences: tuple[Fence, ...] = ()
    findings: tuple[Finding, ...] = ()
    enclosed: tuple[Polygon, ...] = ()
    bare_mm2: float = 0.0
    barest: Barest | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch ``path[start:end + 1]`` of a line, all of one kind.

    ``kind`` is ``"link"``'s too: a short link between a zone's outline and its seam counts as ``edge``. ``zone`` is
    the place of its zone among those of the quilt: that of its stroke; travel has no stroke and belongs to the zone
    that it starts and ends in (at the line's ends: to the only neighbour), between two zones to none (-1).
    """

    start: int
    end: int
    kind: Literal["stitch", "backtrack", "seam", "edge", "step"]
    stroke: int | None = None
    pass_no: int = 1
    zone: int = -1


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One continuous stretch of stitching.

    Spans follow each other along the path: where one ends the next begins, or later where some were left out.
    """

    path: Path
    spans: tuple[Span, ...]
    thread: str = "main"
    reach: int = 1

    def __post_init__(self) -> None:
        """Check the spans: a wrong one would sew, draw or count another stretch in silence."""
        reached = 0
        for span in self.spans:
            if not reached <= span.start < span.end < len(self.path):
                raise ValueError(f"a line of {len(self.path)} points has {span} after point {reached}")
            reached = span.end


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """What the machine gets to at once: its number from 1 in sewing order, its window and its own marks.

    ``window`` is left, top, right, bottom in mm; ``marks`` ``(k, 2)`` lie in its overlap with an earlier reach.
    """

    number: int
    window: tuple[float, float, float, float]
    marks: Path


class Needle(IntEnum):
    """What happens at a row of `NeedlePoints`."""

    STITCH = 0
    TIE = 1
    JUMP = 2
    TRIM = 3
    STOP = 4
    END = 5


@dataclass(frozen=True, slots=True, eq=False)
class NeedlePoints:
    """Needle points and commands of one reach as parallel arrays, one row a point or command.

    Attributes
    ----------
    xy : (n, 2) float64
        mm, y down.
    kind : (n,) uint8
        What it is: the values of `Needle`.
    span, line, zone : (n,) int32
        Index of the span within its line, of the line, and into ``names`` (-1: none).
    names : tuple of str
        Zone names.
    reach : int
        Number of the reach, from 1.
    """

    xy: FloatArray
    kind: NDArray[np.uint8]
    span: NDArray[np.int32]
    line: NDArray[np.int32]
    zone: NDArray[np.int32]
    names: tuple[str, ...] = ()
    reach: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The machine and how it is guided; every default is trade judgement, and a setting.

    Lengths in mm, times in s. ``reach_mm`` is (width, height) or None for "all at once"; on a frame, which carries
    the machine right across the quilt, the width is inf.
    """

    guided: Literal["computer", "hand", "ruler"] = "computer"
    stitch_mm: float = 2.54
    least_stitch_mm: float = 1.2
    chord_mm: float = 0.2
    reach_mm: tuple[float, float] | None = None
    trimmer: bool = False
    ties: Literal["tiny", "back", "bury"] = "tiny"
    start_stop_seconds: float | None = None
    order: Literal["rows", "centre-out", "any"] = "any"
    bobbin_mm: float | None = None
    stitches_a_minute: float = 1300.0
    speed_mm_s: float | None = None

    @property
    def move_s(self) -> float:
        """Seconds for each move of the quilt: 120 where a frame rolls it on, 300 where it is hooped and marked anew."""
        return 120.0 if self.reach_mm is not None and math.isinf(self.reach_mm[0]) else 300.0

    @property
    def pause_s(self) -> float:
        """Seconds for each start and stop: 20 with a trimmer, 45 without, 120 buried, unless stated."""
        if self.start_stop_seconds is not None:
            return self.start_stop_seconds
        return 120.0 if self.ties == "bury" else 20.0 if self.trimmer else 45.0

    @property
    def pace_mm_s(self) -> float:
        """Mean sewing pace in mm/s: computer 71 (measured), hand 1 in/s, ruler 1/2 in/s."""
        if self.speed_mm_s is not None:
            return self.speed_mm_s
        return {
            "computer": min(71.0, self.stitches_a_minute * self.stitch_mm / 60),
            "hand": 25.4,
            "ruler": 12.7,
        }[self.guided]

    @property
    def jump_mm(self) -> float:
        """Price of a jump in mm of sewing: the seconds of a start and stop times the mean pace."""
        return self.pause_s * self.pace_mm_s


BattingKind: TypeAlias = Literal["thin cotton", "cotton-poly", "wool", "high loft"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BattingSample:
    """A sample square that she quilted: how, how far apart, and its width before and after, mm."""

    quilted: Literal["channel", "crosshatch"]
    spacing_mm: float
    before_mm: float
    after_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Batting:
    """The batting: widest gap that its label allows (None: not stated) and thickness under the thread, mm.

    ``loft_mm``: how far the cloth stands above the stitch line where nothing holds it down (None: that of its kind,
    or what her ``sample`` tells).
    """

    widest_gap_mm: float | None = None
    thickness_mm: float = 2.0
    kind: BattingKind = "thin cotton"
    loft_mm: float | None = None
    sample: BattingSample | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Relief:
    """How the quilted cloth stands up, on a grid of square cells (an estimate).

    Attributes
    ----------
    left, top, step_mm : float
        The grid's corner on the top and the side of its cells; values belong to the cells' middles.
    loft_mm, range_mm : float
        How high the cloth stands where nothing holds it down, and how far from a line it is back up.
    height : (rows, cols) float32
        mm above the stitch line.
    across, down : (rows, cols) float32
        How much of its width, and of its height, each cell loses: half the square of the slope.
    """

    left: float
    top: float
    step_mm: float
    loft_mm: float
    range_mm: float
    height: NDArray[np.float32]
    across: NDArray[np.float32]
    down: NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Thread:
    """A thread of the plan."""

    name: str = "main"
    colour: str = "#5b5147"
