"""Shapes as they are painted, one over the other, into shapes that lie side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely import LineString, Polygon

from ..codes import FindingCode
from ..drawing import OpenLine, Shape, named
from ..geometry import Cover, close_ring, is_thin, painted_regions, paths_outside, regions_outside, thick_overlaps
from ..model import Finding, as_path
from ..units import Unit, format_area
from .shading import Shade, cut_to, shades_of, without_shades

__all__ = ["Painted", "laid_side_by_side"]

NOTICED_MM2 = 0.1
"""Less than this that a shape loses is not worth a word."""


MANY = 8
"""Under more shapes than this, one is held against what they cover together; thin overlaps go with it then."""


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
    seen = _seen(shapes, regions, within_mm)
    shades = shades_of(seen.strips, shapes, within_mm=within_mm)
    if shades:
        joined = {k for shade in shades for k in shade.members}
        seen.hidden = [k for k in seen.hidden if k not in joined]
        laid = [(s, r) for s, r, strip in seen.laid if strip is None or strip not in joined]
        laid_round = without_shades(laid, shades, within_mm=within_mm)
        out = sorted([*laid_round, *(s.shape for s in shades)], key=lambda s: s.order)
    else:
        out = [s for s, _, _ in seen.laid]
    paint = [*zip(shapes, regions), *((s.shape, s.region) for s in shades)]
    shown = _lines_shown(lines, [(region, shape.order) for shape, region in paint if shape.filled])
    return Painted(out, [*shown, *seen.cuts], _notes(shapes, regions, seen, shades, unit))


@dataclass(slots=True, eq=False)
class _Seen:
    """What is seen of shapes, in their order.

    ``laid``: shapes as far as they show (what nothing covers is as drawn, to the bit), their regions, and the place
    of what is a strip as drawn; ``strips``: pieces too thin for patches, and the places of their shapes.
    """

    laid: list[tuple[Shape, Polygon, int | None]] = field(default_factory=list)
    strips: list[tuple[int, Polygon]] = field(default_factory=list)
    cuts: list[OpenLine] = field(default_factory=list)
    lost: dict[int, float] = field(default_factory=dict)
    hidden: list[int] = field(default_factory=list)


def _seen(shapes: Sequence[Shape], regions: Sequence[Polygon], within: float) -> _Seen:
    over = thick_overlaps(regions, thicker_mm=within)
    cover = Cover([region if shape.filled else None for region, shape in zip(regions, shapes)])
    out = _Seen()
    for k, drawn in enumerate(shapes):
        shape = drawn if drawn.filled else _on_its_cloth(k, shapes, regions, over[k])
        above = [j for j in over[k] if j > k and shapes[j].filled]
        crossed = _crossed(k, shapes, regions, over) if not shape.filled and not above else []
        if crossed:
            out.cuts.append(OpenLine(shape.name, as_path(close_ring(shape.shell)), shape.colour, shape.order))
        if not (above or crossed):
            strip = shape.filled and _thin(regions[k], within)
            if strip:
                out.strips += [(k, p) for p in cover.left_of(regions[k], k)]
            out.laid.append((shape, regions[k], k if strip else None))
            continue
        if len(above) > MANY:
            pieces = cover.left_of(regions[k], k)
        else:
            pieces = regions_outside(regions[k], [regions[j] for j in above or crossed])
        thin = [_thin(p, within) for p in pieces]
        left = [p for p, t in zip(pieces, thin) if not t]
        if shape.filled:
            out.strips += [(k, p) for p, t in zip(pieces, thin) if t]
        gone = regions[k].area - sum(p.area for p in left)
        if shape.sheer:  # what is fainter than what it lies on was told of when it was read
            pass
        elif not left:
            out.hidden.append(k)
        elif gone > NOTICED_MM2 and shape.filled:
            out.lost[k] = gone
        out.laid += [(cut_to(shape, p), p, None) for p in left]
    return out


def _on_its_cloth(k: int, shapes: Sequence[Shape], regions: Sequence[Polygon], over: Sequence[int]) -> Shape:
    """Return an outline alone in the colour of the fabric that shows within it."""
    middle = regions[k].representative_point()
    below = [j for j in over if shapes[j].filled and regions[j].covers(middle)]
    return replace(shapes[k], colour=shapes[max(below)].colour) if below else shapes[k]


def _thin(region: Polygon, width: float) -> bool:
    # an area above half the width times the perimeter always holds the circle: spares most of the offsetting
    return region.area <= width / 2 * region.length and is_thin(region, width)


def _region(shape: Shape) -> Polygon:
    whole = Polygon(shape.shell, shape.holes)
    if whole.is_valid:
        return whole
    parts = painted_regions([shape.shell, *shape.holes], evenodd=True)
    return max(parts, key=lambda p: p.area) if parts else Polygon()


def _crossed(k: int, shapes: Sequence[Shape], regions: Sequence[Polygon], over: Sequence[Sequence[int]]) -> list[int]:
    """Return the shapes that an outline crosses and that keep what they share; none when it lies in or round them."""

    def nested(j: int) -> bool:
        common = shapely.intersection(regions[k], regions[j]).area
        small = min(regions[k].area, regions[j].area)
        return common > 0.995 * small

    crossing = [j for j in over[k] if not nested(j)]
    if not crossing:
        return []
    return [j for j in crossing if shapes[j].filled or (regions[j].area, j) < (regions[k].area, k)]


def _lines_shown(lines: Sequence[OpenLine], paint: Sequence[tuple[Polygon, int]]) -> list[OpenLine]:
    # `paint`: what hides lines that were drawn before it, with its place in the order of painting
    tree = shapely.STRtree([region for region, _ in paint])
    out: list[OpenLine] = []
    for line in lines:
        near = tree.query(LineString(line.path), predicate="intersects").tolist()
        above = [paint[j][0] for j in near if paint[j][1] > line.order]
        if not above:
            out.append(line)
            continue
        out += [replace(line, path=p) for p in paths_outside(line.path, above)]
    return out


def _notes(
    shapes: Sequence[Shape],
    regions: Sequence[Polygon],
    seen: _Seen,
    shades: Sequence[Shade],
    unit: Unit,
) -> list[Finding]:
    notes = []
    lost, hidden, cuts = seen.lost, seen.hidden, seen.cuts
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
        names = named(list(dict.fromkeys(shapes[k].name for k in hidden)))
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
    if shades:
        notes.append(_shades_note(shades, unit))
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


def _shades_note(shades: Sequence[Shade], unit: Unit) -> Finding:
    strips = len({k for shade in shades for k in shade.members})
    area = format_area(sum(shade.region.area for shade in shades), unit)
    return Finding(
        FindingCode.SHADES_JOINED,
        "note",
        None,
        f"{strips} strips too thin for patches lie side by side, as a shaded fabric is drawn; they make "
        f"{len(shades)} {'patch' if len(shades) == 1 else 'patches'} ({area})",
        "Nothing, unless another patch was meant.",
    )


def _patches(n: int, one: str, many: str) -> str:
    return f"1 patch {one}" if n == 1 else f"{n} patches {many}"
