"""What the main job gives back: all of the quilt, and its report."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from ..model import Filled, Finding, Line, NeedlePoints, Reach, Top, Zone
from ..output import Stitched, report_table
from ..plan import Plan
from ..review import LoftFigures, ZoneRow

__all__ = ["DoneRow", "Finished", "ReachRow", "Report", "ShownRow", "Totals"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Figures of the whole quilt, as ``report.json`` holds them; what each means is told in ``docs/formats.md``."""

    stitches: int
    trims: int
    minutes: float
    moving_minutes: float
    needle_thread_m: float
    bobbin_thread_m: float
    bobbins: int | None
    shortest_stitch_mm: float
    longest_stitch_mm: float
    sewn_mm: float
    backtracked_mm: float
    seam_travel_mm: float
    edge_travel_mm: float
    step_mm: float
    lines: int
    jumps: int
    planned_stops: int
    jump_mm: float
    longest_line_mm: float
    busiest_passes: int
    fewest_lines_possible: int
    widest_gap_mm: float
    densest_inch: float
    square_inches: float


@dataclass(frozen=True, slots=True)
class DoneRow:
    """How many zones were stitched before, and how much was sewn in them."""

    zones: int
    sewn_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachRow:
    """Where one reach lies, what its files call 0, 0, and where its marks are, mm on the top."""

    number: int
    window_mm: tuple[float, ...]
    origin: str | None
    origin_mm: tuple[float, ...]
    marks_mm: dict[str, tuple[float, ...]]
    lines: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownRow:
    """A crooked seam that straight lines of a fill show, by how much, where it lies and which line shows it most.

    ``score`` is how much the gap between the two changes as a share of it: 1 is as much as it is wide. ``line_mm`` is
    empty, and what is told of the gap None, where a grid of lines ends at the seam.
    """

    zone: str
    fill: str
    seam: str
    off_mm: float
    away_mm: float | None
    varies_mm: float | None
    score: float
    seam_mm: tuple[tuple[float, ...], ...]
    line_mm: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What was stitched, in figures and findings; ``report.json`` is this, field by field.

    ``report["totals"]`` gives a field as that file holds it: plain tables, lists and numbers.

    Attributes
    ----------
    reaches : tuple of ReachRow
        Empty when the machine gets to everything at once.
    loft : LoftFigures
        How the cloth will stand up and draw in: an estimate.
    files : tuple of str
        Names of the files, once they are written.
    shown : tuple of ShownRow
        Which straight lines show which crooked seams, fill by fill, the plainest of each first.
    """

    title: str
    plumeline: str
    units: str = "mm"
    totals: Totals
    zones: tuple[ZoneRow, ...]
    done: DoneRow
    findings: tuple[Finding, ...]
    loft: LoftFigures
    files: tuple[str, ...] = ()
    reaches: tuple[ReachRow, ...] = ()
    shown: tuple[ShownRow, ...] = ()

    def keys(self) -> Iterator[str]:
        """Return the keys of ``report.json``, in its order."""
        return (field.name for field in fields(self))

    def __getitem__(self, key: str) -> Any:
        """Return one field as ``report.json`` holds it; ``KeyError`` when there is none of that name."""
        return report_table(self)[key]


@dataclass(frozen=True, slots=True, eq=False)
class Finished:
    """All of a quilt, from the plan to the report: what its files are made of.

    Attributes
    ----------
    reaches : tuple of Reach
        Empty when the machine gets to everything at once.
    done : mapping of int to Stitched
        How each zone that is on the cloth already was stitched (``output.Stitched``), by its place among the zones; no
        line and no needle point of this quilt goes there again but for travel.
    """

    plan: Plan
    top: Top
    zones: tuple[Zone, ...]
    filled: tuple[Filled, ...]
    lines: tuple[Line, ...]
    points: tuple[NeedlePoints, ...]
    report: Report
    reaches: tuple[Reach, ...] = ()
    done: Mapping[int, Stitched] = field(default_factory=dict)
