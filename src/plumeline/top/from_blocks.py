"""A top from a block table.

Names: a block is ``NAME-ROW-COLUMN``, counted from the top left; a block between the rows is counted among its own
kind (``NAME-between-ROW-COLUMN`` where the rows use its name too); a piece of a cut block adds ``-1``, ``-2`` in
reading order of the block itself, or its own name. Then
``sash-across-ROW-COLUMN`` (``sash-across-ROW`` without cornerstones),
``sash-upright-ROW-COLUMN``, ``cornerstone-ROW-COLUMN``; ``side-top-1`` … setting triangles, ``corner-top-left`` …;
``BORDER-top``, ``-right``, ``-bottom``, ``-left``, and what `border_shapes` says of pieced ones and cornerstones. A
piece of a traditional block adds its fabric and a number: ``star-1-1-background-3``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from fnmatch import fnmatchcase

import numpy as np
from numpy.typing import ArrayLike

from ..drawing import Shape
from ..errors import TopError, nearest
from ..geometry import as_region, close_ring, faces, reading_order, rings, snap_together
from ..model import FloatArray, Path, Top, as_path
from ..tolerances import CORNER_MM
from ..units import Unit
from .assemble import assemble
from .blocks import BlockTable, Border, Pieces, Sashing
from .border_shapes import MOST_UNITS, Box, border_shapes, square
from .made_guides import BlockPlace
from .traditional import FABRIC_COLOURS, find_block

__all__ = ["block_places", "from_blocks", "setting_triangle_cuts"]

_EIGHTH_MM = 25.4 / 8
SIDE_FACTOR, SIDE_ADDED_MM = 1.414, 1.25 * 25.4
CORNER_DIVISOR, CORNER_ADDED_MM = 1.414, 0.875 * 25.4
"""The trade's rule for setting triangles: the additions are the two seam allowances, a little generous."""


_Part = tuple[str, list[Path], str | None]
"""A piece of a block: what it adds to the block's name, its rings, its colour where one is usual."""

_Parts = dict[str, list[_Part]]


def setting_triangle_cuts(finished_mm: float) -> tuple[float, float]:
    """Return the squares to cut for setting triangles of blocks on point, in mm, rounded up to 1/8 in.

    The first is cut twice crosswise into four side triangles, the second once into two corner triangles, so that
    the straight grain lies at the quilt's edge; seam allowances of 1/4 in are in them.

    Parameters
    ----------
    finished_mm : float
        Finished side of a block.

    Returns
    -------
    (side, corner)
        Sides of the two squares, mm.

    Examples
    --------
    >>> [cut / 25.4 for cut in setting_triangle_cuts(12 * 25.4)]
    [18.25, 9.375]
    """
    side = finished_mm * SIDE_FACTOR + SIDE_ADDED_MM
    corner = finished_mm / CORNER_DIVISOR + CORNER_ADDED_MM
    # a hair is taken off first, lest an exact eighth be rounded up for its last bit
    return tuple(math.ceil(cut / _EIGHTH_MM - 1e-9) * _EIGHTH_MM for cut in (side, corner))  # type: ignore[return-value]


def from_blocks(table: BlockTable, *, pressed_open: bool = False, unit: Unit = "in") -> Top:
    """Return the top that a block table describes, its top left corner at 0, 0.

    The finished size follows the trade's sums: straight ``columns x size``, plus ``columns - 1`` sashes (``+ 1`` with
    outer ones); on point ``columns x size x sqrt 2``; plus twice each border. ``unit`` is that of lengths and areas in
    findings.

    Parameters
    ----------
    table : BlockTable
        A plan's table of blocks.
    pressed_open : bool
        Whether seams are pressed open: then nothing is stitched in their ditch.
    unit : {"in", "mm", "cm"}
        The unit of lengths and areas in findings.

    Returns
    -------
    Top
        Patches named by block, row and column.

    Raises
    ------
    TopError
        The table contradicts itself; the message names the key, the value and the rule.
    """
    _check(table)
    parts = {name: _block_pieces(name, table) for name in sorted(_block_names(table))}
    shapes = list(_on_point(table, parts) if table.setting == "on-point" else _straight(table, parts))
    inner = np.vstack([s.shell for s in shapes])
    box: Box = (*inner.min(axis=0).tolist(), *inner.max(axis=0).tolist())
    for border in table.borders:
        shapes += border_shapes(border, box)
        w = border.width_mm
        box = (box[0] - w, box[1] - w, box[2] + w, box[3] + w)
    coloured = [replace(s, colour=_colour(s.name, table) or s.colour) for s in shapes]
    return assemble(coloured, close_gaps_mm=CORNER_MM, may_travel=not pressed_open, unit=unit)


