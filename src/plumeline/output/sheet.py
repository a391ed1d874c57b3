"""What a drawn output shows, and the small door that every drawn format sits behind.

A *sheet* is walked once, by `draw`; what draws is a *sink*: it is told the shapes that are not stitched, then the
runs of stitching in their order. `RecordingSink` only writes down what it is told; readers of our own files give back
the same record, so that a round trip is one comparison.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Literal, Protocol, TypeAlias, TypeVar

import numpy as np

from ..errors import OutputError
from ..model import FloatArray, Line, Path

__all__ = [
    "RUN_KINDS",
    "SHAPE_KINDS",
    "Bounds",
    "Drawn",
    "LineSink",
    "RecordingSink",
    "Run",
    "Shape",
    "Sheet",
    "Stitched",
    "draw",
    "line_numbers",
]

RunKind: TypeAlias = Literal["stitch", "backtrack", "step", "seam-travel", "edge-travel", "jump"]
ShapeKind: TypeAlias = Literal["patch", "seam", "outline", "fence", "mark"]
RUN_KINDS: tuple[RunKind, ...] = ("stitch", "backtrack", "step", "seam-travel", "edge-travel", "jump")
SHAPE_KINDS: tuple[ShapeKind, ...] = ("patch", "seam", "outline", "fence", "mark")

_RUN_OF_SPAN: dict[str, RunKind] = {
    "stitch": "stitch",
    "backtrack": "backtrack",
    "step": "step",
    "seam": "seam-travel",
    "edge": "edge-travel",
}
Bounds: TypeAlias = tuple[float, float, float, float]
"""Left, top, right, bottom in mm."""
T_co = TypeVar("T_co", covariant=True)


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """Something drawn but not stitched; ``zone`` is -1 for what belongs to the top."""

    path: Path
    closed: bool
    kind: ShapeKind
    zone: int = -1
    colour: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A stretch of one line, all of one kind and zone (-1: between zones); or the jump to the next line.

    ``order`` is its place in the stitching order, from 1, and ``number`` what its line is called, where it was read
    from a file that says so.
    """

    path: Path
    kind: RunKind
    zone: int
    line: int
    order: int = 0
    number: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Stitched:
    """How one zone was stitched before: its shapes and runs as the drawing of that time holds them."""

    shapes: tuple[Shape, ...] = ()
    runs: tuple[Run, ...] = ()


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Sheet:
    """What a drawn output shows.

    Attributes
    ----------
    title : str
        Name of the work.
    names : tuple of str
        Zone names, as the lines' spans number zones.
    lines : sequence of Line
        In stitching order.
    shapes : tuple of Shape
        What is not stitched.
    size : (width, height) or None
        Of the top in mm, from the origin; None: only as large as what is drawn.
    done : mapping of int to Stitched
        Zones that are on the cloth already, by index: drawings show them unchanged, machines don't stitch them.
    origin : (x, y) or None
        The place that files for a machine call 0, 0; None: the lower left corner of what is drawn.
    """

    title: str
    names: tuple[str, ...] = ()
    lines: Sequence[Line] = ()
    shapes: tuple[Shape, ...] = ()
    size: tuple[float, float] | None = None
    done: Mapping[int, Stitched] = field(default_factory=dict)
    origin: tuple[float, float] | None = None

    def runs(self) -> list[Run]:
        """Return the stitching in order: each line cut only where its kind or zone changes, and the jumps between."""
        runs: list[Run] = []
        for i, line in enumerate(self.lines):
            kinds = [(_RUN_OF_SPAN[span.kind], span.zone) for span in line.spans]
            made = []
            for (kind, zone), group in groupby(range(len(kinds)), kinds.__getitem__):
                alike = list(group)
                path = line.path[line.spans[alike[0]].start : line.spans[alike[-1]].end + 1]
                made.append(Run(path, kind, zone, i))
            if runs and made and self.lines[runs[-1].line].reach == line.reach:
                last = runs[-1]
                between = np.vstack([last.path[-1:], made[0].path[:1]])
                runs.append(Run(between, "jump", last.zone if last.zone == made[0].zone else -1, last.line))
            runs += made
        return runs

    def bounds(self) -> Bounds:
        """Return left, top, right, bottom in mm (all 0 when there is nothing).

        Raises
        ------
        OutputError
            A coordinate is not finite.
        """
        corners = [np.array([[0.0, 0.0], self.size])] if self.size else []
        for i, line in enumerate(self.lines):
            corners += _box(line.path, f"line {i + 1}")
        for shape in self.shapes:
            corners += _box(shape.path, shape.kind)
        if not corners:
            return 0.0, 0.0, 0.0, 0.0
        every = np.vstack(corners)
        (left, top), (right, bottom) = every.min(axis=0).tolist(), every.max(axis=0).tolist()
        return left, top, right, bottom


