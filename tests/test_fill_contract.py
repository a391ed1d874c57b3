"""The contract of every fill, built in or from another package, crossed with the shapes that tests share.

A fill is tested as soon as it is registered. One whose settings can't all be left out is named in `MINIMAL`.
"""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
import shapely

from plumeline.fills import fill_names, find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.geometry import as_region, clip_path, close_ring, disc, erode, fence_crossings, outside_mm, pieces
from plumeline.model import Fence, Frame, Stage, as_path
from shapes import DEGENERATE, IN, NAMED, moved, random_regions, rectangle, regular, zone

TOLERANCE_MM = 0.05
MOST_SECONDS = 10.0  # processor time of one fill of one shape: only a runaway search takes so long
SHAPES = ("square12", "rectangle", "skinny", "l12", "star5", "frame14", "wobbly", "two holes")
RANDOM = list(random_regions(3, seed=11))
MINIMAL: dict[str, dict[str, object]] = {}

fills = pytest.mark.parametrize("name", fill_names())


class Drawn:
    """Artwork of one leaf, 2 in long."""

    paths = (as_path(np.array([(0, 0), (1, -0.5), (2, 0), (1, 0.5)]) * IN),)
    closed = (True,)


class Names:
    """Where names in settings are looked up, with one answer for each kind."""

    quilt_density = None

    def guide(self, name):
        return (as_path([(-60.0, 0.0), (60.0, 0.0)]),)

    def art(self, name):
        return Drawn()

    def density(self, name):
        return 2.0


def settings_of(name):
    return find_fill(name).settings.model_validate(MINIMAL.get(name, {})).resolved(Names())


def filled(name, z, chance=7):
    begun = time.process_time()
    result = find_fill(name)(z, settings_of(name), rng=np.random.default_rng(chance), tolerance_mm=TOLERANCE_MM)
    assert time.process_time() - begun < MOST_SECONDS
    return result


def bounds_of(name, z):
    return z.region if find_fill(name).within == "region" else z.outline


def check(name, z, result):
    """Inside, finite, read-only, without doubled points, signed; strokes or a finding."""
    assert result.strokes or result.findings
    for stroke in result.strokes:
        path = stroke.path
        assert path.ndim == 2 and path.shape[1] == 2 and path.dtype == np.float64
        assert len(path) >= (3 if stroke.closed else 2)
        assert not path.flags.writeable
        assert np.isfinite(path).all()
        assert np.hypot(*np.diff(close_ring(path, stroke.closed), axis=0).T).min() > 1e-6
        assert (stroke.zone, stroke.fill) == (z.name, name)
        assert stroke.role in ("stitch", "backtrack", "step")
        assert outside_mm([path], bounds_of(name, z), tolerance_mm=TOLERANCE_MM, closed=stroke.closed) == 0.0
    for region in result.taken:
        assert region.is_valid
        assert region.difference(z.outline.buffer(TOLERANCE_MM)).area < 1.0
    for finding in result.findings:
        assert finding.code and finding.text and finding.what_to_do
        assert finding.zone == z.label


def chains_hold(result):
    """Strokes of one chain follow each other in the list, each starting where the one before ended."""
    numbers = [s.chain for s in result.strokes]
    for chain in {n for n in numbers if n is not None}:
        at = [i for i, n in enumerate(numbers) if n == chain]
        assert at == list(range(at[0], at[-1] + 1))
        run = [result.strokes[i] for i in at]
        for before, after in pairwise(run):
            end = before.path[0] if before.closed else before.path[-1]
            assert np.hypot(*(end - after.path[0])) < 1e-6


@fills
@pytest.mark.parametrize("shape", SHAPES)
def test_ordinary_zones(name, shape):
    z = zone(NAMED[shape])
    result = filled(name, z)
    check(name, z, result)
    chains_hold(result)


@fills
@pytest.mark.parametrize("number", range(3))
def test_random_zones(name, number):
    z = zone(RANDOM[number])
    result = filled(name, z)
    check(name, z, result)
    chains_hold(result)


BARE_SHAPES = ("square12", "rectangle", "l12", "frame14", "two holes")
BARE_SHARE = 0.01
ALLOWED_GAP_MM = 50.8  # what a fill without a spacing promises, see docs/findings.md


def is_whole(z, settings, result):
    """Assert that no more than a sliver of the zone lies farther than 1.5 times what is promised from every line.

    Measured by the geometry engine at scattered points, apart from the measure that the report holds.
    """
    left, top, right, bottom = z.region.bounds
    points = np.random.default_rng(5).uniform((left, top), (right, bottom), (4000, 2))
    points = shapely.points(points[shapely.contains_xy(z.region, *points.T)])
    lines = shapely.MultiLineString([close_ring(s.path, s.closed) for s in result.strokes])
    shapely.prepare(lines)
    assert float((~shapely.dwithin(lines, points, 1.5 * (settings.promise_mm or ALLOWED_GAP_MM))).mean()) < BARE_SHARE


@fills
@pytest.mark.parametrize("shape", BARE_SHAPES)
def test_no_part_of_an_ordinary_zone_is_left_bare(name, shape):
    settings, z = settings_of(name), zone(NAMED[shape])
    result = fill_zone(z, [Layer(find_fill(name), settings)])
    if not settings.fills_space:
        pytest.skip("follows edges")
    said = [f for f in result.findings if f.code == "bald-spot"]
    if name not in ("curl", "feather", "motif", "edge-to-edge"):  # these leave gaps, and say so where they are wide
        assert not said
        is_whole(z, settings, result)
    assert said or result.bare_mm2 < z.region.area * 2 * BARE_SHARE


