"""The traditional blocks as a table, as plain data and as a sheet of pictures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from ..errors import OutputError
from ..output.block_sheet import SIDE_MM, BlockPicture, block_sheet_svg
from ..output.png import png_of
from ..top import FABRIC_COLOURS, TRADITIONAL, TraditionalBlock

__all__ = ["block_rows", "block_sheet", "fabrics_said"]

SHEET_PX = 2000
"""Width of the sheet as PNG."""


def fabrics_said(block: TraditionalBlock) -> str:
    """Return the fabrics of a block with the pieces of each: ``background 8, center 1, star 8``."""
    count = Counter(fabric for fabric, _ in block.cut)
    return ", ".join(f"{fabric} {count[fabric]}" for fabric in sorted(count))


def block_rows(blocks: Sequence[TraditionalBlock] = TRADITIONAL) -> list[dict[str, Any]]:
    """Return blocks as plain data; outlines in shares of the block's side, from its top left corner."""
    return [
        {
            "name": block.name,
            "also": list(block.also),
            "pieces": len(block.cut),
            "fabrics": dict(sorted(Counter(fabric for fabric, _ in block.cut).items())),
            "outlines": [
                {"fabric": fabric, "points": [[round(v, 9) for v in p] for p in ring.tolist()]}
                for fabric, ring in block.pieces(1.0)
            ],
        }
        for block in blocks
    ]


def block_sheet(suffix: str, blocks: Sequence[TraditionalBlock] = TRADITIONAL) -> bytes:
    """Return the sheet of pictures as ``.svg`` or ``.png``.

    Raises
    ------
    OutputError
        The suffix is neither.
    """
    if suffix not in (".svg", ".png"):
        raise OutputError(f"ends in {suffix or 'nothing'}; must end in .svg or .png", key="--to")
    pictures = [
        BlockPicture(
            block.name,
            (f"also: {', '.join(block.also)}. " if block.also else "") + fabrics_said(block),
            tuple((ring, FABRIC_COLOURS[fabric]) for fabric, ring in block.pieces(SIDE_MM)),
        )
        for block in blocks
    ]
    svg = block_sheet_svg("Traditional blocks", pictures)
    return svg.encode() if suffix == ".svg" else png_of(svg, SHEET_PX)