def line_numbers(lines: Sequence[Line]) -> list[str]:
    """Return what each line is called: its place in sewing order from 1, as it is counted in the stitch file.

    Each reach has a file of its own, so there it is the reach's number and the line's in it: ``2-1``.
    """
    if len({line.reach for line in lines}) < 2:
        return [str(k) for k, _ in enumerate(lines, 1)]
    count: Counter[int] = Counter()
    out = []
    for line in lines:
        count[line.reach] += 1
        out.append(f"{line.reach}-{count[line.reach]}")
    return out


def _box(path: FloatArray, what: str) -> list[FloatArray]:
    if not len(path):
        return []
    box = np.array([path.min(axis=0), path.max(axis=0)])
    if not np.isfinite(box).all():
        raise OutputError(f"{what} has a coordinate that is not finite; every point must be a number")
    return [box]


class LineSink(Protocol[T_co]):
    """What every drawn format is: told the parts in order, it gives back what it made of them."""

    def begin(self, title: str, names: tuple[str, ...], bounds: Bounds) -> None:
        """Start, with everything known that stands at the head of a file."""

    def shape(self, shape: Shape) -> None:
        """Draw a shape that is not stitched."""

    def run(self, run: Run) -> None:
        """Draw a stretch of stitching; runs come in stitching order."""

    def finish(self) -> T_co:
        """End and return the result."""


def draw(sheet: Sheet, sink: LineSink[T_co]) -> T_co:
    """Walk a sheet through a sink and return what the sink made.

    Parameters
    ----------
    sheet : Sheet
        What is drawn and sewn.
    sink : LineSink
        It is told title, names and size, then each shape, then each run in stitching order.

    Returns
    -------
    any
        What its ``finish`` gives.

    Raises
    ------
    OutputError
        A coordinate is not finite.
    """
    sink.begin(sheet.title, sheet.names, sheet.bounds())
    for shape in sheet.shapes:
        if len(shape.path) > 1:
            sink.shape(shape)
    for run in sheet.runs():
        if len(run.path) > 1:
            sink.run(run)
    return sink.finish()


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A record of what a sink was told, or of what a file of ours holds."""

    title: str
    names: tuple[str, ...]
    shapes: tuple[Shape, ...]
    runs: tuple[Run, ...]


@dataclass(slots=True, eq=False)
class RecordingSink:
    """The plainest sink: it writes down what it is told."""

    title: str = ""
    names: tuple[str, ...] = ()
    shapes: list[Shape] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)

    def begin(self, title: str, names: tuple[str, ...], bounds: Bounds) -> None:
        """Write down title and names."""
        self.title, self.names = title, names

    def shape(self, shape: Shape) -> None:
        """Write down a shape."""
        self.shapes.append(shape)

    def run(self, run: Run) -> None:
        """Write down a run."""
        self.runs.append(run)

    def finish(self) -> Drawn:
        """Return the record."""
        return Drawn(self.title, self.names, tuple(self.shapes), tuple(self.runs))
