"""The block table: a top as rows of blocks, with sashing, setting triangles and borders. Lengths in mm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from ..model import Path

__all__ = ["BlockTable", "Border", "Corners", "PiecedBorder", "Pieces", "Sashing"]

Corners = Literal["butted", "mitred", "cornerstones"]
"""How a border turns the corner."""

PiecedBorder = Literal["squares", "keys", "sawtooth", "geese"]
"""What a pieced border is made of: squares or narrow bars in turn, half-square triangles, flying geese."""


@dataclass(frozen=True, slots=True)
class Sashing:
    """Strips between the blocks of a straight setting.

    ``outer``: strips round the outside too. ``cornerstones``: squares where strips meet; without them the strips
    across run the whole width.
    """

    width_mm: float
    outer: bool = False
    cornerstones: bool = False


@dataclass(frozen=True, slots=True)
class Border:
    """One border: its name, its finished width, how its corners are sewn.

    ``pieced``: the units that it is made of, each as near to its usual proportion as lets a whole number of them fill
    the side; ``count``: how many along the top and along a side, instead.
    """

    name: str
    width_mm: float
    corners: Corners = "butted"
    pieced: PiecedBorder | None = None
    count: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """How a block is cut into patches.

    Attributes
    ----------
    lines_mm : sequence of Path
        Lines in block coordinates: 0, 0 is the block's top left corner, y down.
    grid : (rows, columns) or None
        Equal cells.
    names : sequence of str, or mapping of int to str
        Names of all pieces in reading order, or of some by their place, from 1; several of one name are numbered
        (``point-1``, ``point-2``), a piece without one is named by its place.
    block : str or None
        A traditional block instead of lines or a grid; its pieces are named by their fabrics.
    turns : int
        Quarters of a turn, counter-clockwise as seen, by which that block is turned.
    """

    lines_mm: Sequence[Path] = ()
    grid: tuple[int, int] | None = None
    names: Sequence[str] | Mapping[int, str] = ()
    block: str | None = None
    turns: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class BlockTable:
    """The ``[top.blocks]`` table.

    Attributes
    ----------
    setting : {"straight", "on-point"}
        Blocks side by side, or turned 45 degrees with setting triangles round them.
    size_mm : float
        Finished side of a block.
    rows : sequence of rows of str
        Block names, from the top left; all rows are of one length.
    between : str or None
        On point: the blocks between the rows.
    sashing : Sashing or None
        Straight setting only.
    borders : sequence of Border
        From the inside out.
    pieces : mapping of str to Pieces
        By block name; a block not listed is one patch.
    colours : mapping of str to str
        Patch names (``*`` for any ending) to colours; the first that fits counts.
    """

    setting: Literal["straight", "on-point"]
    size_mm: float
    rows: Sequence[Sequence[str]]
    between: str | None = None
    sashing: Sashing | None = None
    borders: Sequence[Border] = ()
    pieces: Mapping[str, Pieces] = field(default_factory=dict)
    colours: Mapping[str, str] = field(default_factory=dict)