def _colour(name: str, table: BlockTable) -> str | None:
    return next((colour for pattern, colour in table.colours.items() if fnmatchcase(name, pattern)), None)


def _block_names(table: BlockTable) -> set[str]:
    names = {name for row in table.rows for name in row}
    return names | {table.between} if table.between and table.setting == "on-point" else names


def _fault(key: str, rule: str, what_to_do: str | None = None) -> TopError:
    return TopError(rule, key=f"top.blocks.{key}", what_to_do=what_to_do)


def _check(table: BlockTable) -> None:
    if table.setting not in ("straight", "on-point"):
        raise _fault("setting", f"is {table.setting!r}; must be 'straight' or 'on-point'")
    _check_length("size", table.size_mm)
    if not table.rows or not table.rows[0]:
        raise _fault("rows", "is empty; must hold at least one row of block names")
    if len({len(row) for row in table.rows}) > 1:
        counts = ", ".join(str(len(row)) for row in table.rows)
        raise _fault("rows", f"has rows of {counts} blocks; all rows must be of one length")
    if table.setting == "on-point":
        if table.sashing:
            raise _fault("sashing", "goes with the straight setting only", "Take it out, or set the blocks straight.")
        if not table.between and min(len(table.rows), len(table.rows[0])) > 1:
            raise _fault(
                "between", "is missing; blocks on point have others between their rows", 'Say between = "plain".'
            )
    elif table.between:
        raise _fault("between", "goes with the on-point setting only", "Take it out.")
    if table.sashing:
        _check_length("sashing.width", table.sashing.width_mm)
    for border in table.borders:
        _check_length(f"borders '{border.name}' width", border.width_mm)
        _check_border(border)
    known = _block_names(table)
    for name in table.pieces:
        if name not in known:
            near = nearest(name, sorted(known))
            raise _fault(f"pieces.{name}", "is no block of the rows", f"Did you mean '{near}'?" if near else None)


def _check_border(border: Border) -> None:
    key = f"borders '{border.name}'"
    if border.corners not in ("butted", "mitred", "cornerstones"):
        raise _fault(f"{key} corners", f"is {border.corners!r}; must be 'butted', 'mitred' or 'cornerstones'")
    if border.pieced and border.corners == "mitred":
        raise _fault(f"{key} corners", "is 'mitred'; a pieced border has 'cornerstones' or is 'butted'")
    if border.count and not (border.pieced and 1 <= min(border.count) <= max(border.count) <= MOST_UNITS):
        raise _fault(
            f"{key} count", f"is {list(border.count)}; must be units of a pieced border, 1 to {MOST_UNITS} a side"
        )


