"""Lines: an independent walker checks that all is stitched, no place too often, travel only where it may go."""

from __future__ import annotations

import doctest
import importlib
import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point

from plumeline.errors import LineError
from plumeline.geometry import as_region, path_length, turns
from plumeline.lines import Work, join, join_works
from plumeline.lines.into_seams import into_seams
from plumeline.lines.joining import join_group
from plumeline.model import Fence, Machine, Stroke, Way, Zone, as_path

TOLERANCE = 0.25


def line_string(path, closed=False):
    return LineString(np.vstack([path, path[:1]]) if closed else path)


def along(shape, step=2.9):
    return shapely.line_interpolate_point(shape, np.arange(step / 2, shape.length, step))


def times_on(points, pieces):
    """How many of the pieces run exactly through each point."""
    return sum((shapely.distance(points, piece) < 1e-6 for piece in pieces), np.zeros(len(points), dtype=int))


def pieces(lines, *kinds):
    return [
        (line_string(line.path[s.start : s.end + 1]), s)
        for line in lines
        for s in line.spans
        if s.kind in kinds and s.end > s.start
    ]


def walk_over(lines, strokes, ways, *, passes=2):
    """Check finished lines against what was asked, knowing nothing of how they were made."""
    for line in lines:
        assert line.spans[0].start == 0
        assert line.spans[-1].end == len(line.path) - 1
        assert all(a.end == b.start for a, b in itertools.pairwise(line.spans))
        assert np.isfinite(line.path).all()
    sewn = pieces(lines, "stitch")
    everything = shapely.unary_union([p for p, _ in sewn]) if sewn else LineString()
    again = pieces(lines, "stitch", "backtrack")
    for k, (path, closed) in enumerate(strokes):
        shape = line_string(path, closed)
        assert (shapely.distance(along(shape), everything) <= 2 * TOLERANCE).all()
        mine = [p for p, s in again if s.stroke == k]
        assert (times_on(along(shape), mine) <= passes).all()
        ends = shape.buffer(2 * TOLERANCE)
        assert all(ends.covers(piece) for piece in mine)
    for kind in ("seam", "edge"):
        allowed = [line_string(w.path) for w in ways if (w.kind == "seam") == (kind == "seam")]
        where = shapely.unary_union(allowed).buffer(2 * TOLERANCE) if allowed else Point(0, 0).buffer(0)
        assert all(where.covers(piece) for piece, _ in pieces(lines, kind))
    for way in ways:
        used = [p for p, _ in pieces(lines, "seam" if way.kind == "seam" else "edge")]
        assert (times_on(along(line_string(way.path)), used) <= min(way.passes, passes)).all()


coordinate = st.integers(0, 12).map(lambda k: 10.0 * k)
wobble = st.floats(-0.1, 0.1).map(lambda x: round(x, 3))  # near-coincident on purpose: within the tolerance


@st.composite
def polyline(draw, most=4):
    points = draw(st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=most, unique=True))
    return np.array(points) + np.array([[draw(wobble), draw(wobble)] for _ in points])


@given(st.lists(polyline(), min_size=1, max_size=6), st.lists(polyline(2), max_size=4), st.data())
@settings(max_examples=80, deadline=None)
def test_anything_is_stitched_and_nothing_too_often(paths, travel, data):
    closed = [len(p) > 2 and data.draw(st.booleans()) for p in paths]
    passes = data.draw(st.integers(1, 3))
    lines = join(paths, closed=closed, travel=travel, passes=passes)
    ways = [Way(as_path(w), "seam") for w in travel]
    walk_over(lines, list(zip(paths, closed)), ways, passes=min(passes, 2))


def groups_touching(shapes):
    """How many groups lines form when those nearer than the tolerance touch; None when that is a near thing."""
    leader = list(range(len(shapes)))

    def find(k):
        return k if leader[k] == k else find(leader[k])

    for i, j in itertools.combinations(range(len(shapes)), 2):
        far = shapes[i].distance(shapes[j])
        if 0.6 * TOLERANCE < far < 1.6 * TOLERANCE:
            return None
        if far <= TOLERANCE:
            leader[find(i)] = find(j)
    return [find(k) for k in range(len(shapes))]


