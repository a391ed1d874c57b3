"""`plumeline show` says in one line what it can't do, and never writes over a file of hers."""

import json
import re

import pytest

PLAN = """
title = "Two"
units = "in"
[top.blocks]
setting = "straight"
size = 3
rows = [["a", "b"]]
[[zone]]
name = "all"
patches = ["a-*", "b-*"]
each = "patch"
[zone.fill]
kind = "spiral"
spacing = "1/2"
[options.round]
[options.square.all]
kind = "rings"
"""


@pytest.fixture
def plan(tmp_path):
    (tmp_path / "two.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path / "two.toml"


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (("--option", "nope", "--to", "a.html"), "has no option 'nope'; its options are round, square"),
        (("--option", "round", "--option", "nope", "--to", "a.html"), "has no option 'nope'"),
        (("--to", "a.pdf"), "must end in .html"),
        (("--to", "nowhere.toml", "--force"), "must end in .html"),
        (("--to", "there.html"), "there.html"),
    ],
)
def test_what_it_can_t_do_is_one_line(plan, run, asked, says, monkeypatch):
    monkeypatch.chdir(plan.parent)
    (plan.parent / "there.html").write_text("mine")
    before = {p.name: p.read_bytes() for p in plan.parent.iterdir()}
    code, _, err = run("show", plan, *asked)
    assert code == 2
    assert says in err
    assert len(err.strip().splitlines()) == 1
    assert {p.name: p.read_bytes() for p in plan.parent.iterdir()} == before


def test_a_plan_that_is_called_html_is_never_written_over(plan, run):
    odd = plan.rename(plan.with_suffix(".html"))
    code, _, err = run("show", odd, "--to", odd, "--force")
    assert code == 2
    assert err.strip()
    assert odd.read_text(encoding="utf-8") == PLAN


def test_only_the_options_asked_for_are_on_the_page(plan, run):
    page = plan.with_name("page.html")
    assert run("show", plan, "--option", "square", "--to", page)[0] == 0
    data = re.search(r'id="data">(.*?)</script>', page.read_text(encoding="utf-8"), re.DOTALL)[1]
    assert [option["name"] for option in json.loads(data)] == ["square"]
