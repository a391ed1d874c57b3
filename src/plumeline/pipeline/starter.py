"""Start a plan: list the patches of a top, one zone for each kind of patch."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath

from ..model import Top
from ..plan import parse_plan, starter_plan
from ..units import MM_PER
from .top import read_top

__all__ = ["Started", "families_of", "start_plan"]


@dataclass(frozen=True, slots=True, eq=False)
class Started:
    """A new plan's text, and the top that it names."""

    text: str
    top: Top


def start_plan(
    plan: FilePath,
    *,
    units: str,
    drawing: str | None = None,
    said: Mapping[str, float | str | int] = {},
    blocks: tuple[int, int] | None = None,
    block_mm: float | None = None,
    on_point: bool = False,
    borders_mm: Sequence[float] = (),
) -> Started:
    """Return the text of a new plan and its top: patches listed, one zone for each kind of patch, with comments.

    Parameters
    ----------
    plan : path
        Where it will lie; a drawing is looked for beside it.
    drawing : str, optional
        File name of the drawing; else ``blocks`` (columns, rows) and ``block_mm`` describe a table.
    said : mapping
        What more is said of the drawing, by its key in ``[top]``; lengths in mm.
    """
    lines = (
        [f"drawing = {json.dumps(drawing)}", *(_top_line(key, value, units) for key, value in said.items())]
        if drawing
        else _table_lines(units, blocks, block_mm, on_point, borders_mm)
    )
    empty = "\n".join([f'units = "{units}"', "[top]", *lines]) + "\n"
    top = read_top(parse_plan(empty, file=plan.name, folder=plan.parent))
    families = families_of(p.name for p in top.patches)
    text = starter_plan(plan.stem.replace("-", " ").capitalize(), lines, families, units)
    return Started(text, top)


def _top_line(key: str, value: float | str | int, units: str) -> str:
    if isinstance(value, float):
        return f"{key} = {value / MM_PER[units]:.10g}"
    return f"{key} = {json.dumps(value)}"


def families_of(names: Iterable[str]) -> dict[str, list[str]]:
    """Return the names of alike patches together, by what they share."""
    families: dict[str, list[str]] = {}
    for name in names:
        families.setdefault(_family(name), []).append(name)
    return families


def _family(name: str) -> str:
    """Return what alike patches share: the name without numbers (``star-1-2`` and ``star-2-1``: ``star``)."""
    return re.sub(r"[-_ ]?\d+", "", name) or name


def _table_lines(
    units: str, blocks: tuple[int, int] | None, block_mm: float | None, on_point: bool, borders_mm: Sequence[float]
) -> list[str]:
    columns, rows = blocks or (1, 1)
    size = (block_mm or 0.0) / MM_PER[units]
    lines = [
        "[top.blocks]",
        f'setting = "{"on-point" if on_point else "straight"}"',
        f"size = {size:g}",
        f"rows = {json.dumps([['block'] * columns] * rows)}",
    ]
    if on_point and columns > 1 and rows > 1:
        lines.append('between = "plain"')
    if borders_mm:
        widths = [f'{{ name = "border-{k}", width = {w / MM_PER[units]:g} }}' for k, w in enumerate(borders_mm, 1)]
        lines.append(f"borders = [{', '.join(widths)}]")
    return lines
