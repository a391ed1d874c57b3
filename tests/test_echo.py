"""Echoes: exact distances, closed forms of offsets, one line that slants from ring to ring, arcs to the edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from plumeline import geometry as g
from plumeline.fills import find_fill
from plumeline.model import Machine, Way, as_path
from plumeline.pipeline.single import fill, try_fill
from shapes import DEGENERATE, IN, NAMED, random_regions, rectangle, regular, star, zone

ECHO = find_fill("echo")
BLOCK = rectangle(12, 12)


def at(shape, x, y):
    return g.as_region(shapely.affinity.translate(shape, x * IN, y * IN))


MOTIFS = {
    "circle": g.disc((6 * IN, 6 * IN), 2 * IN),
    "square": at(rectangle(3, 3), 4.5, 4.5),
    "star": at(star(5, 3, 1.2), 6, 6),
    "hexagon": at(regular(6, 2.5), 6, 6),
}


def about(*motifs, outline=BLOCK):
    """A zone with motifs left open."""
    left = outline
    for motif in motifs:
        left = left.difference(motif)
    return replace(zone(g.as_region(left)), outline=outline, left_open=motifs)


def echo(z, **settings):
    chosen = ECHO.settings.model_validate(settings, context={"units": "in"})
    return ECHO(z, chosen, rng=np.random.default_rng(1))


def check(filled, z):
    paths = [g.close_ring(s.path, s.closed) for s in filled.strokes]
    assert all(g.is_simple(s.path, closed=s.closed) for s in filled.strokes)
    assert len(g.self_crossings(paths)) == 0
    assert g.outside_mm(paths, z.region) == 0


def off_level_mm(path, shape, spacing):
    """Length of a path that lies more than 0.03 mm from every echo: offsets of whole spacings."""
    points = g.resample(path, 0.5)
    far = shapely.distance(shape, shapely.points(points)) / spacing
    return 0.5 * float((np.abs(far - np.round(far)) * spacing > 0.03).sum())


def test_a_ring_of_a_convex_motif_has_the_length_and_area_of_steiner():
    # outward by r: area A + P r + pi r^2, perimeter P + 2 pi r; square of 10 in, r 1: 143.141593, 46.283185
    (space,) = g.space_about([rectangle(10, 10)], rectangle(10, 10), 4 * IN)
    (level,) = g.levels_of(space, [IN], room_mm=IN / 4)
    ring = g.rings(level[0])[1]
    assert g.path_length(ring, closed=True) / IN == pytest.approx(46.283185, abs=2e-3)
    assert abs(g.signed_area(ring)) / IN**2 == pytest.approx(143.141593, abs=5e-3)


def test_sharp_echoes_of_a_hexagon_add_up():
    # side 6, every 1/4 in: 20 rings, 6 (s - 2 d / sqrt 3) each, 356.269330 in all
    levels = g.levels_of(regular(6, 6), np.arange(1, 22) * IN / 4, room_mm=IN / 4, sharp=True)
    lengths = [g.path_length(g.rings(level[0])[0], closed=True) for level in levels if level]
    assert len(lengths) == 20
    assert sum(lengths) / IN == pytest.approx(356.269330, abs=1e-2)


@pytest.mark.parametrize("name", ["circle", "square", "hexagon"])
@pytest.mark.parametrize("spacing", [0.25, 0.4])
def test_every_point_lies_at_its_distance_but_on_the_slants(name, spacing):
    # a convex motif has no inner corners: only slants, at most 4 spacings of every ring, lie between the distances
    z = about(MOTIFS[name])
    filled = echo(z, spacing=spacing)
    check(filled, z)
    line, *arcs = filled.strokes
    s, motif = spacing * IN, MOTIFS[name]
    rings_round = int(motif.distance(BLOCK.exterior) / s - 0.01)
    assert off_level_mm(line.path, motif, s) < 4.3 * s * (rings_round + 1)
    assert g.path_length(line.path) > rings_round * motif.length
    for arc in arcs:  # a hook leads into the edge where an arc would have run along it
        assert off_level_mm(arc.path, motif, s) <= 2 * 0.26 * s + 1


def test_rings_of_a_circle_add_up():
    # n rings at R + k s: 2 pi (n R + s n (n + 1) / 2); the ways in and out add at most 4 spacings each
    radius, spacing, count = 2.0, 0.25, 6
    filled = echo(about(MOTIFS["circle"]), count=count)
    (line,) = filled.strokes
    exact = 2 * np.pi * (count * radius + spacing * count * (count + 1) / 2)
    assert 0 < g.path_length(line.path) / IN - exact < 8 * spacing


def test_a_growing_spacing_goes_on_with_its_last():
    # growing 1/4, 3/8, 1/2 in: rings at 1/4, 5/8, 9/8, 13/8
    z = about(MOTIFS["circle"])
    (line,) = echo(z, spacing=["1/4", "3/8", "1/2"], count=4).strokes
    radius = np.hypot(*(g.resample(line.path, 0.5) - 6 * IN).T) / IN - 2
    at_ring = [np.mean(np.abs(radius - d) < 0.003) for d in (0.25, 0.625, 1.125, 1.625)]
    between = [np.mean(np.abs(radius - d) < 0.003) for d in (0.4375, 0.875, 1.375)]
    assert min(at_ring) > 0.1
    assert max(between) < 0.02


@pytest.mark.parametrize("name", sorted(MOTIFS))
def test_one_line_from_the_motif_to_the_edge(name):
    z = about(MOTIFS[name])
    line, *arcs = echo(z).strokes
    assert abs(z.left_open[0].exterior.distance(shapely.Point(line.path[0]))) < 0.05
    ends = [line.path[-1], *(a.path[k] for a in arcs for k in (0, -1))]
    assert max(BLOCK.exterior.distance(shapely.Point(end)) for end in ends) < 0.05


@pytest.mark.parametrize("name", ["square12", "equilateral8", "l12", "star5", "circle4", "wobbly", "strip", "koch"])
def test_inwards_in_one_line_from_the_edge(name):
    z = zone(NAMED[name]) if name in NAMED else zone(regular(12, 5))
    filled = echo(z)
    check(filled, z)
    (line,) = filled.strokes
    assert z.region.exterior.distance(shapely.Point(line.path[0])) < 0.05
    # no strand beside the edge nearer than a whole space, but where the line comes in and in tips that no echo of the
    # geometry engine's, rounded by half a space, comes near
    points = g.resample(line.path, 1.0)
    near = points[g.boundary_distance(z.region, points) < 0.25 * IN - 0.05]
    first = z.region.buffer(-1.5 * 0.25 * IN).buffer(0.5 * 0.25 * IN)
    tips = z.region.difference(first.buffer(1.5 * 0.25 * IN))
    assert (shapely.distance(tips, shapely.points(near)) > 2.5 * 0.25 * IN).sum() < 4.5 * 0.25 * IN


def test_strands_keep_apart_where_echoes_meet():
    # facing strands are a whole space apart or more, and a gap is less than three
    z = about(g.disc((4 * IN, 6 * IN), 1.5 * IN), g.disc((9 * IN, 6 * IN), 1.5 * IN), outline=rectangle(13, 12))
    filled = echo(z)
    check(filled, z)
    paths = [s.path for s in filled.strokes]
    even = g.strand_spacing(paths, 0.25 * IN)
    assert even.mean_mm == pytest.approx(0.25 * IN, rel=0.05)
    assert even.varies_percent < 12
    assert g.widest_gap(paths, z.region).diameter_mm < 3 * 0.25 * IN


def test_no_echo_runs_along_the_edge():
    # a square in the middle of a square: the 18th echo would lie on the edge itself
    z = about(MOTIFS["square"])
    for stroke in echo(z).strokes:
        points = g.resample(stroke.path, 0.5)
        hair = g.boundary_distance(BLOCK, points) < 0.2 * 0.25 * IN
        assert 0.5 * hair.sum() < 2.5 * 0.25 * IN


def test_a_count_says_what_it_takes():
    # the band ends half a space beyond the last ring: P d + pi d^2 about a convex motif, d = 2 1/2 spaces
    motif = MOTIFS["hexagon"]
    filled = echo(about(motif), count=2)
    d = 2.5 * 0.25 * IN
    assert sum(r.area for r in filled.taken) == pytest.approx(motif.length * d + np.pi * d**2, rel=1e-3)
    (line,) = filled.strokes
    assert filled.taken[0].buffer(0.05).covers(shapely.LineString(line.path))
    assert motif.distance(shapely.Point(line.path[-1])) == pytest.approx(d, abs=0.05)
    assert echo(about(motif)).taken == ()


def test_corners_are_rounded_or_sharp():
    z = zone(BLOCK)
    turned = [
        np.degrees(np.abs(g.turns(echo(z, corners=c, count=3).strokes[0].path)).max()) for c in ("round", "sharp")
    ]
    assert turned[0] < 30
    assert turned[1] == pytest.approx(90, abs=1)


def test_a_clearance_about_the_motif_only_shortens_the_way_in():
    motif = MOTIFS["circle"]
    region = g.as_region(BLOCK.difference(g.dilate(motif, IN / 16)[0]))
    z = replace(zone(region), outline=BLOCK, left_open=(motif,))
    filled = echo(z)
    check(filled, z)
    assert motif.distance(shapely.Point(filled.strokes[0].path[0])) < IN / 8


def test_without_a_motif_the_edge_is_echoed_and_it_is_said():
    filled = echo(zone(BLOCK), of="motif")
    assert [f.code for f in filled.findings] == ["nothing-to-echo"]
    assert filled.strokes[0].path.tobytes() == echo(zone(BLOCK), of="edge").strokes[0].path.tobytes()


def test_the_line_starts_near_where_it_is_wished():
    for wished in ((6 * IN, 2 * IN), (6 * IN, 10 * IN)):
        z = replace(about(MOTIFS["circle"]), enter=wished)
        start = echo(z, count=3).strokes[0].path[0]
        assert np.hypot(*(start - wished)) < 2.5 * IN


def test_arcs_turn_alternately():
    z = about(g.disc((0, 6 * IN), 2 * IN))
    arcs = echo(z).strokes
    way = [np.sign(a.path[-1, 1] - a.path[0, 1]) for a in arcs[:20]]
    assert way == [(-1) ** k * way[0] for k in range(20)]


def test_echoes_about_a_motif_join_to_one_line():
    from plumeline.lines import Work, join_works

    for name in sorted(MOTIFS):
        z = about(MOTIFS[name])
        edge = Way(as_path(g.close_ring(g.rings(BLOCK)[0])), "edge", 2.0)
        work = Work(replace(z, ways=(edge,)), echo(z).strokes, "background")
        assert len(join_works([work], seams=(), machine=Machine()).lines) == 1


def with_left_open(region):
    left = tuple(g.as_region(np.asarray(h.coords)[:-1]) for h in region.interiors)
    return replace(zone(region), outline=g.as_region(np.asarray(region.exterior.coords)[:-1]), left_open=left)


@pytest.mark.parametrize("seed", [5, 6])
def test_random_zones(seed):
    for region in random_regions(12, seed=seed):
        z = with_left_open(region)
        filled = echo(z)
        check(filled, z)
        assert filled.strokes
        inner = sum(s.entry == "ends" or s.closed for s in filled.strokes)
        assert not z.left_open or inner <= len(z.left_open) + 1


def test_rings_that_part_inwards_are_one_line_or_said():
    assert len(echo(zone(NAMED["two holes"])).strokes) == 1
    # echoes with a count in a space nearly pinched off: nothing runs beside the far side
    filled = echo(zone(DEGENERATE["neck"]))
    assert (len(filled.strokes) > 1) == ("echo-in-parts" in {f.code for f in filled.findings})
    for said in filled.findings:
        assert f"{len(filled.strokes)} lines" in said.text
    assert echo(zone(BLOCK)).findings == ()


@pytest.mark.parametrize("name", list(MOTIFS))
def test_echoes_of_a_hole_are_those_of_a_motif_that_fills_it(name):
    z = about(MOTIFS[name])
    of_motif = echo(z, spacing="1/2")
    of_hole = echo(replace(z, left_open=()), spacing="1/2", of="hole")
    assert [s.path.tolist() for s in of_hole.strokes] == [s.path.tolist() for s in of_motif.strokes]
    assert of_hole.findings == ()


@pytest.mark.parametrize(("name", "x", "y"), [("square", 0, 0), ("square", 1.5, -1), ("circle", -2, 1)])
def test_the_space_round_a_frame_is_one_line_parallel_to_it(name, x, y):
    """Off the slants every point lies on an offset of shapely's, with mitred corners; the far edge carries it on."""
    hole = at(MOTIFS[name], x, y)
    region = BLOCK.difference(hole)
    quilt = try_fill("echo", region, {"of": "hole", "spacing": "1/2", "corners": "sharp"})
    assert quilt.report.totals.lines == 1
    offsets = [hole.buffer(k * IN / 2, join_style="mitre", mitre_limit=20).exterior for k in range(1, 40)]
    points = np.vstack([g.densify(s.path, 2.0) for f in quilt.filled for s in f.strokes])
    far = np.min([shapely.distance(ring, shapely.points(points)) for ring in offsets], axis=0)
    assert (far < 0.1).mean() > 0.75  # the rest is the slant from ring to ring and the way into the edge