def _check_length(key: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise _fault(key, f"is {value:g} mm; must be above 0")


def _traditional_pieces(pieces: Pieces, size: float, key: str) -> list[_Part]:
    """Return the pieces of a traditional block, named by their fabrics."""
    if pieces.lines_mm or pieces.grid or pieces.names:
        raise _fault(f"{key}.block", f"is {pieces.block!r}; a traditional block has no lines, grid or names")
    try:
        found = find_block(pieces.block or "")
    except TopError as error:
        raise error.at(key=f"top.blocks.{key}.block") from None
    cut = found.pieces(size, pieces.turns)
    cut = tuple(cut[k] for k in reading_order([as_region(ring) for _, ring in cut]))
    said = _piece_names({k: fabric for k, (fabric, _) in enumerate(cut, 1)}, len(cut), key)
    return [(f"-{name}", [ring], FABRIC_COLOURS[fabric]) for name, (fabric, ring) in zip(said, cut, strict=True)]


def _block_pieces(name: str, table: BlockTable) -> list[_Part]:
    """Return what each piece of a block adds to its name, its rings in block coordinates, its colour."""
    size, key = table.size_mm, f"pieces.{name}"
    pieces = table.pieces.get(name, Pieces())
    if pieces.block is not None:
        return _traditional_pieces(pieces, size, key)
    lines = [np.asarray(line, dtype=np.float64) for line in pieces.lines_mm]
    if pieces.grid:
        if min(pieces.grid) < 1:
            raise _fault(f"{key}.grid", f"is {list(pieces.grid)}; must be rows and columns, at least 1 each")
        rows, columns = pieces.grid
        lines += [np.array([[0.0, y], [size, y]]) for y in np.linspace(0, size, rows + 1)[1:-1]]
        lines += [np.array([[x, 0.0], [x, size]]) for x in np.linspace(0, size, columns + 1)[1:-1]]
    for line in lines:
        if line.ndim != 2 or line.shape[1] != 2 or len(line) < 2 or not np.isfinite(line).all():
            raise _fault(f"{key}.lines", "holds a line that is not two or more points")
        if line.min() < -CORNER_MM or line.max() > size + CORNER_MM:
            raise _fault(f"{key}.lines", f"leaves the block, which reaches from 0 to {size:g} mm")
    paths = [square(0.0, 0.0, size, size), *lines]
    is_line = [k > 0 for k in range(len(paths))]
    snapped = snap_together(
        paths, [not f for f in is_line], range(len(paths)), within_mm=CORNER_MM, follows=is_line
    ).paths
    found = faces([close_ring(snapped[0]), *snapped[1:]])
    if found.loose:
        x, y = found.loose[0].mean(axis=0)
        raise _fault(
            f"{key}.lines", f"has a loose end near {x:.1f}, {y:.1f} mm", "Let lines end on the block's edge or a line."
        )
    regions = [found.regions[k] for k in reading_order(found.regions)]
    named = pieces.names
    if not isinstance(named, Mapping):
        if named and len(named) != len(regions):
            raise _fault(f"{key}.names", f"holds {len(named)} names for {len(regions)} pieces")
        named = dict(enumerate(named, 1))
    wrong = next((place for place in named if not 1 <= place <= len(regions)), None)
    if wrong is not None:
        raise _fault(f"{key}.names", f"names piece {wrong}; the block has {len(regions)} pieces")
    if len(regions) == 1:
        return [("", rings(regions[0]), None)]
    said = _piece_names(named, len(regions), key)
    return [(f"-{name}", rings(r), None) for name, r in zip(said, regions, strict=True)]


def _piece_names(names: Mapping[int, str], count: int, key: str) -> list[str]:
    kinds = Counter(names.values())
    made: list[str] = []
    seen: Counter[str] = Counter()
    for place in range(1, count + 1):
        name = names.get(place, str(place))
        seen[name] += 1
        made.append(f"{name}-{seen[name]}" if kinds[name] > 1 else name)
    if len(set(made)) < count:
        raise _fault(f"{key}.names", "gives two pieces one name", "Use names that end in no number.")
    return made


def _placed(parts: _Parts, block: str, name: str, matrix: ArrayLike, shift: ArrayLike) -> Iterator[Shape]:
    turn = np.asarray(matrix).T
    for suffix, (shell, *holes), colour in parts[block]:
        inner = tuple(as_path(h @ turn + shift) for h in holes)
        yield Shape(f"{name}{suffix}", as_path(shell @ turn + shift), inner, colour)


def _straight(table: BlockTable, parts: _Parts) -> Iterator[Shape]:
    for block, name, turn, at in _straight_places(table):
        yield from _placed(parts, block, name, turn, at)
    if table.sashing:
        yield from _sashes(table.sashing, table.size_mm, len(table.rows), len(table.rows[0]))


_Place = tuple[str, str, FloatArray, FloatArray]
"""A block's kind, its own name, its turn, and where its top left corner lies inside the borders."""


def _straight_places(table: BlockTable) -> Iterator[_Place]:
    b, s = table.size_mm, table.sashing or Sashing(0.0)
    first = s.width_mm if s.outer else 0.0
    for r, row in enumerate(table.rows):
        for c, name in enumerate(row):
            yield name, f"{name}-{r + 1}-{c + 1}", np.eye(2), first + np.array([c, r]) * (b + s.width_mm)


def _sashes(s: Sashing, b: float, rows: int, columns: int) -> Iterator[Shape]:
    w, step = s.width_mm, b + s.width_mm
    first = w if s.outer else 0.0
    # where the strips begin, across and down
    xs = [k * step + first - w for k in range(0 if s.outer else 1, columns + 1 if s.outer else columns)]
    ys = [k * step + first - w for k in range(0 if s.outer else 1, rows + 1 if s.outer else rows)]
    for r in range(rows):
        for k, x in enumerate(xs):
            yield Shape(f"sash-upright-{r + 1}-{k + 1}", as_path(square(x, first + r * step, w, b)))
    whole = columns * step - w + 2 * first
    for k, y in enumerate(ys):
        if not s.cornerstones:
            yield Shape(f"sash-across-{k + 1}", as_path(square(0.0, y, whole, w)))
            continue
        for c in range(columns):
            yield Shape(f"sash-across-{k + 1}-{c + 1}", as_path(square(first + c * step, y, b, w)))
        for c, x in enumerate(xs):
            yield Shape(f"cornerstone-{k + 1}-{c + 1}", as_path(square(x, y, w, w)))


def _on_point(table: BlockTable, parts: _Parts) -> Iterator[Shape]:
    for block, name, turn, at in _on_point_places(table):
        yield from _placed(parts, block, name, turn, at)
    yield from _setting_triangles(table.size_mm * math.sqrt(2), len(table.rows), len(table.rows[0]))


def _on_point_places(table: BlockTable) -> Iterator[_Place]:
    # The block is turned 45 degrees clockwise as seen: its top left corner points up.
    half = math.sqrt(0.5)
    turn = np.array([[half, -half], [half, half]])
    d, rows, columns = table.size_mm * math.sqrt(2), len(table.rows), len(table.rows[0])
    for r, row in enumerate(table.rows):
        for c, name in enumerate(row):
            yield name, f"{name}-{r + 1}-{c + 1}", turn, np.array([(c + 0.5) * d, r * d])
    between = table.between or ""
    clash = any(between in row for row in table.rows)
    for r in range(rows - 1):
        for c in range(columns - 1):
            name = f"{between}{'-between' if clash else ''}-{r + 1}-{c + 1}"
            yield between, name, turn, np.array([(c + 1) * d, (r + 0.5) * d])


def block_places(table: BlockTable) -> tuple[BlockPlace, ...]:
    """Return where each block of a table lies on the top that `from_blocks` makes of it.

    Parameters
    ----------
    table : BlockTable
        A plan's table of blocks.

    Returns
    -------
    tuple of BlockPlace
        Row by row.
    """
    borders = sum(border.width_mm for border in table.borders)
    places = _on_point_places(table) if table.setting == "on-point" else _straight_places(table)
    return tuple(BlockPlace(kind, name, turn, at + borders, table.size_mm) for kind, name, turn, at in places)


def _setting_triangles(d: float, rows: int, columns: int) -> Iterator[Shape]:
    w, h, e = columns * d, rows * d, d / 2
    for k in range(1, columns):
        x = k * d
        yield Shape(f"side-top-{k}", as_path([(x - e, 0), (x + e, 0), (x, e)]))
        yield Shape(f"side-bottom-{k}", as_path([(x - e, h), (x, h - e), (x + e, h)]))
    for k in range(1, rows):
        y = k * d
        yield Shape(f"side-left-{k}", as_path([(0, y - e), (e, y), (0, y + e)]))
        yield Shape(f"side-right-{k}", as_path([(w, y - e), (w, y + e), (w - e, y)]))
    for name, x, y, sx, sy in (
        ("top-left", 0.0, 0.0, e, e),
        ("top-right", w, 0.0, -e, e),
        ("bottom-right", w, h, -e, -e),
        ("bottom-left", 0.0, h, e, -e),
    ):
        yield Shape(f"corner-{name}", as_path([(x, y), (x + sx, y), (x, y + sy)]))
