"""Reach by reach, end to end: files with a stated origin, sheets, and a reach fitted to where its marks lie."""

from __future__ import annotations

import json
import math
import re
from itertools import combinations, product

import numpy as np
import pytest
import shapely
from defusedxml.ElementTree import fromstring
from matplotlib import font_manager
from PIL import ImageFont

from plumeline import read_plan
from plumeline.cli import main
from plumeline.lines import marks_in, named_marks, origin_of
from plumeline.model import Reach, as_path
from plumeline.output import CAUTIONS, find_writer
from plumeline.output.sheet import line_numbers
from plumeline.output.svg import STYLE
from plumeline.quilt import stitch
from plumeline.units import format_length

PLAN = """
title = "Four patch"
units = "{units}"
[top.blocks]
size = "6 in"
rows = [["a", "b", "a"], ["b", "a", "b"]]
{border}
[machine]
trimmer = true
{reach}
[[zone]]
name = "a"
patches = ["a-*"]
each = "patch"
[zone.fill]
kind = "channel"
spacing = "1 in"
[[zone]]
name = "b"
patches = ["b-*"]
each = "patch"
[zone.fill]
kind = "crosshatch"
spacing = "1 in"
"""
BORDER = """
[[zone]]
name = "outer"
patches = ["outer-*"]
[zone.fill]
kind = "channel"
spacing = "1 in"
piano_keys = true
"""
SVG = "{http://www.w3.org/2000/svg}"


def write(folder, name, *, reach, border=False, units="in"):
    text = PLAN.format(
        reach=f"reach = {reach}" if reach else "",
        units=units,
        border='borders = [{ name = "outer", width = "3 in", corners = "mitred" }]' if border else "",
    )
    path = folder / f"{name}.toml"
    path.write_text(text + (BORDER if border else ""))
    return path


