"""Pieced tops for tests: a grid of squares, some cut into triangles, built by hand. All in mm."""

from __future__ import annotations

import numpy as np

from plumeline.geometry import as_region
from plumeline.model import Patch, Seam, Top, as_path

IN = 25.4


def corner(row, col, size, wander, frame):
    x, y = col * size, row * size
    dx, dy = wander.get((row, col), (0.0, 0.0))
    return tuple(np.asarray(frame([(x + dx, y + dy)]))[0])


def squares(rows, cols, size=6 * IN, *, wander=None, guides=None, frame=np.asarray, may_travel=None):
    """A top of ``rows`` x ``cols`` patches ``p-ROW-COL`` from 1, with every seam and the quilt's edge.

    ``wander`` moves corners (row, column from 0) by so much; ``frame`` takes the points elsewhere;
    ``may_travel`` says of a pair of patch names whether their seam may be ditched.
    """
    wander = wander or {}
    at = {(r, c): corner(r, c, size, wander, frame) for r in range(rows + 1) for c in range(cols + 1)}
    name = {(r, c): f"p-{r + 1}-{c + 1}" for r in range(rows) for c in range(cols)}
    patches = [
        Patch(name[r, c], as_region([at[r, c], at[r, c + 1], at[r + 1, c + 1], at[r + 1, c]]))
        for r in range(rows)
        for c in range(cols)
    ]
    seams = []

    def add(one, other, a, b):
        first, second = (one, other) if one else (other, one)
        allowed = may_travel(first, second) if may_travel else True
        seams.append(Seam(first, second, as_path([a, b]), allowed))

    for r in range(rows):
        for c in range(cols + 1):
            add(name.get((r, c - 1)), name.get((r, c)), at[r, c], at[r + 1, c])
    for r in range(rows + 1):
        for c in range(cols):
            add(name.get((r - 1, c)), name.get((r, c)), at[r, c], at[r, c + 1])
    named = {key: as_path(np.asarray(frame(np.asarray(path, dtype=float)))) for key, path in (guides or {}).items()}
    return Top(tuple(patches), tuple(seams), named, (cols * size, rows * size))


def one_patch(region, name="block"):
    """A top of one patch of any shape."""
    region = as_region(region)
    edges = [np.asarray(ring.coords) for ring in (region.exterior, *region.interiors)]
    x0, y0, x1, y1 = region.bounds
    return Top((Patch(name, region),), tuple(Seam(name, None, as_path(e)) for e in edges), {}, (x1 - x0, y1 - y0))
