"""The top: patches and the seams between them, from a drawing, a block table or a tape measure."""

from __future__ import annotations

from .as_measured import Measured, as_measured
from .assemble import CLOSE_GAPS_MM, assemble
from .blocks import BlockTable, Border, Pieces, Sashing
from .cut_blocks import TraditionalBlock
from .from_blocks import block_places, from_blocks, setting_triangle_cuts
from .from_drawing import ReadAs, from_drawing, top_of_drawing
from .from_measures import from_measures
from .made_guides import BlockPlace, made_guides
from .size import size_of_table
from .sizing import Known, SaidSize
from .straight_table import BlockRow, CornerRow, SeamRow, StraightLimits, StraightTable, straight_table
from .straightness import CrookedSeam, Side, crooked_seams, off_true_mm, sides_out_of_true
from .traditional import FABRIC_COLOURS, TRADITIONAL, find_block

__all__ = [
    "CLOSE_GAPS_MM",
    "FABRIC_COLOURS",
    "TRADITIONAL",
    "BlockPlace",
    "BlockRow",
    "BlockTable",
    "Border",
    "CornerRow",
    "CrookedSeam",
    "Known",
    "Measured",
    "Pieces",
    "ReadAs",
    "SaidSize",
    "Sashing",
    "SeamRow",
    "Side",
    "StraightLimits",
    "StraightTable",
    "TraditionalBlock",
    "as_measured",
    "assemble",
    "block_places",
    "crooked_seams",
    "find_block",
    "from_blocks",
    "from_drawing",
    "from_measures",
    "made_guides",
    "off_true_mm",
    "setting_triangle_cuts",
    "sides_out_of_true",
    "size_of_table",
    "straight_table",
    "top_of_drawing",
]