def run(*arguments):
    with pytest.raises(SystemExit) as leave:
        main([str(v) for v in arguments])
    return leave.value.code


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The same quilt at once, in reaches that follow its seams, and in reaches that cut its border."""
    folder = tmp_path_factory.mktemp("reach")
    jobs = {
        "whole": {"reach": None},
        "seams": {"reach": '["12 in", "7 in"]'},
        "border": {"reach": None, "border": True},
        "cut": {"reach": '["400 mm", "300 mm"]', "border": True, "units": "mm"},
    }
    for name, job in jobs.items():
        path = write(folder, name, **job)
        assert run("stitch", path, "--to", folder / name, "--formats", "svg,dst,csv,exp,gcode") == 0
    return folder


@pytest.fixture(scope="module")
def quilts(folder):
    return {name: stitch(read_plan(folder / f"{name}.toml")) for name in ("seams", "cut")}


def report(folder, name):
    return json.loads((folder / name / "report.json").read_text())


def drawn(folder, name):
    return find_writer("svg").read((folder / name / f"{name}.svg").read_bytes())


def strokes(drawing):
    """Return the stitched lines of each zone as one shape."""
    out = {}
    for x in drawing.runs:
        if x.kind in ("stitch", "backtrack") and len(x.path) > 1:
            out.setdefault(drawing.names[x.zone], []).append(shapely.LineString(x.path))
    return {name: shapely.unary_union(lines) for name, lines in out.items()}


def test_whole_zones_give_the_same_strokes_with_and_without_reaches(folder):
    whole, parts = strokes(drawn(folder, "whole")), strokes(drawn(folder, "seams"))
    assert len(report(folder, "seams")["reaches"]) == 4
    assert set(whole) == set(parts)
    for name in whole:
        assert whole[name].hausdorff_distance(parts[name]) < 0.1
        assert whole[name].length == pytest.approx(parts[name].length, abs=1.0)


def test_cut_zones_lose_no_stretch(folder):
    whole, parts = strokes(drawn(folder, "border")), strokes(drawn(folder, "cut"))
    assert [f["code"] for f in report(folder, "cut")["findings"]].count("zone-cut") == 1
    for name in whole:
        assert whole[name].difference(parts[name].buffer(0.1)).length < 0.5
        assert parts[name].difference(whole[name].buffer(0.1)).length < 0.5


@pytest.mark.parametrize("name", ["seams", "cut"])
@pytest.mark.parametrize("form", ["dst", "exp", "csv"])
def test_stitch_files_put_together_are_the_whole(folder, quilts, name, form):
    """Each file plus its stated origin gives the needle points of the quilt to 0.1 mm."""
    quilt = quilts[name]
    rows = report(folder, name)["reaches"]
    files = sorted((folder / name).glob(f"*.{form}"))
    assert [f.name for f in files] == [f"{name}-reach-{k}of{len(rows)}.{form}" for k in range(1, len(rows) + 1)]
    for row, file, points in zip(rows, files, quilt.points):
        read = find_writer(form).read(file.read_bytes())
        got = read.xy[read.kind <= 1] + row["origin_mm"]
        wanted = points.xy[points.kind <= 1]
        assert got.shape == wanted.shape
        assert np.abs(got - wanted).max() < 0.1
        left, top, right, bottom = row["window_mm"]
        assert (got.min(axis=0) >= (left - 0.2, top - 0.2)).all()
        assert (got.max(axis=0) <= (right + 0.2, bottom + 0.2)).all()
        assert row["marks_mm"][row["origin"]] == row["origin_mm"]


@pytest.mark.parametrize("name", ["seams", "cut"])
def test_gcode_has_one_file_a_reach_with_the_same_origin(folder, name):
    rows = report(folder, name)["reaches"]
    whole = shapely.unary_union([shapely.LineString(x.path) for x in drawn(folder, name).runs if x.kind != "jump"])
    for row in rows:
        file = folder / name / f"{name}-reach-{row['number']}of{len(rows)}.gcode"
        for x in find_writer("gcode").read(file.read_bytes()).runs:
            assert shapely.LineString(x.path + np.array(row["origin_mm"])).difference(whole.buffer(0.01)).length < 0.01


@pytest.mark.parametrize("name", ["seams", "cut"])
def test_every_reach_shares_two_marks_with_an_earlier_one(folder, name):
    rows = report(folder, name)["reaches"]
    for k, row in enumerate(rows[1:], 1):
        assert any(len(set(row["marks_mm"]) & set(before["marks_mm"])) >= 2 for before in rows[:k])
        left, top, right, bottom = row["window_mm"]
        for x, y in row["marks_mm"].values():
            assert left - 0.1 <= x <= right + 0.1
            assert top - 0.1 <= y <= bottom + 0.1


def test_one_reach_is_as_if_there_were_none(folder, tmp_path):
    path = write(tmp_path, "whole", reach='["60 in", "60 in"]')
    assert run("stitch", path, "--to", tmp_path / "out", "--formats", "dst") == 0
    assert (tmp_path / "out" / "whole.dst").read_bytes() == (folder / "whole" / "whole.dst").read_bytes()
    assert report(tmp_path, "out")["reaches"] == []
    assert not list((tmp_path / "out").glob("*sheet*"))


# --- sheets --------------------------------------------------------------------------------------------------------


def sheets(folder, name):
    return [fromstring(p.read_bytes()) for p in sorted((folder / name).glob("*-sheet.svg"))]


def words(root):
    return " ".join(node.text or "" for node in root.iter(f"{SVG}text"))


@pytest.mark.parametrize(("name", "size"), [("seams", (215.9, 279.4)), ("cut", (210.0, 297.0))])
def test_every_reach_has_a_sheet_that_fits_its_page(folder, name, size):
    """Widths by the font itself, not by the sheet's own estimate."""
    font = ImageFont.truetype(font_manager.findfont("DejaVu Sans"), 200)
    bold = ImageFont.truetype(font_manager.findfont("DejaVu Sans:bold"), 200)
    rows = report(folder, name)["reaches"]
    roots = sheets(folder, name)
    assert len(roots) == len(rows)
    for root in roots:
        assert [root.get("width"), root.get("height")] == [f"{v:g}mm" for v in size]
        placed = []
        for node, x, y in _texts(root):
            face = bold if node.get("font-weight") else font
            wide = face.getlength(node.text) / 200 * float(node.get("font-size"))
            left = x - {"start": 0, "middle": wide / 2, "end": wide}[node.get("text-anchor")]
            assert left >= 10
            assert left + wide <= size[0] - 10
            assert 10 <= y <= size[1] - 10
            placed.append((left, y - 0.75 * float(node.get("font-size")), left + wide, y, node.text))
        below = [b for b in placed if b[1] > 0.6 * size[1]]  # below the picture nothing may cover anything
        for i, a in enumerate(below):
            for b in below[i + 1 :]:
                assert min(a[2], b[2]) - max(a[0], b[0]) < 0.1 or min(a[3], b[3]) - max(a[1], b[1]) < 0.1, (a, b)


def _texts(node, x=0.0, y=0.0, turned=False):
    for child in node:
        move = re.match(r"translate\(([-\d.]+),([-\d.]+)\)( rotate)?", child.get("transform", ""))
        dx, dy = (float(move[1]), float(move[2])) if move else (0.0, 0.0)
        if child.tag == f"{SVG}text" and not turned:
            yield child, x + float(child.get("x")), y + float(child.get("y"))
        yield from _texts(child, x + dx, y + dy, turned or bool(move and move[3]))


