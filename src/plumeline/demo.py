"""The sample quilt, "Plain and Star": a drawing, a block table and their plans, made up for plumeline.

Nine 12 in sawtooth stars on point with four plain squares between, plain setting triangles and two borders. The
stars' points are cut from the plain fabric, so a plain square and the four points that touch it read as one big
star. Three faults of piecing are planted in the drawing: the plain square ``plain-2-2`` is 3/8 in out of true,
one point of the star in row 1, column 2 is missed by 1/8 in, and the right outer border is 1/2 in too long.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from .model import FloatArray

__all__ = ["block_files", "quilt_files"]

IN = 25.4
BLOCK = 12.0
DIAGONAL = BLOCK * 2**0.5
INNER, OUTER = 1.0, 5.5
TURN = np.array([[1.0, 1.0], [-1.0, 1.0]]) / 2**0.5
"""A block's own directions, right and down, as they lie on the page when it is set on point."""

CREAM, RUST, TEAL, OCHRE, SAND = "#f1e8d6", "#a4523c", "#3f6d70", "#d6a54a", "#e6dac0"

STAR = {
    "centre": ([(3, 3), (9, 3), (9, 9), (3, 9)], TEAL),
    **{f"corner-{k}": (at, OCHRE) for k, at in enumerate(
        [[(0, 0), (3, 0), (3, 3), (0, 3)], [(9, 0), (12, 0), (12, 3), (9, 3)],
         [(9, 9), (12, 9), (12, 12), (9, 12)], [(0, 9), (3, 9), (3, 12), (0, 12)]], 1)},
    **{f"point-{k}": (at, CREAM) for k, at in enumerate(
        [[(3, 0), (9, 0), (6, 3)], [(12, 3), (12, 9), (9, 6)], [(9, 12), (3, 12), (6, 9)], [(0, 9), (0, 3), (3, 6)]],
        1)},
    **{f"tip-{k}": (at, RUST) for k, at in enumerate(
        [[(3, 0), (6, 3), (3, 3)], [(9, 0), (9, 3), (6, 3)], [(12, 3), (9, 6), (9, 3)], [(12, 9), (9, 9), (9, 6)],
         [(9, 12), (6, 9), (9, 9)], [(3, 12), (3, 9), (6, 9)], [(0, 9), (3, 6), (3, 9)], [(0, 3), (3, 3), (3, 6)]],
        1)},
}  # fmt: skip
"""The pieces of a sawtooth star, inches in the block, y down."""


@dataclass(frozen=True)
class _Piece:
    name: str
    points: FloatArray
    colour: str


def quilt_files() -> dict[str, str]:
    """Return the sample quilt's plan, its drawing and its block table, by file name."""
    return {
        "plain-and-star.toml": PLAN,
        "plain-and-star.svg": quilt_drawing(),
        "plain-and-star-table.toml": TABLE_PLAN,
    }


def block_files() -> dict[str, str]:
    """Return the single block's plan and drawing, by file name."""
    return {"plain-block.toml": BLOCK_PLAN, "plain-block.svg": block_drawing()}


def quilt_drawing() -> str:
    """Return the drawing of the whole top as SVG text, true size, with its three faults."""
    side = 3 * DIAGONAL + 2 * (INNER + OUTER)
    # the long border reaches half an inch lower than the others
    return _svg(_quilt_pieces(), side, side + 0.5)


def block_drawing() -> str:
    """Return the drawing of one plain 14 in block as SVG text, true size."""
    corners = np.array([(0.0, 0.0), (14.0, 0.0), (14.0, 14.0), (0.0, 14.0)])
    return _svg([_Piece("block", corners, CREAM)], 14.0, 14.0)


def _quilt_pieces() -> Iterator[_Piece]:
    d, edge = DIAGONAL, INNER + OUTER
    pieces = [
        _Piece(_name(r, c, name), _on_point(np.array(at, float), (c + 0.5) * d, (r + 0.5) * d), colour)
        for r in range(3)
        for c in range(3)
        for name, (at, colour) in STAR.items()
    ]
    square = np.array([(0, 0), (BLOCK, 0), (BLOCK, BLOCK), (0, BLOCK)], float)
    pieces += [
        _Piece(f"plain-{r + 1}-{c + 1}", _on_point(square, (c + 1) * d, (r + 1) * d), CREAM)
        for r in range(2)
        for c in range(2)
    ]
    pieces += list(_setting_triangles(d))
    for piece in pieces:
        yield _Piece(piece.name, _faulty(piece.points) + edge, piece.colour)
    yield from _border("inner", edge - INNER, 3 * d + edge + INNER, INNER, RUST)
    yield from _border("outer", 0.0, 3 * d + 2 * edge, OUTER, SAND)