@given(st.lists(polyline(), min_size=1, max_size=6), st.lists(polyline(2), max_size=4))
@settings(max_examples=60, deadline=None)
def test_every_group_that_touches_is_one_line_when_jumps_are_dear(paths, travel):
    groups = groups_touching([line_string(p) for p in (*paths, *travel)])
    if groups is not None:
        assert len(join(paths, travel=travel, jump_mm=1e6)) == len(set(groups[: len(paths)]))


def ring(*corners):
    return [*corners, corners[0]]


@pytest.mark.parametrize("count", [1, 2, 3, 8, 21])
@pytest.mark.parametrize("kind", ["seam", "edge"])
def test_channels_become_one_serpentine(count, kind):
    # serpentine: N widths and N - 1 pitches (FACTS: N w + (N - 1) d)
    rows = [[(0, 6.0 * k), (100, 6.0 * k)] for k in range(count)]
    edge = Way(as_path(ring((0, -5), (100, -5), (100, 6 * count), (0, 6 * count))), kind, 2.0)
    (line,) = join(rows, travel=[edge])
    assert path_length(line.path) == pytest.approx(100 * count + 6 * (count - 1), abs=1e-6)
    walk_over([line], [(np.array(r), False) for r in rows], [edge])


def test_channels_with_links_to_a_seam_start_and_stop_in_it():
    rows = [[(0, 6.0 * k), (100, 6.0 * k)] for k in range(8)]
    edge = Way(as_path(ring((0, -5), (100, -5), (100, 48), (0, 48))), "edge", 2.0)
    links = [Way(as_path([(0, y), (-3, y)]), "link", 4.0) for y in (-5.0, 20.0, 48.0)]
    seam = Way(as_path([(-3, -60), (-3, 100)]), "seam")
    (line,) = join(rows, travel=[edge, *links, seam])
    assert abs(line.path[0][0] + 3) < 1e-6
    assert abs(line.path[-1][0] + 3) < 1e-6


@pytest.mark.parametrize("sides", [3, 5, 9])
def test_crossings_are_gone_straight_through(sides):
    # a crosshatch whose ends are joined by a seam: the needle turns sharply in the seam alone
    lines = [[(-5, 10.0 * k + 5), (10.0 * sides + 5, 10.0 * k + 5)] for k in range(sides)]
    lines += [[(b, a) for a, b in path] for path in lines]
    low, high = -5.0, 10.0 * sides + 5
    edge = ring((low, low), (high, low), (high, high), (low, high))
    found = join(lines, travel=[edge], jump_mm=1e4)
    assert len(found) == 1
    sharp = np.abs(turns(found[0].path)) > math.radians(20)
    inside = ((found[0].path > low + 1) & (found[0].path < high - 1)).all(axis=1)
    # of 2 n^2 passages few turn: where rings that straight passages would leave are merged into one line
    assert (sharp & inside).sum() <= 0.15 * 2 * sides**2


def test_a_ring_is_entered_where_the_line_before_stops():
    t = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    circle = np.column_stack([200 + 20 * np.cos(t), 20 * np.sin(t)])
    first, second = join([[(0, 0), (100, 0)], circle], closed=[False, True], start=(0, 0))
    assert first.path[0].tolist() == [0, 0]
    assert np.hypot(*(second.path[0] - (180, 0))) < 1.5
    assert np.allclose(second.path[0], second.path[-1])
    assert path_length(second.path) == pytest.approx(path_length(circle, closed=True))


def test_a_ring_starts_and_stops_where_it_passes_a_seam():
    # a circle that comes to 4 mm from a seam on its right; the line before stops far to its left
    a = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    circle = np.array([200.0, 0.0]) + 46 * np.column_stack([np.cos(a), np.sin(a)])
    seam = [(250, -100), (250, 100)]
    lines = join([[(0, 0), (50, 0)], circle], closed=[False, True], travel=[seam])
    ring = max(lines, key=lambda line: path_length(line.path))
    np.testing.assert_allclose(ring.path[0], ring.path[-1], atol=1e-9)
    assert 250 - ring.path[0][0] <= 6.35
    assert path_length(ring.path) == pytest.approx(path_length(circle, closed=True))


def test_a_ring_with_a_tail_is_one_line_entered_at_the_tail():
    t = np.linspace(0.3, 2 * np.pi + 0.3, 60, endpoint=False)
    circle = np.column_stack([20 * np.cos(t), 20 * np.sin(t)])
    tail = [(20.1, 0.0), (60.0, 0.0)]  # stops a tenth of a millimetre short of the ring
    (line,) = join([circle, tail], closed=[True, False])
    assert path_length(line.path) == pytest.approx(path_length(circle, closed=True) + 40, abs=0.2)
    walk_over([line], [(circle, True), (np.array(tail), False)], [])


