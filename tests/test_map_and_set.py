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


BLOCKS = """title = "Many"
[top.blocks]
size = 10
rows = [ROWS]
sashing = { width = 2 }
borders = [{ name = "outer", width = 6 }]
[top.blocks.pieces]
nine = "nine patch"
[[zone]]
name = "round one"
shape = { kind = "circle", size = 8, at = "nine-1-1" }
[zone.fill]
kind = "rings"
"""


def words_on(drawing):
    """Where each text of a map stands and how high its letters are, mm."""
    return {
        t.text: (float(t.get("x")), float(t.get("y")), float(t.get("font-size"))) for t in drawing.iter(f"{SVG}text")
    }


@pytest.mark.parametrize("side", [2, 9])
def test_names_on_a_map_of_hundreds_of_patches_are_read_at_letter_size(tmp_path, run, side):
    rows = ", ".join(["[" + ", ".join(['"nine"'] * side) + "]"] * side)
    (tmp_path / "many.toml").write_text(BLOCKS.replace("ROWS", rows), encoding="utf-8")
    assert run("map", tmp_path / "many.toml", "--to", tmp_path / "many.svg")[0] == 0
    page = ET.parse(tmp_path / "many.svg").getroot()
    assert (page.get("width"), page.get("height")) == ("279.4mm", "215.9mm")
    assert f"{side * side * 9 + side * (side - 1) + side - 1 + 4} patches" in page.find(f"{SVG}title").text
    words = words_on(page)
    blocks = {f"nine-{row}-{column}" for row in range(1, side + 1) for column in range(1, side + 1)}
    # 1.2 mm is 3.4 points: small print, read without a glass (common practice, no source)
    assert all(words[name][2] >= 1.2 for name in blocks)
    # the pieces stand in every block while there is room, else in one that is drawn large beside the map
    large = [words[name] for name in ("dark-1", "light-4", "dark-5")]
    assert all(size >= 2 for *_, size in large) and all(x > 279.4 - 8 - 74 for x, *_ in large)
    assert [t.text for t in page.iter(f"{SVG}text")].count("light-4") == (1 + 4 if side == 2 else 1)
    assert words["round one"][2] > 1.5


def test_new_draws_the_map_beside_the_plan_and_check_on_request(tmp_path, run):
    made = ["--blocks", "2x2", "--block", "10", "--pieced", "nine patch"]
    code, out, _ = run("new", tmp_path / "top.toml", *made)
    assert code == 0 and "top-map.png" in out
    assert (tmp_path / "top-map.png").read_bytes().startswith(b"\x89PNG")
    before = (tmp_path / "top.toml").read_bytes()
    (tmp_path / "top.toml").unlink()
    code, _, err = run("new", tmp_path / "top.toml", *made)
    assert code == 2 and "top-map.png" in err and not (tmp_path / "top.toml").exists()
    assert run("new", tmp_path / "top.toml", *made, "--force")[0] == 0
    assert (tmp_path / "top.toml").read_bytes() == before
    assert run("check", tmp_path / "top.toml", "--map", tmp_path / "map.svg")[0] == 0
    assert "nine-patch-1-1" in (tmp_path / "map.svg").read_text(encoding="utf-8")
    code, _, err = run("check", tmp_path / "top.toml", "--map", tmp_path / "top.toml", "--force")
    assert code == 2 and (tmp_path / "top.toml").read_bytes() == before
