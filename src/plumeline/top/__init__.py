"""The top: patches and the seams between them, from a drawing, a block table or a tape measure."""

from __future__ import annotations

from .as_measured import Measured, as_measured
from .assemble import CLOSE_GAPS_MM, assemble
from .blocks import BlockTable, Border, Pieces, Sashing
from .cut_blocks import TraditionalBlock
from .from_blocks import block_places, from_blocks, setting_triangle_cuts
from .from_drawing import ReadAs, from_drawing, top_of_drawing
from .from_measures import from_measures
from .from_photo import film_guides, photo_of, size_beside_photo, top_of_photo
from .made_guides import BlockPlace, made_guides
from .photo import BENDS_FROM, SquaredUp, square_up
from .photo_points import MeasuredPoints, read_points
from .size import LARGE_MM, size_of_table
from .sizing import Known, SaidSize
from .straight_table import BlockRow, CornerRow, SeamRow, StraightLimits, StraightTable, straight_table
from .straightness import CrookedSeam, Side, crooked_seams, off_true_mm, sides_out_of_true
from .traditional import FABRIC_COLOURS, TRADITIONAL, find_block

__all__ = [
    "BENDS_FROM",
    "CLOSE_GAPS_MM",
    "FABRIC_COLOURS",
    "LARGE_MM",
    "TRADITIONAL",
    "BlockPlace",
    "BlockRow",
    "BlockTable",
    "Border",
    "CornerRow",
    "CrookedSeam",
    "Known",
    "Measured",
    "MeasuredPoints",
    "Pieces",
    "ReadAs",
    "SaidSize",
    "Sashing",
    "SeamRow",
    "Side",
    "SquaredUp",
    "StraightLimits",
    "StraightTable",
    "TraditionalBlock",
    "as_measured",
    "assemble",
    "block_places",
    "crooked_seams",
    "film_guides",
    "find_block",
    "from_blocks",
    "from_drawing",
    "from_measures",
    "made_guides",
    "off_true_mm",
    "photo_of",
    "read_points",
    "setting_triangle_cuts",
    "sides_out_of_true",
    "size_beside_photo",
    "size_of_table",
    "square_up",
    "straight_table",
    "top_of_drawing",
    "top_of_photo",
]
