"""What the net is made of: strokes to be stitched (chains as one), ways for travel, and the net over them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from ..geometry import arc_lengths, close_ring, nearest_path, node_paths, point_at, times_near, turns
from ..model import FloatArray, IntArray, Path, Stroke, Way
from ..tolerances import ROUNDING_MM
from .passes import Net

__all__ = ["Kind", "Member", "Source", "Woven", "sources_of", "weave"]

Kind: TypeAlias = Literal["stitch", "backtrack", "seam", "edge", "step"]

BACKTRACK = 1.5
"""What a mm sewn again over stitching costs: it thickens the line, so a seam as long is better."""

STEP = 4.0
"""What a mm of a visible step costs, and of a link between a zone's outline and a seam."""

LOOK_MM = 0.5
"""How far along an edge its heading at a node is taken: past the vertices of a flattened curve, not past a bend."""


_KIND_OF_WAY: dict[str, Kind] = {"seam": "seam", "edge": "edge", "link": "edge", "stitched": "backtrack"}

FOLD_RAD = 1e-6
"""A stroke that turns back by all but this goes along its own line: rounding, not a narrow tip."""


@dataclass(frozen=True, slots=True)
class Member:
    """Points ``start`` to ``end`` of a source: one stroke, by its number, and its role."""

    start: int
    end: int
    stroke: int
    role: Kind


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A path that goes into the net: a stroke, a chain of strokes, or a way.

    ``path`` is closed up (its first point repeated) when ``closed``. ``factor`` weighs extra passes; ``spare`` is
    how many are allowed (for a way: all of its passes). ``members`` is empty for a way. ``lengths`` are the
    distances along the path.
    """

    path: FloatArray
    closed: bool
    splits: bool
    kind: Kind
    factor: float
    spare: int
    members: tuple[Member, ...] = ()
    busiest: int = 1
    lengths: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        """Measure the path."""
        object.__setattr__(self, "lengths", arc_lengths(self.path))

    @property
    def required(self) -> bool:
        """Whether it must be stitched."""
        return bool(self.members)


@dataclass(frozen=True, slots=True, eq=False)
class Woven:
    """The net over sources.

    Attributes
    ----------
    net : Net
        Edges and nodes as numbers.
    source : (m,) int
        The source of each edge.
    along : (m, 2) float
        Where the edge begins and ends along its source, mm; the end of one that passes the start of a closed
        source lies beyond its length.
    heading : (m, 2) float
        Direction in which the edge leaves its first and its second node, radians.
    nodes : (n, 2) float
        Positions, mm.
    widest_mm : float
        Greatest distance of a met point from its node.
    """

    net: Net
    source: IntArray
    along: FloatArray
    heading: FloatArray
    nodes: FloatArray
    widest_mm: float


def sources_of(strokes: Sequence[Stroke], ways: Sequence[Way], *, passes: int) -> tuple[Source, ...]:
    """Return the sources: strokes and chains in order, then ways; what has no length is left out."""
    chains: dict[tuple[str, str, int], list[int]] = {}
    out = []
    for k, stroke in enumerate(strokes):
        if stroke.chain is None:
            out.append([k])
            continue
        key = (stroke.zone, stroke.fill, stroke.chain)
        if key not in chains:
            chains[key] = []
            out.append(chains[key])
        chains[key].append(k)
    found: list[Source | None] = []
    for indices in (part for chain in out for part in _from_ring_to_ring(strokes, chain)):
        source = _stroke_source(strokes, indices, passes)
        found += [source] if source is None or not source.splits else _unfolded(source)
    for way in ways:
        kind = _KIND_OF_WAY[way.kind]
        shut = len(way.path) > 2 and bool((way.path[0] == way.path[-1]).all())
        found.append(Source(way.path, shut, True, kind, way.factor, min(way.passes, passes)))
    return tuple(s for s in found if s is not None and s.lengths[-1] > 0)


def _from_ring_to_ring(strokes: Sequence[Stroke], chain: list[int]) -> list[list[int]]:
    """Return the strokes of a chain one by one where it is rings with steps between them, else the chain.

    Such a chain passes its own line at every step, so a line may come back over the steps and end at a seam. A ring
    that is sewn again stays a chain: by itself it would be the same line, and sewn once.
    """
    rings = any(strokes[k].closed for k in chain)
    plain = all(strokes[k].role == ("stitch" if strokes[k].closed else "step") for k in chain)
    return [[k] for k in chain] if len(chain) > 1 and rings and plain else [chain]


def _stroke_source(strokes: Sequence[Stroke], indices: list[int], passes: int) -> Source | None:
    parts: list[FloatArray] = []
    members, count = [], 0
    for k in indices:
        points = close_ring(strokes[k].path, strokes[k].closed)
        if len(points) < 2:
            continue
        start = max(count - 1, 0)
        if parts and (parts[-1][-1] == points[0]).all():
            points = points[1:]
        parts.append(points)
        count += len(points)
        members.append(Member(start, count - 1, k, strokes[k].role))
    if not members:
        return None
    first, alone = strokes[indices[0]], len(indices) == 1
    busiest = 2 if not alone and any(m.role == "backtrack" for m in members) else 1
    return Source(
        path=np.vstack(parts),
        closed=alone and first.closed,
        splits=alone and not first.atomic and not (first.closed and first.entry == "ends"),
        kind=first.role,
        factor=BACKTRACK,
        spare=max(passes - busiest, 0),
        members=tuple(members),
        busiest=busiest,
    )


def _unfolded(source: Source) -> list[Source]:
    """Return the stretches of a stroke between the places where it turns back on itself, else the stroke.

    Noding does not look at a path's own crossings; as sources of their own, stretches on one place are sewn once.
    """
    ring = source.path[:-1] if source.closed else source.path
    at = np.flatnonzero(np.abs(turns(ring, closed=source.closed)) > np.pi - FOLD_RAD)
    if source.closed and len(ring) == 2:
        at = np.array([0, 1])
    if not len(at):
        return [source]
    if source.closed:
        path, cuts = np.vstack([np.roll(ring, -at[0], axis=0), ring[at[0]]]), np.append(at - at[0], len(ring))
        if len(at) == 1:  # both legs of the only fold are parted half way round
            gone = arc_lengths(path)
            half = gone[-1] / 2
            place = int(np.searchsorted(gone, half))
            path = np.insert(path, place, point_at(path, [half])[0], axis=0)
            cuts = np.array([0, place, len(path) - 1])
    else:
        path, cuts = ring, np.concatenate([[0], at, [len(ring) - 1]])
    (member,) = source.members
    return [
        replace(source, path=path[a : b + 1], closed=False, members=(replace(member, start=0, end=int(b - a)),))
        for a, b in pairwise(cuts.tolist())
    ]


def weave(
    sources: Sequence[Source],
    *,
    tolerance_mm: float,
    sewn: Sequence[Path] = (),
    wished: Sequence[tuple[float, float]] = (),
) -> Woven:
    """Return the net over sources: split where they meet, each place once (stitching before ways).

    ``sewn`` are stretches of ways sewn before, one for each pass: they count towards the passes allowed.
    The stitching gets a node where it is nearest to each ``wished`` point.
    """
    stitched = [k for k, s in enumerate(sources) if s.splits and s.required]
    pins = [(stitched[nearest_path([sources[k].path for k in stitched], p)], p) for p in wished if stitched]
    noding = node_paths(
        [s.path[:-1] if s.closed else s.path for s in sources],
        closed=[s.closed for s in sources],
        splits=[s.splits for s in sources],
        tolerance_mm=tolerance_mm,
        pins=pins,
    )
    stops = [_stretches(s, at, ids) for s, (at, ids) in zip(sources, noding.stops)]
    which = np.repeat(np.arange(len(stops)), [ends.shape[1] for ends, _, _ in stops])
    joined = np.concatenate([ends for ends, _, _ in stops], axis=1).T
    stretch = np.concatenate([along for _, along, _ in stops], axis=1).T
    first, on, middle, back, last = np.concatenate([spots for _, _, spots in stops], axis=1)
    heading = np.column_stack([np.arctan2(*(on - first).T[::-1]), np.arctan2(*(back - last).T[::-1])])
    factor = np.array([s.factor for s in sources])[which]
    required = np.array([s.required for s in sources])[which]
    splits = np.array([s.splits for s in sources])[which]
    spare = np.array([s.spare for s in sources], dtype=np.int64)[which]
    keep = _each_place_once(joined, middle, np.where(required, 0.0, factor), ~splits, tolerance_mm)
    length = stretch[:, 1] - stretch[:, 0]
    loop = (joined[:, 0] == joined[:, 1]) & ~required
    keep &= ~loop
    hidden = np.zeros(len(noding.nodes), dtype=bool)
    seam = np.array([s.kind == "seam" for s in sources])[which]
    hidden[joined[seam].ravel()] = True
    if sewn:
        spare = np.where(required, spare, np.maximum(spare - times_near(sewn, middle, within_mm=tolerance_mm), 0))
    net = Net(joined[keep], (length * factor)[keep], required[keep], spare[keep], hidden)
    return Woven(net, which[keep], stretch[keep], heading[keep], noding.nodes, noding.widest_mm)


def _stretches(source: Source, at: FloatArray, ids: IntArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Return the stretches of a source from stop to stop.

    Their nodes ``(2, k)``, where they begin and end along it ``(2, k)``, and five points of each ``(5, k, 2)``: its
    start, a look ahead from there, its middle, a look back from its end, its end.
    """
    if source.closed:
        a, b, after = at, np.append(at[1:], at[0] + float(source.lengths[-1])), np.append(ids[1:], ids[0])
    else:
        a, b, after, ids = at[:-1], at[1:], ids[1:], ids[:-1]
    look = np.minimum(LOOK_MM, (b - a) / 2)
    spots = _points_at(source.path, source.lengths, np.concatenate([a, a + look, (a + b) / 2, b - look, b]))
    return np.array([ids, after]), np.array([a, b]), spots.reshape(5, len(a), 2)


