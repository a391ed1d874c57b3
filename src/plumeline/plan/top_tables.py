"""The tables ``[top]``, ``[machine]``, ``[batting]`` and ``[thread.NAME]`` of a plan."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from ..model import Batting, BattingKind, BattingSample, Machine, Thread
from ..units import MM_PER
from .fields import Colour, Count, Mm, Name, Number, Points, Side, Table, YesNo

__all__ = [
    "BattingTable",
    "BlocksTable",
    "BorderTable",
    "Fabric",
    "FabricTable",
    "KnownTable",
    "MachineTable",
    "MeasuredTable",
    "PiecesTable",
    "PricesTable",
    "RateTable",
    "SampleTable",
    "SashingTable",
    "ThreadTable",
    "TopTable",
]

MOST_BLOCKS = 100
"""Blocks in a row and rows in a setting; a king size quilt of 2 in blocks has 60."""


MOST_PIECES = 1_000
"""Pieces of one block that have names."""

MOST_UNITS = 400
"""Units along one side of a pieced border: bars of 1/4 in round a king size quilt."""

SAMPLE_LEAST = 0.8
"""A sample that comes out smaller than this share was felted, not drawn in."""


def _grid(value: object) -> object:
    return [value, value] if isinstance(value, int) and not isinstance(value, bool) else value


def _traditional(value: object) -> object:
    return {"block": value} if isinstance(value, str) else value


class PiecesTable(Table):
    """How a block is cut: by lines (points from its top left corner), by an even grid, or as a traditional block."""

    lines: Annotated[tuple[Points, ...], Field(max_length=MOST_BLOCKS)] = ()
    grid: Annotated[tuple[Count, Count], BeforeValidator(_grid)] | None = None
    names: Annotated[tuple[Name, ...], Field(max_length=MOST_PIECES)] | dict[Name, Name] = ()
    block: Name | None = None
    turn_deg: Number = 0.0

    @model_validator(mode="after")
    def _some_cut(self) -> Self:
        if bool(self.lines) + (self.grid is not None) + (self.block is not None) != 1:
            raise ValueError("must have one of lines, a grid (rows and columns), the name of a traditional block")
        if self.block is None and self.turn_deg:
            raise ValueError("has a turn; only a traditional block is turned")
        if self.block is not None and self.names:
            raise ValueError("has names; the pieces of a traditional block are named by their fabrics")
        if self.turn_deg not in (0, 90, 180, 270):
            raise ValueError(f"turn is {self.turn_deg:g}; must be 0, 90, 180 or 270 degrees")
        if isinstance(self.names, dict) and not all(re.fullmatch(r"[1-9]\d{0,3}", place) for place in self.names):
            raise ValueError("has names by something else than the number of a piece; write them as { 1 = 'center' }")
        return self

    @property
    def by_place(self) -> tuple[str, ...] | dict[int, str]:
        """Names of all pieces in reading order, or of some by their number, from 1."""
        if isinstance(self.names, dict):
            return {int(place): name for place, name in self.names.items()}
        return self.names


class SashingTable(Table):
    """Strips between the blocks; ``outer``: also around them; ``cornerstones``: squares where they cross."""

    width_mm: Side
    outer: YesNo = False
    cornerstones: YesNo = False


class BorderTable(Table):
    """One border, listed from the inside out."""

    name: Name
    width_mm: Side
    corners: Literal["mitred", "butted", "cornerstones"] = "butted"
    pieced: Literal["squares", "keys", "sawtooth", "geese"] | None = None
    count: tuple[Count, Count] | None = None

    @model_validator(mode="after")
    def _can_be_sewn(self) -> Self:
        if self.pieced and self.corners == "mitred":
            raise ValueError("is pieced and mitred; a pieced border has 'cornerstones' or is 'butted'")
        if self.count is not None and self.pieced is None:
            raise ValueError("has a count, but is not pieced; count is for the units of a pieced border")
        if self.count is not None and max(self.count) > MOST_UNITS:
            raise ValueError(f"count is {list(self.count)}; must be at most {MOST_UNITS} a side")
        return self

    @property
    def turned(self) -> Literal["mitred", "butted", "cornerstones"]:
        """How its corners are sewn: a pieced border has cornerstones unless it says otherwise."""
        return "cornerstones" if self.pieced and "corners" not in self.model_fields_set else self.corners


Row = Annotated[tuple[Name, ...], Field(min_length=1, max_length=MOST_BLOCKS)]


class BlocksTable(Table):
    """A top of equal blocks, given as rows of block names."""

    setting: Literal["straight", "on-point"] = "straight"
    size_mm: Side
    rows: Annotated[tuple[Row, ...], Field(min_length=1, max_length=MOST_BLOCKS)]
    between: Name | None = None
    sashing: SashingTable | None = None
    borders: Annotated[tuple[BorderTable, ...], Field(max_length=20)] = ()
    pieces: dict[Name, Annotated[PiecesTable, BeforeValidator(_traditional)]] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if len({len(row) for row in self.rows}) > 1:
            lengths = ", ".join(str(len(row)) for row in self.rows)
            raise ValueError(f"rows have {lengths} blocks; all rows must be equally long")
        if self.between is not None and self.setting == "straight":
            raise ValueError("between is only for blocks on point; add setting = 'on-point' or take it out")
        if self.setting == "on-point" and self.between is None and len(self.rows) > 1 and len(self.rows[0]) > 1:
            raise ValueError("between is missing; blocks on point need the name of the blocks between the rows")
        names = [border.name for border in self.borders]
        if len(set(names)) < len(names):
            raise ValueError(f"borders are named {', '.join(names)}; each must have its own name")
        known = {name for row in self.rows for name in row} | {self.between}
        for name in self.pieces:
            if name not in known:
                blocks = ", ".join(sorted(k for k in known if k))
                raise ValueError(f"pieces cut '{name}', which is no block here; the blocks are {blocks}")
        return self


class MeasuredTable(Table):
    """One block from a tape measure: its sides in order, clockwise from the top, and its diagonals.

    The first diagonal runs from the top left corner, the second from the top right one.
    """

    sides_mm: Annotated[tuple[Side, ...], Field(min_length=3, max_length=12)]
    diagonals_mm: Annotated[tuple[Side, ...], Field(max_length=20)] = ()


class KnownTable(Table):
    """One length that she knows: between two points, in the drawing's own units."""

    from_: tuple[Number, Number]
    to: tuple[Number, Number]
    length_mm: Side


