"""One shape given on the command line: its options, and the region that they mean."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import click
import numpy as np
from shapely import Polygon

from ..codes import FindingCode
from ..errors import InputError, nearest
from ..geometry import bounds, disc, transform
from ..model import Finding
from ..plan.fields import MOST_MM
from ..plan.messages import list_of
from ..top import LARGE_MM, SaidSize, from_drawing, from_measures
from ..units import Unit, number_or_text, parse_length
from ._shared import LENGTH, comma_list

__all__ = ["Drawn", "Given", "settings_of", "shape_of", "shape_options"]


@dataclass(frozen=True, slots=True, eq=False)
class Given:
    """One shape as it was given, and what was noted as it was read."""

    region: Polygon
    findings: tuple[Finding, ...] = ()


F = TypeVar("F", bound=Callable[..., Any])


def shape_options(command: F) -> F:
    """Add the options that give one shape, and ``--set`` for the settings of its fill."""
    for option in reversed(
        (
            click.option("--square", type=LENGTH, default=None, help="A square of this side."),
            click.option("--rect", default=None, help="A rectangle, such as 12x9."),
            click.option("--triangle", type=LENGTH, default=None, help="A triangle with three sides of this length."),
            click.option("--circle", type=LENGTH, default=None, help="A circle of this diameter."),
            click.option(
                "--sides", default=None, help="Measured sides from the top, clockwise, such as '14,14 1/8,13 7/8,14'."
            ),
            click.option(
                "--diagonals", default=None, help="Both diagonals of the measured block, such as '19 3/4,19 7/8'."
            ),
            click.option("--set", "pairs", multiple=True, metavar="KEY=VALUE", help="A setting, such as spacing=1/2."),
            click.option(
                "--chance",
                type=click.IntRange(0, 2**63 - 1),
                default=7,
                show_default=True,
                help="Another number gives another drawing.",
            ),
        )
    ):
        command = option(command)
    return command


def settings_of(pairs: Sequence[str]) -> dict[str, Any]:
    """Return the settings of ``--set``, each as TOML would read it; raises `InputError` when one has no ``=``."""
    out: dict[str, Any] = {}
    for pair in pairs:
        key, sign, value = pair.partition("=")
        if not sign or not key.strip():
            raise InputError(f"is {pair!r}; must be KEY=VALUE", key="--set")
        out[key.strip()] = _value(value.strip())
    return out


def _value(text: str) -> Any:
    """Return a setting as TOML would read it; what is no number, truth value or list stays text."""
    if text.lower() in ("true", "false"):
        return text.lower() == "true"
    if text.startswith("[") and text.endswith("]"):
        return [_value(part.strip()) for part in text[1:-1].split(",") if part.strip()]
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return number_or_text(text.strip("\"'"))


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing and what of it is meant: a patch of several, the whole's width, a page."""

    file: Path
    patch: str | None
    width_mm: float | None
    page: int | None


def _shape_in(drawn: Drawn, units: Unit) -> Given:
    """Return the shape that a drawing shows, read as a top is: its patch, or that of several which is named.

    Raises
    ------
    InputError
        The drawing can't be read or makes no patch; it has several and none is named; or none has that name.
    """
    file = drawn.file.name
    said = None if drawn.width_mm is None else SaidSize(width_mm=_size(drawn.width_mm, "--width"))
    top = from_drawing(drawn.file, size=said, page=drawn.page, unit=units)
    names = [p.name for p in top.patches]
    if drawn.patch is None and len(names) > 1:
        raise InputError(
            f"has {len(names)} patches: {list_of(names)}; must be one",
            file=file,
            what_to_do=f'Say which, as --patch "{names[0]}".',
        )
    name = names[0] if drawn.patch is None else drawn.patch
    if name not in names:
        near = nearest(name, names)
        raise InputError(
            f"is {name!r}; must be one of {list_of(names)}",
            file=file,
            key="--patch",
            what_to_do=f"Did you mean {near!r}?" if near else None,
        )
    region = top.patches[names.index(name)].outline
    left, upper, _, _ = bounds(region)
    # one shape may well be small and have a hole; a whole top may not
    beside = (
        {FindingCode.GAP_OPEN} if max(top.size) > LARGE_MM else {FindingCode.GAP_OPEN, FindingCode.SIZE_IMPLAUSIBLE}
    )
    findings = tuple(f for f in top.findings if f.code not in beside)
    return Given(transform(region, np.eye(2), (-left, -upper)), findings)


def shape_of(
    drawn: Drawn | None,
    square: float | None,
    rect: str | None,
    triangle: float | None,
    circle: float | None,
    sides: str | None,
    diagonals: str | None,
    units: Unit,
) -> Given:
    """Return the shape that the options give.

    Raises
    ------
    InputError
        None or several are given, or one can't be used.
    """
    given = (drawn, square, rect, triangle, circle, sides)
    if sum(v is not None for v in given) != 1:
        raise InputError(
            "needs exactly one shape",
            key="fill",
            what_to_do="Give a drawing, --square, --rect, --triangle, --circle, or --sides with --diagonals.",
        )
    if diagonals is not None and sides is None:
        raise InputError("is only for --sides", key="--diagonals")
    if drawn is not None:
        return _shape_in(drawn, units)
    if sides is not None:
        across = comma_list(diagonals, units, key="--diagonals") if diagonals else []
        top = from_measures(comma_list(sides, units, key="--sides"), across, unit=units)
        return Given(top.patches[0].outline, top.findings)
    if circle is not None:
        return Given(disc((circle / 2, circle / 2), _size(circle, "--circle") / 2))
    if triangle is not None:
        a = _size(triangle, "--triangle")
        return Given(Polygon([(0, a * 3**0.5 / 2), (a / 2, 0), (a, a * 3**0.5 / 2)]))
    if rect is not None:
        parts = rect.lower().split("x")
        if len(parts) != 2:
            raise InputError(f"is {rect!r}; must be width x height, as 12x9", key="--rect")
        try:
            width, height = (parse_length(part, units) for part in parts)
        except ValueError as error:
            raise InputError(str(error), key="--rect") from None
    else:
        width = height = square or 0.0
    key = "--square" if rect is None else "--rect"
    corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)
    return Given(Polygon(corners * (_size(width, key), _size(height, key))))


def _size(value: float, key: str) -> float:
    if not 0 < value <= MOST_MM:
        raise InputError(f"is {value:g} mm; must be above 0 and at most {MOST_MM / 1000:g} m", key=key)
    return value
