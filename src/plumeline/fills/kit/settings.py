"""What all fills' settings share: frozen models whose lengths are read with the plan's unit.

A settings model is the one source of plan checks, ``--set``, the docs page and forms. A length is declared
with `length`, is named ``*_mm`` and is written by her without the suffix::

    class ChannelSettings(FillSettings):
        spacing_mm: Mm = length(12.7, least=0.5, description="from line to line")

Bare numbers and strings without a unit take the unit in the validation context
(``{"units": "in"}``; mm when there is none).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal, Protocol, Self

from pydantic import AliasGenerator, BaseModel, BeforeValidator, ConfigDict, Field, PrivateAttr, ValidationInfo

from ...errors import FillError
from ...model import Path
from ...units import DENSITY_WORDS, MOST_DENSITY, parse_length, parse_number, setting_key

__all__ = [
    "ArtSettings",
    "Artwork",
    "Density",
    "FillSettings",
    "Mm",
    "Sources",
    "SpacedSettings",
    "length",
    "number",
    "read_density",
]


def _read_length(value: object, info: ValidationInfo) -> object:
    context: Mapping[str, Any] = info.context or {}
    return parse_length(value, context.get("units", "mm"))


INCH_MM = 25.4

Mm = Annotated[float, BeforeValidator(_read_length)]
"""A length in mm, read from a number or a string in the plan's unit."""


class Artwork(Protocol):
    """Line art as polylines in mm."""

    @property
    def paths(self) -> tuple[Path, ...]:
        """The polylines."""

    @property
    def closed(self) -> tuple[bool, ...]:
        """Whether each polyline is closed."""


class Sources(Protocol):
    """Where names in settings are looked up: guides of the drawing, artwork, other zones."""

    def guide(self, name: str) -> tuple[Path, ...]:
        """Return the guide lines of that name (``*`` for any ending) in the zone's own frame."""

    def art(self, name: str) -> Artwork:
        """Return artwork from a file beside the plan or from the library of motifs."""

    def density(self, name: str) -> float:
        """Return inches of line seen per square inch of another zone, by name."""

    @property
    def quilt_density(self) -> float | None:
        """Inches of line seen per square inch that the plan asks of the whole quilt."""


class FillSettings(BaseModel):
    """Base of every fill's settings."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        defer_build=True,  # most are never used in a run
        allow_inf_nan=False,
        validate_default=False,
        populate_by_name=True,
        arbitrary_types_allowed=True,
        alias_generator=AliasGenerator(validation_alias=setting_key),
    )

    fills_space: ClassVar[bool] = True
    """Whether the fill is to fill its space, so that a bare part is worth a word; an outline or a ditch is not."""

    rounds: ClassVar[bool] = False
    """Whether the fill goes round what was stitched before it, as echoes do, and leaves the rest to a background."""

    @property
    def inside_mode(self) -> Literal["open", "echo", "background"]:
        """What goes into the wide parts that this fill encloses."""
        return "open"

    def within_enclosed(self) -> Self:
        """Return these settings for a part that a motif encloses."""
        return self

    @property
    def waits(self) -> bool:
        """Whether another zone must be filled before this one, because it is to match it."""
        return False

    @property
    def on_page(self) -> bool:
        """Whether what is drawn depends on where the zone lies on the page, so that no other zone has the same."""
        return False

    @property
    def idle(self) -> Mapping[str, str]:
        """Settings by their field that do nothing beside the others, and why; told where she gave them."""
        return {}

    def said(self, name: str) -> bool:
        """Whether a setting was given, and is not what it would be if it were left out."""
        return name in self.model_fields_set and getattr(self, name) != type(self).model_fields[name].default

    @property
    def promise_mm(self) -> float | None:
        """The distance of lines that the space can count on; None: no more than the batting needs."""
        spacing = getattr(self, "spacing_mm", None)
        return max(spacing) if isinstance(spacing, tuple) else spacing

    @property
    def room_mm(self) -> float:
        """How much room this fill wants round what was stitched before it: its first line lies so far off."""
        return self.promise_mm or 0.0

    def leaving(self, room_mm: float) -> Self:
        """Return these settings for a fill that leaves so much room round it for those that follow."""
        return self

    def resolved(self, sources: Sources) -> Self:
        """Return these settings with every name looked up; without names, these settings themselves."""
        return self


_SHARE = re.compile(r"^(\d+(?:\.\d+)?)\s*%$")
_LIKE = re.compile(r"^like (\S.*)$")


def read_density(value: object) -> object:
    """Return a density as it is kept: a number, a word of `DENSITY_WORDS`, ``like NAME`` or ``80 %``.

    Raises
    ------
    ValueError
        It is none of them, or out of bounds.
    """
    if isinstance(value, str):
        if value in DENSITY_WORDS or _LIKE.match(value):
            return value
        share = _SHARE.match(value)
        if share and 1.0 <= float(share[1]) <= 1000.0:
            return value
        try:
            value = parse_number(value)
        except ValueError:
            value = None
    if isinstance(value, (int, float)) and not isinstance(value, bool) and 0.05 <= value <= MOST_DENSITY:
        return float(value)
    raise ValueError(
        f"must be inches of line per square inch (0.05 to {MOST_DENSITY:g}), 'scant', 'even', 'close', 'like NAME' of "
        "another zone, or a percent of the quilt's, as '80 %'"
    )


Density = Annotated[float | str, BeforeValidator(read_density)]
"""How tightly a space is to be quilted, as it is seen."""


class SpacedSettings(FillSettings):
    """Base of the settings of fills with a spacing or a size, which may be set by a density instead.

    The size is declared by each fill, under the name in ``sized_by``: one length, none, or several that follow each
    other.
    """

    sized_by: ClassVar[str] = "spacing_mm"
    """The setting that a density takes the place of."""

    takes_quilts: ClassVar[bool] = True
    """Whether the density of the whole quilt is taken where neither a density nor a size is said."""

    @property
    def over_zone(self) -> bool:
        """Whether the density is that of the whole space: not where others fill what this one leaves."""
        return not self._followed

    density: Density | None = Field(
        default=None,
        description='inches of line seen per square inch; scant, even or close (1, 2, 4); "like NAME": as that zone; '
        '"80 %" of the quilt\'s; in place of the size of its lines',
    )
    _wanted: float | None = PrivateAttr(default=None)
    _followed: bool = PrivateAttr(default=False)

    def leaving(self, room_mm: float) -> Self:
        """Return these settings for a fill that leaves so much room round it for those that follow."""
        found = self.model_copy()
        found._followed = room_mm > 0
        return found

    @property
    def waits(self) -> bool:
        """Whether the zone whose density is matched must be filled first."""
        return isinstance(self.density, str) and _LIKE.match(self.density) is not None

    @property
    def wanted_density(self) -> float | None:
        """Inches of line per square inch to be matched; None when the spacing counts or the name isn't looked up."""
        return self._wanted

    @property
    def idle(self) -> Mapping[str, str]:
        """The size of the lines, where a density takes its place."""
        return {self.sized_by: "the density sets it"} if self.density is not None else {}

    @property
    def promise_mm(self) -> float | None:
        """The mean distance of lines at the density wanted, else the spacing."""
        return INCH_MM / self._wanted if self._wanted else super().promise_mm

    def resolved(self, sources: Sources) -> Self:
        """Return these settings with the other zone's density looked up."""
        found = super().resolved(sources)
        said = self.density
        whole = sources.quilt_density
        own = self.sized_by in self.model_fields_set or not self.takes_quilts
        if said is None and (whole is None or own):
            return found
        found = found.model_copy()
        if said is None:
            found._wanted = whole
        elif isinstance(said, float):
            found._wanted = said
        elif said in DENSITY_WORDS:
            found._wanted = DENSITY_WORDS[said]
        elif (like := _LIKE.match(said)) is not None:
            found._wanted = sources.density(like[1].strip())
        else:
            found._wanted = _share_of(whole, said)
        return found

    def spaced(self, mean_mm: float) -> Self:
        """Return these settings with another mean spacing or size; several spacings keep their proportions."""
        now = getattr(self, self.sized_by, None)
        several = isinstance(now, tuple)
        spacing = tuple(gap * mean_mm * len(now) / sum(now) for gap in now) if several and now else mean_mm
        return self.model_copy(update={self.sized_by: spacing})


