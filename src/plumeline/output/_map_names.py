"""Names on the map: of patches and blocks where they lie, and beside it each kind of block drawn large."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon

from ..geometry import as_region, clip_paths, inscribed_circle
from ..model import FloatArray, Patch, Path, as_path
from ._page import Words

__all__ = [
    "LETTER",
    "MapBlock",
    "Place",
    "label_behind",
    "large_blocks",
    "names_in_block",
    "patch_names",
]

LEAST_NAME_MM, MOST_NAME_MM = 0.45, 2.6
"""Height of a patch's name: as large as its patch allows, left out where it would be smaller than this."""

LEAST_READ_MM = 1.2
"""Height of letters that are read without a glass; names of pieces that would be smaller stand in the large block."""

LETTER = 0.62
"""Width of a letter as a share of the height of the font."""

BLOCK_NAME = (1.2, 1.9)
"""Least and greatest height of a block's name."""

ROW = 0.5
"""How far up and down from the middle of a patch its name needs room, as a share of the largest circle's radius."""

LARGE_MM, LARGE_GAP_MM = 58.0, 6.0
"""Side of a block that is drawn large, and what stands between two."""

Place = Callable[[FloatArray], Path]
"""Takes a path of the top to where it lies on the page."""


@dataclass(frozen=True, slots=True, eq=False)
class MapBlock:
    """A block of several pieces: kind, name, outline on the top, and its pieces as they lie in the block itself.

    ``pieces`` are the name of the patch, what it adds to the block's name, and its ring from the block's corner.
    """

    kind: str
    name: str
    outline: FloatArray
    pieces: tuple[tuple[str, str, FloatArray], ...]


def patch_names(patches: Sequence[Patch], placed: Place, scale: float) -> Iterator[Words]:
    """Give the names of whole patches, upwards along a strip that is too narrow for its name across."""
    for patch in patches:
        if 1.1 * _thickest(patch.outline) * scale < LEAST_NAME_MM:
            continue
        at, across, along, thick = _room(patch.outline, scale)
        letters = max(len(patch.name), 1) * LETTER
        turned = along > 1.5 * across and across / letters < MOST_NAME_MM
        size = min(MOST_NAME_MM, (along if turned else across) / letters, 1.1 * thick)
        if size >= LEAST_NAME_MM:
            yield _middle(placed(np.array([at]))[0], patch.name, size, turned=turned)


def names_in_block(
    block: MapBlock, outlines: Mapping[str, Polygon], placed: Place, scale: float
) -> tuple[Words, list[Words]]:
    """Return a block's name and those of its pieces within it, without the block's own.

    Where not all pieces have room to be read, the block's name stands alone, in its middle.
    """
    label = _block_name(block, placed)
    box = label_behind(label)
    (left, top), (right, bottom) = box.min(axis=0), box.max(axis=0)
    out: list[Words] = []
    for name, short, _ in block.pieces:
        at, across, _, thick = _room(outlines[name], scale)
        rows, size = _in_rows(short, across, thick)
        x, y = (float(v) for v in placed(np.array([at]))[0])
        said = _rows(x, y, rows, size)
        low, high = said[0].y - 0.8 * size, said[-1].y + 0.25 * size
        half = LETTER * size * max(map(len, rows)) / 2
        if low < bottom and high > top and left < x + half and x - half < right:  # under the label: moved down
            said = [replace(w, y=w.y + bottom + 0.3 - low) for w in said]
            high += bottom + 0.3 - low
        if size < LEAST_READ_MM or high > y + thick:
            ring = placed(block.outline)
            middle = (ring.min(axis=0) + ring.max(axis=0)) / 2
            return _middle(middle, label.text, label.size, bold=True), []
        out += said
    return label, out


def _block_name(block: MapBlock, placed: Place) -> Words:
    """Return a block's name: just within its upper edge, in the middle of one on point."""
    ring = placed(block.outline)
    (left, top), (right, bottom) = ring.min(axis=0), ring.max(axis=0)
    flat = float(np.sort(ring[:, 1])[1]) - top < 0.2 * (bottom - top)
    least, most = BLOCK_NAME
    size = max(least, min(most, 0.7 * (right - left) / (LETTER * len(block.name))))
    y = top + 0.62 * size + 0.2 if flat else (top + bottom) / 2
    return _middle(np.array([(left + right) / 2, y]), block.name, size, bold=True)


def label_behind(words: Words) -> Path:
    """Return the outline of the white label behind words that stand over lines."""
    wide, high = 0.5 * LETTER * 1.12 * words.size * len(words.text) + 0.4, 0.62 * words.size
    x, y = words.x, words.y - words.size / 3
    return as_path([(x - wide, y - high), (x + wide, y - high), (x + wide, y + high), (x - wide, y + high)])


