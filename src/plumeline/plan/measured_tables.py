"""The tables ``[[measured]]``: what the tape says of a patch, a block or the whole top."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Self

from pydantic import BeforeValidator, Field, model_validator

from ..specs import LETTERS
from .fields import Mm, Name, Side, Table

__all__ = ["MeasuredPieceTable", "StraightLimitsTable"]

MOST_LENGTHS = 200
"""Lengths along one edge of a top."""

EDGES = ("top", "right", "bottom", "left")


def _by(names: str) -> BeforeValidator:
    def read(value: object) -> object:
        if isinstance(value, (list, tuple)):
            if len(value) > len(names):
                raise ValueError(f"holds {len(value)} lengths; must hold at most {len(names)}")
            return dict(zip(names, value, strict=False))
        if isinstance(value, Mapping):
            wrong = next((key for key in value if str(key) not in names or len(str(key)) != 1), None)
            if wrong is not None:
                raise ValueError(
                    f"names '{wrong}'; must be one of {', '.join(names[:4])}" + ("" if len(names) < 5 else " and on")
                )
        return value

    return BeforeValidator(read)


def _listed(value: object) -> object:
    return value if isinstance(value, (list, tuple)) else [value]


Edge = Annotated[tuple[Side, ...], BeforeValidator(_listed), Field(min_length=1, max_length=MOST_LENGTHS)]


class MeasuredPieceTable(Table):
    """Measures of one piece: in order clockwise from the upper left, or by the letters of the measuring sheet."""

    patch: Name | None = None
    block: Name | None = None
    sides_mm: Annotated[dict[Name, Side], _by(LETTERS)] = Field(default_factory=dict)
    bows_mm: Annotated[dict[Name, Mm], _by(LETTERS)] = Field(default_factory=dict)
    diagonals_mm: Annotated[dict[Name, Side], _by("12")] = Field(default_factory=dict)
    top_mm: Edge | None = None
    right_mm: Edge | None = None
    bottom_mm: Edge | None = None
    left_mm: Edge | None = None

    @model_validator(mode="after")
    def _one_piece(self) -> Self:
        if self.patch is not None and self.block is not None:
            raise ValueError("says patch and block; must have one of them, or neither for the whole top")
        piece = self.patch or self.block
        if piece and self.edges:
            raise ValueError(f"says {next(iter(self.edges))} of '{piece}'; only the whole top has it: write sides")
        if not piece and self.sides_mm:
            raise ValueError("has sides, but no patch or block; the whole top has top, right, bottom, left")
        if not (self.sides_mm or self.bows_mm or self.diagonals_mm or self.edges):
            raise ValueError("measures nothing; must have sides, diagonals or bows, or top, right, bottom or left")
        return self

    @property
    def edges(self) -> dict[str, tuple[float, ...]]:
        """The lengths along the edges of the whole top."""
        return {edge: found for edge in EDGES if (found := getattr(self, f"{edge}_mm")) is not None}

    @property
    def by_place(self) -> tuple[dict[int, float], dict[int, float], dict[int, float]]:
        """Sides, bows and diagonals by their place, from 0."""
        sides, bows = ({LETTERS.index(k): v for k, v in given.items()} for given in (self.sides_mm, self.bows_mm))
        return sides, bows, {int(k) - 1: v for k, v in self.diagonals_mm.items()}


Limit = Annotated[Mm, Field(ge=0.1, le=25.4)]


class StraightLimitsTable(Table):
    """From where on seams, corners and blocks count as out of true; what is not said keeps its default."""

    bow_mm: Limit | None = None
    lean_mm: Limit | None = None
    miss_mm: Limit | None = None
    skew_mm: Limit | None = None