@fills
def test_one_row_instead_of_all_is_caught(name):
    settings, z = settings_of(name), zone(NAMED["square12"])
    if not settings.fills_space or settings.promise_mm is None:
        pytest.skip("promises no spacing")
    fill = find_fill(name)

    def bald(zone_, settings_, *, rng, tolerance_mm=0.05):
        whole = fill.draw(zone_, settings_, rng=rng, tolerance_mm=tolerance_mm)
        (row,) = whole.strokes[:1]
        return replace(whole, strokes=(replace(row, path=as_path(row.path[:2]), closed=False),))

    result = fill_zone(z, [Layer(replace(fill, draw=bald), settings)])
    with pytest.raises(AssertionError):
        is_whole(z, settings, result)
    assert [f.severity for f in result.findings if f.code == "bald-spot"] == ["warning"]
    assert result.bare_mm2 > 0.3 * z.region.area


@fills
@pytest.mark.parametrize("shape", sorted(DEGENERATE))
def test_degenerate_zones(name, shape):
    z = zone(DEGENERATE[shape])
    check(name, z, filled(name, z))


@fills
def test_a_zone_too_small_gives_a_finding_and_no_strokes(name):
    result = filled(name, zone(DEGENERATE["speck"]))
    assert not result.strokes
    assert [f.severity for f in result.findings] == ["warning"]


@fills
def test_a_block_is_filled(name):
    result = filled(name, zone(rectangle(12, 12)))
    assert sum(len(s.path) for s in result.strokes) > 0


@fills
@pytest.mark.parametrize("shape", ["square12", "l12", "frame14"])
def test_same_seed_same_bytes(name, shape):
    first, second = (filled(name, zone(NAMED[shape])) for _ in range(2))
    assert [s.path.tobytes() for s in first.strokes] == [s.path.tobytes() for s in second.strokes]
    assert first.findings == second.findings


@fills
@pytest.mark.parametrize("shape", ["square12", "skinny", "frame14", "wobbly"])
@pytest.mark.parametrize(("shift", "angle"), [((317.3, -41.7), 0.0), ((-1234.5, 881.2), 33.0)])
def test_moving_and_turning_the_zone_moves_the_result(name, shape, shift, angle):
    z = zone(NAMED[shape])
    there = moved(z, np.array(shift), angle)
    a, b = filled(name, z), filled(name, there)
    assert len(a.strokes) == len(b.strokes)
    for s, t in zip(a.strokes, b.strokes):
        assert (s.closed, s.role, s.chain) == (t.closed, t.role, t.chain)
        assert s.path.shape == t.path.shape
        assert np.abs(z.frame.to_local(s.path) - there.frame.to_local(t.path)).max() < TOLERANCE_MM


@fills
def test_both_sides_of_a_firm_fence_are_filled_and_none_crosses_it(name):
    region = rectangle(14, 10)
    fence = as_path(np.array([(6, 0), (7, 4), (6.5, 10)]) * IN)
    z = replace(zone(region), fences=(Fence(fence),))
    result = filled(name, z)
    check(name, z, result)
    for stroke in result.strokes:
        assert fence_crossings([stroke.path], z.fences, closed=stroke.closed) == 0
    sides = pieces(z)
    assert len(sides) == 2
    for side in sides:
        inside = [c for s in result.strokes for c in clip_path(s.path, side, closed=s.closed)]
        assert sum(shapely.LineString(c).length for c in inside) > IN


@fills
def test_a_part_left_open_stays_open(name):
    outline = rectangle(14, 12)
    hole, bite = disc((7 * IN, 6 * IN), 2 * IN), disc((14 * IN, 3 * IN), 1.5 * IN)
    z = replace(zone(as_region(outline.difference(hole).difference(bite))), outline=outline, left_open=(hole, bite))
    result = filled(name, z)
    check(name, z, result)
    assert result.strokes
    for part in (*erode(hole, TOLERANCE_MM), *erode(bite.intersection(outline), TOLERANCE_MM)):
        assert not [c for s in result.strokes for c in clip_path(s.path, part, closed=s.closed)]


@fills
def test_the_inset_is_kept_by_fills_of_the_region(name):
    region = as_region(erode(regular(6, 6), IN / 4)[0])
    z = replace(zone(region, frame=Frame((3.0, 2.0), 15.0)), outline=regular(6, 6))
    check(name, z, filled(name, z))


@fills
def test_a_fill_says_what_it_and_its_settings_are(name):
    fill = find_fill(name)
    assert fill.name == name == name.lower()
    assert fill.description
    assert fill.stage in get_args(Stage)
    assert [key for key, field in fill.settings.model_fields.items() if not field.description] == []
    assert fill.settings.model_json_schema()["additionalProperties"] is False
    if fill.is_ours:
        page = Path(__file__).parent.parent / "docs" / "fills" / f"{name}.md"
        assert page.is_file(), f"write docs/fills/{name}.md"
        assert page.read_text(encoding="utf-8").startswith("# ")