def _points_at(path: FloatArray, lengths: FloatArray, at: FloatArray) -> FloatArray:
    at = np.where(at > lengths[-1] + ROUNDING_MM, at - lengths[-1], at)
    return np.column_stack([np.interp(at, lengths, path[:, 0]), np.interp(at, lengths, path[:, 1])])


def _each_place_once(
    ends: IntArray, middle: FloatArray, rank: FloatArray, always: NDArray[np.bool_], tolerance_mm: float
) -> NDArray[np.bool_]:
    """Return which edges to keep: of those with the same ends and middle the first by rank; ``always`` stay."""
    low, high = np.sort(ends, axis=1).T
    order = np.lexsort((np.arange(len(rank)), rank, high, low))
    new = np.concatenate([[True], (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0)])
    keep = np.ones(len(rank), dtype=bool)
    starts = np.flatnonzero(new)
    for a, b in zip(starts, np.append(starts[1:], len(order))):
        if b - a == 1:
            continue
        kept: list[int] = []
        for k in order[a:b]:
            same = any(np.hypot(*(middle[k] - middle[j])) <= tolerance_mm for j in kept)
            if same and not always[k]:
                keep[k] = False
            else:
                kept.append(int(k))
    return keep


def sub_path(source: Source, start: float, end: float) -> FloatArray:
    """Return the stretch of a source from ``start`` to ``end`` mm along it, ``(n, 2)``.

    The end may lie beyond the length of a closed source: round past its start.
    """
    lengths, total = source.lengths, float(source.lengths[-1])
    index = np.arange(
        np.searchsorted(lengths, start + ROUNDING_MM), np.searchsorted(lengths, min(end, total) - ROUNDING_MM)
    )
    if end > total + ROUNDING_MM:  # round past the start of a closed source, which stands at its end too
        index = np.concatenate(
            [index[index < len(lengths) - 1], np.arange(np.searchsorted(lengths, end - total - ROUNDING_MM))]
        )
    ends = _points_at(source.path, lengths, np.array([start, end]))
    return np.vstack([ends[:1], source.path[index], ends[1:]])
