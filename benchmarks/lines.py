"""Joining whole quilts: starts and stops, extra sewing and seconds, on synthetic tops of square blocks.

Run by hand: ``python benchmarks/lines.py [zones ...]``. Each block is 150 mm and holds one of seven kinds of
stitching; with an inset the lines end 1/8 in inside the seams, and edge and link ways lead to them. Every
plan is walked by `check`, which asserts that all that must be stitched is, no place too often. Beside it stand two
plans that need no search: the strokes taken nearest first, without travel and along the shortest way through seams.
"""

from __future__ import annotations

import math
import sys
import time
from heapq import heappop, heappush
from itertools import pairwise

import numpy as np
import shapely
from scipy.spatial import cKDTree

from plumeline.geometry import as_region, clip_path, erode, path_length
from plumeline.lines import Work, join_works
from plumeline.model import Machine, Stroke, Way, Zone, as_path

BLOCK = 150.0
MEET_MM = 0.25  # ends nearer than this meet, as in joining
KINDS = ("crosshatch", "channels", "circles", "echo", "spiral", "motifs", "meander")


def rectangle(left, top, right, bottom):
    """Return the region between four sides."""
    return as_region([(left, top), (right, top), (right, bottom), (left, bottom)])


def parallels(region, spacing, angle):
    """Straight lines across a region."""
    a = math.radians(angle)
    along, across = np.array([math.cos(a), math.sin(a)]), np.array([-math.sin(a), math.cos(a)])
    middle = np.array([(region.bounds[0] + region.bounds[2]) / 2, (region.bounds[1] + region.bounds[3]) / 2])
    for k in np.arange(-BLOCK, BLOCK, spacing) + spacing / 3:
        ends = middle + across * k + np.outer([-BLOCK, BLOCK], along)
        yield from clip_path(as_path(ends), region)


def circle(centre, radius, points=72):
    """Return the points of a circle."""
    t = np.linspace(0, 2 * np.pi, points, endpoint=False)
    return as_path(centre + radius * np.column_stack([np.cos(t), np.sin(t)]))


def strokes_of(kind, region, rng):
    """One kind of stitching in a region."""
    left, top, right, bottom = region.bounds
    middle, half = np.array([(left + right) / 2, (top + bottom) / 2]), (right - left) / 2
    if kind == "crosshatch":
        turn, spacing = rng.choice([0.0, 30.0, 45.0]), rng.uniform(12, 25)
        return [Stroke(p) for t in (turn, turn + 90) for p in parallels(region, spacing, t)]
    if kind == "channels":
        return [Stroke(p) for p in parallels(region, rng.uniform(6, 15), rng.choice([0.0, 20.0, 45.0, 85.0]))]
    if kind == "circles":
        step = (right - left) / 4
        out = []
        for x in np.arange(5) * step + left:
            for y in np.arange(5) * step + top:
                ring = circle(np.array([x, y]), step * math.sqrt(0.5))
                out += [Stroke(p) for p in clip_path(ring, region, closed=True) if path_length(p) > 1]
        return out
    if kind == "echo":
        inner = [rectangle(left + d, top + d, right - d, bottom - d) for d in np.arange(6.0, half - 5, 12.0)]
        return [Stroke(as_path(np.asarray(r.exterior.coords)[:-1]), closed=True) for r in inner]
    if kind == "spiral":
        t = np.linspace(0.5, 2 * np.pi * 9, 900)
        r = t / t[-1] * half
        return [Stroke(as_path(middle + r[:, None] * np.column_stack([np.cos(t), np.sin(t)])))]
    if kind == "motifs":
        out = []
        for _ in range(8):
            t = np.linspace(0, 2 * np.pi, 60, endpoint=False)
            r = rng.uniform(8, 14) * (1 + 0.3 * np.cos(5 * t + rng.uniform(0, 6)))
            c = middle + rng.uniform(-0.6, 0.6, 2) * half
            out.append(Stroke(as_path(c + r[:, None] * np.column_stack([np.cos(t), np.sin(t)])), closed=True))
        return out
    y = np.linspace(top + 6, bottom - 6, 12)
    x = [left, right - 8] * 6
    zigzag = np.column_stack([np.repeat(x, 1), y])
    return [Stroke(as_path(np.vstack([zigzag, [(right, bottom - 6)]])))]


def ways_of(outline, region, inset):
    """Edge and link ways of an inset zone, as zones make them."""
    if not inset:
        return ()
    ring = np.asarray(region.exterior.coords)
    out = [Way(as_path(ring), "edge", 2.0)]
    left, top, right, bottom = outline.bounds
    for a, b in pairwise(ring):
        for p in (
            a + (b - a) * np.linspace(0, 1, max(round(float(np.hypot(*(b - a))) / 25), 1), endpoint=False)[:, None]
        ):
            far = np.array([p[0] - left, right - p[0], p[1] - top, bottom - p[1]])
            k = int(np.argmin(far))
            q = p + far[k] * np.array([(-1, 0), (1, 0), (0, -1), (0, 1)])[k]
            out.append(Way(as_path([p, q]), "link", 4.0))
    return tuple(out)


