"""The sample quilt photographed as it is pieced: its planted faults are found, named, and cleared as suggested."""

from __future__ import annotations

import json

import numpy as np
import pytest

import plumeline
from photos import Shot, corners_and_middles, painted, points_csv, printed, shot_of
from plumeline import demo
from plumeline.pipeline.top import read_top

IN = 25.4
SIDE = (3 * 12 * 2**0.5 + 13) * IN
"""As planned: three blocks on point, and borders of 1 in and 5 1/2 in on both sides."""

LONG = 0.5 * IN
"""The right border reaches lower by so much."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A photo of the sample as pieced, measured points, and the sample's plan on a drawing without faults."""
    folder = tmp_path_factory.mktemp("demo")
    pieces = list(demo._quilt_pieces())
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(demo, "_faulty", lambda points: points)
        true = [
            demo._Piece(p.name, np.minimum(p.points, SIDE / IN), p.colour)  # and the border of its planned length
            for p in demo._quilt_pieces()
        ]
    (folder / "plain-and-star.svg").write_text(demo._svg(true, SIDE / IN, SIDE / IN))
    (folder / "plan.toml").write_text(demo.quilt_files()["plain-and-star.toml"])
    shot = Shot((3400, 3400), (SIDE / 2, SIDE / 2), SIDE, tilt=(7.0, -5.0), turn=2.0, lens=(-0.04, 0.0), fill=0.86)
    flat, corner = painted([(p.points * IN, p.colour) for p in pieces], (SIDE, SIDE + LONG), 2.0)
    (folder / "photo.jpg").write_bytes(shot_of(printed(flat, 2.0, strong=0.12), 2.0, corner, shot, noise=4.0))
    places = corners_and_middles(SIDE, SIDE, 6.5 * IN)
    places[4] += (0, LONG)
    places[5] += (0, LONG / 2)
    (folder / "points.csv").write_text(points_csv(shot, places, tap_px=1.0, tape_mm=0.5))
    return folder


def test_the_planted_faults_are_found_from_a_photo_and_the_suggestion_clears_the_finding(folder, run):
    squared = folder / "out"
    plan, points = folder / "plan.toml", folder / "points.csv"
    code, _, err = run("photo", folder / "photo.jpg", "--points", points, "--plan", plan, "--to", squared)
    assert code == 0, err
    pieced = folder / "pieced.toml"
    (folder / "as-pieced.svg").write_bytes((squared / "as-pieced.svg").read_bytes())
    pieced.write_text(plan.read_text().replace('"plain-and-star.svg"', '"as-pieced.svg"'))
    code, out, err = run("straight", pieced, "--json")
    assert code == 0, err
    told = json.loads(out)
    seams = {" | ".join(filter(None, s["between"])): s for s in told["seams"] if s["out_of_true"]}
    # the right border is 1/2 in too long: the top is so much deeper, and the border the most askew of all patches
    read = plumeline.read_plan(pieced)
    assert read_top(read).size == pytest.approx((SIDE, SIDE + LONG), abs=3.0)
    assert max(told["blocks"], key=lambda b: b["skew_mm"])["name"] == "outer-right"
    # a corner of the plain square lies 3/8 in off: of the squares it is the one out of true, and its seams lean by it
    squares = {b["name"]: b["skew_mm"] for b in told["blocks"] if b["name"].startswith("plain-")}
    assert max(squares, key=squares.get) == "plain-2-2"
    assert sorted(squares.values())[-2] < 1.0 < 5.0 < squares["plain-2-2"]
    beside = [s["lean_mm"] for name, s in seams.items() if "plain-2-2" in name]
    assert len(beside) >= 2 and max(beside) == pytest.approx(0.375 * IN, abs=2.0)
    # a point of the second star is missed by 1/8 in
    assert seams["star-1-2-corner-3 | star-1-2-tip-5"]["lean_mm"] == pytest.approx(0.125 * IN, abs=1.0)
    every = ("--zone", "big stars", "--formats", "svg", "--json")
    code, out, err = run("stitch", pieced, "--option", "rulers", "--to", folder / "rulers", *every)
    assert code == 0, err
    found = [f for f in json.loads(out)["findings"] if f["code"] == "straight-beside-crooked"]
    big = next(f for f in found if f["zone"] == "big stars")
    assert "curved or all-over fill" in big["what_to_do"]
    code, out, err = run("stitch", pieced, "--option", "all-over", "--to", folder / "over", *every)
    assert code == 0, err
    assert "straight-beside-crooked" not in {f["code"] for f in json.loads(out)["findings"]}