def _name(row: int, col: int, piece: str) -> str:
    """Return a star's piece's name; a point is named by the plain patch that it touches, so they join by name."""
    if not piece.startswith("point"):
        return f"star-{row + 1}-{col + 1}-{piece}"
    side = int(piece[-1])
    # on point, a block's top, right, bottom and left edge face up-right, down-right, down-left and up-left
    down, right = side in (2, 3), side in (1, 2)
    r, c = row + down, col + right
    inside_row, inside_col = 0 < r < 3, 0 < c < 3
    if inside_row and inside_col:
        beside = f"plain-{r}-{c}"
    elif inside_row:
        beside = f"side-{'right' if c else 'left'}-{r}"
    elif inside_col:
        beside = f"side-{'bottom' if r else 'top'}-{c}"
    else:
        beside = f"setting-corner-{'bottom' if r else 'top'}-{'right' if c else 'left'}"
    return f"point-{beside}-from-{row + 1}-{col + 1}"


def _on_point(points: FloatArray, x: float, y: float) -> FloatArray:
    turned: FloatArray = (points - BLOCK / 2) @ TURN + np.array([x, y])
    return turned


def _setting_triangles(d: float) -> Iterator[_Piece]:
    whole = 3 * d
    for k in range(2):
        a, b, middle = (k + 0.5) * d, (k + 1.5) * d, (k + 1.0) * d
        for name, points in (
            ("top", [(a, 0), (b, 0), (middle, d / 2)]),
            ("bottom", [(b, whole), (a, whole), (middle, whole - d / 2)]),
            ("left", [(0, b), (0, a), (d / 2, middle)]),
            ("right", [(whole, a), (whole, b), (whole - d / 2, middle)]),
        ):
            yield _Piece(f"side-{name}-{k + 1}", np.array(points, float), CREAM)
    h = d / 2
    for name, points in (
        ("top-left", [(0, 0), (h, 0), (0, h)]),
        ("top-right", [(whole, 0), (whole, h), (whole - h, 0)]),
        ("bottom-right", [(whole, whole), (whole - h, whole), (whole, whole - h)]),
        ("bottom-left", [(0, whole), (0, whole - h), (h, whole)]),
    ):
        yield _Piece(f"setting-corner-{name}", np.array(points, float), CREAM)


def _faulty(points: FloatArray) -> FloatArray:
    """Return points of the quilt's middle with the planted faults of piecing."""
    # plain-2-2's lower corner lies 3/8 in off. The shift fades to nothing over the four blocks round it, evenly
    # along each block's edges, so that every seam stays straight.
    corner = np.array([2 * DIAGONAL, 2.5 * DIAGONAL])
    blocks_away = np.abs((points - corner) @ TURN.T) / BLOCK
    share = np.clip(1 - blocks_away, 0, None).prod(axis=1)
    moved: FloatArray = points + share[:, None] * np.array([0.3, 0.225])
    # a point of the second star is missed: its end lies 1/8 in along the seam from where it should meet the corner
    end = _on_point(np.array([[9.0, 12.0]]), 1.5 * DIAGONAL, 0.5 * DIAGONAL)[0]
    moved[np.hypot(*(points - end).T) < 1e-6] += TURN[0] * 0.125
    return moved


def _border(name: str, low: float, high: float, width: float, colour: str) -> Iterator[_Piece]:
    a, b, c, e = low, low + width, high - width, high
    long = 0.5 if name == "outer" else 0.0
    for side, points in (
        ("top", [(a, a), (e, a), (c, b), (b, b)]),
        ("right", [(e, a), (e, e + long), (c, c), (c, b)]),
        ("bottom", [(e, e + long), (a, e), (b, c), (c, c)]),
        ("left", [(a, e), (a, a), (b, b), (b, c)]),
    ):
        yield _Piece(f"{name}-{side}", np.array(points, float), colour)


def _svg(pieces: Iterable[_Piece], width: float, height: float) -> str:
    body = []
    for piece in pieces:
        at = " ".join(f"{x * IN:.4f},{y * IN:.4f}" for x, y in piece.points.tolist())
        body.append(f'  <polygon id="{piece.name}" points="{at}" fill="{piece.colour}" stroke="none"/>')
    w, h = width * IN, height * IN
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w:.4f}mm" height="{h:.4f}mm" viewBox="0 0 {w:.4f} {h:.4f}">\n'
        + "\n".join(body)
        + "\n</svg>\n"
    )