def test_steps_join_echo_rings_and_only_when_asked():
    squares = [[(-r, -r), (r, -r), (r, r), (-r, r)] for r in (10.0, 16.0, 22.0)]
    assert len(join(squares, closed=[True] * 3)) == 3
    assert len(join(squares, closed=[True] * 3, steps_mm=5.9)) == 3
    (line,) = join(squares, closed=[True] * 3, steps_mm=6.1)
    steps = [path_length(line.path[s.start : s.end + 1]) for s in line.spans if s.kind == "step"]
    assert steps == pytest.approx([6.0, 6.0])


def square_ring(half, at=(100.0, 100.0)):
    x, y = at
    return as_path([(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)])


@pytest.mark.parametrize("passes", [1, 2])
def test_a_line_comes_back_over_the_steps_between_rings_to_start_and_stop_in_a_seam(passes):
    """A frame of three rings round a closed motif: from the seam in, and out again where a place may be sewn twice."""
    halves = [80.0, 75.0, 70.0]
    corner = [square_ring(half)[0] for half in (84.0, *halves, 66.0)]
    chain = [Stroke(as_path([corner[0], corner[1]]), role="step", chain=0, entry="ends")]
    for k, half in enumerate(halves, 1):
        chain.append(Stroke(square_ring(half), closed=True, chain=0, entry="ends"))
        chain.append(Stroke(as_path([corner[k], corner[k + 1]]), role="step", chain=0, entry="ends"))
    motif = Stroke(square_ring(66.0), closed=True, entry="ends", fill="motif")
    seam = Way(as_path([(0, 16), (200, 16)]), "seam")
    group = join_group([*chain, motif], [seam], jump_mm=1500.0, passes=passes)
    (line,) = group.lines
    ends = [float(seam_at[1]) for seam_at in (line.path[0], line.path[-1])]
    ring_mm, steps_mm = sum(8 * half for half in (*halves, 66.0)), math.hypot(18, 18)
    assert path_length(line.path) == pytest.approx(ring_mm + steps_mm * passes, abs=0.5)
    assert sorted(ends) == pytest.approx([16.0, 16.0] if passes == 2 else [16.0, 34.0], abs=TOLERANCE)


def test_fixed_start_and_end():
    cross = [[(0, 0), (100, 0)], [(50, -50), (50, 50)]]
    (line,) = join(cross, start=(0, 0), end=(50, 50))
    assert line.path[0].tolist() == [0, 0]
    assert line.path[-1].tolist() == [50, 50]
    (closed,) = join(cross, start=(50, 0), end=(50, 0))
    assert closed.path[0].tolist() == closed.path[-1].tolist() == [50, 0]
    assert path_length(closed.path) == pytest.approx(400)
    (ring_line,) = join([[(0, 0), (50, 0), (50, 50)]], closed=[True], start=(30.0, 1.0))
    assert ring_line.path[0].tolist() == [30, 0]


def test_without_backtracking_a_star_takes_more_lines():
    star = [[(0, 0), (50 * math.cos(a), 50 * math.sin(a))] for a in np.arange(6) * np.pi / 3]
    assert len(join(star, passes=1)) == 3
    assert len(join(star, passes=2, jump_mm=1e4)) == 1
    straight = join(star, passes=1)
    assert all(len(line.path) == 3 and np.abs(turns(line.path)).max() < 1e-6 for line in straight)


def test_same_input_same_bytes():
    rng = np.random.default_rng(5)
    paths = [rng.uniform(0, 200, (4, 2)) for _ in range(25)]
    first, second = (join(paths, travel=[[(0, 0), (200, 0)]]) for _ in range(2))
    assert [line.path.tobytes() for line in first] == [line.path.tobytes() for line in second]


