"""What is noticed of a top is said in the unit of its plan."""

from __future__ import annotations

import re

import numpy as np
import pytest
from shapely import box

import plumeline
from plumeline import quilt as job
from plumeline import review
from plumeline.errors import FillError, TopError
from plumeline.fills.kit.bald import bare_of
from plumeline.fills.kit.registry import find_fill
from plumeline.ideas import ideas_for
from plumeline.model import Stroke, Zone, as_path
from plumeline.pipeline.pictures import caption_of, path_picture
from plumeline.pipeline.single import try_fill
from plumeline.pipeline.top import read_top
from plumeline.plan import parse_plan
from plumeline.units import format_length

SIDES = [120.0, 121.0, 120.0, 120.5]
INCHES = re.compile(r"\d in\b|\binch")

BLOCK = """units = "{unit}"
[top]
measured = {{ sides = {sides}, diagonals = {diagonals} }}
[machine]
ties = "tiny"
[batting]
widest_gap = {gap}
[[zone]]
name = "block"
patches = ["*"]
inset = {inset}
[zone.fill]
kind = "crosshatch"
spacing = {spacing}
"""


def stitched(unit, per_cm):
    numbers = {"sides": SIDES, "diagonals": [170.3, 170.6], "gap": 3.0, "spacing": 7.0, "inset": 2.0}
    scaled = {key: (np.array(value) * per_cm).tolist() for key, value in numbers.items()}
    return plumeline.stitch(parse_plan(BLOCK.format(unit=unit, **scaled)))


def test_a_plan_in_centimetres_hears_of_no_inch():
    findings = stitched("cm", 1.0).report.findings
    codes = {str(f.code) for f in findings}
    assert {"measures-misfit", "gap-too-wide", "starts-show", "straight-beside-crooked"} <= codes
    for found in findings:
        assert not INCHES.search(f"{found.text} {found.what_to_do}"), found
    (gap,) = [f.text for f in findings if f.code == "gap-too-wide"]
    assert "the batting's label allows 3.0 cm" in gap


def test_the_same_top_in_inches_hears_of_the_same_places_in_inches():
    both = [{str(f.code): f.text for f in stitched(u, s).report.findings} for u, s in (("cm", 1.0), ("in", 1 / 2.54))]
    assert both[0].keys() == both[1].keys()
    for code in ("gap-too-wide", "starts-show"):
        cm = [float(n) for n in re.findall(r"([\d.]+) cm", both[0][code])]
        inches = [float(sum(map(parse, n.split()))) for n in re.findall(r"([\d /]*\d) in\b", both[1][code])]
        assert np.allclose(np.array(cm) / 2.54, inches, atol=1 / 32 + 0.05 / 2.54)  # each as it is rounded


def parse(number):
    over, _, under = number.partition("/")
    return float(over) / float(under or 1)


def test_measures_that_make_no_shape_are_refused_in_the_plan_s_unit():
    with pytest.raises(TopError, match=r"100\.0 mm is longer than the other two together \(50\.0 mm\)"):
        read_top(parse_plan('units = "mm"\n[top]\nmeasured = { sides = [100, 30, 20] }\n'))
    with pytest.raises(TopError, match=r"the nearest shape misses them by [\d.]+ cm, more than 1\.3 cm"):
        read_top(
            parse_plan('units = "cm"\n[top]\nmeasured = { sides = [100, 100, 100, 100], diagonals = [141, 150] }\n')
        )


def test_a_large_table_is_said_in_the_plan_s_unit():
    top = read_top(parse_plan('units = "cm"\n[top.blocks]\nsize = 250\nrows = [["a", "a", "a"]]\n'))
    (found,) = top.findings
    assert "750.0 x 250.0 cm" in found.text
    assert "the top is then 75.0 x 25.0 cm" in found.what_to_do


def test_a_knot_is_placed_in_the_plan_s_unit():
    (knot,) = review.knot_findings(99.0, (254.0, 508.0), unit="mm")
    assert "254.0 mm from the left and 508.0 mm from the top" in knot.text


MANY = """units = "cm"
[top.blocks]
size = 40
rows = [["a", "b", "c", "d"]]
[batting]
widest_gap = 5
[[zone]]
name = "motif"
patches = ["a-*"]
[zone.fill]
kind = "motif"
art = "leaf"
closest = 5
[[zone]]
name = "rows"
patches = ["b-*"]
[zone.fill]
kind = "edge-to-edge"
art = "scroll-border"
height = 12
[[zone]]
name = "fenced"
patches = ["c-*"]
fences = [[[80, 20], [119.5, 20]]]
[zone.fill]
kind = "rays"
spacing = 3
[[zone]]
name = "enlarged"
patches = ["d-*"]
[[zone.fill]]
kind = "motif"
art = "clover"
enlarge = 900
[[zone.fill]]
kind = "channel"
spacing = 2
"""