def quilt(zones, inset, seed=0):
    """Works and seams of a synthetic quilt."""
    rng = np.random.default_rng(seed)
    columns = math.ceil(math.sqrt(zones * 1.2))
    rows = math.ceil(zones / columns)
    works, seams = [], []
    for k in range(zones):
        x, y = (k % columns) * BLOCK, (k // columns) * BLOCK
        outline = rectangle(x, y, x + BLOCK, y + BLOCK)
        region = erode(outline, inset)[0] if inset else outline
        zone = Zone(f"z{k}", "rest", 1, region, outline, ways=ways_of(outline, region, inset))
        works.append(Work(zone, tuple(strokes_of(rng.choice(KINDS), region, rng)), "motif"))
    for r in range(rows + 1):
        seams += [Way(as_path([(c * BLOCK, r * BLOCK), ((c + 1) * BLOCK, r * BLOCK)]), "seam") for c in range(columns)]
    for c in range(columns + 1):
        seams += [Way(as_path([(c * BLOCK, r * BLOCK), (c * BLOCK, (r + 1) * BLOCK)]), "seam") for r in range(rows)]
    return works, seams


def check(works, joined, passes=2):
    """Assert that every stroke is stitched to its length and no way is gone along too often; return mm stitched."""
    strokes = [s for w in works for s in w.strokes]
    wanted = sum(path_length(s.path, closed=s.closed) for s in strokes)
    stitched = 0.0
    for line in joined.lines:
        assert line.spans[0].start == 0 and line.spans[-1].end == len(line.path) - 1
        assert all(a.end == b.start for a, b in pairwise(line.spans))
        assert all(s.pass_no <= passes for s in line.spans)
        stitched += sum(path_length(line.path[s.start : s.end + 1]) for s in line.spans if s.kind == "stitch")
    assert abs(stitched - wanted) < 0.003 * wanted, (stitched, wanted)
    return wanted


def nearest_first(works, ways=()):
    """Take the strokes nearest first; return starts and mm of travel.

    Where ways lead to another stroke, the one with the shortest way is next and costs no start, however often a way
    has been gone along before; else the one whose end lies nearest. Closed strokes start at their first point.
    """
    strokes = [s for w in works for s in w.strokes]
    # ends 2k and 2k + 1 are those of stroke k
    ends = np.array([p for s in strokes for p in (s.path[0], s.path[0] if s.closed else s.path[-1])])
    net = way_net(ends, ways) if ways else None
    left = np.ones(len(ends), dtype=bool)
    here, starts, travel = int(np.argmin(ends.sum(axis=1))), 1, 0.0
    while True:
        left[[here, here ^ 1]] = False
        if not left.any():
            return starts, travel
        at = here ^ 1
        far, here = shortest_way(net, at, left) if net else (np.inf, -1)
        if here < 0:
            apart = np.where(left, np.hypot(*(ends - ends[at]).T), np.inf)
            here = int(np.argmin(apart))
            starts += int(apart[here] > MEET_MM)
        else:
            travel += far


def way_net(ends, ways):
    """Return for each node its neighbours along the ways and how far they are; the ends are the first nodes."""
    parts = np.array([(a, b) for w in ways for a, b in pairwise(w.path)])
    nodes = np.vstack([ends, parts.reshape(-1, 2)])
    lines = shapely.linestrings(parts)
    node, part = shapely.STRtree(lines).query(shapely.points(nodes), predicate="dwithin", distance=MEET_MM)
    place = shapely.line_locate_point(lines[part], shapely.points(nodes[node]))
    order = np.lexsort((node, place, part))
    node, part, place = node[order], part[order], place[order]
    net = [[] for _ in nodes]
    links = [(a, b, q - p) for a, b, i, j, p, q in zip(node, node[1:], part, part[1:], place, place[1:]) if i == j]
    links += [(a, b, 0.0) for a, b in sorted(cKDTree(ends).query_pairs(MEET_MM))]
    for a, b, far in links:
        net[a].append((int(b), float(far)))
        net[b].append((int(a), float(far)))
    return net


def shortest_way(net, begin, wanted):
    """Return length and end of the shortest way from an end to one that is wanted; -1 when none leads there."""
    ahead, done = [(0.0, begin)], set()
    while ahead:
        far, node = heappop(ahead)
        if node < len(wanted) and wanted[node]:
            return far, node
        if node not in done:
            done.add(node)
            for other, step in net[node]:
                heappush(ahead, (far + step, other))
    return math.inf, -1


def main(sizes):
    """Print one row for each size of quilt, without and with an inset."""
    print("zones inset strokes | nearest  by ways (%) | lines  fewest  extra %  seam m  edge m  back m | seconds (CPU)")
    for zones in sizes:
        for inset in (0.0, 3.175):
            works, seams = quilt(zones, inset)
            begun = time.process_time()
            joined = join_works(works, seams=seams, machine=Machine(trimmer=True))
            took = time.process_time() - begun
            wanted = check(works, joined)
            nearest, _ = nearest_first(works)
            led, travel = nearest_first(works, [*seams, *(way for work in works for way in work.zone.ways)])
            assert joined.fewest_possible <= len(joined.lines) <= led <= nearest
            by_kind = dict.fromkeys(("seam", "edge", "backtrack"), 0.0)
            for line in joined.lines:
                for s in line.spans:
                    if s.kind in by_kind:
                        by_kind[s.kind] += path_length(line.path[s.start : s.end + 1]) / 1000
            print(
                f"{zones:5d} {inset:5.2f} {sum(len(w.strokes) for w in works):7d} | {nearest:7d}  "
                f"{led:6d} ({100 * travel / wanted:7.2f}) | {len(joined.lines):5d}  "
                f"{joined.fewest_possible:6d}  {100 * joined.extra_mm / wanted:7.2f}  {by_kind['seam']:6.2f}  "
                f"{by_kind['edge']:6.2f}  {by_kind['backtrack']:6.2f} | {took:.2f}"
            )


if __name__ == "__main__":
    main([int(a) for a in sys.argv[1:]] or [30, 300, 1000])