@pytest.mark.parametrize("name", ["seams", "cut"])
def test_a_sheet_says_what_it_must(folder, quilts, name):
    quilt = quilts[name]
    unit = quilt.plan.units
    marks = named_marks(quilt.reaches)
    for reach, root in zip(quilt.reaches, sheets(folder, name)):
        said = words(root)
        assert f"Reach {reach.number} of {len(quilt.reaches)}" in said
        assert f"{name}-reach-{reach.number}of{len(quilt.reaches)}.dst" in said
        assert "not to scale" in said
        for caution in CAUTIONS:
            assert caution in said
        own = marks_in(reach, marks, of=[reach])
        assert len(own) >= 2 or reach.number == 1
        for a, b in zip(list(own), list(own)[1:]):
            apart = format_length(math.dist(own[a], own[b]), unit, per_inch=16)
            assert f"{a} to {b}: planned {apart}, measured" in said
        zero, _ = origin_of(reach, marks)
        assert f"0, 0 of the stitch file is mark {zero}" in said
        lines = [line for line in quilt.lines if line.reach == reach.number]
        circles = [c for c in root.iter(f"{SVG}circle") if c.get("fill") == "#1f7a3d"]
        squares = [c for c in root.iter(f"{SVG}rect") if c.get("fill") == "#a3212a"]
        assert len(circles) == len(squares) == len(lines)


@pytest.mark.parametrize("name", ["seams", "cut"])
def test_a_sheet_has_the_colours_of_the_drawing_and_its_key_draws_lines_as_they_are_drawn(folder, quilts, name):
    quilt = quilts[name]
    rules = dict(re.findall(r"\.([a-z-]+){stroke:(#[0-9a-f]{6})}", STYLE))
    kinds = {"seam": "seam-travel", "edge": "edge-travel"}
    names = ("stroke", "stroke-width", "stroke-dasharray")
    for reach, root in zip(quilt.reaches, sheets(folder, name)):
        spans = {s.kind for line in quilt.lines if line.reach == reach.number for s in line.spans}
        wanted = {rules[kinds.get(kind, kind)] for kind in spans}
        keys = [tuple(p.get(k) for k in names) for p in root.iter(f"{SVG}path") if p.get("class") == "key"]
        drawn = {
            tuple(p.get(k) for k in names)
            for p in root.iter(f"{SVG}path")
            if p.get("class") == "sewn" and p.get("stroke") in rules.values()
        }
        assert wanted <= {look[0] for look in drawn}
        assert drawn <= set(keys)
        assert {look[0] for look in keys} & set(rules.values()) == wanted


@pytest.mark.parametrize("name", ["seams", "cut"])
def test_no_start_or_stop_of_a_sheet_covers_another_or_a_mark(folder, name):
    for root in sheets(folder, name):
        discs = [(float(c.get("cx")), float(c.get("cy")), float(c.get("r"))) for c in root.iter(f"{SVG}circle")
                 if c.get("fill") == "#1f7a3d"]  # fmt: skip
        squares = [r for r in root.iter(f"{SVG}rect") if r.get("fill") == "#a3212a"]
        boxes = [tuple(float(r.get(k)) for k in ("x", "y", "width", "height")) for r in squares]
        badges = discs + [(x + w / 2, y + h / 2, w / 2) for x, y, w, h in boxes]
        marks = [(float(c.get("cx")), float(c.get("cy")), 2.0) for c in root.iter(f"{SVG}circle") if c.get("r") == "2"]
        assert marks
        for (x, y, r), (u, v, q) in [*combinations(badges, 2), *product(badges, marks)]:
            assert math.hypot(x - u, y - v) >= r + q - 1e-6


def test_lines_of_reaches_have_one_name_in_drawing_picture_and_file(folder, quilts):
    quilt = quilts["seams"]
    drawing = fromstring((folder / "seams" / "seams.svg").read_bytes())
    called = {p.get("data-line"): p.get("data-number") for p in drawing.iter(f"{SVG}path") if p.get("data-line")}
    assert list(called.values()) == line_numbers(quilt.lines)
    assert "2-1" in called.values()
    picture = fromstring((folder / "seams" / "seams-path.svg").read_bytes())
    badges = {t.text for t in picture.iter(f"{SVG}text") if re.fullmatch(r"(start|stop) \S+", t.text or "")}
    assert badges <= {f"{word} {number}" for word in ("start", "stop") for number in called.values()}
    assert badges


def test_distances_on_a_sheet_are_those_of_the_top(folder):
    """6 in blocks, reach 12 x 7 in: reach 2 begins one block and its overlap to the right; worked out by hand."""
    rows = report(folder, "seams")["reaches"]
    for row, root in zip(rows, sheets(folder, "seams")):
        left, top, right, bottom = row["window_mm"]
        said = words(root)
        for x, y in [at for name, at in row["marks_mm"].items() if f" {name} " in said]:
            if x % 152.4 < 0.1 and y % 152.4 < 0.1 and 1 < x < 456 and 1 < y < 304:
                across = min((x - left, "left"), (right - x, "right"))
                down = min((y - top, "top"), (bottom - y, "bottom"))
                assert (
                    f"at a seam crossing; {format_length(across[0], per_inch=16)} from the {across[1]}, "
                    f"{format_length(down[0], per_inch=16)} from the {down[1]} edge of this reach" in said
                )


