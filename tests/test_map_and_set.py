"""The map names what is in the plan; a plan changed by key keeps its comments, or stays as it was."""

import re
import tomllib
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from pypdf import PdfReader

SVG = "{http://www.w3.org/2000/svg}"
PLAN = """# mine
title = "Four"   # a title
units = "in"
[top.blocks]
setting = "straight"
size = 5
rows = [["a", "a"], ["a", "b"]]
[[zone]]
name = "big squares"
patches = ["a-*"]   # three of them
[zone.fill]
kind = "spiral"
spacing = "1/2"   # wide
"""


@pytest.fixture
def plan(tmp_path):
    (tmp_path / "four.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path / "four.toml"


def test_the_map_names_every_patch_and_zone_and_hatches_what_is_open(plan, run):
    assert run("map", plan, "--to", plan.with_name("map.svg"))[0] == 0
    root = ET.fromstring(plan.with_name("map.svg").read_text(encoding="utf-8"))
    words = {node.text for node in root.iter(SVG + "text")}
    assert words >= {"a-1-1", "a-1-2", "a-2-1", "b-2-2", "big squares"}
    assert any("spiral" in word for word in words)
    kinds = [node.get("class") for node in root.iter(SVG + "path")]
    assert kinds.count("patch") == 4
    assert kinds.count("open") > 3  # b-2-2 is in no zone
    assert "in no zone: 1 patches" in words


def test_the_map_as_pdf_is_one_page_with_its_words(plan, run):
    assert run("map", plan, "--to", plan.with_name("map.pdf"))[0] == 0
    reader = PdfReader(plan.with_name("map.pdf"))
    assert len(reader.pages) == 1
    said = reader.pages[0].extract_text()
    assert "big squares" in said
    assert "?" not in said  # every letter is one that the font has


def test_each_zone_of_the_list_has_a_swatch_of_its_colour(plan, run):
    assert run("map", plan, "--to", plan.with_name("map.svg"))[0] == 0
    root = ET.fromstring(plan.with_name("map.svg").read_text(encoding="utf-8"))
    swatches = [node for node in root.iter(SVG + "path") if node.get("class") == "swatch"]
    assert len(swatches) == 1
    (name,) = [node for node in root.iter(SVG + "text") if node.text == "big squares"]
    x, y = np.array(re.findall(r"([-\d.]+),([-\d.]+)", swatches[0].get("d")), dtype=float).T
    assert y.max() == pytest.approx(float(name.get("y")), abs=0.01)  # it stands on the line of the words
    assert x.max() < float(name.get("x"))


def test_a_map_is_never_written_over_the_plan(plan, run):
    before = plan.read_text(encoding="utf-8")
    code, _, err = run("map", plan, "--to", plan, "--force")
    assert code == 2
    assert err
    assert plan.read_text(encoding="utf-8") == before


def test_set_changes_values_and_keeps_comments(plan, run):
    code, out, _ = run("set", plan, "title=Other", '"big squares".fill.spacing=3/8', "machine.stitches_per_inch=11")
    assert code == 0
    assert "big squares" in out
    text = plan.read_text(encoding="utf-8")
    read = tomllib.loads(text)
    assert (read["title"], read["zone"][0]["fill"]["spacing"], read["machine"]["stitches_per_inch"]) == (
        "Other",
        "3/8",
        11,
    )
    assert all(comment in text for comment in ("# mine", "# a title", "# three of them", "# wide"))


def test_the_only_zone_needs_no_name_and_no_value_takes_a_key_out(plan, run):
    assert run("set", plan, "zone.fill.spacing=")[0] == 0
    assert "spacing" not in plan.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("pair", "says"),
    [
        ("title", "must be KEY=VALUE"),
        ("=3", "must be KEY=VALUE"),
        ("big squars.fill.spacing=1", "Did you mean 'big squares'"),
        ("big squares.fill.spacing=-1", "spacing"),
        ("big squares.fill.spaceing=1", "spacing"),
        ("machine.stitches_per_inch=many", "stitches_per_inch"),
    ],
)
def test_a_change_that_can_not_be_used_changes_nothing(plan, run, pair, says):
    code, _, err = run("set", plan, pair)
    assert code == 2
    assert says in err
    assert len(err.strip().splitlines()) == 1
    assert plan.read_text(encoding="utf-8") == PLAN
