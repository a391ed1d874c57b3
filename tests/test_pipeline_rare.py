"""What the main job does in rare cases: other formats, large prints, memories that forget, tops that say nothing."""

from __future__ import annotations

import os
import signal
import threading
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

import plumeline
from photos import Shot, corners_and_middles
from plumeline.errors import DrawingError, EngineError, InputError, PlumelineError, ZoneError
from plumeline.pipeline import photo as photo_room
from plumeline.pipeline.aside import Aside, Stopped
from plumeline.pipeline.kept import MOST_MADE, Kept
from plumeline.pipeline.kept_files import KeptInFiles
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.photo import PX_A_MM, PhotoJob, part_of_photo, squared_photo
from plumeline.pipeline.top import read_top
from plumeline.pipeline.workers import signals_wait
from plumeline.plan import parse_plan
from plumeline.review import ZoneFigures
from plumeline.top.photo import square_up
from plumeline.top.photo_points import MeasuredPoints
from shapes import rectangle, zone

BLOCKS = """
[top.blocks]
size = 6
rows = [["a", "b"]]
[[zone]]
name = "a"
patches = ["a-*"]
[zone.fill]
kind = "channel"
spacing = 2
"""


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(BLOCKS, encoding="utf-8")
    return path


# ---- files


def test_one_fill_as_a_picture_is_a_picture(run, tmp_path):
    code, _, _ = run("fill", "channel", "--rect", "8x4", "--to", tmp_path / "try.png")
    with Image.open(tmp_path / "try.png") as picture:
        assert (code, picture.format) == (0, "PNG")
        assert picture.width > 1.2 * picture.height  # twice as wide as high, with words below


def test_a_value_of_a_named_zone_may_be_changed_by_its_whole_path(run, plan):
    code, _, err = run("set", plan, "zone.a.fill.kind=spiral")
    assert (code, err) == (0, "")
    assert parse_plan(plan.read_text()).fills == {"a": {"": ({"kind": "spiral", "spacing": 2},)}}


def test_a_started_plan_keeps_how_its_drawing_is_read(run, tmp_path):
    (tmp_path / "top.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="8in" height="8in" viewBox="0 0 8 8">'
        '<path d="M0 0H8V8H0ZM4 0V8" fill="none" stroke="#000" stroke-width=".01"/></svg>'
    )
    code, _, err = run("new", tmp_path / "p.toml", "--drawing", tmp_path / "top.svg", "--read", "lines")
    assert (code, err) == (0, "")
    made = plumeline.read_plan(tmp_path / "p.toml")
    assert made.top.read == "lines" and len(read_top(made).patches) == 2


def test_a_drawing_is_no_format_for_a_refitted_reach(run, tmp_path):
    path = tmp_path / "large.toml"
    path.write_text(BLOCKS.replace("size = 6", "size = 12") + "\n[machine]\nreach = [13, 13]\n")
    path.write_text(path.read_text().replace('patches = ["a-*"]', 'patches = ["*"]\neach = "patch"'))
    quilt = plumeline.stitch(plumeline.read_plan(path))
    assert len(quilt.reaches) == 2
    marks = quilt.report["reaches"][1]["marks_mm"]
    said = " ".join(f"{name}={x:.3f} mm,{y:.3f} mm".replace(" ", "") for name, (x, y) in marks.items())
    code, _, err = run("refit", path, "--reach", "2", "--marks", said, "--formats", "svg", "--to", tmp_path / "out")
    assert code == 2 and "a drawing; must be formats that a machine follows" in err
    assert not (tmp_path / "out").exists()


# ---- memories


def test_the_ways_of_dividing_a_top_up_that_were_used_longest_ago_are_forgotten():
    kept, plan, top, asked = Kept(), parse_plan(BLOCKS), object(), []

    def made(chance):
        return kept.made(replace(plan, chance=chance), top, lambda: asked.append(chance) or ((), ()))

    for chance in range(MOST_MADE + 1):
        made(chance)
    made(MOST_MADE)
    made(0)
    assert asked == [*range(MOST_MADE + 1), 0]


def test_what_was_just_kept_is_not_read_from_its_file(tmp_path):
    kept = KeptInFiles(tmp_path)
    filled = plumeline.fill("channel", [(0, 0), (100, 0), (100, 100), (0, 100)], spacing=10)
    entry = (filled, ZoneFigures(**dict.fromkeys(ZoneFigures.__dataclass_fields__, 0.0)))
    kept.keep("key", entry)
    for path in tmp_path.iterdir():
        path.write_bytes(b"damaged")
    assert kept.filled("key") is entry
    assert KeptInFiles(tmp_path).filled("key") is None


