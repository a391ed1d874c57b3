"""From a plan to the map of its top."""

from __future__ import annotations

from ..errors import OutputError
from ..geometry import rings
from ..model import Top
from ..output.map_picture import MapBlock, MapZone, map_pdf, map_svg
from ..output.png import png_of
from ..plan import Plan
from ..units import format_length
from ..zones import chosen, make_zones
from .top import blocks_of, read_top

__all__ = ["MAP_PX", "map_blocks", "map_file", "map_zones"]

MAP_PX = 2000
"""Width of a map as PNG: names of a top of some hundred patches read on a screen."""


def map_zones(plan: Plan, top: Top) -> tuple[MapZone, ...]:
    """Return the zones of a plan as the map shows them, in their order."""
    made, _ = make_zones(top, plan.zones, chance=plan.chance, ways=False)
    names = [patch.name for patch in top.patches]
    return tuple(
        MapZone(
            name=spec.name,
            fill=_fills(plan, spec.name),
            spaces=tuple(rings(zone.outline)[0] for zone in made if zone.name == spec.name),
            patches=tuple(chosen(spec.patches, names, zone=spec.name, key="patches", what="patch")),
        )
        for spec in plan.zones
    )


def map_blocks(plan: Plan, top: Top) -> tuple[MapBlock, ...]:
    """Return the blocks of a plan's table that have pieces, as the map names them; empty without a table."""
    out = []
    for place in blocks_of(plan):
        parts = [p for p in top.patches if p.name.startswith(f"{place.name}-")]
        pieces = [(p.name, p.name[len(place.name) + 1 :], place.from_top(rings(p.outline)[0])) for p in parts]
        if pieces:
            out.append(MapBlock(place.kind, place.name, rings(place.outline)[0], tuple(pieces)))
    return tuple(out)


def _fills(plan: Plan, zone: str) -> str:
    kinds = [str(layer.get("kind", "?")) for stack in plan.fills.get(zone, {}).values() for layer in stack]
    return ", ".join(dict.fromkeys(kinds))


def map_file(plan: Plan, suffix: str, top: Top | None = None) -> bytes:
    """Return the map of a plan's top as ``.svg``, ``.png`` or ``.pdf``; ``top`` where it has been read already.

    Raises
    ------
    OutputError
        The suffix is none of these.
    """
    if suffix not in (".svg", ".png", ".pdf"):
        raise OutputError(f"ends in {suffix or 'nothing'}; must end in .svg, .png or .pdf", key="--to")
    top = read_top(plan) if top is None else top
    zones = map_zones(plan, top)
    size = " x ".join(format_length(v, plan.units) for v in top.size)
    title = f"{plan.title}, {size}, {len(top.patches)} patches"
    if suffix == ".pdf":
        return map_pdf(top, zones, title=title, blocks=map_blocks(plan, top))
    svg = map_svg(top, zones, title=title, blocks=map_blocks(plan, top))
    return svg.encode() if suffix == ".svg" else png_of(svg, MAP_PX)
