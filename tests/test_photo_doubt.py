"""How far a photo's places may be out: against cameras fitted again, and corners that sharpen what a finger touched."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from photos import Shot, corners_and_middles, points_csv
from pieced_tops import Faulty, judged, photographed
from plumeline.top.camera import fit_camera
from plumeline.top.camera_doubt import SLIP_COUNT, SLIP_MM, camera_doubt

SIDE = 762.0
SHOT = Shot((3000, 2250), (SIDE / 2, SIDE / 2), SIDE, tilt=(16.0, -11.0), turn=-6.0, lens=(-0.08, 0.0), fill=0.7)


@pytest.mark.parametrize(("inner", "bends"), [(150.0, True), (None, True), (None, False)])
def test_the_doubt_is_how_the_camera_follows_its_points(inner, bends):
    # the law of error propagation on the fit itself: each measure is moved a little and the camera fitted again
    measured = corners_and_middles(SIDE, SIDE, inner)
    shot = SHOT if bends else Shot(SHOT.size, SHOT.middle, SIDE, tilt=SHOT.tilt, lens=(0.0, 0.0), fill=0.7)
    pixels = shot.seen(measured)
    camera = fit_camera(pixels, measured, shot.size, bends=bends)
    at = np.array([(0.0, 0.0), (380.0, 390.0), (700.0, 30.0), (10.0, 500.0), (-60.0, 800.0)])
    seen = shot.seen(at)
    total, slip = np.zeros((len(at), 2)), 0.05
    for k, axis in np.ndindex(*measured.shape):
        other = measured.copy()
        other[k, axis] += slip
        again = fit_camera(pixels, other, shot.size, bends=bends)
        total += ((again.to_top(seen) - camera.to_top(seen)) / slip) ** 2
    misses = np.full(len(measured), 1.3)
    free = measured.size - (9 if bends else 8)
    sigma = np.sqrt(((misses**2).sum() + SLIP_COUNT * SLIP_MM**2) / (free + SLIP_COUNT))
    doubt = camera_doubt(camera, pixels, misses, bends=bends)
    for axis, way in enumerate(np.eye(2)):
        told = doubt.across(at, np.tile(way, (len(at), 1)))
        assert told == pytest.approx(sigma * np.sqrt(total[:, axis]), rel=5e-3)


def test_a_place_far_from_every_point_is_told_less_surely():
    measured = corners_and_middles(SIDE, SIDE)
    pixels = SHOT.seen(measured)
    camera = fit_camera(pixels, measured, SHOT.size, bends=True)
    doubt = camera_doubt(camera, pixels, np.ones(8), bends=True)
    out = doubt.across(np.column_stack([np.linspace(SIDE / 2, 2 * SIDE, 12), np.full(12, SIDE / 2)]), np.ones((12, 2)))
    assert (np.diff(out[4:]) > 0).all() and out[-1] > 3 * out[4]


TOP = Faulty("skewed", count=3, side=101.6, corner={(1, 2): (6.0, 2.0), (2, 1): (-2.0, 3.0)})


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("doubt")
    return where, photographed(TOP, where, px=(1600, 1200), tap_px=0.0, tape_mm=0.0)


def marked(shot, folder, where, *, inset=0.0, **errors):
    n = TOP.count
    marks = [(0, 0), (0, 1), (0, n), (1, n), (n, n), (n, 1), (n, 0), (1, 0), (1, 1), (1, 2), (2, 2), (2, 1)]
    places = np.array([TOP.at(r, c, 0) for r, c in marks])
    middle = TOP.size / 2
    places += inset * np.sign(middle - places)
    (where / "points.csv").write_text(points_csv(shot, places, **errors))
    for name in ("photo.jpg", "planned.svg", "plan.toml"):
        (where / name).write_bytes((folder / name).read_bytes())


def test_a_clumsy_finger_is_put_right_by_the_corners(folder, tmp_path):
    where, shot = folder
    marked(shot, where, tmp_path, tap_px=3.0, seed=5)
    told = judged(TOP, tmp_path, shot)
    (said,) = (f for f in told.found.squared.findings if f.code == "points-at-corners")
    assert said.text.startswith(("11 of 12", "12 of 12"))
    # a finger unsure by 3 px is unsure by 1.1 mm each way on the top; corners are seen to a quarter of that
    assert told.points.max() < 1.0 and told.seams.max() < 1.2


def test_points_measured_beside_the_corners_stay_where_they_were_touched(folder, tmp_path):
    where, shot = folder
    marked(shot, where, tmp_path, inset=2.5)
    told = judged(TOP, tmp_path, shot)
    assert "points-at-corners" not in {f.code for f in told.found.squared.findings}
    assert told.points.max() < 0.3


def test_seams_far_from_the_points_are_marked_and_told_of(folder, tmp_path):
    where, shot = folder
    marked(shot, where, tmp_path)
    # points of the upper half alone: the lower one is a guess of the camera's
    rows = (tmp_path / "points.csv").read_text().splitlines()
    kept = [row for row in rows[1:] if float(row.split(",")[3]) * 25.4 < 0.55 * TOP.size]
    near = [f"{x:.2f},{y:.2f},{r / 25.4:.5f},{d / 25.4:.5f}" for r, d in TOP_HALF for x, y in shot.seen([(r, d)])]
    (tmp_path / "points.csv").write_text("\n".join([rows[0], *kept, *near]) + "\n")
    told = judged(TOP, tmp_path, shot)
    (said,) = (f for f in told.found.squared.findings if f.code == "seams-far")
    assert "down" in said.text
    far = {(s.stretch.a, s.stretch.b) for s in told.found.seen if s.seen and not s.placed}
    assert ("p-3-2", None) in far and ("p-1-2", None) not in far
    rows = told.found.seams()
    assert {r["why_unsure"] for r in rows if not r["sure"]} >= {"far from measured points"}
    assert all(r["may_be_off_mm"] > 2.0 for r in rows if r["why_unsure"] == "far from measured points")
    assert replace(told.found, title="t").picture()[:4] == b"\x89PNG"


TOP_HALF = [(50.8, 0.0), (50.8, 101.6), (254.0, 0.0), (152.4, 50.8)]
"""More places of the upper half, mm: on its edges and within."""