def test_a_space_without_an_opening_echoes_its_edge_and_says_so():
    filled = echo(zone(BLOCK), spacing=1, of="hole")
    assert [f.code for f in filled.findings] == ["nothing-to-echo"]
    assert [s.path.tolist() for s in filled.strokes] == [
        s.path.tolist() for s in echo(zone(BLOCK), spacing=1, of="edge").strokes
    ]


@pytest.mark.parametrize("sides", [3, 4, 5, 6, 8])
@pytest.mark.parametrize("across", [90.0, 150.0, 260.0])
def test_echoes_inwards_wind_round_one_way(sides, across):
    # a line that goes in from ring to ring turns once for each of them; one that is let from ring to ring turns back
    angle = 2 * np.pi * np.arange(sides) / sides + 0.3
    found = fill("echo", across / 2 * np.column_stack([np.cos(angle), np.sin(angle)]))
    (stroke,) = found.strokes
    turned = g.turns(stroke.path)
    assert abs(turned.sum()) > 0.5 * np.abs(turned).sum()


@pytest.mark.parametrize("corners", ["round", "sharp"])
def test_echoes_in_a_frame_keep_to_both_edges_and_wind_from_one_to_the_other(corners):
    # between mitred rings a gap apart no point is farther than half the corner's diagonal, gap / sqrt 2, from a line
    frame = g.as_region(rectangle(16, 12).difference(at(rectangle(10, 6), 3, 3)))
    (stroke,) = fill("echo", frame, corners=corners).strokes
    assert not stroke.closed and len(g.self_crossings([stroke.path])) == 0
    gap = 3 * IN / 12
    lines = shapely.MultiLineString([stroke.path, *(np.vstack([r, r[:1]]) for r in g.rings(frame))])
    x, y = np.meshgrid(np.arange(0.5, 16 * IN), np.arange(0.5, 12 * IN))
    points = shapely.points(x.ravel(), y.ravel())
    far = shapely.distance(points[shapely.contains(frame, points)], lines)
    # the rounding of radius gap / 2 draws a corner in by (sqrt 2 - 1) of that
    assert far.max() < gap * (1 / np.sqrt(2) + (np.sqrt(2) - 1) / 2)
    # a frame has four corners: eleven rows turn 44 right angles, none of them back
    heading = np.unwrap(np.arctan2(*np.diff(stroke.path, axis=0).T[::-1]))
    assert abs(heading[-1] - heading[0]) == pytest.approx(11 * 2 * np.pi, abs=1e-6)
    assert np.abs(np.diff(heading)).sum() == pytest.approx(11 * 2 * np.pi, abs=1e-6)


