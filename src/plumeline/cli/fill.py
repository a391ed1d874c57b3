"""plumeline fill: try one fill on one shape."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click
import numpy as np
from shapely import Polygon

from ..drawing import read_svg
from ..errors import FillError, InputError, OutputError
from ..geometry import disc, sound_outline
from ..output import report_table, write_files
from ..pipeline.files import fill_svg
from ..pipeline.single import try_fill
from ..plan.fields import MOST_MM
from ..top import CLOSE_GAPS_MM, from_measures
from ..units import Unit
from ._shared import LENGTH, comma_list, echo_findings, echo_json, units_option

__all__ = ["command"]


@click.command("fill")
@click.argument("kind")
@click.argument("drawing", required=False, type=click.Path(path_type=Path))
@units_option
@click.option("--square", type=LENGTH, default=None, help="A square of this side.")
@click.option("--rect", default=None, help="A rectangle, as 12x9.")
@click.option("--triangle", type=LENGTH, default=None, help="A triangle with three sides of this length.")
@click.option("--circle", type=LENGTH, default=None, help="A circle of this diameter.")
@click.option("--sides", default=None, help="Measured sides from the top, clockwise, as '14,14 1/8,13 7/8,14'.")
@click.option("--diagonals", default=None, help="Both diagonals of the measured block, as '19 3/4,19 7/8'.")
@click.option("--to", "target", type=click.Path(path_type=Path), required=True, help="SVG (or PNG) file to write.")
@click.option("--set", "pairs", multiple=True, metavar="KEY=VALUE", help="A setting, as spacing=1/2.")
@click.option(
    "--chance", type=click.IntRange(0, 2**63 - 1), default=7, show_default=True, help="Another number, another drawing."
)
@click.option("--force", is_flag=True, help="Write over a file that is there.")
@click.option("--json", "as_json", is_flag=True, help="Print the figures and nothing else.")
def command(
    kind: str,
    drawing: Path | None,
    units: Unit,
    square: float | None,
    rect: str | None,
    triangle: float | None,
    circle: float | None,
    sides: str | None,
    diagonals: str | None,
    target: Path,
    pairs: tuple[str, ...],
    chance: int,
    force: bool,
    as_json: bool,
) -> None:
    """Try one KIND of fill on one shape: the first of a DRAWING, or one given by its measures."""
    given = [drawing, square, rect, triangle, circle, sides]
    if sum(v is not None for v in given) != 1:
        raise InputError(
            "needs exactly one shape",
            key="fill",
            what_to_do="Give a drawing, --square, --rect, --triangle, --circle, or --sides with --diagonals.",
        )
    if diagonals is not None and sides is None:
        raise InputError("is only for --sides", key="--diagonals")
    if target.suffix.lower() not in (".svg", ".png"):
        raise OutputError("must end in .svg or .png", file=str(target), key="--to")
    shape = _shape(drawing, square, rect, triangle, circle, sides, diagonals, units)
    tried = try_fill(kind, shape, _settings(pairs), units=units, chance=chance)
    if not tried.filled[0].strokes:
        worst = tried.filled[0].findings[0]
        raise FillError(worst.text, zone="shape", what_to_do=worst.what_to_do)
    name, data = fill_svg(tried, target.name)
    write_files(target.parent, {name: data}, force=force)
    if as_json:
        echo_json(report_table(replace(tried.report, files=(name,))))
        return
    row, lines = tried.report.zones[0], tried.report.totals.lines
    click.echo(
        f"{kind}: {lines} line{'s' if lines != 1 else ''}, {row.sewn_mm / 25.4:,.1f} in sewn, "
        f"widest gap {row.widest_gap_mm / 25.4:.2f} in"
    )
    echo_findings(tried.report.findings)
    click.echo(f"Written to {target}")


def _settings(pairs: tuple[str, ...]) -> dict[str, Any]:
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


def _shape(
    drawing: Path | None,
    square: float | None,
    rect: str | None,
    triangle: float | None,
    circle: float | None,
    sides: str | None,
    diagonals: str | None,
    units: str,
) -> Polygon:
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
