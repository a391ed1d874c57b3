"""The tables ``[[zone]]`` of a plan and what stands in them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, Self, TypeAlias, TypeVar

from pydantic import BeforeValidator, Field, model_validator

from ..specs import (
    FRAMED,
    INSIDE,
    OLD_INSIDE,
    AlikeSpec,
    DivideStep,
    FenceSpec,
    FramedSpec,
    Halves,
    LeaveOpen,
    LineSource,
    ShapeSpec,
    ZoneSpec,
)
from .fields import Count, LineText, Mm, Name, Number, Place, Point, Points, Side, Table, YesNo

__all__ = ["ZoneTable", "only_ditch"]

_T = TypeVar("_T")

MOST_NAMES = 2_000
"""Names of patches in one zone."""

MOST_PARTS = 200
"""Parts of one division: beyond this a fill of lines is meant."""


MOST_LINES = 12
"""Lines of one division."""

MOST_ROWS = 50
"""Rows of one frame line: more of them are a fill of rings."""

_TIMES = {"once": 1, "twice": 2}

_TAKES = {
    "on-point": ({"size"},),
    "square": ({"size"},),
    "rectangle": ({"width", "height"},),
    "circle": ({"radius"}, {"size"}),
    "oval": ({"width", "height"},),
    "polygon": ({"points"},),
}


class FenceTable(Table):
    """``{ line = "fence-2", soft = "3/8" }``."""

    line: LineText
    soft_mm: Annotated[Mm, Field(ge=0.0, le=250.0)] = 0.0

    def spec(self) -> FenceSpec:
        """Return the fence."""
        return FenceSpec(_source(self.line), self.soft_mm)


class LeaveOpenTable(Table):
    """``{ centre = [30, 30], radius = 2 }``."""

    centre: Point
    radius_mm: Side


class ShapeTable(Table):
    """A shape laid over the seams."""

    kind: Literal["on-point", "square", "rectangle", "circle", "oval", "polygon"]
    at: Place | None = None
    size_mm: Side | None = None
    width_mm: Side | None = None
    height_mm: Side | None = None
    radius_mm: Side | None = None
    points: Annotated[Points, Field(min_length=3)] | None = None
    turn_deg: Annotated[Number, Field(ge=-360.0, le=360.0)] = 0.0

    @model_validator(mode="after")
    def _complete(self) -> Self:
        fields = {"size": self.size_mm, "width": self.width_mm, "height": self.height_mm, "radius": self.radius_mm}
        given = {name for name, value in {**fields, "points": self.points}.items() if value is not None}
        if given not in _TAKES[self.kind]:
            takes = " or ".join(" and ".join(sorted(keys, reverse=True)) for keys in _TAKES[self.kind])
            raise ValueError(f"has {' and '.join(sorted(given)) or 'no size'}; a shape '{self.kind}' takes {takes}")
        if (self.at is None) != (self.kind == "polygon"):
            raise ValueError(
                "has no at; must say where its middle is: a patch, patches that meet there, or [x, y]"
                if self.at is None
                else "has at; the points of a polygon say already where it lies"
            )
        return self

    def spec(self) -> ShapeSpec:
        """Return the shape."""
        width = self.size_mm or self.width_mm or 2 * (self.radius_mm or 0.0)
        height = self.height_mm or width
        return ShapeSpec(self.kind, self.at, width, height, self.points or (), self.turn_deg)


class _Division(Table):
    as_: Name | None = None

    def spec(self) -> DivideStep:
        """Return the division."""
        said = {name: value for name, value in self if name != "as_" and value is not None}
        return DivideStep(name=self.as_, **said)


class FrameDivision(_Division):
    """A strip of even width along the edge."""

    by: Literal["frame"]
    width_mm: Side | None = None
    follow: Literal["seam", "straight"] | None = None


class OnPointDivision(_Division):
    """A square on point between the middles of the sides."""

    by: Literal["on-point"]
    apart: YesNo = False


class CircleDivision(_Division):
    """A circle: what is outside is the part, what is inside is left over."""

    by: Literal["circle"]
    radius_mm: Side | None = None
    fit: Annotated[Number, Field(ge=10.0, le=100.0)] | None = None

    @model_validator(mode="after")
    def _one_size(self) -> Self:
        if self.radius_mm is not None and self.fit is not None:
            raise ValueError("has radius and fit; must have one of them: fit is percent of the largest that goes in")
        return self

    def spec(self) -> DivideStep:
        """Return the division."""
        return DivideStep("circle", self.as_, radius_mm=self.radius_mm, fit_percent=self.fit or 100.0)


class WedgesDivision(_Division):
    """Equal angles round the middle."""

    by: Literal["wedges"]
    count: Annotated[Count, Field(ge=2, le=MOST_PARTS)]


class GridDivision(_Division):
    """Rows and columns of cells."""

    by: Literal["grid"]
    rows: Annotated[Count, Field(le=MOST_PARTS)]
    cols: Annotated[Count, Field(le=MOST_PARTS)]


class LineDivision(_Division):
    """A line across, or several, one after the other."""

    by: Literal["line"]
    line: LineText | None = None
    lines: Annotated[tuple[LineText, ...], Field(min_length=1, max_length=MOST_LINES)] | None = None

    @model_validator(mode="after")
    def _one_or_several(self) -> Self:
        if (self.line is None) == (self.lines is None):
            raise ValueError("must have either line, or lines with several of them in a list")
        return self

    def spec(self) -> DivideStep:
        """Return the division."""
        first, *more = [_source(line) for line in (self.lines or (self.line,))]
        return DivideStep("line", self.as_, line=first, more_lines=tuple(more))


Division = Annotated[
    FrameDivision | OnPointDivision | CircleDivision | WedgesDivision | GridDivision | LineDivision,
    Field(discriminator="by"),
]


class FramedTable(Table):
    """``{ rows = 3, spacing = "1/4" }``."""

    rows: Annotated[Count, Field(le=MOST_ROWS)] = 1
    spacing_mm: Annotated[Mm, Field(ge=0.5, le=250.0)] = 6.35
    times: Annotated[Count, Field(le=2)] = 1


def _framed(value: object) -> object:
    return {"times": _TIMES[value]} if isinstance(value, str) and value in _TIMES else value


def _rows(value: object) -> object:
    return [value] if isinstance(value, list) and value and not isinstance(value[0], list) else value


_Turn = Annotated[Number, Field(ge=-360.0, le=360.0)]
_Row: TypeAlias = Annotated[tuple[_T, ...], Field(min_length=1, max_length=MOST_PARTS)]
ByPlace: TypeAlias = Annotated[tuple[_Row[_T], ...], Field(min_length=1, max_length=MOST_PARTS), BeforeValidator(_rows)]
"""By row and column; one list is one row."""


HALVES: Mapping[str, tuple[Halves, ...]] = {
    "left-right": ("left-right",),
    "top-bottom": ("top-bottom",),
    "quarters": ("left-right", "top-bottom"),
}
"""What of a top mirrors what, by the word for it."""


def only_ditch(fill: object) -> bool:
    """Return whether a zone is stitched in the ditch and nowhere else."""
    if isinstance(fill, dict):
        return fill["kind"] == "ditch" if "kind" in fill else bool(fill) and all(map(only_ditch, fill.values()))
    return isinstance(fill, list) and bool(fill) and all(map(only_ditch, fill))


def _source(line: Any) -> LineSource:
    return line if isinstance(line, str) else tuple(line)


def _fence(value: object) -> object:
    return value if isinstance(value, dict) else {"line": value}


class ZoneTable(Table):
    """One zone entry; its fills stay as she wrote them."""

    name: Name
    patches: Annotated[tuple[Name, ...], Field(max_length=MOST_NAMES)] = ()
    shape: ShapeTable | None = None
    each: Literal["patch", "joined"] | None = None
    least_mm: Side | None = None
    inset_mm: Annotated[Mm, Field(ge=0.0, le=250.0)] | None = None
    fences: Annotated[tuple[Annotated[FenceTable, BeforeValidator(_fence)], ...], Field(max_length=200)] = ()
    leave_open: Annotated[tuple[Name | LeaveOpenTable, ...], Field(max_length=200)] = ()
    travel: Literal["outer-seams", "any-seam", "none"] = "outer-seams"
    thread: Name = "main"
    divide: Annotated[tuple[Division, ...], Field(max_length=8)] = ()
    enter: Point | None = None
    leave: Point | None = None
    vary: YesNo | None = None
    alike: YesNo | Literal["any-size"] = False
    alike_within_mm: Side | None = None
    turn: ByPlace[_Turn] | None = None
    mirror: ByPlace[YesNo] | Literal["left-right", "top-bottom", "quarters"] | None = None
    done: YesNo = False
    framed: Annotated[FramedTable | None, BeforeValidator(_framed)] = None
    order: Literal["last"] | None = None
    fill: Any = None

    @model_validator(mode="after")
    def _one_space(self) -> Self:
        if bool(self.patches) == (self.shape is not None):
            raise ValueError(
                "has patches and a shape; must have one of them"
                if self.shape
                else "says no patches; must name its patches, or have a shape laid over the seams"
            )
        if self.shape is not None and self.each is not None:
            raise ValueError("has each and a shape; each is only for patches")
        if self.least_mm is not None and self.each is None:
            raise ValueError("has least without each; least leaves out small spaces where there are many")
        return self

    @model_validator(mode="after")
    def _one_design(self) -> Self:
        if self.alike is False:
            for key in ("alike_within", "turn", "mirror"):
                if getattr(self, {"alike_within": "alike_within_mm"}.get(key, key)) is not None:
                    raise ValueError(
                        f"has {key} without alike; {key} says how one design lies in spaces that are alike"
                    )
            return self
        if self.vary:
            raise ValueError("has vary and alike; spaces have one design, or one each")
        if self.divide and (self.turn or self.mirror):
            raise ValueError("has divide and turn or mirror; a divided space has each part's own turn")
        return self

    @model_validator(mode="after")
    def _parts_apart(self) -> Self:
        steps = [division.spec() for division in self.divide]
        for step in steps[:-1]:
            if not step.leaves_rest:
                raise ValueError(f"divides by {step.by} before the last; {step.by} leaves no rest, so it must be last")
        names = [name for step in steps for name in step.part_names]
        for step in steps:
            if step.stem in (INSIDE, *OLD_INSIDE, "kind", FRAMED) or "*" in step.stem:
                raise ValueError(f"divides with as = '{step.stem}'; a part can't be named so")
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"has two parts named '{name}'; one of the divisions must say as = \"another name\"")
        return self

    def _alike(self) -> AlikeSpec | None:
        if self.alike is False:
            return None
        table, halves = ((), HALVES[self.mirror]) if isinstance(self.mirror, str) else (self.mirror or (), ())
        return AlikeSpec(self.alike == "any-size", self.alike_within_mm, self.turn or (), table, halves)

    def spec(self) -> ZoneSpec:
        """Return what `plumeline.zones` makes the zone from."""
        return ZoneSpec(
            name=self.name,
            patches=self.patches,
            shape=self.shape.spec() if self.shape else None,
            each=self.each,
            least_mm=self.least_mm,
            inset_mm=self.inset_mm,
            fences=tuple(fence.spec() for fence in self.fences),
            leave_open=tuple(
                LeaveOpen(name=part) if isinstance(part, str) else LeaveOpen(None, part.centre, part.radius_mm)
                for part in self.leave_open
            ),
            travel=self.travel,
            thread=self.thread,
            divide=tuple(division.spec() for division in self.divide),
            enter=self.enter,
            leave=self.leave,
            vary=self.vary,
            alike=self._alike(),
            done=self.done,
            framed=None if self.framed is None else FramedSpec(**dict(self.framed)),
            shares=only_ditch(self.fill),
            order=self.order,
        )