@pytest.mark.parametrize("order", ["rows", "centre-out"])
def test_order_of_separate_lines(order):
    rng = np.random.default_rng(3)
    middles = rng.uniform(0, 800, (40, 2))
    lines = join([m + np.array([[0, 0], [5, 3]]) for m in middles], order=order)
    centres = np.array([line.path.mean(axis=0) for line in lines])
    low, high = centres.min(axis=0), centres.max(axis=0)
    place = (centres[:, 1] - low[1]) if order == "rows" else np.abs(centres - (low + high) / 2).max(axis=1)
    quarter = len(lines) // 4
    assert place[:quarter].mean() < place[quarter:-quarter].mean() < place[-quarter:].mean()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"paths": [[(0, 0)]]}, "at least two points"),
        ({"paths": [[(0, 0), (0, 0)]]}, "no length"),
        ({"paths": [[(0, 0, 0), (1, 1, 1)]]}, "shape"),
        ({"paths": [[(0, 0), (math.nan, 1)]]}, "finite"),
        ({"paths": [[(0, 0), (1, 1)]], "closed": []}, "one for each"),
        ({"paths": [[(0, 0), (1, 1)]], "passes": 0}, "at least 1"),
        ({"paths": [[(0, 0), (1, 1)]], "jump_mm": math.nan}, "at least 0"),
        ({"paths": [[(0, 0), (1, 1)]], "tolerance_mm": 0}, "more than 0"),
        ({"paths": [[(0, 0), (1, 1)]], "order": "spiral"}, "any"),
    ],
)
def test_bad_input_says_what_and_where(arguments, said):
    with pytest.raises(LineError, match=said):
        join(**arguments)


def test_examples_of_the_docstrings():
    for module in ("polylines", "reaches"):
        tried = doctest.testmod(importlib.import_module(f"plumeline.lines.{module}"))
        assert tried.attempted
        assert not tried.failed


def test_nothing_gives_nothing():
    assert join([]) == ()
    assert join_works([], seams=[], machine=Machine()).lines == ()


@pytest.mark.parametrize("copies", [2, 3])
def test_what_is_drawn_twice_is_sewn_once(copies):
    (line,) = join([[(0, 0), (40, 30)]] * copies + [[(40, 30), (0, 0)]])
    assert path_length(line.path) == pytest.approx(50)


@pytest.mark.parametrize("jump_mm", [0.0, 1.0, math.inf])
def test_any_price_of_a_jump_will_do(jump_mm):
    star = [[(0, 0), (50, 0)], [(0, 0), (0, 50)], [(0, 0), (-40, -30)]]
    assert len(join(star, jump_mm=jump_mm)) == (2 if jump_mm <= 1 else 1)


# ---------------------------------------------------------------------------------------------- whole quilts


def square(left, top, size):
    return as_region([(left, top), (left + size, top), (left + size, top + size), (left, top + size)])


def zone(name, left=0.0, top=0.0, size=100.0, **more):
    region = square(left, top, size)
    return Zone(name, "", 1, region, region, **more)


def quilt_seams(columns, rows, size):
    across = [[(c * size, r * size), ((c + 1) * size, r * size)] for r in range(rows + 1) for c in range(columns)]
    down = [[(c * size, r * size), (c * size, (r + 1) * size)] for c in range(columns + 1) for r in range(rows)]
    return [Way(as_path(p), "seam") for p in across + down]


def channels(name, left, top, size, spacing=10.0, **more):
    return tuple(
        Stroke(as_path([(left, y), (left + size, y)]), zone=name, **more)
        for y in np.arange(top + spacing / 2, top + size, spacing)
    )


def blocks(columns, rows, size=100.0, stage="ruler", **more):
    return [
        Work(zone(f"z{r}{c}", c * size, r * size, size), channels(f"z{r}{c}", c * size, r * size, size, **more), stage)
        for r in range(rows)
        for c in range(columns)
    ]


def all_strokes(works):
    return [(s.path, s.closed) for w in works for s in w.strokes]


def test_a_quilt_of_channels_is_one_line():
    works, seams = blocks(3, 2), quilt_seams(3, 2, 100.0)
    joined = join_works(works, seams=seams, machine=Machine())
    assert len(joined.lines) == joined.fewest_possible == 1
    assert joined.busiest_passes <= 2
    walk_over(joined.lines, all_strokes(works), seams)
    stitched = sum(path_length(s.path) for w in works for s in w.strokes)
    assert path_length(joined.lines[0].path) == pytest.approx(stitched + joined.extra_mm)
    assert joined.extra_mm < 0.12 * stitched  # a serpentine takes a tenth: one pitch of 10 a width of 100