def large_blocks(
    blocks: Sequence[MapBlock], corner: tuple[float, float], room: tuple[float, float]
) -> Iterator[tuple[MapBlock, list[tuple[str, Path]], list[Words]]]:
    """Give one block of each kind drawn large: its pieces by patch, and the words on and above it.

    Nothing where the room does not hold them at a size that is read.
    """
    kinds = list({block.kind: block for block in blocks}.values())
    if not kinds:
        return
    head = 4.0
    beside = max((1, 2, 3), key=lambda n: (min(LARGE_MM, _side(len(kinds), n, room, head)), n))
    side = min(LARGE_MM, _side(len(kinds), beside, room, head))
    if side < 10:
        return
    for k, block in enumerate(kinds):
        x = corner[0] + (k % beside) * (room[0] + LARGE_GAP_MM) / beside
        y = corner[1] + (k // beside) * (side + head + LARGE_GAP_MM) + head
        extent = max(float(ring.max()) for _, _, ring in block.pieces)
        scale, shift = side / extent, np.array([x, y])
        words = [Words(x, y - 1.2, f"pieces of {block.kind}", min(2.6, side / (LETTER * (len(block.kind) + 10))), True)]
        rings = []
        for name, short, ring in block.pieces:
            rings.append((name, as_path(ring * scale + shift)))
            at, across, _, thick = _room(as_region(ring), scale)
            rows, size = _in_rows(short, across, thick)
            px, py = np.asarray(at) * scale + shift
            words += _rows(float(px), float(py), rows, size)
        yield block, rings, words


def _side(count: int, beside: int, room: tuple[float, float], head: float) -> float:
    """Return how large blocks in rows of ``beside`` can be."""
    down = -(-count // beside)
    wide = (room[0] + LARGE_GAP_MM) / beside - LARGE_GAP_MM
    return float(min(wide, (room[1] + LARGE_GAP_MM) / down - LARGE_GAP_MM - head))


def _thickest(outline: Polygon) -> float:
    """Return what the radius of the largest circle in a patch is less than, by its area and its box."""
    left, top, right, bottom = outline.bounds
    return float(min((outline.area / np.pi) ** 0.5, (right - left) / 2, (bottom - top) / 2))


def _room(outline: Polygon, scale: float) -> tuple[tuple[float, float], float, float, float]:
    """Return where a name stands in a patch, and its room there across, along and to the nearest edge, on the page."""
    at, radius = inscribed_circle(outline, tolerance_mm=0.5)
    left, top, right, bottom = outline.bounds
    lines = []
    for off in (-ROW * radius, 0.0, ROW * radius):  # a row of letters is as high as it is
        lines.append(np.array([(left - 1, at[1] + off), (right + 1, at[1] + off)]))
        lines.append(np.array([(at[0] + off, top - 1), (at[0] + off, bottom + 1)]))
    free = [right - left, bottom - top]
    for n, piece in clip_paths(lines, outline):
        k = n % 2
        low, high = sorted(piece[[0, -1], k].tolist())
        if low <= at[k] <= high:
            free[k] = min(free[k], at[k] - low, high - at[k])
    across, along = (1.8 * f * scale for f in free)
    return (float(at[0]), float(at[1])), across, along, radius * scale


def _in_rows(name: str, across: float, thick: float) -> tuple[list[str], float]:
    """Return a name in one row or two, whichever is larger, and its height."""
    stem, dash, number = name.rpartition("-")
    ways = [[name], *([[stem, number]] if dash else [])]
    sizes = [
        min(MOST_NAME_MM, across / (LETTER * max(map(len, rows))), 1.1 * thick / (1 if len(rows) == 1 else 1.5))
        for rows in ways
    ]
    best = max(range(len(ways)), key=lambda k: sizes[k])
    return ways[best], sizes[best]


def _rows(x: float, y: float, rows: Sequence[str], size: float) -> list[Words]:
    first = y - 0.55 * size * (len(rows) - 1)
    return [_middle(np.array([x, first + 1.1 * size * k]), row, size) for k, row in enumerate(rows)]


def _middle(at: FloatArray, text: str, size: float, *, bold: bool = False, turned: bool = False) -> Words:
    x, y = float(at[0]), float(at[1])
    down = (size / 3, 0.0) if turned else (0.0, size / 3)
    return Words(x + down[0], y + down[1], text, size, bold, "middle", turned=turned)
