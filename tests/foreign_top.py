"""The one top that every general tool writes: 42 x 42 in, 117 patches. The truth is computed here, in inches.

36 blocks of 6 in, every other one plain (18), the others a star set on point in four corners of sky (18 + 72), inside a
border of 3 in with square corners (4); the border's bottom is pieced from two strips (5 in all).
"""

from __future__ import annotations

from shapely import Polygon, STRtree

from plumeline.model import Top

SIDE = 42.0
COLOURS = {"border": "#5b2333", "corner": "#c98b2b", "plain": "#f4ead0", "sky": "#7fb2d9", "star": "#1f3a8a"}
COUNTS = {"border": 5, "corner": 4, "plain": 18, "sky": 72, "star": 18}
IN = 25.4

Outline = tuple[str, list[tuple[float, float]]]


def _box(x: float, y: float, w: float, h: float) -> list[tuple[float, float]]:
    return [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]


def outlines() -> list[Outline]:
    """Return the family and the corners of each patch, y down."""
    out: list[Outline] = [
        ("border", _box(3, 0, 36, 3)),
        ("border", _box(0, 3, 3, 36)),
        ("border", _box(39, 3, 3, 36)),
        ("border", _box(3, 39, 18, 3)),
        ("border", _box(21, 39, 18, 3)),
    ]
    out += [("corner", _box(x, y, 3, 3)) for x in (0, 39) for y in (0, 39)]
    for r in range(6):
        for c in range(6):
            x, y = 3 + 6 * c, 3 + 6 * r
            if (r + c) % 2 == 0:
                out.append(("plain", _box(x, y, 6, 6)))
                continue
            out.append(("star", [(x + 3, y), (x + 6, y + 3), (x + 3, y + 6), (x, y + 3)]))
            for a, b in ((x, y), (x + 6, y), (x + 6, y + 6), (x, y + 6)):
                out.append(("sky", [(a, b), (x + 3, b), (a, y + 3)]))
    return out


def seam_lines() -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Return the seams and the outer edge as straight lines, none drawn twice."""
    out = [((0.0, v), (42.0, v)) for v in (0.0, 3.0, 39.0, 42.0)] + [
        ((v, 0.0), (v, 42.0)) for v in (0.0, 3.0, 39.0, 42.0)
    ]
    out += [((3.0, 3.0 + 6 * k), (39.0, 3.0 + 6 * k)) for k in range(1, 6)]
    out += [((3.0 + 6 * k, 3.0), (3.0 + 6 * k, 39.0)) for k in range(1, 6)]
    out.append(((21.0, 39.0), (21.0, 42.0)))
    for name, ring in outlines():
        if name == "star":
            out += [(ring[k], ring[(k + 1) % 4]) for k in range(4)]
    return out


def misses(top: Top, *, names: bool, families: bool = True, off_in: float = 0.01) -> list[str]:
    """Return in what a top differs from the truth, in words; none when it is the truth.

    ``names``: patches are called by the family they are of. ``families``: those of one family share a name of their
    own, whatever it is.
    """
    out = []
    width, height = (v / IN for v in top.size)
    if abs(width - SIDE) > 2 * off_in or abs(height - SIDE) > 2 * off_in:
        out.append(f"size {width:.2f} x {height:.2f}")
    if len(top.patches) != sum(COUNTS.values()):
        out.append(f"{len(top.patches)} patches")
    tree = STRtree([p.outline for p in top.patches])
    called: dict[str, set[str]] = {name: set() for name in COUNTS}
    numbers: dict[str, list[tuple[float, float, int]]] = {}
    lost = 0
    for family, ring in outlines():
        true = Polygon([(x * IN, y * IN) for x, y in ring])
        same = [
            k
            for k in tree.query(true).tolist()
            if top.patches[k].outline.symmetric_difference(true).area <= off_in * IN * true.length
        ]
        if len(same) != 1:
            lost += 1
            continue
        base, _, number = top.patches[same[0]].name.rpartition("-")
        called[family].add(base)
        if number.isdigit():
            x, y = true.centroid.coords[0]
            numbers.setdefault(base, []).append((round(y, 1), round(x, 1), int(number)))
        elif families:
            out.append(f"a name without a number: {top.patches[same[0]].name}")
    if lost:
        out.append(f"{lost} patches not where they are")
    if names and called != {name: {name} for name in COUNTS}:
        out.append(f"names {called}")
    if families and (any(len(c) != 1 for c in called.values()) or len(set().union(*called.values())) != len(COUNTS)):
        out.append(f"families {called}")
    for base, places in numbers.items():
        if families and [n for *_, n in sorted(places)] != list(range(1, len(places) + 1)):
            out.append(f"'{base}' is not numbered as one reads")
    return out
