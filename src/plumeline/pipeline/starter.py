"""Start a plan: list the patches of a top, one zone for each kind of patch."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path as FilePath
from typing import Literal

from ..model import Top
from ..output.cloth import fabric_colours
from ..plan import StarterZone, parse_plan, starter_plan
from ..specs import families_of, matching
from ..top import find_block
from ..units import MM_PER
from .kinds import BORDER, border_strips, is_colour_only, kinds_of
from .top import read_top

__all__ = ["BlockPlan", "Started", "start_plan"]


@dataclass(frozen=True, slots=True)
class BlockPlan:
    """What is said of a top without a drawing; lengths in mm, borders from the inside out.

    ``pieced`` is the traditional block that the blocks are; ``alternate``: every other block of a straight setting is
    plain (on point the blocks between the others always are).
    """

    columns: int
    rows: int
    size_mm: float
    on_point: bool = False
    borders_mm: Sequence[float] = ()
    pieced: str | None = None
    alternate: bool = False
    sashing_mm: float | None = None

    @property
    def block(self) -> str:
        """What the blocks are called: by the traditional block, with hyphens."""
        return "block" if self.pieced is None else re.sub(r"[^a-z]+", "-", find_block(self.pieced).name)

    @property
    def borders(self) -> list[str]:
        """What the borders are called, from the inside out."""
        named = {1: ["border"], 2: ["inner", "outer"], 3: ["inner", "middle", "outer"]}
        return named.get(len(self.borders_mm), [f"border-{k}" for k, _ in enumerate(self.borders_mm, 1)])


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
    blocks: BlockPlan | None = None,
) -> Started:
    """Return the text of a new plan and its top: patches listed, one zone for each kind of patch, with comments.

    Parameters
    ----------
    plan : path
        Where it will lie; a drawing is looked for beside it.
    drawing : str, optional
        The drawing, as a path from the plan's folder.
    said : mapping
        What more is said of the drawing, by its key in ``[top]``; lengths in mm.
    blocks : BlockPlan, optional
        Instead of a drawing: a table of blocks.
    """
    lines = (
        _table_lines(units, blocks)
        if blocks
        else [f"drawing = {json.dumps(drawing)}", *(_top_line(key, value, units) for key, value in said.items())]
    )
    empty = "\n".join([f'units = "{units}"', "[top]", *lines]) + "\n"
    top = read_top(parse_plan(empty, file=plan.name, folder=plan.parent))
    zones = _zones([p.name for p in top.patches], blocks) if blocks else _of_drawing(top)
    fabrics = {} if blocks is None else _fabrics(top, blocks)
    text = starter_plan(plan.stem.replace("-", " ").capitalize(), lines, zones, units, fabrics)
    return Started(text, top)


def _fabrics(top: Top, blocks: BlockPlan) -> dict[str, str]:
    """Return a pattern for each kind of patch of a table, with the colour that it has in pictures."""
    colours = dict(zip((patch.name for patch in top.patches), fabric_colours(top)))
    stems = [*blocks.borders, *(("side", "corner") if blocks.on_point else ())]
    out: dict[str, str] = {}
    for family, names in families_of(colours).items():
        pattern = next((f"{stem}-*" for stem in stems if family.startswith(f"{stem}-")), f"{family}-*")
        if blocks.pieced is not None and family.startswith(f"{blocks.block}-"):
            pattern = f"{blocks.block}-*-{family[len(blocks.block) + 1 :]}"
        out.setdefault(pattern, colours[names[0]])
    return out


def _top_line(key: str, value: float | str | int, units: str) -> str:
    if isinstance(value, float):
        return f"{key} = {value / MM_PER[units]:.10g}"
    return f"{key} = {json.dumps(value)}"


def _of_drawing(top: Top) -> list[StarterZone]:
    """Return a zone for each family that she named, and for each kind of those that have only a colour in common."""
    names = [p.name for p in top.patches]
    patches = {p.name: p for p in top.patches}
    strips = border_strips(top)
    zones: list[StarterZone] = []
    for family, own in families_of(names).items():
        alike = [patches[name] for name in own]
        kinds = kinds_of(family, alike, top, strips) if is_colour_only(family, alike) else {family: own}
        for called, members in kinds.items():
            pattern = f"{family}-*"
            short = len(members) > 1 and matching(pattern, names) == members
            each: Literal["patch"] | None = None if called.endswith(BORDER) and len(members) > 1 else "patch"
            zones.append(StarterZone(called, (pattern,) if short else tuple(members), each))
    return _told_apart(zones)


def _told_apart(zones: Sequence[StarterZone]) -> list[StarterZone]:
    counts = Counter(zone.name for zone in zones)
    seen: Counter[str] = Counter()
    out = []
    for zone in zones:
        seen[zone.name] += 1
        out.append(replace(zone, name=f"{zone.name} {seen[zone.name]}") if counts[zone.name] > 1 else zone)
    return out


def _zones(names: Sequence[str], blocks: BlockPlan) -> list[StarterZone]:
    """Return a zone for each kind of patch of a table: the pieced blocks, the plain ones, and each border."""
    apart = blocks.alternate or blocks.on_point or blocks.sashing_mm is not None
    known = {blocks.block: StarterZone(blocks.block, (f"{blocks.block}-*",), "joined" if apart else "patch")}
    if blocks.pieced is None:
        known = {}
    if blocks.on_point:
        known["side"] = StarterZone("setting triangles", ("side-*",), "patch")
        known["corner"] = StarterZone("corners", ("corner-*",), "patch")
    for border in blocks.borders:
        known[border] = StarterZone(border if border == "border" else f"{border} border", (f"{border}-*",), None)
    left = [name for name in names if not any(name.startswith(f"{stem}-") for stem in known)]
    others = _by_family(left, names)
    inside = [zone for stem, zone in known.items() if stem == blocks.block]
    return [*inside, *others, *(zone for stem, zone in known.items() if stem != blocks.block)]


def _by_family(left: Sequence[str], names: Sequence[str]) -> list[StarterZone]:
    """Return a zone for each family of patches: its pattern where that says the same as the list of its names."""
    zones = []
    for family, own in families_of(left).items():
        pattern = f"{family}-*"
        short = len(own) > 1 and matching(pattern, names) == own
        zones.append(StarterZone(family, (pattern,) if short else tuple(own), "patch"))
    return zones


def _table_lines(units: str, blocks: BlockPlan) -> list[str]:
    plain = blocks.alternate and not blocks.on_point
    rows = [
        ["plain" if plain and (row + column) % 2 else blocks.block for column in range(blocks.columns)]
        for row in range(blocks.rows)
    ]
    lines = [
        "[top.blocks]",
        f'setting = "{"on-point" if blocks.on_point else "straight"}"',
        f"size = {blocks.size_mm / MM_PER[units]:g}",
        "rows = [",
        *(f"    {json.dumps(row)}," for row in rows),
        "]",
    ]
    if blocks.on_point and blocks.columns > 1 and blocks.rows > 1:
        lines.append('between = "plain"')
    if blocks.sashing_mm is not None:
        lines.append(f"sashing = {{ width = {blocks.sashing_mm / MM_PER[units]:g} }}")
    if blocks.borders_mm:
        widths = zip(blocks.borders, blocks.borders_mm)
        said = [f'{{ name = "{name}", width = {width / MM_PER[units]:g} }}' for name, width in widths]
        lines.append(f"borders = [{', '.join(said)}]")
    if blocks.pieced is not None:
        lines += ["[top.blocks.pieces]", f"{blocks.block} = {json.dumps(find_block(blocks.pieced).name)}"]
    return lines
