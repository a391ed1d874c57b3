"""One numbering of lines: what the path picture calls N, the report, the files and `continue --line N` call N too."""

import re
from itertools import pairwise
from xml.etree.ElementTree import fromstring

import numpy as np
import pyembroidery as pe
import pytest

import plumeline
from consistency import random_plan
from plumeline.demo import quilt_files
from plumeline.output import find_writer
from plumeline.output.sheet import line_numbers
from plumeline.pipeline.pictures import caption_of, path_picture
from plumeline.stitches import continue_from

SVG = "{http://www.w3.org/2000/svg}"
STOPS = {pe.COLOR_CHANGE, pe.STOP}
READERS = {"dst": pe.read_dst, "exp": pe.read_exp}
CLOSE_MM = 0.06
"""The files keep tenths of a millimetre."""


def on_the_picture(svg):
    """Return where each badge of the picture says that a line starts or stops, by its words."""
    ways = [
        np.array(re.findall(r"[-\d.]+", p.get("d")), dtype=float).reshape(-1, 2)
        for p in svg.iter(f"{SVG}path")
        if p.get("stroke") in ("#1f7a3d", "#a3212a") and p.get("fill") is None
    ]
    out = {}
    for badge in (g for g in svg.iter(f"{SVG}g") if g.get("class") == "badge"):
        words = badge.find(f"{SVG}text")
        shape = badge.find(f"{SVG}rect")
        if shape is not None:
            x, y, wide, high = (float(shape.get(k)) for k in ("x", "y", "width", "height"))
            middle = np.array([x + wide / 2, y + high / 2])
        else:
            corners = re.findall(r"[-\d.]+", badge.find(f"{SVG}path").get("d"))
            middle = np.array(corners, dtype=float).reshape(-1, 2).mean(axis=0)
        leader = min(ways, key=lambda way: np.hypot(*(way[-1] - middle)))
        assert np.hypot(*(leader[-1] - middle)) < 0.1
        out[words.text] = leader[0]
    return out


@pytest.mark.parametrize("number", range(20))
def test_a_line_has_one_number_everywhere(number, tmp_path):
    (tmp_path / "plan.toml").write_text(random_plan(number), encoding="utf-8")
    check_numbers(plumeline.stitch(plumeline.read_plan(tmp_path / "plan.toml")), tmp_path)


def test_the_sample_s_lines_have_one_number_everywhere(tmp_path):
    for name, text in quilt_files().items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    quilt = plumeline.stitch(plumeline.read_plan(tmp_path / "plain-and-star.toml"), option="rulers")
    assert quilt.report.totals.planned_stops  # a bobbin runs out within a line
    check_numbers(quilt, tmp_path)


def check_numbers(quilt, folder):
    """Hold the picture's starts and stops against the lines, three stitch files, and what `continue` begins with."""
    shown = on_the_picture(fromstring(path_picture(quilt)))
    assert quilt.report.totals.lines == len(quilt.lines)
    assert len(shown) >= 0.5 * 2 * len(quilt.lines)  # a badge without a free place is left out
    for points in quilt.points:
        mine = [line for line in quilt.lines if line.reach == points.reach]
        names = [n for n, line in zip(line_numbers(quilt.lines), quilt.lines) if line.reach == points.reach]
        for form in ("dst", "exp", "csv"):
            writer = find_writer(form)
            data = writer.write(points, "x", origin=(0.0, 0.0))
            whole = writer.read(data)
            for k, (name, line) in enumerate(zip(names, mine), 1):
                assert name.rpartition("-")[2] == str(k)
                rest = continue_from(whole, k, back_mm=0.0)
                first = rest.xy[np.flatnonzero(rest.kind <= 1)[0]]
                assert np.allclose(first, line.path[0], atol=CLOSE_MM)
                if f"start {name}" in shown:
                    assert np.allclose(first, shown[f"start {name}"], atol=CLOSE_MM)
                if f"stop {name}" in shown:
                    assert np.allclose(line.path[-1], shown[f"stop {name}"], atol=CLOSE_MM)
            if form in READERS:
                (folder / f"x.{form}").write_bytes(data)
                commands = pe.read(str(folder / f"x.{form}")).stitches
                stops = np.array([s[:2] for s in commands if s[2] & 0xFF in STOPS], dtype=float).reshape(-1, 2) / 10
                for a, b in pairwise(mine):
                    if a.thread == b.thread and np.allclose(a.path[-1], b.path[0]):  # planned: no move between them
                        assert (np.abs(stops - b.path[0]).max(axis=1) < CLOSE_MM).any()


def said(number):
    class Row:
        def __init__(self, **values):
            self.__dict__.update(values)

    totals = Row(
        lines=number[0], planned_stops=number[1], fewest_lines_possible=number[2], minutes=60.0, stitches=10,
        needle_thread_m=1.0, bobbins=None, moving_minutes=0.0,
    )  # fmt: skip
    return caption_of(Row(totals=totals, reaches=(1, 2) if number[3] else (), done=Row(zones=0)), "in")[0]


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ((4, 0, 4, False), "with these fills none fewer are possible"),
        ((4, 0, 4, True), "with these fills and reaches none fewer are possible"),
        ((6, 2, 4, False), "with these fills and this bobbin none fewer are possible"),
        ((6, 2, 3, False), "at the fewest 3 with these fills, stops for the bobbin not counted"),
        ((6, 0, 3, True), "at the fewest 3 with these fills and reaches"),
    ],
)
def test_only_what_was_proven_is_said_of_the_fewest(counts, words):
    assert f"({words})" in said(counts)
    assert "no plan could" not in said(counts)


def test_a_quilt_without_a_line_is_said_plainly():
    assert said((0, 0, 0, False)) == "Nothing is quilted yet."
