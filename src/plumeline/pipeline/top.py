"""The top that a plan names."""

from __future__ import annotations

import numpy as np

from ..errors import ZoneError
from ..model import Top
from ..plan import Plan
from ..top import BlockTable, Border, Known, Pieces, SaidSize, Sashing, from_blocks, from_drawing, from_measures

__all__ = ["read_top"]


def read_top(plan: Plan) -> Top:
    """Return the top that a plan names: its drawing, its table of blocks, or its measured block."""
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
        blocks = said.blocks
        sashing = blocks.sashing
        table = BlockTable(
            setting=blocks.setting,
            size_mm=blocks.size_mm,
            rows=blocks.rows,
            between=blocks.between,
            sashing=None if sashing is None else Sashing(sashing.width_mm, sashing.outer, sashing.cornerstones),
            borders=[Border(b.name, b.width_mm, b.corners) for b in blocks.borders],
            pieces={name: Pieces([np.asarray(line) for line in p.lines], p.grid) for name, p in blocks.pieces.items()},
        )
        return from_blocks(table, pressed_open=pressed_open)
    if said.measured is None:
        raise ZoneError("says nothing of where the patches come from", file=plan.file, key="top")
    return from_measures(said.measured.sides_mm, said.measured.diagonals_mm)
