"""One shape given on the command line: its options, and the region that they mean."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click
import numpy as np
from shapely import Polygon

from ..drawing import read_svg
from ..errors import InputError
from ..geometry import disc, sound_outline
from ..plan.fields import MOST_MM
from ..top import CLOSE_GAPS_MM, from_measures
from ._shared import LENGTH, comma_list

__all__ = ["settings_of", "shape_of", "shape_options"]

F = TypeVar("F", bound=Callable[..., Any])


def shape_options(command: F) -> F:
    """Add the options that give one shape, and ``--set`` for the settings of its fill."""
    for option in reversed(
        (
            click.option("--square", type=LENGTH, default=None, help="A square of this side."),
            click.option("--rect", default=None, help="A rectangle, as 12x9."),
            click.option("--triangle", type=LENGTH, default=None, help="A triangle with three sides of this length."),
            click.option("--circle", type=LENGTH, default=None, help="A circle of this diameter."),
            click.option(
                "--sides", default=None, help="Measured sides from the top, clockwise, as '14,14 1/8,13 7/8,14'."
            ),
            click.option("--diagonals", default=None, help="Both diagonals of the measured block, as '19 3/4,19 7/8'."),
            click.option("--set", "pairs", multiple=True, metavar="KEY=VALUE", help="A setting, as spacing=1/2."),
            click.option(
                "--chance",
                type=click.IntRange(0, 2**63 - 1),
                default=7,
                show_default=True,
                help="Another number, another drawing.",
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
    return text.strip("\"'")


def shape_of(
    drawing: Path | None,
    square: float | None,
    rect: str | None,
    triangle: float | None,
    circle: float | None,
    sides: str | None,
    diagonals: str | None,
    units: str,
) -> Polygon:
    """Return the shape that the options give.

    Raises
    ------
    InputError
        None or several are given, or one can't be used.
    """
    given = (drawing, square, rect, triangle, circle, sides)
    if sum(v is not None for v in given) != 1:
        raise InputError(
            "needs exactly one shape",
            key="fill",
            what_to_do="Give a drawing, --square, --rect, --triangle, --circle, or --sides with --diagonals.",
        )
    if diagonals is not None and sides is None:
        raise InputError("is only for --sides", key="--diagonals")
    if drawing is not None:
        shapes = read_svg(drawing).shapes
        if not shapes:
            raise InputError("has no closed shape", file=drawing.name, what_to_do="Close the outline in the drawing.")
        try:
            return sound_outline(shapes[0].shell, shapes[0].holes, within_mm=CLOSE_GAPS_MM)[0]
        except ValueError as error:
            raise InputError(
                str(error), file=drawing.name, key=shapes[0].name, what_to_do="Redraw it as one plain outline."
            ) from None
    if sides is not None:
        across = comma_list(diagonals, units, key="--diagonals") if diagonals else []
        return from_measures(comma_list(sides, units, key="--sides"), across).patches[0].outline
    if circle is not None:
        return disc((circle / 2, circle / 2), _size(circle, "--circle") / 2)
    if triangle is not None:
        a = _size(triangle, "--triangle")
        return Polygon([(0, a * 3**0.5 / 2), (a / 2, 0), (a, a * 3**0.5 / 2)])
    if rect is not None:
        parts = rect.lower().split("x")
        if len(parts) != 2:
            raise InputError(f"is {rect!r}; must be width x height, as 12x9", key="--rect")
        width, height = comma_list(",".join(parts), units, key="--rect")
    else:
        width = height = square or 0.0
    key = "--square" if rect is None else "--rect"
    corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)
    return Polygon(corners * (_size(width, key), _size(height, key)))


def _size(value: float, key: str) -> float:
    if not 0 < value <= MOST_MM:
        raise InputError(f"is {value:g} mm; must be above 0 and at most {MOST_MM / 1000:g} m", key=key)
    return value
