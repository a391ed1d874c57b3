"""Zones that are done: their group of the drawing never changes, and they are in no new stitch file."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
import shapely
from shapely import box

from plumeline import read_plan
from plumeline.cli import main
from plumeline.errors import OutputError, ZoneError
from plumeline.geometry import as_region
from plumeline.lines import Work, join_works
from plumeline.model import Machine, Stroke, Way, Zone, as_path
from plumeline.output import find_writer
from plumeline.quilt import stitch

PLAN = """
title = "Four patch"
chance = {chance}
[top.blocks]
size = 6
rows = [["a", "b"], ["b", "a"]]
[machine]
guided = "hand"
[[zone]]
name = "a"
patches = ["a-*"]
each = "patch"
{done}
[zone.fill]
kind = "{a}"
spacing = 1
[[zone]]
name = "b"
patches = ["b-*"]
each = "patch"
[zone.fill]
kind = "{b}"
spacing = 1
"""


def write(folder, *, chance=7, done="", a="channel", b="meander"):
    path = folder / "four.toml"
    path.write_text(PLAN.format(chance=chance, done=done, a=a, b=b))
    return path


def run(*arguments):
    with pytest.raises(SystemExit) as leave:
        main([str(v) for v in arguments])
    return leave.value.code


def groups(svg):
    return dict(re.findall(r'<g id="([^"]+)">\n(.*?)</g>', svg.decode(), re.DOTALL))


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """A quilt stitched, one zone marked done, and stitched again with other fills and another chance, twice."""
    folder = tmp_path_factory.mktemp("done")
    out = folder / "out"
    kept = []
    for change in (
        {},
        {"done": "done = true", "chance": 11, "a": "crosshatch"},
        {"done": "done = true", "chance": 12, "a": "spiral", "b": "crosshatch"},
    ):
        write(folder, **change)
        assert run("stitch", folder / "four.toml", "--to", out, "--formats", "svg,dst,csv,gcode,dxf", "--force") == 0
        kept.append({p.name: p.read_bytes() for p in out.iterdir()})
    return kept


def test_the_group_of_a_done_zone_never_changes(runs):
    first, *later = (groups(r["four.svg"]) for r in runs)
    for again in later:
        for name in ("a", "a--2"):
            assert 'class="stitch"' in first[name]
            assert again[name] == first[name]
        assert again["b"] != first["b"]


def test_numbers_in_the_drawing_stay_unique(runs):
    for r in runs:
        orders = re.findall(rb'data-order="(\d+)"', r["four.svg"])
        assert len(orders) == len(set(orders))
        drawn = find_writer("svg").read(r["four.svg"])
        zones_of_line = {}
        for x in drawn.runs:
            zones_of_line.setdefault(x.line, set()).add(drawn.names[x.zone][0] if x.zone >= 0 else "")
        if r is not runs[0]:
            assert not any({"a", "b"} <= zones for zones in zones_of_line.values())


@pytest.mark.parametrize("name", ["four.dst", "four.csv", "four.gcode"])
def test_no_needle_goes_into_a_done_zone_again(runs, name):
    # patches a: top left and bottom right of 152.4 mm squares; 3.175 mm inset: all its stitching lies within
    inside = [box(0, 0, 152.4, 152.4), box(152.4, 152.4, 304.8, 304.8)]
    deep = shapely.union_all([b.buffer(-3.3) for b in inside])

    def count(data):
        read = find_writer(name.split(".")[1]).read(data)
        if name.endswith("gcode"):  # its origin is the lower left corner; long moves, so points every mm
            lines = [shapely.segmentize(shapely.LineString(x.path + np.array([0.0, 304.8])), 1.0) for x in read.runs]
            xy = np.vstack([shapely.get_coordinates(line) for line in lines])
        else:
            xy = read.xy[read.kind <= 1]
        if name.endswith("dst"):
            csv = find_writer("csv").read(source["four.csv"])
            xy = xy + csv.xy[csv.kind <= 1][0]  # its origin is the first needle point
        return int(shapely.contains_xy(deep, *xy.T).sum()), len(xy)

    source = runs[0]
    assert count(source[name])[0] > 10
    for source in runs[1:]:
        within, total = count(source[name])
        assert within == 0
        assert total > 100


def test_what_is_done_is_counted_apart_and_said(runs):
    first, second, _ = (json.loads(r["report.json"]) for r in runs)
    assert first["done"] == {"zones": 0, "sewn_mm": 0.0}
    assert second["done"]["zones"] == 2
    length = sum(
        np.hypot(*np.diff(x.path, axis=0).T).sum()
        for x in find_writer("svg").read(runs[0]["four.svg"]).runs
        if x.zone in (0, 1) and x.kind != "jump"
    )
    assert second["done"]["sewn_mm"] == pytest.approx(length, abs=0.1)
    rows = {(r["name"], r["number"]): r for r in second["zones"]}
    assert [rows["a", k]["done"] for k in (1, 2)] == [True, True]
    assert rows["a", 1]["stitches"] == 0
    before = {(r["name"], r["number"]): r for r in first["zones"]}
    assert rows["a", 1]["widest_gap_mm"] == pytest.approx(before["a", 1]["widest_gap_mm"], abs=0.01)
    # what is done is no hole in the quilt: one square of it left open would be a circle of 152 mm
    assert second["totals"]["widest_gap_mm"] < 100
    # what has to be sewn is less than the whole by about what is done
    csv = find_writer("csv").read(runs[1]["four.csv"])
    assert second["totals"]["stitches"] == (csv.kind <= 1).sum() - second["totals"]["lines"]
    assert "stitched already" in runs[1]["four-path.svg"].decode()
    assert "stitched already" not in runs[0]["four-path.svg"].decode()
    assert "On the cloth already" in runs[1]["four.svg"].decode()


def test_rests_are_marked_and_come_back_with_the_drawing(runs):
    drawn = find_writer("svg").read(runs[0]["four.svg"])
    rests = [s for s in drawn.shapes if s.kind == "mark"]
    sewn = [x.path for x in drawn.runs if x.kind != "jump"]
    length = {}
    for x in drawn.runs:
        if x.kind != "jump":
            length[x.line] = length.get(x.line, 0.0) + np.hypot(*np.diff(x.path, axis=0).T).sum()
    # along each line one about every 36 in (a quarter more or less), each with its middle on the line
    low = sum(max(np.ceil(v / (1.25 * 914.4) - 1 - 1e-6), 0) for v in length.values())
    assert 1 <= low <= len(rests) <= sum(np.floor(v / (0.75 * 914.4)) for v in length.values())
    lines = shapely.MultiLineString([p for p in sewn if len(p) > 1])
    for mark in rests:
        assert lines.distance(shapely.Point(mark.path.mean(axis=0))) < 0.01
    assert "a place to rest" in runs[0]["four-path.svg"].decode()


def test_without_its_drawing_nothing_is_guessed(tmp_path, capsys):
    plan = write(tmp_path, done="done = true")
    code = run("stitch", plan, "--to", tmp_path / "new")
    told = capsys.readouterr().err
    assert code == 2
    assert "zone 'a': done: is true, but there is no drawing of how it was stitched" in told
    assert "--stitched" in told
    assert not (tmp_path / "new").exists()
    assert run("check", plan) == 0  # what is done is left out
    with pytest.raises(ZoneError, match="done"):
        stitch(read_plan(plan))


def test_a_drawing_that_does_not_hold_the_zone_is_told(tmp_path, runs):
    plan = read_plan(write(tmp_path, done="done = true"))
    drawing = tmp_path / "old.svg"
    drawing.write_bytes(runs[0]["four.svg"].replace(b"<title>a, 2</title>", b"<title>else</title>"))
    with pytest.raises(ZoneError, match=r"does not hold 'a, 2'"):
        stitch(plan, stitched=drawing)
    (tmp_path / "old.dst").write_bytes(runs[0]["four.dst"])
    with pytest.raises(OutputError, match="full-size SVG"):
        stitch(plan, stitched=tmp_path / "old.dst")


def test_a_drawing_in_the_words_of_before_is_read(tmp_path, runs):
    """What is left inside was called its rest: ``a, rest 2``."""
    plan = read_plan(write(tmp_path, done="done = true"))
    (tmp_path / "now.svg").write_bytes(runs[0]["four.svg"])
    (tmp_path / "old.svg").write_bytes(runs[0]["four.svg"].replace(b">a, 2<", b">a, rest 2<"))
    now, old = (stitch(plan, stitched=tmp_path / name) for name in ("now.svg", "old.svg"))
    assert [x.path.tobytes() for s in old.done.values() for x in s.runs] == [
        x.path.tobytes() for s in now.done.values() for x in s.runs
    ]


def test_a_top_that_has_changed_since_is_noticed(tmp_path, runs):
    path = write(tmp_path, done="done = true")
    path.write_text(path.read_text().replace("size = 6", "size = 7"))
    (tmp_path / "old.svg").write_bytes(runs[0]["four.svg"])
    found = [
        f for f in stitch(read_plan(path), stitched=tmp_path / "old.svg").report["findings"] if f["severity"] != "note"
    ]
    assert ("done-zone-moved", "a, 2") in [(f["code"], f["zone"]) for f in found]


@pytest.mark.parametrize("change", ["only b", "no fill", "all"])
def test_nothing_that_is_done_gets_lost(tmp_path, runs, change):
    """Whatever is asked of the other zones, also when its fill is taken out of the plan, also when nothing is left."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "four.svg").write_bytes(runs[0]["four.svg"])
    path = write(tmp_path, done="done = true")
    text = path.read_text()
    more = ()
    if change == "only b":
        more = ("--zone", "b")
    elif change == "no fill":
        path.write_text(text.replace('[zone.fill]\nkind = "channel"\nspacing = 1\n', "", 1))
    else:
        path.write_text(text.replace('name = "b"', 'name = "b"\ndone = true'))
    assert run("stitch", path, "--to", out, "--force", *more) == 0
    first, again = groups(runs[0]["four.svg"]), groups((out / "four.svg").read_bytes())
    kept = ["a", "a--2", *(["b", "b--2"] if change == "all" else [])]
    assert all(again[name] == first[name] for name in kept)
    stitches = find_writer("dst").read((out / "four.dst").read_bytes())
    assert ((stitches.kind <= 1).sum() == 0) == (change == "all")


# --- travel on old stitching ---------------------------------------------------------------------------------------


def works():
    region = as_region(np.array([(0, 0), (300, 0), (300, 100), (0, 100)], float))
    zone = Zone("z", "", 1, region, region)
    left = Stroke(as_path([(0, 0), (0, 100), (50, 50)]), zone="z")
    right = Stroke(as_path([(300, 0), (300, 100), (250, 50)]), zone="z")
    return [Work(zone, (left, right), "motif")]


@pytest.mark.parametrize(("times", "lines"), [(1, 1), (2, 2)])
def test_old_stitching_is_gone_along_at_most_once_more(times, lines):
    old = as_path([(50, 50), (250, 50)])
    joined = join_works(
        works(), seams=[Way(old, "stitched", 1.5, 2)], machine=Machine(start_stop_seconds=45), sewn=[old] * times
    )
    assert len(joined.lines) == lines
    on_old = [line.path[s.start : s.end + 1] for line in joined.lines for s in line.spans if s.stroke is None]
    assert sum(np.hypot(*np.diff(p, axis=0).T).sum() for p in on_old) == pytest.approx(200 if times == 1 else 0)
    assert {s.kind for line in joined.lines for s in line.spans if s.stroke is None} <= {"backtrack"}
