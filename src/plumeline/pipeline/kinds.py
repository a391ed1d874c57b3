"""What patches that have only a colour in common are: border, strips, squares, triangles, as a quilter would say."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise

import numpy as np
from shapely import Polygon

from ..drawing.colours import colour_word
from ..drawing.names import is_made_up
from ..geometry import bounds, cornered, path_length, rings
from ..model import FloatArray, Patch, Top

__all__ = ["BORDER", "border_strips", "is_colour_only", "kinds_of"]

BORDER = "border"
CORNERS = "border corners"
PIECES = "pieces"
"""What is none of the kinds below; such shapes are not told apart by size either."""

STRIP = 4.0
"""A patch so many times as long as wide is a strip."""

SQUARE = 1.15
"""Sides of a square differ by less than this."""

RIGHT_DEG = 8.0
"""A right angle is right within this: piecing is never perfect, and a drawing of it neither."""

LONG = 0.55
"""A border strip is at least this much of the top long."""

APART = 2.5
"""One kind whose areas leave a gap of so many times between them comes in two sizes."""

FULL = 0.9
"""A plain shape fills at least this much of what a thread round it encloses."""

ROUND = 0.97
"""Area that a shape has of the circle with its edge: more is a circle."""


def is_colour_only(family: str, patches: Sequence[Patch]) -> bool:
    """Whether a family of patches got its name from a colour or a program, so that it may hold what is not alike."""
    if family == "patch" or is_made_up(family):
        return True
    stem = family.rstrip("-")
    words = {colour_word(p.colour) for p in patches if p.colour}
    return any(stem == word or (stem.startswith(f"{word}-") and len(stem) <= len(word) + 3) for word in words)


def kinds_of(family: str, patches: Sequence[Patch], top: Top, strips: Collection[str]) -> dict[str, list[str]]:
    """Return the patches of a family by what they are, as ``{"blue border": [...], "large blue squares": [...]}``.

    Plain shapes have a kind by their corners and sides; the strips of the border (see `border_strips`) and frames round
    the rest are the border, and the squares in its corners with it where they are of its family. Where most are no
    plain shape (a picture, not a pieced top), all but the border stay together under the family's name.
    """
    kind = {p.name: _kind(p.outline) for p in patches}
    edge = {p.name for p in patches if p.name in strips or _is_frame(p.outline, top)}
    corners = {p.name for p in patches if strips and kind[p.name] == "squares" and _in_corner(p.outline, top)}
    kind |= dict.fromkeys(edge, BORDER) | dict.fromkeys(corners - edge, BORDER if edge else CORNERS)
    inside = [name for name, what in kind.items() if what not in (BORDER, CORNERS)]
    if 2 * sum(kind[name] != PIECES for name in inside) <= len(inside):
        kind |= dict.fromkeys(inside, PIECES)
    area = {p.name: float(p.outline.area) for p in patches}
    out: dict[str, list[str]] = {}
    for what in dict.fromkeys(kind.values()):
        own = [p.name for p in patches if kind[p.name] == what]
        for size, names in _by_size(own, area) if what not in (BORDER, CORNERS, PIECES) else [("", own)]:
            out[_called(family, what, size, len(names))] = names
    return out


def _called(family: str, what: str, size: str, count: int) -> str:
    if what == PIECES:
        return family
    noun = what
    if count == 1:  # of "squares on point" the first word is the one that counts
        first, space, more = what.partition(" ")
        noun = f"{first.removesuffix('s')}{space}{more.removesuffix('s')}"
    stem = "" if family == "patch" or is_made_up(family) else family
    return " ".join(filter(None, (size, stem, noun)))


def _kind(outline: Polygon) -> str:
    if outline.area < FULL * outline.convex_hull.area:
        return PIECES
    found = cornered(rings(outline)[0])
    count, area = len(found.corners), float(outline.area)
    if count < 3:
        edge = float(outline.exterior.length)
        return "circles" if 4 * math.pi * area > ROUND * edge**2 else PIECES
    sides = np.array([path_length(side) for side in found.sides()])
    if count == 3:
        return "triangles"
    if count != 4:
        return PIECES
    if sides.max() ** 2 >= STRIP * area:
        return "strips"
    is_even = sides.max() < SQUARE * sides.min()
    if (np.abs(found.inner_deg - 90) > RIGHT_DEG).any():
        return "diamonds" if is_even else PIECES
    if not is_even:
        return "rectangles"
    across = found.points[1] - found.points[0]
    turned = math.degrees(math.atan2(across[1], across[0])) % 90
    return "squares on point" if 30 < turned < 60 else "squares"


def border_strips(top: Top) -> set[str]:
    """Return the patches that are strips along an edge of the top with nothing but strips between."""
    boxes = np.array([bounds(p.outline) for p in top.patches])
    lengths = boxes[:, 2:] - boxes[:, :2]
    along = (lengths[:, 1] > lengths[:, 0]).astype(int)
    shares = lengths[np.arange(len(boxes)), along] / np.array(top.size)[along]
    is_strip = [bool(k) and _kind(p.outline) == "strips" for k, p in zip(shares >= LONG, top.patches)]
    return {
        patch.name
        for k, patch in enumerate(top.patches)
        if is_strip[k] and _is_outermost(k, int(along[k]), boxes, is_strip, top)
    }


def _is_outermost(k: int, along: int, boxes: FloatArray, is_strip: Sequence[bool], top: Top) -> bool:
    across = 1 - along
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    low = middles[k, across] < top.size[across] / 2
    beyond = middles[:, across] < boxes[k, across] if low else middles[:, across] > boxes[k, 2 + across]
    beside = (middles[:, along] > boxes[k, along]) & (middles[:, along] < boxes[k, 2 + along])
    return all(is_strip[j] for j in np.flatnonzero(beyond & beside).tolist())


def _is_frame(outline: Polygon, top: Top) -> bool:
    holes = rings(outline)[1:]
    return any(float(np.prod(np.ptp(hole, axis=0))) > LONG**2 * top.size[0] * top.size[1] for hole in holes)


def _in_corner(outline: Polygon, top: Top) -> bool:
    left, upper, right, lower = bounds(outline)
    width, height = right - left, lower - upper
    at_side = left < width / 4 or top.size[0] - right < width / 4
    return at_side and (upper < height / 4 or top.size[1] - lower < height / 4)


def _by_size(names: Sequence[str], area: Mapping[str, float]) -> list[tuple[str, list[str]]]:
    """Return the names as one size or as two, where a gap of `APART` times lies between."""
    ordered = sorted(area[name] for name in names)
    steps = [b / a for a, b in pairwise(ordered)]
    if not steps or max(steps) < APART:
        return [("", list(names))]
    least = ordered[steps.index(max(steps)) + 1]
    return [("large", [n for n in names if area[n] >= least]), ("small", [n for n in names if area[n] < least])]
