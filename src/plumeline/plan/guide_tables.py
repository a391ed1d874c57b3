"""The tables ``[[guide]]`` of a plan: lines that a zone uses as spines, fences or dividing lines."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from ..specs import ArcSpec, GuideSpec, SpineSpec, WaveSpec
from .fields import Count, Mm, Name, Number, Point, Points, Side, Table, YesNo

__all__ = ["ArcTable", "GuideTable", "SpineTable", "WaveTable"]


class ArcTable(Table):
    """Part of a circle: ``{ from = [0, 0], to = [12, 0], rise = 2 }``."""

    from_: Point
    to: Point
    rise_mm: Mm

    @model_validator(mode="after")
    def _bent(self) -> Self:
        if self.from_ == self.to or self.rise_mm == 0:
            raise ValueError("has no bend; its ends must lie apart, and its rise must not be 0")
        return self

    def spec(self) -> ArcSpec:
        """Return the arc."""
        return ArcSpec(self.from_, self.to, self.rise_mm)


class WaveTable(Table):
    """An even wave: ``{ from = [0, 0], to = [40, 0], height = 1, waves = 4 }``."""

    from_: Point
    to: Point
    height_mm: Side
    waves: Annotated[Count, Field(le=200)] = 1

    @model_validator(mode="after")
    def _apart(self) -> Self:
        if self.from_ == self.to:
            raise ValueError("starts where it ends; its ends must lie apart")
        return self

    def spec(self) -> WaveSpec:
        """Return the wave."""
        return WaveSpec(self.from_, self.to, self.height_mm, self.waves)


class SpineTable(Table):
    """A line that grows out of a corner: ``{ corner = "squarest", length = 9, bow = 4 }``."""

    corner: Literal[
        "squarest", "top-left", "top", "top-right", "right", "bottom-right", "bottom", "bottom-left", "left"
    ] = "squarest"
    length_mm: Side | None = None
    bow: Annotated[Number, Field(ge=-25.0, le=25.0)] = 4.0

    def spec(self) -> SpineSpec:
        """Return the spine."""
        return SpineSpec(self.corner, self.length_mm, self.bow)


class GuideTable(Table):
    """A line by its points, or an arc, a wave, a spine; on the top, in patches, or in each block of a kind."""

    name: Name
    points: Points | None = None
    straight: YesNo = False
    closed: YesNo = False
    arc: ArcTable | None = None
    wave: WaveTable | None = None
    spine: SpineTable | None = None
    patch: Name | None = None
    block: Name | None = None

    @model_validator(mode="after")
    def _one_line(self) -> Self:
        given = [name for name in ("points", "arc", "wave", "spine") if getattr(self, name) is not None]
        if len(given) != 1:
            raise ValueError(
                f"says {' and '.join(given) or 'nothing'} of how it runs; must have one of points, arc, wave, spine"
            )
        if self.points is None and (self.straight or self.closed):
            raise ValueError("has straight or closed, which are only for points")
        if self.patch is not None and self.block is not None:
            raise ValueError("has patch and block; must have one of them, or none: then it lies on the whole top")
        if self.closed and len(self.points or ()) < 3:
            raise ValueError("is closed and has two points; must have at least three")
        if any(a == b for a, b in zip(self.points or (), (self.points or ())[1:])):
            raise ValueError("has the same point twice in a row; take one of them out")
        if "*" in self.name or " in " in self.name:
            raise ValueError(f"is named '{self.name}'; a name of a guide must have no * and no word 'in'")
        return self

    def spec(self) -> GuideSpec:
        """Return what `plumeline.top` makes the guide from."""
        return GuideSpec(
            name=self.name,
            points=self.points or (),
            straight=self.straight,
            closed=self.closed,
            arc=self.arc.spec() if self.arc else None,
            wave=self.wave.spec() if self.wave else None,
            spine=self.spine.spec() if self.spine else None,
            patch=self.patch,
            block=self.block,
        )
