"""The customer's sheet: one page with the ideas, their figures, boxes to tick and a line to sign."""

import json

import ezdxf
import pytest
from pypdf import PdfReader

from plumeline.cli import main
from plumeline.output.paper import find_paper
from plumeline.pipeline.paper import customer_files
from plumeline.quilt import read_plan, stitch

PLAN = """title = "Four"
units = "in"
[top.blocks]
setting = "straight"
size = 5
rows = [["a", "a"], ["a", "b"]]
[prices]
currency = "$"
minimum = 1
[prices.fills]
"*" = { per_square_inch = 0.05 }
[[zone]]
name = "squares"
patches = ["*"]
each = "patch"
[zone.fill]
kind = "spiral"
spacing = 1
[options.lines.squares]
kind = "channel"
spacing = 1
"""


@pytest.fixture
def plan(tmp_path):
    (tmp_path / "four.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path / "four.toml"


def run(*arguments):
    with pytest.raises(SystemExit) as leave:
        main([str(a) for a in arguments])
    return leave.value.code


def test_two_ideas_with_price_size_and_a_line_to_sign(plan):
    """By hand: four squares of 5 in, 1/8 in off every seam, are 4 x 4.75^2 = 90.25 square inches; at $ 0.05: $ 4.51."""
    read = read_plan(plan)
    quilts = [("as it stands", stitch(read)), ("lines", stitch(read, option="lines"))]
    files = customer_files(quilts, find_paper("letter"))
    (plan.parent / "sheet.pdf").write_bytes(files["customer-quilt.pdf"])
    reader = PdfReader(plan.parent / "sheet.pdf")
    assert len(reader.pages) == 1
    words = reader.pages[0].extract_text()
    for said in ("Four", "10 in x 10 in", "as it stands", "lines", "$4.51", "date", "signed", "thin cotton"):
        assert said in words
    assert len(reader.pages[0].images) == 2
    assert files["customer-quilt.svg"].count(b"<image") == 2


def test_a_plan_with_one_idea_makes_a_sheet_too(plan, capsys):
    plan.write_text(PLAN.split("[options")[0], encoding="utf-8")
    assert run("paper", plan, "--kind", "customer", "--to", plan.parent / "out") == 0
    assert {p.name for p in (plan.parent / "out").iterdir()} == {"customer-quilt.pdf", "customer-quilt.svg"}


@pytest.mark.parametrize("more", [("--zone", "squares"), ("--option", "lnies"), ("--paper", "roll")])
def test_bad_input_writes_nothing(plan, capsys, more):
    assert run("paper", plan, "--kind", "customer", "--to", plan.parent / "out", *more) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
    assert not (plan.parent / "out").exists()


def test_one_shape_has_no_customer(tmp_path, capsys):
    assert run("paper", "--fill", "spiral", "--square", "5", "--kind", "customer", "--to", tmp_path / "out") == 2


def test_a_cutter_gets_the_slots_as_dxf(tmp_path, capsys):

    assert (
        run("paper", "--fill", "spiral", "--square", "5", "--set", "spacing=1", "--kind", "cut", "--to", tmp_path) == 0
    )
    drawn = ezdxf.readfile(tmp_path / "cut-shape-cutter.dxf").modelspace()
    lines = drawn.query("LWPOLYLINE")
    slots = (tmp_path / "cut-shape-cutter.svg").read_text().count('class="slot"')
    assert sum(line.closed for line in lines) >= slots > 2
    capsys.readouterr()
    assert run("inspect", tmp_path / "cut-shape-cutter.dxf", "--json") == 0  # it holds shapes and no stitching
    figures = json.loads(capsys.readouterr().out)
    assert figures["shapes"] == sum(line.closed for line in lines)
    assert figures["lines"] == len(drawn.query("LINE"))  # the scale bar
    assert min(figures["size_mm"]) > 4 * 25.4