class TopTable(Table):
    """What the top is: a drawing, a table of blocks, one measured block, or nothing but a photo squared up."""

    drawing: Name | None = None
    read: Literal["painted", "lines"] = "painted"
    page: Count | None = None
    width_mm: Side | None = None
    height_mm: Side | None = None
    known: KnownTable | None = None
    blocks: BlocksTable | None = None
    measured: MeasuredTable | None = None
    close_gaps_mm: Annotated[Mm, Field(ge=0.0, le=25.4)] = 0.79375
    guides: Annotated[tuple[Name, ...], Field(max_length=500)] = ()
    pressed: Literal["to-one-side", "open"] = "to-one-side"
    photo: Name | None = None
    film: Name | None = None

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        given = [name for name in ("drawing", "blocks", "measured") if getattr(self, name) is not None]
        if len(given) > 1 or not (given or self.photo):
            raise ValueError(
                f"says {' and '.join(given) or 'nothing'} of where the patches come from; "
                "must have exactly one of drawing, blocks, measured, or a photo alone"
            )
        sizes = [name for name in ("width", "height", "known") if getattr(self, SIZES[name]) is not None]
        if len(sizes) > 1:
            raise ValueError(f"says {' and '.join(sizes)}; one of them gives the drawing its size")
        if self.drawing is None and (sizes or self.page or self.read != "painted"):
            raise ValueError("says read, page, width, height or known, which are only for a drawing")
        return self


SIZES = {"width": "width_mm", "height": "height_mm", "known": "known"}
"""The keys that give a drawing its size, and their fields."""


def _yards(value: float | None) -> float | None:
    return None if value is None else value * MM_PER["yd"]


class MachineTable(Table):
    """The machine; what is not said keeps the default of `plumeline.model.Machine`."""

    guided: Literal["computer", "hand", "ruler"] | None = None
    stitches_per_inch: Annotated[Number, Field(ge=4.0, le=20.0)] | None = None
    least_stitch_mm: Annotated[Mm, Field(ge=0.3, le=3.0)] | None = None
    chord_mm: Annotated[Mm, Field(ge=0.02, le=1.0)] | None = None
    reach_mm: tuple[Side, Side] | None = None
    throat_mm: Side | None = None
    frame: YesNo | None = None
    trimmer: YesNo | None = None
    ties: Literal["tiny", "back", "bury"] | None = None
    start_stop_seconds: Annotated[Number, Field(ge=0.0, le=3600.0)] | None = None
    order: Literal["rows", "centre-out", "any"] | None = None
    bobbin_yards: Annotated[Number, Field(gt=0.0, le=2000.0)] | None = None
    stitches_a_minute: Annotated[Number, Field(ge=50.0, le=5000.0)] | None = None

    @model_validator(mode="after")
    def _one_reach(self) -> Self:
        if self.reach_mm is not None and self.throat_mm is not None:
            raise ValueError("says reach and throat; must have one of them")
        if self.frame and self.reach_mm is None and self.throat_mm is None:
            raise ValueError("says frame = true, but not how deep the machine reaches; must have throat too")
        return self

    def _reach(self) -> tuple[float, float] | None:
        """Return width and height that the machine gets to; on a frame the width is the quilt's."""
        reach = self.reach_mm if self.throat_mm is None else (self.throat_mm, self.throat_mm)
        return (math.inf, reach[1]) if self.frame and reach is not None else reach

    def machine(self) -> Machine:
        """Return the machine that the rest of the program works with."""
        said: dict[str, Any] = {
            "guided": self.guided,
            "stitch_mm": MM_PER["in"] / self.stitches_per_inch if self.stitches_per_inch else None,
            "least_stitch_mm": self.least_stitch_mm,
            "chord_mm": self.chord_mm,
            "reach_mm": self._reach(),
            "trimmer": self.trimmer,
            "ties": self.ties,
            "start_stop_seconds": self.start_stop_seconds,
            "order": self.order,
            "bobbin_mm": _yards(self.bobbin_yards),
            "stitches_a_minute": self.stitches_a_minute,
        }
        return Machine(**{key: value for key, value in said.items() if value is not None})


