"""The top: patches and the seams between them, from a drawing, a block table or a tape measure."""

from __future__ import annotations

from .as_measured import Measured, as_measured
from .as_pieced import Pieced, as_pieced
from .assemble import CLOSE_GAPS_MM, assemble
from .blocks import BlockTable, Border, Pieces, Sashing
from .cut_blocks import TraditionalBlock
from .film import FilmLine, film_lines
from .from_blocks import block_places, from_blocks, setting_triangle_cuts
from .from_drawing import ReadAs, from_drawing, top_of_drawing
from .from_measures import from_measures
from .from_photo import film_guides, photo_of, size_beside_photo, top_of_photo
from .made_guides import BlockPlace, made_guides
from .photo import BENDS_FROM, SquaredUp, square_up
from .photo_points import MeasuredPoints, read_points
from .seam_net import SeamNet, Stretch, seam_net
from .seams_seen import PLACED_MM, PhotoColours, SeenSeam, see_seam
from .sharpened import placed_seams, sharpened
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
    "PLACED_MM",
    "TRADITIONAL",
    "BlockPlace",
    "BlockRow",
    "BlockTable",
    "Border",
    "CornerRow",
    "CrookedSeam",
    "FilmLine",
    "Known",
    "Measured",
    "MeasuredPoints",
    "PhotoColours",
    "Pieced",
    "Pieces",
    "ReadAs",
    "SaidSize",
    "Sashing",
    "SeamNet",
    "SeamRow",
    "SeenSeam",
    "Side",
    "SquaredUp",
    "StraightLimits",
    "StraightTable",
    "Stretch",
    "TraditionalBlock",
    "as_measured",
    "as_pieced",
    "assemble",
    "block_places",
    "crooked_seams",
    "film_guides",
    "film_lines",
    "find_block",
    "from_blocks",
    "from_drawing",
    "from_measures",
    "made_guides",
    "off_true_mm",
    "photo_of",
    "placed_seams",
    "read_points",
    "seam_net",
    "see_seam",
    "setting_triangle_cuts",
    "sharpened",
    "sides_out_of_true",
    "size_beside_photo",
    "size_of_table",
    "square_up",
    "straight_table",
    "top_of_drawing",
    "top_of_photo",
]