# ---- what a plan names


def test_a_guide_or_an_artwork_that_is_not_there_is_refused(tmp_path):
    sources = ZoneSources(zone(rectangle(4, 4)), folder=tmp_path)
    with pytest.raises(InputError, match="guide"):
        sources.guide("nowhere")
    with pytest.raises(InputError, match="art"):
        sources.art("missing.svg")


def test_a_large_print_is_made_smaller_and_keeps_its_colour(tmp_path):
    """A print of 4000 x 2000 pixels: what is kept has at most 1500 a side, of the same proportion and colour."""
    Image.new("RGB", (4000, 2000), (200, 40, 90)).save(tmp_path / "print.png")
    plan = parse_plan(BLOCKS + '[fabrics]\n"a-*" = { picture = "print.png", width = 3 }\n', folder=tmp_path)
    fabric = next(patch.fabric for patch in read_top(plan).patches if patch.name.startswith("a-"))
    assert fabric.pixels.shape == (750, 1500, 3)
    assert (fabric.pixels.reshape(-1, 3) == (200, 40, 90)).all()


def test_a_top_that_says_nothing_is_refused():
    plan = parse_plan(BLOCKS)
    with pytest.raises(ZoneError, match="says nothing of where the patches come from"):
        read_top(replace(plan, top=plan.top.model_copy(update={"blocks": None})))


# ---- photos


def job_of(places, size=(900, 700)):
    shot = Shot(size, (200.0, 150.0), 400.0, lens=(0.0, 0.0))
    points = MeasuredPoints("points.csv", tuple(range(2, 2 + len(places))), shot.seen(places), places)
    pixels = np.full((size[1], size[0], 3), 90, dtype=np.uint8)
    return PhotoJob("top.jpg", pixels, points, square_up(points, size))


def test_what_the_photo_does_not_show_is_told_with_its_share():
    job = job_of(corners_and_middles(400.0, 300.0))
    inside = part_of_photo(job, (300.0, 200.0), (50.0, 50.0))
    assert "photo-misses" not in {finding.code for finding in inside.findings} and inside.missed == 0
    half = part_of_photo(job, (400.0, 300.0), (-2000.0, 0.0))
    assert half.missed == 1.0 and (half.pixels == 255).all()
    assert "100.0 % of the top" in next(f.text for f in half.findings if f.code == "photo-misses")


def test_points_that_reach_too_little_or_too_far_are_refused():
    job = job_of(corners_and_middles(400.0, 300.0))
    with pytest.raises(DrawingError, match="must be at least 1 in either way"):
        squared_photo(replace(job, points=replace(job.points, places=job.points.places / 100)))
    side = np.sqrt(photo_room.MOST_PIXELS) / PX_A_MM + 1
    with pytest.raises(DrawingError, match="pixels squared up; must have at most"):
        job.picture((side, side))


# ---- processes


def test_ctrl_c_is_held_back_only_where_the_system_can(monkeypatch):
    heard = []
    before = signal.signal(signal.SIGINT, lambda *_: heard.append("now"))
    try:
        with signals_wait():
            signal.pthread_kill(threading.get_ident(), signal.SIGINT)  # to this thread, whatever others there are
            assert heard == []
        assert heard == ["now"]
        monkeypatch.delattr(signal, "pthread_sigmask")
        with signals_wait():
            os.kill(os.getpid(), signal.SIGINT)
            assert heard == ["now", "now"]
    finally:
        signal.signal(signal.SIGINT, before)


def worked(what, tell):
    """Work for a process beside this one."""
    tell("working", 1, 2)
    if what == "refuse":
        raise InputError("can't be done", key="this")
    if what == "die":
        os._exit(3)
    return what * 2


class Tired(Exception):
    """What the one who is told may raise."""


def test_work_beside_the_program_comes_back_fails_and_ends():
    aside = Aside(worked)
    told = []
    try:
        assert aside.run(21, lambda *said: told.append(said)) == 42
        assert told == [("working", 1, 2)]
        with pytest.raises(PlumelineError, match="can't be done"):
            aside.run("refuse", lambda *_: None)
        with pytest.raises(EngineError, match="ended from outside"):
            aside.run("die", lambda *_: None)

        def tired(*_):
            raise Tired

        with pytest.raises(Tired):
            aside.run(1, tired)
        assert aside.run(4, lambda *_: None) == 8  # and not what the one before was still at
    finally:
        aside.close()
    with pytest.raises(Stopped):
        aside.run(1, lambda *_: None)