class SampleTable(Table):
    """A sample square that she quilted with her batting, and its width before and after."""

    quilted: Literal["channel", "crosshatch"]
    spacing_mm: Annotated[Mm, Field(ge=3.0, le=250.0)]
    before_mm: Annotated[Mm, Field(ge=50.0, le=2000.0)]
    after_mm: Side

    @model_validator(mode="after")
    def _drawn_in(self) -> Self:
        if not SAMPLE_LEAST * self.before_mm <= self.after_mm < self.before_mm:
            raise ValueError(
                f"came out {100 * self.after_mm / self.before_mm:.1f} % as wide as before; "
                f"must be smaller than before, and at least {100 * SAMPLE_LEAST:g} %"
            )
        return self


class BattingTable(Table):
    """The batting: the widest gap that its label allows, its thickness under the thread, and how high it stands."""

    widest_gap_mm: Annotated[Mm, Field(ge=3.0, le=500.0)] | None = None
    thickness_mm: Annotated[Mm, Field(ge=0.2, le=50.0)] | None = None
    kind: BattingKind | None = None
    loft_mm: Annotated[Mm, Field(ge=0.3, le=25.0)] | None = None
    sample: SampleTable | None = None

    @model_validator(mode="after")
    def _one_loft(self) -> Self:
        if self.loft_mm is not None and self.sample is not None:
            raise ValueError("has a loft and a sample; must have one of them: the sample tells the loft")
        return self

    def batting(self) -> Batting:
        """Return the batting that the rest of the program works with."""
        said: dict[str, Any] = {
            "widest_gap_mm": self.widest_gap_mm,
            "thickness_mm": self.thickness_mm,
            "kind": self.kind,
            "loft_mm": self.loft_mm,
            "sample": None if self.sample is None else BattingSample(**self.sample.model_dump()),
        }
        return Batting(**{key: value for key, value in said.items() if value is not None})


class FabricTable(Table):
    """A fabric: its colour, or a picture of its print, ``width`` across on the cloth and repeated."""

    colour: Colour | None = None
    picture: Name | None = None
    width_mm: Annotated[Mm, Field(ge=2.0, le=2000.0)] | None = None

    @model_validator(mode="after")
    def _one_look(self) -> Self:
        if (self.colour is None) == (self.picture is None):
            raise ValueError("must have either a colour or a picture")
        if (self.picture is None) != (self.width_mm is None):
            raise ValueError("must say the width of its picture on the cloth" if self.picture else "has no picture")
        return self


class RateTable(Table):
    """What quilting of one kind costs: an amount per square inch of its space, or per hour at the machine."""

    per_square_inch: Annotated[Number, Field(ge=0.0, le=1e6)] | None = None
    per_hour: Annotated[Number, Field(ge=0.0, le=1e6)] | None = None

    @model_validator(mode="after")
    def _one_unit(self) -> Self:
        if (self.per_square_inch is None) == (self.per_hour is None):
            raise ValueError("must say either per_square_inch or per_hour")
        return self


def _rate(value: object) -> object:
    if isinstance(value, (int, float)):
        raise ValueError(f"is {value}, without a unit; must be a table such as {{ per_square_inch = {value} }}")
    return value


class PricesTable(Table):
    """What she asks for her work: a rate for each kind of fill (``*``: all others), and the least for any quilt."""

    currency: Annotated[str, Field(strict=True, min_length=1, max_length=6)] = "$"
    minimum: Annotated[Number, Field(ge=0.0, le=1e9)] = 0.0
    fills: Annotated[dict[Name, Annotated[RateTable, BeforeValidator(_rate)]], Field(min_length=1, max_length=100)]


def _fabric(value: object) -> object:
    return {"colour": value} if isinstance(value, str) else value


Fabric = Annotated[FabricTable, BeforeValidator(_fabric)]
"""``"#e9dfc8"``, or a table."""


class ThreadTable(Table):
    """A thread."""

    colour: Colour | None = None

    def thread(self, name: str) -> Thread:
        """Return the thread that the rest of the program works with."""
        return Thread(name=name) if self.colour is None else Thread(name=name, colour=self.colour)