def test_each_span_says_its_zone_and_travel_between_two_zones_is_nobody_s():
    """The stitching of two zones of one name: told apart by their place alone, found again where it lies."""
    works = [
        Work(zone("same"), channels("same", 0, 0, 100), "ruler", 10),
        Work(zone("same", 100), channels("same", 100, 3, 94), "ruler", 11),
    ]
    between = 0
    for line in join_works(works, seams=quilt_seams(2, 1, 100.0), machine=Machine()).lines:
        for span, before, after in zip(line.spans[1:-1], line.spans, line.spans[2:]):
            if span.stroke is not None:
                middle = line.path[span.start : span.end + 1].mean(axis=0)
                assert span.zone == 10 + int(middle[0] // 100)
            elif before.stroke is not None and after.stroke is not None:
                assert span.zone == (before.zone if before.zone == after.zone else -1)
                between += span.zone == -1
    assert between  # the channels of one are 3 mm lower: travel leads from zone to zone


def test_threads_and_stages_never_mix_and_follow_their_order():
    works = [
        Work(zone("border"), channels("border", 0, 0, 100), "last"),
        Work(zone("a", 100), channels("a", 100, 0, 100, thread="red") + channels("a", 100, 3, 90), "motif"),
        Work(zone("b", 200), channels("b", 200, 0, 100), "ditch"),
    ]
    seams = quilt_seams(3, 1, 100.0)
    joined = join_works(works, seams=seams, machine=Machine())
    strokes = [s for w in works for s in w.strokes]
    stage = {s.zone: w.stage for w in works for s in w.strokes}
    order = []
    for line in joined.lines:
        on = [strokes[s.stroke] for s in line.spans if s.stroke is not None]
        assert {s.thread for s in on} == {line.thread}
        assert len({stage[s.zone] for s in on}) == 1
        order.append(stage[on[0].zone])
    assert order == sorted(order, key=("ditch", "ruler", "motif", "background", "last").index)
    walk_over(joined.lines, all_strokes(works), seams)  # passes over a seam count across threads and stages


def test_lower_layers_of_a_stack_come_first():
    size = 100.0
    works = []
    for k in range(4):
        name, left = f"z{k}", k * size
        heart = Stroke(as_path([(left + 40, 40), (left + 60, 40), (left + 50, 60)]), True, zone=name, fill="motif")
        works.append(Work(zone(name, left), (heart, *channels(name, left, 62, 30, fill="ground")), "motif"))
    joined = join_works(works, seams=(), machine=Machine())
    strokes = [s for w in works for s in w.strokes]
    first_ground = {}
    for at, line in enumerate(joined.lines):
        for span in line.spans:
            stroke = strokes[span.stroke]
            if stroke.fill == "ground":
                first_ground.setdefault(stroke.zone, at)
            else:
                assert stroke.zone not in first_ground


def plume_chain(name="z"):
    """A small bump-back chain: out, and exactly back over the last part, then on."""
    out = [(0, 0), (10, 10), (20, 0)]
    back = [(20, 0), (15, 5)]
    on = [(15, 5), (30, 15), (45, 0)]
    more = {"chain": 1, "atomic": True, "entry": "ends", "zone": name, "fill": "feather"}
    return (
        Stroke(as_path(out), **more),
        Stroke(as_path(back), role="backtrack", **more),
        Stroke(as_path(on), **more),
    )


@pytest.mark.parametrize("turned", [False, True])
def test_a_chain_is_sewn_whole_and_never_again(turned):
    approach = Stroke(as_path([(45, 0), (45, -40)] if turned else [(0, 0), (0, -40)]), zone="z", fill="x")
    crossing = Stroke(as_path([(-20, 7), (60, 7)]), zone="z", fill="x")  # crosses the chain: no node there
    works = [Work(zone("z"), (*plume_chain(), approach, crossing), "motif")]
    joined = join_works(works, seams=(), machine=Machine())
    chain = [s for line in joined.lines for s in line.spans if s.stroke in (0, 1, 2)]
    assert [s.stroke for s in chain] in ([0, 1, 2], [2, 1, 0])
    assert [s.kind for s in chain] == ["stitch", "backtrack", "stitch"]
    assert all(a.end == b.start for a, b in itertools.pairwise(chain))
    assert joined.busiest_passes == 2
    (line,) = [line for line in joined.lines if any(s.stroke == 1 for s in line.spans)]
    for s in chain:
        path = line.path[s.start : s.end + 1]
        want = works[0].strokes[s.stroke].path
        assert np.allclose(path, want, atol=1e-9) or np.allclose(path, want[::-1], atol=1e-9)
    assert any(s.stroke == 3 for s in line.spans)  # entered at its end from the stroke that touches it


def test_two_works_may_use_the_same_chain_numbers():
    works = [Work(zone("z"), plume_chain(), "motif"), Work(zone("z", 200), plume_chain(), "motif")]
    shifted = [replace(s, path=as_path(s.path + np.array([200.0, 0.0]))) for s in works[1].strokes]
    works[1] = Work(works[1].zone, tuple(shifted), "motif")
    joined = join_works(works, seams=(), machine=Machine())
    assert len(joined.lines) == 2
    assert sorted(s.stroke for line in joined.lines for s in line.spans) == [0, 1, 2, 3, 4, 5]


def test_more_backtracking_than_allowed_is_told():
    joined = join_works([Work(zone("z"), plume_chain(), "motif")], seams=(), machine=Machine(), passes=1)
    assert [f.code for f in joined.findings] == ["sewn-too-often"]


@pytest.mark.parametrize(
    ("more", "lines"),
    [
        ({}, 1),
        ({"fences": (Fence(as_path([(-10, 47), (110, 47)])),)}, 2),
        ({"fences": (Fence(as_path([(-10, 47), (110, 47)]), soft_mm=2.0),)}, 1),
        ({"left_open": (square(-10, 46, 120),)}, 2),
    ],
)
def test_steps_cross_no_fence_and_no_part_left_open(more, lines):
    strokes = tuple(Stroke(as_path([(10, y), (90, y)]), zone="z") for y in (45.0, 49.0))
    works = [Work(zone("z", **more), strokes, "motif")]
    assert len(join_works(works, seams=(), machine=Machine(), steps_mm=6).lines) == lines


def test_a_pairing_that_is_not_proven_is_told(monkeypatch):
    monkeypatch.setattr("plumeline.lines.matching.importlib.util.find_spec", lambda name: None)
    monkeypatch.setattr("plumeline.lines.matching.FEW", 0)
    works = [Work(zone("z"), channels("z", 0, 0, 100), "ruler")]
    joined = join_works(works, seams=quilt_seams(1, 1, 100.0), machine=Machine())
    assert len(joined.lines) == 1
    assert [f.code for f in joined.findings] == ["pairing-not-proven"]


def test_dense_lines_are_told():
    ladder = tuple(Stroke(as_path([(5 + 0.2 * k, 0), (5 + 0.2 * k, 10)]), zone="z") for k in range(20))
    joined = join_works([Work(zone("z"), ladder, "motif")], seams=(), machine=Machine())
    assert [f.code for f in joined.findings] == ["lines-too-dense"]


def test_moves_between_lines_are_short():
    # 36 short lines on a grid of 50 mm: the shortest way through them all is 35 moves of about 50 mm
    dashes = [[(50.0 * c, 50.0 * r), (50.0 * c, 50.0 * r + 1)] for r in range(6) for c in range(6)]
    lines = join(dashes)
    moves = sum(math.dist(a.path[-1], b.path[0]) for a, b in itertools.pairwise(lines))
    assert moves < 1.15 * 35 * 50


def test_strokes_without_length_are_passed_over_and_still_counted():
    dots = [Stroke(as_path(p)) for p in (np.zeros((0, 2)), [(1, 1)], [(1, 1), (1, 1)])]
    works = [Work(zone("z"), (*dots, Stroke(as_path([(0, 0), (9, 0)]))), "motif")]
    (line,) = join_works(works, seams=(), machine=Machine()).lines
    assert [s.stroke for s in line.spans] == [3]


def test_wishes_of_a_zone_are_kept():
    works = [Work(zone("z", enter=(0.0, 95.0), leave=(100.0, 5.0)), channels("z", 0, 0, 100), "ruler")]
    joined = join_works(works, seams=quilt_seams(1, 1, 100.0), machine=Machine())
    assert joined.lines[0].path[0].tolist() == [0, 95]
    assert joined.lines[-1].path[-1].tolist() == [100, 5]


def test_a_large_quilt_is_planned_in_bands_and_keeps_its_passes(monkeypatch):
    monkeypatch.setattr("plumeline.lines.works.BAND_ZONES", 18)
    works, seams = blocks(6, 9, 20.0), quilt_seams(6, 9, 20.0)
    joined = join_works(works, seams=seams, machine=Machine())
    assert joined.fewest_possible == len(joined.lines) == 3  # a line for each band of 18 zones
    walk_over(joined.lines, all_strokes(works), seams)
    assert all(s.pass_no <= 2 for line in joined.lines for s in line.spans)
    tops = [line.path[:, 1].min() for line in joined.lines]
    assert tops == sorted(tops)


def test_a_closed_stroke_with_one_fold_is_sewn_once():
    # the way back to the start lies on the last leg: from (60, 120) to (30, 60)
    kite = np.array([(0.0, 0.0), (0.0, 10.0), (30.0, 60.0), (60.0, 120.0)])
    lines = join([np.vstack([kite, kite[:1]])], passes=1)
    once = 10.0 + math.hypot(30.0, 50.0) + 2 * math.hypot(30.0, 60.0)
    assert sum(line_string(line.path, False).length for line in lines) == pytest.approx(once, abs=0.5)


def inset_channels(spacing, inset=3.2, size=100.0):
    """Channels in a square whose edge lies inside its seams, with the links at its corners and nowhere else."""
    inner = square(inset, inset, size - 2 * inset)
    corners = np.array(inner.exterior.coords)[:4]
    outer = np.where(corners > size / 2, size, 0.0)
    ways = [Way(as_path(np.array(inner.exterior.coords)), "edge", 2.0)]
    ways += [Way(as_path(pair), "link", 4.0) for pair in np.stack([corners, outer], axis=1)]
    space = Zone("z", "", 1, inner, square(0, 0, size), ways=tuple(ways))
    return Work(space, channels("z", inset, inset, size - 2 * inset, spacing), "ruler")


def test_brackets_beside_a_seam_go_into_it_where_less_is_seen():
    seams = quilt_seams(1, 1, 100.0)
    work = inset_channels(20.0)
    joined = join_works([work], seams=seams, machine=Machine())
    (line,) = joined.lines
    seen = [path for path, _ in pieces([line], "edge")]
    # both ends of each line, 3.2 mm from the seam, and nothing along the edge
    assert sum(path.length for path in seen) == pytest.approx(2 * 3.2 * len(work.strokes), abs=0.1)
    assert sum(path.length for path, _ in pieces([line], "seam")) >= 20.0 * (len(work.strokes) - 1) - 0.1
    walk_over(
        joined.lines,
        all_strokes([work]),
        [*seams, *work.zone.ways, *into_seams(work.strokes, [*seams, *work.zone.ways])],
    )
    # nearer together than both ends are long, they stay on the edge
    near = inset_channels(6.0)
    (line,) = join_works([near], seams=seams, machine=Machine()).lines
    assert sum(path.length for path, _ in pieces([line], "seam")) < 6.0


def test_a_line_goes_straight_on_into_the_seam_ahead_of_it_and_a_flat_one_by_the_nearest_way():
    seam, edge = Way(as_path([(0, 0), (100, 0)]), "seam"), Way(as_path([(0, 3), (100, 3)]), "edge")
    steep, flat, level = ([(40, 43), (80, 3)], [(1, 13), (31, 3)], [(5, 30), (60, 30)])
    links = into_seams([Stroke(as_path(p)) for p in (steep, flat, level)], [seam, edge])
    assert [link.path.tolist() for link in links] == [
        [[80, 3], pytest.approx([83, 0])], [[31, 3], pytest.approx([31, 0])],
    ]  # fmt: skip


def test_a_closed_line_starts_where_the_next_one_begins():
    # a ring of ditch work 100 mm wide, then a line whose ends both lie far from where the ring was drawn from
    ring = Stroke(as_path([(0, 0), (100, 0), (100, 100), (0, 100)]), zone="a", closed=True)
    dash = Stroke(as_path([(96, 94), (60, 60)]), zone="b")
    works = [Work(zone("a"), (ring,), "ditch"), Work(zone("b"), (dash,), "motif")]
    seams = [Way(as_path(p), "seam") for p in ([(0, 0), (0, 50)], [(100, 50), (100, 100)])]
    lines = join_works(works, seams=seams, machine=Machine()).lines
    assert len(lines) == 2
    moves = sum(math.dist(a.path[-1], b.path[0]) for a, b in itertools.pairwise(lines))
    assert moves == pytest.approx(math.dist((96, 94), (100, 100)))  # the seam's end, where a start is hidden
