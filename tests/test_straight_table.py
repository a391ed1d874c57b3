"""How straight a top is, against closed forms: arcs of known sagitta, kinks, leans, missed corners."""

import csv
import io
import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline.cli import main
from plumeline.drawing import Shape
from plumeline.geometry import as_region
from plumeline.model import as_path
from plumeline.plan import parse_plan
from plumeline.quilt import stitch
from plumeline.top import StraightLimits, assemble, straight_table

IN = 25.4


def arc(start, end, sagitta, count=60):
    """Points of the circle through two points with that height over their chord: its own formula."""
    start, end = np.array(start, float), np.array(end, float)
    chord = end - start
    length = np.hypot(*chord)
    if not sagitta:
        return np.linspace(start, end, count)
    radius = (length**2 / 4 + sagitta**2) / (2 * abs(sagitta))
    half = math.asin(min(length / (2 * radius), 1.0))
    angle = np.linspace(-half, half, count)
    along = length / 2 + radius * np.sin(angle)
    up = np.sign(sagitta) * (radius * np.cos(angle) - (radius - abs(sagitta)))
    way = chord / length
    return start + np.outer(along, way) + np.outer(up, [-way[1], way[0]])


def two(seam):
    """Two patches of 12 in that share a seam from the top to the bottom."""
    seam = np.asarray(seam)
    left = Shape("left", as_path(np.vstack([[(0, 0)], seam, [(0, 12 * IN)]])))
    right = Shape("right", as_path(np.vstack([seam, [(24 * IN, 12 * IN), (24 * IN, 0)]])))
    return assemble([left, right], close_gaps_mm=0.01)


def between(table, a, b):
    return [s for s in table.seams if {s.a, s.b} == {a, b}]


@settings(max_examples=20, deadline=None)
@given(st.floats(0.5, 8.0), st.sampled_from([-1, 1]))
def test_a_bowed_seam_bows_by_its_sagitta(sagitta, side):
    table = straight_table(two(arc((12 * IN, 0), (12 * IN, 12 * IN), side * sagitta, 241)))
    (seam,) = between(table, "left", "right")
    assert seam.bow_mm == pytest.approx(sagitta, abs=0.005)
    # the length of an arc, from its half angle
    radius = ((12 * IN) ** 2 / 4 + sagitta**2) / (2 * sagitta)
    assert seam.length_mm == pytest.approx(2 * radius * math.asin(6 * IN / radius), abs=0.05)
    assert seam.bends == ()  # it turns evenly
    assert seam.out(table.limits) == (sagitta > IN / 16)


def test_a_kink_is_a_bend_where_it_is_and_bows_by_its_height():
    kink = (12 * IN + 6.0, 5 * IN)
    table = straight_table(two([(12 * IN, 0), kink, (12 * IN, 12 * IN)]))
    (seam,) = between(table, "left", "right")
    assert seam.bow_mm == pytest.approx(6.0, abs=1e-3)
    (bend,) = seam.bends
    assert bend == pytest.approx(kink, abs=IN / 4)


def test_a_seam_that_leans_runs_out_at_its_end():
    table = straight_table(two([(12 * IN, 0), (12 * IN + 5.0, 12 * IN)]))
    (seam,) = between(table, "left", "right")
    # the true line is at a right angle to the other sides: the end lies off it by what it was moved, and the
    # far end by as much; the run-out is seen from the leaning seam, length times the sine of its lean
    assert seam.lean_mm == pytest.approx(5.0, abs=0.01)
    assert seam.bow_mm == pytest.approx(0.0, abs=1e-6)
    assert [s.lean_mm for s in table.seams if s.b is None] == pytest.approx([0.0] * (len(table.seams) - 1), abs=1e-6)


def test_sides_diagonals_and_skew_of_a_quadrilateral():
    points = np.array([(0, 0), (200, 3), (205, 202), (-4, 199)], float)
    table = straight_table(assemble([Shape("q", as_path(points))]))
    (block,) = table.blocks
    sides = [math.dist(points[k], points[(k + 1) % 4]) for k in range(4)]
    assert block.sides_mm == pytest.approx(sides, abs=1e-3)
    assert block.diagonals_mm == pytest.approx((math.hypot(205, 202), math.hypot(204, 196)), abs=1e-3)
    assert block.skew_mm == pytest.approx(math.hypot(205, 202) - math.hypot(204, 196), abs=1e-3)


