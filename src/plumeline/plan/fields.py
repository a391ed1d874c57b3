"""Kinds of values in a plan's tables: lengths in her units, names, points, lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Annotated, Any

from pydantic import (
    AliasGenerator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    ValidationInfo,
    model_validator,
)
from pydantic.types import Strict

from ..units import MM_PER, parse_length, setting_key

__all__ = [
    "MOST_MM",
    "Colour",
    "Count",
    "LineText",
    "Mm",
    "Name",
    "Number",
    "Place",
    "Point",
    "Points",
    "Side",
    "Table",
    "YesNo",
    "respelt",
]

MOST_MM = 20_000.0
"""No quilt is longer than this; a greater length is a slip of the unit."""

LEAST_SIDE_MM = 1.0
"""A side or width below this can't be stitched."""

MOST_POINTS = 2_000
"""Points in one line that is typed into a plan; longer lines belong in a drawing."""


def _read_length(value: object, info: ValidationInfo) -> float:
    context: Mapping[str, Any] = info.context or {}
    mm = round(parse_length(value, context.get("units", "in")), 9)  # 12 in are 304.8 mm, not 304.79999999999995
    if abs(mm) > MOST_MM:
        raise ValueError(f"is {value!r}; must be at most {MOST_MM / MM_PER['m']:g} m")
    return mm


def _is_length(value: object) -> bool:
    try:
        parse_length(value, "mm")
    except ValueError:
        return False
    return True


OTHER_SPELLING = {"color": "colour", "center": "centre"}
"""Spellings of keys that are read too."""


def respelt(raw: Mapping[str, Any], known: Iterable[str]) -> Mapping[str, Any]:
    """Return a table with keys of another spelling under the known one, unless both are there."""
    names = set(known)
    other = {k: v for k, v in OTHER_SPELLING.items() if k in raw and k not in names and v in names and v not in raw}
    return {other.get(key, key): value for key, value in raw.items()}


class Table(BaseModel):
    """Base of every table of a plan: frozen, unknown keys refused, ``*_mm`` written without its suffix."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        defer_build=True,  # most are never used in a run
        allow_inf_nan=False,
        alias_generator=AliasGenerator(validation_alias=setting_key),
    )

    @model_validator(mode="before")
    @classmethod
    def _respelt(cls, raw: object) -> object:
        return respelt(raw, cls.model_fields) if isinstance(raw, Mapping) else raw


Mm = Annotated[float, BeforeValidator(_read_length)]
"""A length or coordinate in mm."""

Side = Annotated[float, BeforeValidator(_read_length), Field(ge=LEAST_SIDE_MM, le=MOST_MM)]
"""A length that must be there: a side, width or radius."""

Point = tuple[Mm, Mm]
"""x and y."""

Points = Annotated[tuple[Point, ...], Field(min_length=2, max_length=MOST_POINTS)]
"""The points of a line or outline."""

Name = Annotated[str, Strict(), Field(min_length=1, max_length=200)]
"""A name in quotes."""

Number = Annotated[float, Strict()]
"""A plain number."""

Count = Annotated[int, Strict(), Field(ge=1)]
"""A whole number from 1."""

YesNo = StrictBool
"""``true`` or ``false``."""


def _colour(value: object) -> object:
    text = value.lower() if isinstance(value, str) else ""
    if len(text) == 7 and text[0] == "#" and all(c in "0123456789abcdef" for c in text[1:]):
        return text
    raise ValueError(f"is {value!r}; must be a colour such as '#e9dfc8'")


Colour = Annotated[str, BeforeValidator(_colour)]
"""``#rrggbb``."""


def _line(value: object) -> object:
    if isinstance(value, (str, list, tuple)) and value:
        return value
    raise ValueError(f"is {value!r}; must be the name of a guide, or a list of points such as [[0, 0], [6, 6]]")


LineText = Annotated[Name | Points, BeforeValidator(_line)]
"""A line: the name of a guide, or points."""


def _place(value: object, info: ValidationInfo) -> object:
    # Two lengths are a point; any other list names the patches that meet there.
    if isinstance(value, list) and len(value) == 2 and all(map(_is_length, value)):
        return tuple(_read_length(v, info) for v in value)
    if isinstance(value, str) and value:
        return value
    if isinstance(value, list) and len(value) > 1 and all(isinstance(v, str) and v for v in value):
        return tuple(value)
    raise ValueError(f"is {value!r}; must be a patch's name, the names of patches that meet there, or [x, y]")


Place = Annotated[Any, BeforeValidator(_place)]
"""A place of the top: a point, a patch's name, or the names of patches that meet there."""