PLAN = """\
# Plain and Star: nine stars on point, four plain squares, two borders.
title  = "Plain and Star"
units  = "in"
chance = 7

[top]
drawing    = "plain-and-star.svg"
close_gaps = "1/32"

[machine]
guided            = "computer"
stitches_per_inch = 10
start_stop_seconds = 45
bobbin_yards      = 120

[batting]
widest_gap = 8                        # from the batting's label

[thread.main]
colour = "#6b5a45"

# A plain square and the four points that touch it are one big star: the seams inside are ignored.
[[zone]]
name    = "big stars"
patches = ["plain-*", "point-plain-*"]
each    = "joined"
[zone.fill]
kind   = "feather"
spines = "corners"

[[zone]]
name    = "setting triangles"
patches = ["side-*", "point-side-*"]
each    = "joined"
[zone.fill]
kind  = "feather"
plume = "1 1/8"                       # about as wide as those of the big stars

# A stack: each fill takes what the one before left, so the motif stands up from the dense meander behind it.
[[zone]]
name    = "corners"
patches = ["setting-*", "point-setting-*"]
each    = "joined"
[[zone.fill]]
kind = "motif"
art  = "leaf"
fit  = "70 %"
[[zone.fill]]
kind  = "echo"
count = 2
[[zone.fill]]
kind    = "meander"
spacing = "1/4"

[[zone]]
name    = "star centres"
patches = ["star-*-centre"]
each    = "patch"
[zone.fill]
kind = "motif"
art  = "scroll"
fit  = "100 %"

[[zone]]
name    = "star points"
patches = ["star-*-tip-*", "star-*-corner-*"]
each    = "patch"
[zone.fill]
kind = "continuous-curve"

[[zone]]
name    = "inner border"
patches = ["inner-*"]
order   = "last"
[zone.fill]
kind = "motif"
art  = "scroll-border"

[[zone]]
name    = "outer border"
patches = ["outer-*"]
order   = "last"
inset   = "1/4"
[zone.fill]
kind   = "feather"
spines = "wave"

# Three ideas to compare. The first is the plan as it stands above.
[options.feathers]

[options.rulers."big stars"]
kind    = "channel"
spacing = 1
angle   = 45
[options.rulers."setting triangles"]
kind    = "channel"
spacing = 1
angle   = 45
[options.rulers.corners]
kind    = "channel"
spacing = 1
angle   = 45
[options.rulers."star centres"]
kind    = "crosshatch"
spacing = "1/2"
[options.rulers."inner border"]
kind = "rings"
rows = 2
[options.rulers."outer border"]
kind       = "channel"
spacing    = 1
piano_keys = true

[options.all-over."big stars"]
kind    = "meander"
spacing = "1/2"
[options.all-over."setting triangles"]
kind    = "meander"
spacing = "1/2"
[options.all-over.corners]
kind    = "meander"
spacing = "1/2"
[options.all-over."star centres"]
kind    = "meander"
spacing = "1/2"
[options.all-over."outer border"]
kind    = "meander"
spacing = "1/2"
"""
"""The plan of the drawing."""

TABLE_PLAN = """\
# The same quilt as a table of blocks, as it was meant to be pieced.
title  = "Plain and Star, from a table"
units  = "in"
chance = 7

[top.blocks]
setting = "on-point"
size    = 12
rows    = [["star", "star", "star"], ["star", "star", "star"], ["star", "star", "star"]]
between = "plain"
borders = [{ name = "inner", width = 1, corners = "mitred" }, { name = "outer", width = "5 1/2", corners = "mitred" }]
[top.blocks.pieces]
star = { lines = [
  [[3, 3], [9, 3], [9, 9], [3, 9], [3, 3]],
  [[3, 0], [3, 3], [0, 3]], [[9, 0], [9, 3], [12, 3]], [[12, 9], [9, 9], [9, 12]], [[0, 9], [3, 9], [3, 12]],
  [[3, 0], [6, 3], [9, 0]], [[12, 3], [9, 6], [12, 9]], [[9, 12], [6, 9], [3, 12]], [[0, 9], [3, 6], [0, 3]],
] }

[[zone]]
name    = "plain squares"
patches = ["plain-*"]
each    = "patch"
[zone.fill]
kind   = "feather"
spines = "corners"

[[zone]]
name    = "setting triangles"
patches = ["side-*", "corner-*"]
each    = "patch"
[zone.fill]
kind    = "crosshatch"
spacing = 1

[[zone]]
name    = "stars"
patches = ["star-*"]
each    = "patch"
[zone.fill]
kind = "continuous-curve"

[[zone]]
name    = "borders"
patches = ["inner-*", "outer-*"]
order   = "last"
[zone.fill]
kind    = "channel"
spacing = 1
piano_keys = true
"""
"""The plan of the block table."""

BLOCK_PLAN = """\
# One plain block of 14 in: four feathers from the middle to the corners in a quilted frame.
title = "Plain block"
units = "in"

[top]
drawing = "plain-block.svg"

[[zone]]
name    = "block"
patches = ["block"]
divide  = [{ by = "frame", width = "1 1/2" }]
[zone.fill.frame]
kind = "rings"
rows = 3
[zone.fill.inside]
kind   = "feather"
spines = "corners"
"""
"""The plan of the single block."""
