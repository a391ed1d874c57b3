"""Strips too thin for patches that lie side by side, as a shaded fabric is often drawn: one patch each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon

from ..drawing import Shape
from ..geometry import is_thin, regions_outside, thick_overlaps, thick_together
from ..model import as_path

__all__ = ["Shade", "cut_to", "shades_of", "without_shades"]


@dataclass(frozen=True, slots=True, eq=False)
class Shade:
    """A patch that strips make together, and the places of their shapes."""

    shape: Shape
    region: Polygon
    members: tuple[int, ...]


def cut_to(shape: Shape, region: Polygon) -> Shape:
    """Return a shape as a part of it that shows."""
    shell = as_path(np.asarray(region.exterior.coords)[:-1])
    return replace(shape, shell=shell, holes=tuple(as_path(np.asarray(r.coords)[:-1]) for r in region.interiors))


def shades_of(strips: Sequence[tuple[int, Polygon]], shapes: Sequence[Shape], *, within_mm: float) -> list[Shade]:
    """Return the patches that what is seen of shapes makes together where each is too thin for one; often none.

    ``strips`` are pieces with the place of the shape each is of. A patch is called by the shape with the most of it,
    and has the mean of their colours; it lies where the topmost of them lies.
    """
    out = []
    for region, own in thick_together([piece for _, piece in strips], apart_mm=within_mm):
        sizes: dict[int, float] = {}
        for k, area in own:
            sizes[strips[k][0]] = sizes.get(strips[k][0], 0.0) + area
        if len(sizes) < 2:
            continue
        most = max(sizes, key=lambda k: (sizes[k], -k))
        colour = _mean_colour([(shapes[k].colour, area) for k, area in sizes.items()])
        top = max(shapes[k].order for k in sizes)
        shape = cut_to(replace(shapes[most], colour=colour, open_ended=False, order=top), region)
        out.append(Shade(shape, region, tuple(sorted(sizes))))
    return out


def _mean_colour(parts: Sequence[tuple[str | None, float]]) -> str | None:
    known = [(np.frombuffer(bytes.fromhex(colour[1:]), dtype=np.uint8), area) for colour, area in parts if colour]
    if not known:
        return None
    mean = np.average([rgb for rgb, _ in known], axis=0, weights=[area for _, area in known])
    return "#" + "".join(f"{round(v):02x}" for v in mean.tolist())


def without_shades(laid: Sequence[tuple[Shape, Polygon]], shades: Sequence[Shade], *, within_mm: float) -> list[Shape]:
    """Return shapes that lie side by side without what shades are painted over: strips hide nothing one by one."""
    every = [region for _, region in laid] + [s.region for s in shades]
    over = thick_overlaps(every, thicker_mm=within_mm)
    out: list[Shape] = []
    for k, (shape, region) in enumerate(laid):
        above = [j - len(laid) for j in over[k] if j >= len(laid)]
        above = [j for j in above if shades[j].shape.order > shape.order]
        if not above:
            out.append(shape)
            continue
        pieces = regions_outside(region, [shades[j].region for j in above])
        out += [cut_to(shape, piece) for piece in pieces if not is_thin(piece, within_mm)]
    return out