def _share_of(whole: float | None, said: str) -> float:
    share = _SHARE.match(said)
    if whole is None or share is None:
        raise FillError(
            f"is {said!r}, but the plan says no density of the whole quilt",
            key="density",
            what_to_do="Add a table [quilt] with density = 2, or say it here in inches per square inch.",
        )
    return whole * float(share[1]) / 100.0


class ArtSettings(FillSettings):
    """Base of the settings of fills that draw artwork."""

    art: str = Field("leaf", description="a motif of the library, or an SVG file beside the plan")
    _art: Artwork | None = PrivateAttr(default=None)

    def resolved(self, sources: Sources) -> Self:
        """Return the settings with the artwork looked up."""
        found = super().resolved(sources).model_copy()
        found._art = sources.art(self.art)
        return found

    @property
    def artwork(self) -> Artwork:
        """The artwork, once it is looked up."""
        if self._art is None:
            raise ValueError("the artwork is not looked up: call settings.resolved(sources) first")
        return self._art


def length(default: float | None, *, least: float = 0.0, most: float = 10_000.0, description: str) -> Any:
    """Declare a length setting of a fill.

    Parameters
    ----------
    default : float or None
        mm; None where the fill works it out.
    least, most : float
        Limits, mm, both allowed.
    description : str
        One line that says what it is, as she reads it.

    Returns
    -------
    pydantic field
        For a field of type `Mm` whose name ends in ``_mm``; in a plan its key is the name without that.

    Examples
    --------
    >>> class Halo(FillSettings):
    ...     distance_mm: Mm = length(10.0, least=1.0, description="from the edge to the line")
    >>> Halo.model_validate({"distance": "1/2 in"}).distance_mm
    12.7
    """
    return Field(default=default, ge=least, le=most, description=description, json_schema_extra={"unit": "length"})


def number(default: float | None, *, least: float, most: float, description: str, unit: str = "") -> Any:
    """Declare a plain number: default, limits, and one line that says what it is.

    Parameters
    ----------
    default : float, optional
        None where the fill finds one that suits the space.
    least, most : float
        Limits, both allowed.
    description : str
        One line for plans, forms and docs.
    unit : str
        Such as ``"degrees"``; empty for a plain number.

    Returns
    -------
    pydantic field
        The default of a field of a settings model.
    """
    return Field(default=default, ge=least, le=most, description=description, json_schema_extra={"unit": unit})