@pytest.mark.parametrize(("kind", "rows"), [("echo", 9), ("spiral", 5)])
def test_a_frame_of_uneven_width_is_gone_round_in_one_line_without_a_slant(kind, rows):
    # sides of 2, 2 1/2, 3 and 2 1/2 in: its mean width, twice its area over both perimeters, takes so many rows
    frame = g.as_region(rectangle(17, 16).difference(at(rectangle(12, 11), 2, 2.5)))
    width = 2 * frame.area / frame.length
    spacing = 6.35 if kind == "echo" else 12.7
    assert round(width / spacing) == (rows + 1 if kind == "echo" else rows)
    (stroke,) = fill(kind, frame, corners="sharp").strokes
    ways = np.diff(stroke.path, axis=0)
    level = np.abs(ways).min(axis=1) < 1e-6
    fingers = 3 * spacing  # a corner in which a tip is led aside may lean so far
    assert np.hypot(*ways[~level].T).sum() < 2 * fingers
    # across the narrow left and the wide right side the strands are evenly apart
    for x0, x1 in ((0, 2 * IN), (14 * IN, 17 * IN)):
        line = shapely.LineString([(x0, 8 * IN), (x1, 8 * IN)])
        hits = shapely.get_coordinates(line.intersection(shapely.LineString(stroke.path)))[:, 0]
        assert len(hits) == rows
        assert np.ptp(np.diff(np.sort(hits))) < 1e-6
    # it starts on the outer edge; the echo ends on the opening, the spiral beside its start
    ends = [shapely.Point(p).distance(frame.exterior) for p in stroke.path[[0, -1]]]
    assert ends[0] < 1e-6
    assert (ends[1] < 1e-6) == (kind == "spiral")
    if kind == "echo":
        assert shapely.Point(stroke.path[-1]).distance(shapely.LinearRing(frame.interiors[0])) < 1e-6


def test_echoes_in_a_frame_of_uneven_width_stay_parallel_to_its_edges():
    frame = g.as_region(rectangle(14, 14).difference(at(rectangle(5, 5), 2, 4.5)))
    edge = shapely.MultiLineString([np.vstack([r, r[:1]]) for r in g.rings(frame)])
    strokes = fill("echo", frame).strokes
    points = shapely.points(np.vstack([g.resample(s.path, 2.0, closed=s.closed) for s in strokes]))
    off = np.abs(shapely.distance(points, edge) / 6.35 % 1.0 - 0.5)
    assert np.median(off) > 0.49  # on the whole spacings from the nearer edge
