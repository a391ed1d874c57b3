"""Levels: the lines at given distances from the edge of a region, as regions of their own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from shapely import Polygon

from ..areas.offsets import dilate, erode_all
from ..areas.regions import as_region, bounds, subtract, unite

__all__ = ["each_level", "levels_of", "space_about"]


def levels_of(
    region: Polygon, depths_mm: Iterable[float], *, room_mm: float, sharp: bool = False
) -> list[list[Polygon]]:
    """Return what of a region lies deeper than each depth, without what is narrower than some room.

    Parameters
    ----------
    region : shapely.Polygon
        What is eroded.
    depths_mm : iterable of float
        Each is taken from the region itself, so errors don't add up; of a coast see `erode_all`.
    room_mm : float
        Necks and tips narrower than this are left out: lines along both of their sides would run into each other.
    sharp : bool
        Keep the corners that the depths leave; else they are rounded with half the room as their radius.

    Returns
    -------
    list of list of Polygon
        One list a depth, largest first; empty where nothing is so deep.

    Notes
    -----
    Erosion by depth and radius, then dilation by the radius (an opening). Every point of the edges but those on
    rounded corners lies at its depth, within twice the offset's tolerance of 0.01 mm.
    """
    depths = list(depths_mm)
    return list(each_level(region, depths, [room_mm] * len(depths), sharp=sharp))


def each_level(
    region: Polygon, depths_mm: Sequence[float], rooms_mm: Sequence[float], *, sharp: bool = False
) -> Iterator[list[Polygon]]:
    """Yield one level after another, each with its own room; see `levels_of`.

    Parameters
    ----------
    region : shapely.Polygon
        What is eroded.
    depths_mm : sequence of float
        How deep each level lies, rising.
    rooms_mm : sequence of float
        The room of each.
    sharp : bool
        As of `levels_of`.

    Yields
    ------
    list of shapely.Polygon
        The pieces of one level.
    """
    cores_of = erode_all(region, (d + room / 2 for d, room in zip(depths_mm, rooms_mm)), join="round")
    for cores, room in zip(cores_of, rooms_mm):
        yield unite(p for core in cores for p in dilate(core, room / 2, join="mitre" if sharp else "round"))


def space_about(taken: Iterable[Polygon], near: Polygon, by_mm: float) -> list[Polygon]:
    """Return the plane about some regions: a rectangle that reaches so far beyond another region, less those.

    Parameters
    ----------
    taken : iterable of shapely.Polygon
        What is not space.
    near : shapely.Polygon
        What the rectangle lies about.
    by_mm : float
        How far it reaches beyond that.

    Returns
    -------
    list of shapely.Polygon
        Largest first.
    """
    left, top, right, bottom = bounds(near)
    low, high = (left - by_mm, top - by_mm), (right + by_mm, bottom + by_mm)
    return subtract(as_region([low, (high[0], low[1]), high, (low[0], high[1])]), taken)
