"""Stacks: each layer in what the ones before left, joined to one line; and zones as tight as another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from plumeline import geometry as g
from plumeline import quilt
from plumeline.errors import FillError, PlanError
from plumeline.fills import FillSettings, find_fill
from plumeline.fills.kit.density import density_of, matched
from plumeline.fills.kit.registry import Fill
from plumeline.fills.kit.stack import STEP_MM, Layer, fill_zone
from plumeline.lines import Work, join_works
from plumeline.model import Filled, Machine, Stroke, Way, as_path
from shapes import IN, rectangle, regular, star, zone

BLOCK = rectangle(12, 12)


def at(shape, x, y):
    return g.as_region(shapely.affinity.translate(shape, x * IN, y * IN))


def motif(shape, margin=0.0):
    """A layer that stitches one outline and takes what lies inside it, with a margin."""

    def draw(zone, settings, *, rng, tolerance_mm=0.05):
        local = g.outline_to_local(shape, zone.frame)
        taken = g.dilate(local, margin) if margin else [local]
        return Filled((Stroke(g.rings(local)[0], closed=True),), tuple(taken))

    return Layer(Fill("shape", FillSettings, draw, "motif", "an outline"), FillSettings())


def layer(name, **settings):
    fill = find_fill(name)
    return Layer(fill, fill.settings.model_validate(settings, context={"units": "in"}))


def lines_of(z, filled):
    edge = Way(as_path(g.close_ring(g.rings(z.region)[0])), "edge", 2.0)
    return join_works([Work(replace(z, ways=(edge,)), filled.strokes, "motif")], seams=(), machine=Machine()).lines


SHAPES = {"star": at(star(5, 3, 1.6), 6, 6), "pentagon": at(regular(5, 2.2), 6, 6), "circle": g.disc((5 * IN,) * 2, 50)}
BEHIND = layer("meander", spacing="1/4")


@pytest.mark.parametrize("name", sorted(SHAPES))
@pytest.mark.parametrize("margin", [0.0, 3.0])
@pytest.mark.parametrize("between", [(), (layer("echo", count=2),), (layer("echo", count=3, spacing=["1/4", "1/2"]),)])
def test_motif_echoes_and_background_are_one_line(name, margin, between):
    z = zone(BLOCK)
    filled = fill_zone(z, [motif(SHAPES[name], margin), *between, BEHIND])
    (line,) = lines_of(z, filled)
    assert {s.fill for s in filled.strokes} == {"shape", "meander", *(["echo"] if between else [])}
    twice = [line.path[s.start : s.end + 1] for s in line.spans if s.kind in ("backtrack", "edge")]
    assert sum(map(g.path_length, twice)) < 1.0  # where two layers meet, to a fraction of a stitch
    assert len(g.self_crossings([g.close_ring(s.path, s.closed) for s in filled.strokes])) == 0
    # it ends hidden at the edge, and starts on the motif
    ends = [BLOCK.exterior.distance(shapely.Point(p)) for p in line.path[[0, -1]]]
    assert min(ends) < 0.1
    assert SHAPES[name].exterior.distance(shapely.Point(line.path[[0, -1]][int(np.argmax(ends))])) < 0.1


def test_a_layer_keeps_out_of_what_was_taken():
    filled = fill_zone(zone(BLOCK), [motif(SHAPES["star"]), layer("echo", count=2), BEHIND])
    taken = shapely.union_all(filled.taken)
    for stroke in filled.strokes:
        if stroke.fill == "meander":
            assert g.outside_mm([stroke.path], g.as_region(BLOCK.difference(taken)), tolerance_mm=0.05) == 0
    # the background stands as far from the last echo as strands from each other, or nearly
    echoes = shapely.MultiLineString([s.path for s in filled.strokes if s.fill == "echo"])
    (wander,) = [s for s in filled.strokes if s.fill == "meander" and s.role == "stitch"]
    far = shapely.distance(echoes, shapely.points(g.resample(wander.path, 1.0)[20:]))
    assert far.min() > 0.6 * 0.25 * IN


def test_steps_are_short_and_only_where_needed():
    z = zone(BLOCK)
    touching = fill_zone(z, [motif(SHAPES["star"]), layer("echo", count=2)])
    apart = fill_zone(z, [motif(SHAPES["star"], 3.0), layer("echo", count=2)])
    assert not [s for s in touching.strokes if s.role == "step"]
    (step,) = [s for s in apart.strokes if s.role == "step"]
    assert g.path_length(step.path) == pytest.approx(3.0, abs=0.1)
    far = fill_zone(z, [motif(SHAPES["star"], STEP_MM + 1.0), layer("echo", count=2)])
    assert not [s for s in far.strokes if s.role == "step"]


def test_a_space_beside_a_motif_is_reached_along_the_edge():
    # the motif's echoes cut the corners off: no step, and still one line
    z = zone(BLOCK)
    big = g.disc((6 * IN, 6 * IN), 5.6 * IN)
    filled = fill_zone(z, [motif(big), layer("echo", count=2), BEHIND])
    assert len([s for s in filled.strokes if s.fill == "meander" and s.role == "stitch"]) == 4
    assert len([s for s in filled.strokes if s.role == "step"]) <= 1
    assert len(lines_of(z, filled)) == 1


def test_what_is_too_narrow_for_a_line_stays_open():
    # a ring 2.5 mm wide: no background there, and no finding either
    z = zone(g.disc((0, 0), 50.0))
    filled = fill_zone(z, [motif(g.disc((0, 0), 47.5)), BEHIND])
    assert {s.fill for s in filled.strokes} == {"shape"}
    assert not filled.findings


def test_wished_ends_are_the_first_layers_start_and_the_last_ones_end():
    enter, leave = (6 * IN, 4.5 * IN), (12 * IN, 2 * IN)
    z = replace(zone(BLOCK), enter=enter, leave=leave)
    filled = fill_zone(z, [motif(SHAPES["circle"]), layer("echo", count=1), BEHIND])
    (wander,) = [s for s in filled.strokes if s.fill == "meander" and s.role == "stitch"]
    assert np.hypot(*(wander.path[-1] - leave)) < 0.25 * IN


def test_a_stack_gives_the_same_bytes():
    stack = [motif(SHAPES["star"], 3.0), layer("echo", count=2), BEHIND]
    first, second = (fill_zone(zone(BLOCK), stack) for _ in range(2))
    assert [s.path.tobytes() for s in first.strokes] == [s.path.tobytes() for s in second.strokes]


def test_a_meander_may_start_beside_a_hole():
    hole = g.disc((5 * IN, 6 * IN), 2 * IN)
    enter = (7 * IN, 6 * IN)
    z = replace(zone(g.as_region(BLOCK.difference(hole))), enter=enter)
    meander = find_fill("meander")
    for seed in range(4):
        (line,) = meander(z, meander.settings(spacing_mm=9.0), rng=np.random.default_rng(seed)).strokes
        assert np.hypot(*(line.path[0] - enter)) < 1.5
        assert BLOCK.exterior.distance(shapely.Point(line.path[-1])) < 0.1
        assert g.is_simple(line.path)
        assert g.outside_mm([line.path], z.region) == 0
        # the cut leaves no scar: the line is as even as without
        assert g.strand_spacing([line.path], 9.0).varies_percent < 22


PLAN = """
title = "Alike"
units = "in"
[top.blocks]
setting = "straight"
size = 8
rows = [["a", "b", "c"]]
[[zone]]
name = "follower"
patches = ["b-1-2"]
[zone.fill]
kind = "{kind}"
density = "{density}"
{more}
[[zone]]
name = "model"
patches = ["a-1-1"]
[zone.fill]
kind = "meander"
spacing = "3/8"
[[zone]]
name = "other"
patches = ["c-1-3"]
[zone.fill]
kind = "meander"
density = "{other}"
"""


def stitched(folder, kind="meander", density="like model", more="", other="like model"):
    path = folder / "alike.toml"
    path.write_text(PLAN.format(kind=kind, density=density, more=more, other=other), encoding="utf-8")
    return quilt.stitch(quilt.read_plan(path))


@pytest.mark.parametrize(
    ("kind", "more"),
    [("meander", ""), ("channel", ""), ("channel", "spacing = [1, 0.5]\nangle = 30"), ("echo", ""), ("spiral", "")],
)
def test_a_zone_is_as_tight_as_another(tmp_path, kind, more):
    made = stitched(tmp_path, kind, more=more)
    tight = {z.name: density_of(f, z) for z, f in zip(made.zones, made.filled)}
    assert tight["follower"] == pytest.approx(tight["model"], rel=0.03)
    assert tight["other"] == pytest.approx(tight["model"], rel=0.03)
    assert "density-not-met" not in [f["code"] for f in made.report["findings"]]


def test_several_spacings_keep_their_proportions(tmp_path):
    made = stitched(tmp_path, "channel", more="spacing = [1, 0.5]")
    follower = next(f for z, f in zip(made.zones, made.filled) if z.name == "follower")
    gaps = np.diff(sorted(float(s.path[:, 1].mean()) for s in follower.strokes))
    assert gaps.max() / gaps.min() == pytest.approx(2.0, rel=1e-6)


def test_whole_lines_that_cannot_meet_a_density_say_so():
    # one, two or three lines in 1 in: 1, 2 or 3 inches a square inch, never 1.5
    channel = find_fill("channel")
    settings = channel.settings(density="like x").resolved(
        type("Known", (), {"density": lambda self, name: 1.5, "quilt_density": None})()
    )
    filled = matched(channel, zone(rectangle(6, 1)), settings, rng=lambda: np.random.default_rng(1))
    assert filled.findings[-1].code == "density-not-met"
    assert density_of(filled, zone(rectangle(6, 1))) in (pytest.approx(1.0), pytest.approx(2.0))


def test_a_model_that_is_no_zone_waits_itself_or_is_empty_is_refused(tmp_path):
    with pytest.raises(FillError, match=r"'modle' is no zone whose density is known here.*model"):
        stitched(tmp_path, density="like modle")
    with pytest.raises(FillError, match="'other' is no zone whose density is known here"):
        stitched(tmp_path, density="like other", other="like follower")
    meander = find_fill("meander")
    settings = meander.settings(density="like x").resolved(
        type("Known", (), {"density": lambda self, name: 0.0, "quilt_density": None})()
    )
    with pytest.raises(FillError, match="nothing is stitched there"):
        matched(meander, zone(BLOCK), settings, rng=lambda: np.random.default_rng(1))


def test_a_density_is_written_like_a_name(tmp_path):
    with pytest.raises(PlanError, match="density"):
        stitched(tmp_path, density="as model")
