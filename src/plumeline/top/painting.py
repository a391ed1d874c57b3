"""Shapes as they are painted, one over the other, into shapes that lie side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import LineString, Polygon

from ..codes import FindingCode
from ..drawing import OpenLine, Shape
from ..geometry import close_ring, is_thin, painted_regions, paths_outside, regions_outside
from ..model import Finding, as_path
from ..units import Unit, format_area

__all__ = ["Painted", "laid_side_by_side"]

NOTICED_MM2 = 0.1
"""Less than this that a shape loses is not worth a word."""


@dataclass(slots=True, eq=False)
class Painted:
    """Shapes that lie side by side or wholly one in the other, lines that show, and what was noted."""

    shapes: list[Shape]
    lines: list[OpenLine]
    findings: list[Finding] = field(default_factory=list)


def laid_side_by_side(
    shapes: Sequence[Shape], lines: Sequence[OpenLine], *, within_mm: float, unit: Unit = "in"
) -> Painted:
    """Return shapes and lines as they are seen.

    A filled shape hides what was painted before it: that is taken out of the shapes below, and lines below show only
    beside it. An outline alone hides nothing: within one other shape it is a patch of its own; where it overlaps
    others in part it is a line that cuts them. Overlaps thinner than ``within_mm`` are left as they are. Shapes of
    which nothing shows are left out. O(n log n) for shapes that each overlap few others.
    """
    regions = [_region(s) for s in shapes]
    tree = shapely.STRtree(regions)
    over = _overlaps(regions, tree, within_mm)
    lost: dict[int, float] = {}
    hidden: list[int] = []
    out: list[Shape] = []
    cuts: list[OpenLine] = []
    for k, shape in enumerate(shapes):
        above = [j for j in over[k] if j > k and shapes[j].filled]
        if not shape.filled and not above:
            above = _crossed(k, shapes, regions, over)
            if above:
                cuts.append(OpenLine(shape.name, as_path(close_ring(shape.shell)), shape.colour, shape.order))
        if not above:
            out.append(shape)
            continue
        left = [p for p in regions_outside(regions[k], [regions[j] for j in above]) if not is_thin(p, within_mm)]
        gone = regions[k].area - sum(p.area for p in left)
        if not left:
            hidden.append(k)
        elif gone > NOTICED_MM2 and shape.filled:
            lost[k] = gone
        out += [_shape(shape, p) for p in left]
    shown = _lines_shown(lines, shapes, regions, tree)
    return Painted(out, [*shown, *cuts], _notes(shapes, regions, lost, hidden, cuts, unit))


def _region(shape: Shape) -> Polygon:
    whole = Polygon(shape.shell, shape.holes)
    if whole.is_valid:
        return whole
    parts = painted_regions([shape.shell, *shape.holes], evenodd=True)
    return max(parts, key=lambda p: p.area) if parts else Polygon()


def _overlaps(regions: Sequence[Polygon], tree: shapely.STRtree, within: float) -> list[list[int]]:
    out: list[list[int]] = [[] for _ in regions]
    one, other = tree.query(np.asarray(regions, dtype=object), predicate="intersects")
    half = one < other
    for i, j in zip(one[half].tolist(), other[half].tolist()):
        if shapely.touches(regions[i], regions[j]):
            continue
        common = shapely.intersection(regions[i], regions[j])
        least = within * max(common.length, within) / 2  # the area of a band that wide
        if common.area > least or (common.area > 0 and not is_thin(common, within)):
            out[i].append(j)
            out[j].append(i)
    return [sorted(o) for o in out]


def _crossed(k: int, shapes: Sequence[Shape], regions: Sequence[Polygon], over: Sequence[Sequence[int]]) -> list[int]:
    """Return the shapes that an outline crosses and that keep what they share; none when it lies in or round them."""

    def nested(j: int) -> bool:
        common = shapely.intersection(regions[k], regions[j]).area
        small = min(regions[k].area, regions[j].area)
        return common > 0.995 * small

    crossing = [j for j in over[k] if not nested(j)]
    if not crossing:
        return []
    return [j for j in crossing if shapes[j].filled or (regions[j].area, j) < (regions[k].area, k)] or []


def _shape(shape: Shape, region: Polygon) -> Shape:
    shell = as_path(np.asarray(region.exterior.coords)[:-1])
    return replace(shape, shell=shell, holes=tuple(as_path(np.asarray(r.coords)[:-1]) for r in region.interiors))


def _lines_shown(
    lines: Sequence[OpenLine], shapes: Sequence[Shape], regions: Sequence[Polygon], tree: shapely.STRtree
) -> list[OpenLine]:
    out: list[OpenLine] = []
    for line in lines:
        near = tree.query(LineString(line.path), predicate="intersects").tolist()
        above = [regions[j] for j in near if shapes[j].filled and shapes[j].order > line.order]
        if not above:
            out.append(line)
            continue
        out += [replace(line, path=p) for p in paths_outside(line.path, above)]
    return out


def _notes(
    shapes: Sequence[Shape],
    regions: Sequence[Polygon],
    lost: dict[int, float],
    hidden: Sequence[int],
    cuts: Sequence[OpenLine],
    unit: Unit,
) -> list[Finding]:
    notes = []
    if lost:
        most = max(lost, key=lambda k: lost[k])
        notes.append(
            Finding(
                FindingCode.PATCH_OVER,
                "note",
                None,
                f"{_patches(len(lost), 'loses', 'lose')} what later ones are painted over: "
                f"{format_area(sum(lost.values()), unit)} in all, the most '{shapes[most].name}' with "
                f"{format_area(lost[most], unit)}",
                "Nothing, if it looks so in your editor.",
            )
        )
    if hidden:
        area = format_area(sum(regions[k].area for k in hidden), unit)
        names = ", ".join(f"'{shapes[k].name}'" for k in hidden[:3]) + (" ..." if len(hidden) > 3 else "")
        notes.append(
            Finding(
                FindingCode.PATCH_COVERED,
                "note",
                None,
                f"{_patches(len(hidden), 'lies', 'lie')} wholly under others and "
                f"{'was' if len(hidden) == 1 else 'were'} left out ({area}): {names}",
                "Bring it to the front in your editor if it is a patch.",
            )
        )
    if cuts:
        notes.append(
            Finding(
                FindingCode.OUTLINE_CUTS,
                "note",
                None,
                f"{len(cuts)} {'outline' if len(cuts) == 1 else 'outlines'} without a fill "
                f"{'crosses' if len(cuts) == 1 else 'cross'} patches and {'cuts' if len(cuts) == 1 else 'cut'} them",
                "Give it a fill if it lies on them as a patch of its own.",
            )
        )
    return notes


def _patches(n: int, one: str, many: str) -> str:
    return f"1 patch {one}" if n == 1 else f"{n} patches {many}"
