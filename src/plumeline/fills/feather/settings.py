"""The settings of a feather."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal, Self

from pydantic import Field, PrivateAttr, model_validator

from ...errors import FillError, nearest
from ...model import Path
from ..kit.settings import Mm, Sources, SpacedSettings, length, number

__all__ = ["LAID_BY", "LEAST_PLUME_MM", "SPINE_SHAPES", "FeatherSettings"]

FROM_CORNER = ("from-corner", "fan")
"""Words of ``spines`` for those that start in a corner."""

SPINE_SHAPES = ("auto", "corners", "sides", "diagonal", "along", "wave", "wreath", "branching", *FROM_CORNER)
"""Words of ``spines``; any other is the name of a guide line."""

LAID_BY = ("bow", "waves", "corner", "at", "run")
"""Settings that say how spines are laid which she did not draw."""

LEAST_PLUME_MM = 6.35
"""No plume outside a tip is narrower (1/4 in): narrower ones fill in with thread."""


MOST_PLUME_MM = 250.0
"""Nor any wider."""


class FeatherSettings(SpacedSettings):
    """How a feather looks: its plumes, its spine, and how several of them meet.

    A length is read in the plan's unit; ``None`` lets the space decide.
    """

    sized_by: ClassVar[str] = "plume_mm"

    spines: str | tuple[str, ...] = Field(
        default="auto",
        description="where the spines run: auto, corners, sides, diagonal, along, wave, wreath, branching, "
        "from-corner, fan, or guide lines by name",
    )
    style: Literal["bump-back", "apart"] = Field(
        default="bump-back",
        description="bump-back: neighbours share one line, stitched there and back; apart: a gap between plumes",
    )
    plume_mm: Mm | None = length(
        None, least=LEAST_PLUME_MM, most=MOST_PLUME_MM, description="width of an ordinary plume"
    )
    lean: float = number(0.75, least=0.0, most=1.5, description="how far plumes lean towards the tip (0: straight out)")
    stretch: float = number(1.0, least=0.1, most=10.0, description="how far plumes stretch into corners")
    belly: float = number(0.0, least=0.0, most=0.2, description="how much plumes draw in below their tops, like drops")
    gap_mm: Mm = length(3.175, least=0.8, most=25.0, description="between plumes that stand apart")
    clearance_mm: Mm = length(0.8, least=0.0, most=25.0, description="between the tops of the plumes and the edge")
    double_where_wide: bool = Field(default=False, description="draw two plumes for one much wider than the middle one")
    variation: float = number(
        0.1, least=0.0, most=0.5, description="how much plumes differ by chance (0: exactly mirrored)"
    )
    centre: Literal["ring", "rosette", "meet"] = Field(
        default="ring", description="how several feathers end at a common centre: an open ring, a rosette, or meeting"
    )
    at: Literal["middle"] | tuple[Mm, Mm] = Field(
        default="middle",
        description="where several feathers meet: in the middle, or at a point [x, y] of the page",
        json_schema_extra={"unit": "length"},
    )
    corner: Literal[
        "squarest", "top-left", "top-right", "bottom-left", "bottom-right", "top", "bottom", "left", "right"
    ] = Field(default="squarest", description="the corner that from-corner and fan start in")
    bow: float = number(
        0.04, least=0.0, most=0.25, description="how far a spine swings from side to side, part of its length"
    )
    waves: int | None = Field(default=None, ge=1, le=200, description="waves of a wavy spine along a strip")
    run: Literal["around", "from-middle", "to-middle"] = Field(
        default="around", description="how a border runs: all round, or from or to the middle of each side"
    )
    fences: tuple[str, ...] = Field(default=(), description="names of guide lines that no plume crosses")

    @model_validator(mode="after")
    def _belly_needs_room(self) -> Self:
        if self.belly and self.style != "apart":
            raise ValueError(
                f"belly is {self.belly:g}; plumes that share their sides can't draw in: set style = 'apart'"
            )
        return self

    @property
    def idle(self) -> Mapping[str, str]:
        """What is for other spines, or for plumes that stand apart."""
        found = dict(super().idle)
        if self.style != "apart":
            found["gap_mm"] = "plumes that share their sides have no gap; say style = 'apart' for one"
        if self.spine_names:
            found |= dict.fromkeys(LAID_BY, "its spines are drawn")
        elif self.spines not in FROM_CORNER:
            found["corner"] = "it is for spines = 'from-corner' and 'fan'"
        return found

    @property
    def promise_mm(self) -> float | None:
        """A feather promises no more than the batting needs, also where a density sets its plumes."""
        return None

    def spaced(self, mean_mm: float) -> Self:
        """Return these settings with plumes of another width, within what a plume may be."""
        return super().spaced(min(max(mean_mm, LEAST_PLUME_MM), MOST_PLUME_MM))

    _spine_paths: tuple[Path, ...] = PrivateAttr(default=())
    _fence_paths: tuple[Path, ...] = PrivateAttr(default=())

    def resolved(self, sources: Sources) -> Self:
        """Return these settings with the guide lines of ``spines`` and ``fences`` looked up, in the zone's frame.

        Where a name with ``*`` finds no line that runs through the zone, its spines are laid as with ``auto``.
        """
        out = super().resolved(sources).model_copy()
        try:
            out._spine_paths = tuple(path for name in self.spine_names for path in sources.guide(name))
        except FillError as error:
            near = nearest(str(self.spines), SPINE_SHAPES) if isinstance(self.spines, str) else None
            error.what_to_do = error.what_to_do or (f"Did you mean '{near}'?" if near else None)
            raise error.at(key="spines") from None
        if self.spine_names and not out._spine_paths:
            out = out.model_copy(update={"spines": "auto"})
        out._fence_paths = tuple(path for name in self.fences for path in sources.guide(name))
        return out

    @property
    def spine_names(self) -> tuple[str, ...]:
        """Names of the guide lines that are spines; empty when ``spines`` is one of `SPINE_SHAPES`."""
        if isinstance(self.spines, str):
            return () if self.spines in SPINE_SHAPES else (self.spines,)
        return self.spines

    @property
    def drawn_spines(self) -> tuple[Path, ...]:
        """The guide lines looked up by `resolved` that are spines."""
        return self._spine_paths

    @property
    def drawn_fences(self) -> tuple[Path, ...]:
        """The guide lines looked up by `resolved` that are fences, all firm."""
        return self._fence_paths