def test_what_fills_fences_and_ideas_say_is_in_centimetres():
    quilt = plumeline.stitch(parse_plan(MANY))
    said = {str(f.code): f"{f.text} {f.what_to_do}" for f in quilt.report.findings}
    told = {"motif-scaled", "motif-too-close", "motif-too-large", "rows-advance", "fence-stops-short"}
    assert told <= set(said)
    for code in told:
        assert re.search(r"\d (sq )?cm\b", said[code]), said[code]
    for found in quilt.report.findings:
        assert not INCHES.search(f"{found.text} {found.what_to_do}"), found
    drawn = job.draw(parse_plan(MANY))
    reasons = " ".join(r.text for zone in ("motif", "fenced") for i in ideas_for(drawn, zone) for r in i.reasons)
    assert "leaves a gap of" in reasons
    assert not INCHES.search(reasons)


def test_a_spacing_too_small_for_its_space_is_refused_in_the_plan_s_unit():
    text = MANY.replace("spacing = 3", "spacing = 0.05").replace("size = 40", "size = 300")
    with pytest.raises(FillError, match="Choose a spacing of at least") as refused:
        plumeline.stitch(parse_plan(text))
    assert not INCHES.search(str(refused.value))


def test_one_fill_tried_in_millimetres_hears_of_no_inch():
    square = [(0, 0), (300, 0), (300, 300), (0, 300)]
    quilt = try_fill("motif", square, {"art": "leaf"}, units="mm")
    (sized,) = [f for f in quilt.report.findings if f.code == "motif-scaled"]
    assert re.search(r"fitted to [\d.]+ mm", sized.text)


def test_a_bald_spot_is_placed_in_the_plan_s_unit():
    """One line along the left edge of a 200 mm square: 1.5 spacings of 10 mm from it all is bare, 185 x 200 mm."""
    square = box(0, 0, 200, 200)
    line = Stroke(as_path([(0.0, 0.0), (0.0, 200.0)]))
    settings = find_fill("channel").settings.model_validate({"spacing_mm": 10.0})
    for unit, area in (("in", "57.4 sq in"), ("cm", "370.0 sq cm"), ("mm", "370.0 sq cm")):
        zone = Zone("a", "", 1, square, square, unit=unit)
        _, _, (bald,) = bare_of(zone, [(square, "channel", settings)], [line])
        assert f"{area} are left bare, farther than {format_length(15, unit)} from any line" in bald.text


@pytest.mark.parametrize(
    ("unit", "per_cm", "per_m", "word"), [("cm", 1.0, 1.0, "metres"), ("in", 1 / 2.54, 0.9144, "yards")]
)
def test_thread_is_told_in_metres_or_in_yards(unit, per_cm, per_m, word):
    quilt = stitched(unit, per_cm)
    used = quilt.report.totals.needle_thread_m / per_m
    (row,) = quilt.report.zones
    pictures = (path_picture(quilt), path_picture(quilt, zone=quilt.zones[0]))
    for said in (" ".join(caption_of(quilt.report, unit)), pictures[0]):
        assert f"{used:,.0f} {word} of thread on top" in said
    assert f"{row.sewn_mm / 1000 / per_m:,.1f} {word} sewn" in re.sub(r"</text>\s*<text[^>]*>", " ", pictures[1])
    other = "yards" if word == "metres" else "metres"
    assert not any(re.search(rf"\b{other}\b", picture) for picture in pictures)


@pytest.mark.parametrize(
    ("unit", "side", "sewn"), [("in", "10", "109.0 in"), ("cm", "25.4", "276.9 cm"), ("mm", "254", "2,768.6 mm")]
)
def test_one_fill_is_told_in_the_unit_that_is_asked_for(run, tmp_path, unit, side, sewn):
    # by hand: a square of 10 in has 10 lines 1 in apart, from edge to edge, and 9 ways of 1 in along the edge
    wanted = ("--square", side, "--units", unit, "--set", "spacing=1 in")
    code, out, _ = run("fill", "channel", *wanted, "--to", tmp_path / "x.svg")
    assert code == 0
    assert f"{sewn} sewn, widest gap" in out and f" {unit}\n" in out
