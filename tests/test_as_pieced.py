"""The top as pieced from a made photo: seams where they are, unsure ones marked, patches by their planned names."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

import plumeline
from photos import Shot, corners_and_middles, painted, points_csv, shot_of
from pieced_tops import Faulty, judged, photographed
from plumeline.pipeline.top import read_top
from plumeline.top import from_drawing, seam_net
from test_photo import run

TOP = Faulty(
    "one seam 3/8 in out, one bowed",
    count=3,
    side=101.6,
    corner={(1, 2): (9.525, 0.0)},
    across={(2, 0): 4.0},
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("pieced")
    shot = photographed(TOP, where, px=(1600, 1200), tap_px=0.3, tape_mm=0.2)
    return where, shot


def test_sure_seams_lie_where_they_are_and_what_is_not_seen_is_marked(folder):
    where, shot = folder
    told = judged(TOP, where, shot)
    assert told.wrong == 0 and told.seams.max() < 1.2 and np.median(told.seams) < 0.6
    assert told.sides.max() < 1.5
    unsure = {(s.stretch.a, s.stretch.b): s.why for s in told.found.seen if not s.sure}
    # of one fabric both; the shadow that falls along the second makes it look like two
    assert set(unsure) == {("p-1-2", "p-2-2"), ("p-2-2", "p-2-3")}
    assert unsure["p-1-2", "p-2-2"] == "lies between like fabrics"
    # what is not used was taken from its ends: they are where the other seams put them, 3/8 in out
    both = zip(told.found.seen, told.found.paths)
    (path,) = (p for s, p in both if (s.stretch.a, s.stretch.b) == ("p-2-2", "p-2-3"))
    truth = np.array([(2 * 101.6 + 9.525, 101.6), (2 * 101.6, 2 * 101.6)])
    assert np.hypot(*(path[[0, -1]] + told.found.squared.origin - truth).T).max() < 1.5


def test_the_drawing_reads_back_with_the_same_names_under_the_photo(folder, tmp_path):
    where, _ = folder
    out = run("photo", where / "photo.jpg", "--points", where / "points.csv", "--plan", where / "plan.toml", "--to",
              tmp_path, "--json")  # fmt: skip
    assert out.exit_code == 0, out.stderr
    said = json.loads(out.stdout)
    assert said["files"] == ["squared.png", "as-pieced.svg", "seams.png"]
    assert [s["sure"] for s in said["seams"]].count(False) == 2
    planned = from_drawing(where / "planned.svg")
    (tmp_path / "again.toml").write_text('[top]\ndrawing = "as-pieced.svg"\nphoto = "squared.png"\n')
    top = read_top(plumeline.read_plan(tmp_path / "again.toml"))
    assert [p.name for p in top.patches] == [p.name for p in planned.patches]
    assert {f.code for f in top.findings} == {"size-read"}
    assert len(top.seams) == len(planned.seams)
    # no gap, no overlap: the areas add up to the whole
    assert sum(p.outline.area for p in top.patches) == pytest.approx(np.prod(top.size), rel=0.01)
    right = next(p for p in top.patches if p.name == "p-1-2").outline
    assert right.bounds[2] == pytest.approx(2 * 101.6 + 9.525, abs=1.5)


def test_seams_are_not_judged_from_few_points(folder, tmp_path):
    where, shot = folder
    (tmp_path / "four.csv").write_text(points_csv(shot, corners_and_middles(TOP.size, TOP.size)[::2]))
    out = run("photo", where / "photo.jpg", "--points", tmp_path / "four.csv", "--plan", where / "plan.toml", "--to",
              tmp_path / "out")  # fmt: skip
    assert out.exit_code == 2 and "has 4 points that can be used; must have 8" in out.stderr
    assert not (tmp_path / "out").exists()


def test_a_photo_of_plain_cloth_shows_no_seam(tmp_path):
    plain = replace(TOP, count=2)
    side = plain.size
    shot = Shot((800, 600), (side / 2, side / 2), side)
    flat, corner = painted([(np.array([(0, 0), (side, 0), (side, side), (0, side)]), "#77695c")], (side, side), 2.0)
    (tmp_path / "photo.jpg").write_bytes(shot_of(flat.astype(np.float32), 2.0, corner, shot, shadow=0.0, noise=2.0))
    (tmp_path / "points.csv").write_text(points_csv(shot, corners_and_middles(side, side)))
    (tmp_path / "planned.svg").write_text(plain.plan())
    (tmp_path / "plan.toml").write_text('[top]\ndrawing = "planned.svg"\n')
    out = run("photo", tmp_path / "photo.jpg", "--points", tmp_path / "points.csv", "--plan", tmp_path / "plan.toml",
              "--to", tmp_path / "out")  # fmt: skip
    assert out.exit_code == 2 and "photo.jpg: shows no seam of the plan for sure" in out.stderr


def test_a_plan_without_a_size_is_refused_before_anything_is_written(folder, tmp_path):
    where, _ = folder
    (tmp_path / "bare.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><rect id="a" width="9" height="9"/></svg>'
    )
    (tmp_path / "bare.toml").write_text('[top]\ndrawing = "bare.svg"\n')
    out = run("photo", where / "photo.jpg", "--points", where / "points.csv", "--plan", tmp_path / "bare.toml", "--to",
              tmp_path / "out")  # fmt: skip
    assert out.exit_code == 2 and "says no true size" in out.stderr and out.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_the_net_of_seams_has_every_corner_once(folder):
    where, _ = folder
    net = seam_net(from_drawing(where / "planned.svg"))
    assert len(net.corners) == 16  # of 3 x 3 squares
    assert len(net.stretches) == 24
    every = sum(s.length for s in net.stretches)
    assert every == pytest.approx(24 * 101.6, abs=1e-3)