def test_corners_that_miss_are_found_with_their_distance():
    # four patches whose upright seam steps by 3 mm where it crosses the level one
    s, d = 100.0, 3.0
    boxes = {
        "a": [(0, 0), (s, 0), (s, s), (0, s)],
        "b": [(s, 0), (2 * s, 0), (2 * s, s), (s, s)],
        "c": [(0, s), (s + d, s), (s + d, 2 * s), (0, 2 * s)],
        "d": [(s + d, s), (2 * s, s), (2 * s, 2 * s), (s + d, 2 * s)],
    }
    top = assemble([Shape(n, as_path(p)) for n, p in boxes.items()], close_gaps_mm=0.05)
    (corner,) = straight_table(top).corners
    assert corner.miss_mm == pytest.approx(d, abs=1e-3)
    assert corner.at == pytest.approx((s + d / 2, s), abs=1e-3)
    assert set(corner.between) == {"b", "c"}
    assert straight_table(top, limits=StraightLimits(miss_mm=4.0)).corners == ()


def test_a_true_top_has_nothing_to_say():
    squares = [
        Shape(f"s-{x}-{y}", as_path(np.array([(0, 0), (90, 0), (90, 90), (0, 90)], float) + 90 * np.array([x, y])))
        for x in range(3)
        for y in range(3)
    ]
    table = straight_table(assemble(squares))
    assert table.crooked == table.skewed == []
    assert table.corners == ()
    assert len(table.seams) == 12 + 8 + 4  # inner sides; outer edges, those of the four corner squares in two
    assert as_region(squares[0].shell).area == 8100


PLAN = """
title = "t"
[straight]
bow = "1/4"
lean = "1/4"
[top.blocks]
size = 12
rows = [["a", "a"], ["a", "a"]]
[[measured]]
patch = "a-1-1"
sides = [12, 12, 12, 12]
bows = { B = "3/16" }
"""


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as leave:
        main([str(a) for a in arguments])
    told = capsys.readouterr()
    return leave.value.code, told.out, told.err


def test_the_command_writes_tables_and_map(tmp_path, capsys):
    plan = tmp_path / "p.toml"
    plan.write_text(PLAN)
    code, out, _ = run(capsys, "straight", plan, "--json")
    assert code == 0
    data = json.loads(out)
    (seam,) = [s for s in data["seams"] if s["between"] == ["a-1-1", "a-1-2"]]
    assert seam["bow_mm"] == pytest.approx(3 / 16 * IN, abs=0.05)
    assert not seam["out_of_true"]  # within the plan's own 1/4 in
    plan.write_text(PLAN.replace('bow = "1/4"', 'bow = "1/8"'))
    code, out, _ = run(capsys, "straight", plan, "--to", tmp_path / "s")
    assert code == 0
    assert "a-1-1 | a-1-2" in out
    rows = list(csv.DictReader(io.StringIO((tmp_path / "s" / "straight-seams.csv").read_text())))
    assert [r["other"] for r in rows if r["out_of_true"] == "yes"] == ["a-1-2"]
    assert 'class="crooked"' in (tmp_path / "s" / "straight.svg").read_text()
    assert (tmp_path / "s" / "straight.png").stat().st_size > 1000
    assert run(capsys, "straight", plan, "--to", tmp_path / "s")[0] == 2
    assert run(capsys, "straight", plan, "--to", tmp_path / "s.gif")[0] == 2


SHOWN = """
title = "t"
[top.blocks]
size = 12
rows = [["a", "a"]]
[[measured]]
patch = "a-1-1"
sides = [12, 12, 12, 12]
bows = { B = "3/16" }
[[zone]]
name = "right"
patches = ["a-1-2"]
inset = "1/2"
[zone.fill]
kind = "channel"
angle = 90
spacing = 1
"""


def shown(plan):
    findings = stitch(parse_plan(plan)).report.findings
    return [f for f in findings if f.code == "straight-beside-crooked"]


def test_the_line_that_shows_a_seam_is_told_and_what_hides_it_clears_the_finding():
    (found,) = shown(SHOWN)
    assert found.zone == "right"
    assert "the seam between 'a-1-1' and 'a-1-2', which is 3/16 in out of true; the nearest is" in found.text
    # each way out that the finding names: a curved or all-over fill, joining across, keeping an inch away
    assert "curved or all-over" in found.what_to_do
    assert shown(SHOWN.replace('kind = "channel"\nangle = 90\nspacing = 1', 'kind = "meander"')) == []
    assert "both patches in one zone" in found.what_to_do
    across = SHOWN.replace('patches = ["a-1-2"]', 'patches = ["a-*"]').replace("angle = 90", "angle = 0")
    assert [f for f in shown(across) if "'a-1-1' and 'a-1-2'" in f.text] == []
    assert "inset" in found.what_to_do
    assert shown(SHOWN.replace('inset = "1/2"', 'inset = "1 1/4"')) == []
    # and her own limit
    assert shown(SHOWN + '[straight]\nbow = "1/4"\nlean = "1/4"\n') == []
