"""The example plans of the documentation: each is read, filled and mapped, and its top is as large as it must be."""

import math
from pathlib import Path

import pytest

import plumeline
from plumeline.quilt import read_plan

EXAMPLES = Path(__file__).parents[1] / "docs" / "examples"
INDEX = (Path(__file__).parents[1] / "docs" / "README.md").read_text(encoding="utf-8")

SIZES = {
    "queen-top": (5 * 14 + 4 * 2 + 2 * (1.5 + 5.5),) * 2,
    "frame-over-blocks": (4 * 9 + 2 * 4,) * 2,
    "side-triangles": (2 * 10 * math.sqrt(2) + 2 * 3,) * 2,
    "rulers-only": (3 * 12 + 4 * 2 + 2 * 6,) * 2,
    "crooked-block": (14.06, 14.06),  # its sides are 14 in, give or take 1/8
}


def test_every_example_is_worked_out_here_and_listed_in_the_index():
    names = {path.stem for path in EXAMPLES.glob("*.toml")}
    assert names == set(SIZES)
    for name in names:
        first = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8").splitlines()[0]
        assert first.startswith("# ") and f"(examples/{name}.toml)" in INDEX


@pytest.mark.parametrize("name", SIZES)
def test_an_example_is_filled_without_a_warning_and_mapped(name, run, tmp_path):
    plan = EXAMPLES / f"{name}.toml"
    code, out, err = run("stitch", plan, "--to", tmp_path, "--look")
    assert (code, err) == (0, "")
    assert "warning:" not in out and (tmp_path / f"{name}-look.png").stat().st_size > 10_000
    assert run("map", plan, "--to", tmp_path / "map.svg")[0] == 0
    drawn = (tmp_path / "map.svg").read_text(encoding="utf-8")
    assert all(f">{zone.name}<" in drawn for zone in read_plan(plan).zones)


@pytest.mark.parametrize("name", SIZES)
def test_the_top_of_an_example_is_as_large_as_worked_out(name):
    top = plumeline.quilt.read_top(read_plan(EXAMPLES / f"{name}.toml"))
    assert [side / 25.4 for side in top.size] == pytest.approx(
        SIZES[name], abs=0.125 if name == "crooked-block" else 1e-6
    )