def test_marks_have_letters_and_a_shared_one_has_one():
    marks = as_path([(float(k), 0.0) for k in range(28)])
    found = named_marks([Reach(1, (0, 0, 9, 9), marks[:2]), Reach(2, (0, 0, 9, 9), marks)])
    assert list(found) == [*"ABCDEFGHJKLMNPQRSTUVWXYZ", "AA", "AB", "AC", "AD"]
    assert origin_of(Reach(1, (5, 6, 9, 9), as_path(np.zeros((0, 2)))), {}) == (None, (5, 6))


# --- refit ---------------------------------------------------------------------------------------------------------


def test_refit_turns_and_moves_a_reach_onto_its_marks(folder, tmp_path, capsys):
    row = report(folder, "seams")["reaches"][1]
    angle = math.radians(2.0)
    names = list(row["marks_mm"])[:2]

    def lies_now(points):  # turned by 2 degrees counter-clockwise as seen, then moved
        z = (np.asarray(points)[..., 0] - 1j * np.asarray(points)[..., 1]) * np.exp(1j * angle)
        return np.stack([z.real + 11.0, -z.imag + 400.0], axis=-1)

    told = " ".join(
        f"{n}={x:.4f} mm,{y:.4f} mm" for n, (x, y) in zip(names, lies_now([row["marks_mm"][n] for n in names]))
    )
    plan = folder / "seams.toml"
    args = ("refit", plan, "--reach", 2, "--marks", told, "--to", tmp_path, "--formats", "dst,csv,gcode")
    assert run(*args) == 0
    out = capsys.readouterr().out
    assert "turned by 2.00 degrees counter-clockwise" in out
    assert "as far apart as planned" in out
    planned = find_writer("csv").read((folder / "seams" / "seams-reach-2of4.csv").read_bytes())
    wanted = lies_now(planned.xy[planned.kind <= 1] + row["origin_mm"])
    for form in ("dst", "csv"):
        read = find_writer(form).read((tmp_path / f"seams-reach-2of4-refit.{form}").read_bytes())
        assert np.abs(read.xy[read.kind <= 1] - wanted).max() < 0.06
        assert (read.kind == planned.kind).all() or form == "dst"
    first = find_writer("gcode").read((tmp_path / "seams-reach-2of4-refit.gcode").read_bytes()).runs[0].path[0]
    assert np.abs(first - wanted[0]).max() < 0.01
    assert "Read first" in (tmp_path / "seams-reach-2of4-refit-read-first.txt").read_text()
    assert run(*args) == 2  # nothing is written over


def test_refit_says_how_much_the_quilt_has_shrunk(folder, tmp_path, capsys):
    row = report(folder, "seams")["reaches"][1]
    (a, p), (b, q) = list(row["marks_mm"].items())[:2]
    shrunk = np.array([p, q]) * 0.985
    told = f"{a}={shrunk[0, 0]:.4f} mm,{shrunk[0, 1]:.4f} mm; {b}={shrunk[1, 0]:.4f} mm, {shrunk[1, 1]:.4f} mm"
    assert run("refit", folder / "seams.toml", "--reach", 2, "--marks", told, "--to", tmp_path) == 0
    out = capsys.readouterr().out
    assert "1.50% nearer together than planned" in out
    assert "warning: " in out


@pytest.mark.parametrize(
    ("name", "reach", "marks", "said"),
    [
        ("seams", 9, "A=1,2 B=3,4", "--reach: is 9; the quilt has reaches 1 to 4"),
        ("whole", 1, "A=1,2 B=3,4", "--reach: is given, but the machine gets to the whole quilt at once"),
        ("seams", 2, "A=1,2", "--marks: has 1 mark; must have two or more"),
        ("seams", 2, "A=1,2 Z=3,4", "--marks: has 'Z', which is no mark of reach 2"),
        ("seams", 2, "A=1,2 A=3,4", "must name each mark once"),
        ("seams", 2, "A=1 B=3,4", "must name each mark once"),
        ("seams", 2, "A=x,2 B=3,4", "--marks: A"),
        ("seams", 2, "here", "must name each mark once"),
        ("seams", 2, "A=1,2 B=1,2", "one place"),
    ],
)
def test_refit_tells_what_it_can_not_use(folder, tmp_path, capsys, name, reach, marks, said):
    assert run("refit", folder / f"{name}.toml", "--reach", reach, "--marks", marks, "--to", tmp_path / "x") == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "x").exists()
