"""The top that a plan names."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import ZoneError
from ..model import Top
from ..plan import BlocksTable, Plan
from ..top import (
    BlockTable,
    Border,
    Known,
    Pieces,
    SaidSize,
    Sashing,
    block_places,
    from_blocks,
    from_drawing,
    from_measures,
    made_guides,
)

__all__ = ["read_top"]


def read_top(plan: Plan) -> Top:
    """Return the top that a plan names, with the guides that it writes out.

    Its patches come from a drawing, a table of blocks, or a measured block.
    """
    top = _patches(plan)
    blocks = () if plan.top.blocks is None else block_places(_table(plan.top.blocks))
    made = made_guides(top, plan.guides, blocks)
    return replace(top, guides={**top.guides, **made}) if made else top


def _patches(plan: Plan) -> Top:
    said, pressed_open = plan.top, plan.top.pressed == "open"
    if plan.drawing is not None:
        known = None if said.known is None else Known(said.known.from_, said.known.to, said.known.length_mm)
        return from_drawing(
            plan.drawing,
            close_gaps_mm=said.close_gaps_mm,
            guides=said.guides,
            pressed_open=pressed_open,
            read=said.read,
            size=SaidSize(said.width_mm, said.height_mm, known),
            page=said.page,
            unit=plan.units,
        )
    if said.blocks is not None:
        return from_blocks(_table(said.blocks), pressed_open=pressed_open)
    if said.measured is None:
        raise ZoneError("says nothing of where the patches come from", file=plan.file, key="top")
    return from_measures(said.measured.sides_mm, said.measured.diagonals_mm)


def _table(blocks: BlocksTable) -> BlockTable:
    sashing = blocks.sashing
    return BlockTable(
        setting=blocks.setting,
        size_mm=blocks.size_mm,
        rows=blocks.rows,
        between=blocks.between,
        sashing=None if sashing is None else Sashing(sashing.width_mm, sashing.outer, sashing.cornerstones),
        borders=[Border(b.name, b.width_mm, b.corners) for b in blocks.borders],
        pieces={
            name: Pieces([np.asarray(line) for line in p.lines], p.grid, p.by_place)
            for name, p in blocks.pieces.items()
        },
    )
