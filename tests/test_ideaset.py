"""A set of ideas for the whole quilt; what it promises is measured on the quilt that the set is stitched to."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

import plumeline
from plumeline.errors import InputError
from plumeline.ideaset import EVEN, MOST_KINDS, IdeaSet, idea_set, ideas_by_place
from plumeline.plan import with_option
from plumeline.quilt import Drawn, draw

PLAN = """\
title = "Three kinds of space"
[top.blocks]
setting = "straight"
size = 5
rows = [["block", "plain"], ["plain", "block"]]
borders = [{ name = "border", width = 2 }]
[batting]
widest_gap = 4
[[zone]]
name = "blocks"
patches = ["block-*"]
each = "patch"
[zone.fill]
kind = "outline"
[[zone]]
name = "plain"
patches = ["plain-*"]
each = "patch"
[[zone]]
name = "border"
patches = ["border*"]
[prices]
currency = "$"
[prices.fills."*"]
per_hour = 40
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("set") / "three.toml"
    path.write_text(PLAN, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def drawn(file: Path) -> Drawn:
    return draw(plumeline.read_plan(file))


@pytest.fixture(scope="module")
def found(drawn: Drawn) -> Any:
    return ideas_by_place(drawn)


@pytest.fixture(scope="module")
def ample(drawn: Drawn, found: Any) -> IdeaSet:
    return idea_set(drawn, minutes=1000.0, found=found)


@pytest.fixture(scope="module")
def least(drawn: Drawn, found: Any) -> IdeaSet:
    return idea_set(drawn, minutes=0.01, found=found)


def test_a_set_has_few_kinds_and_gives_nothing_up_when_there_is_time(ample: IdeaSet) -> None:
    assert ample.kept and not ample.given_up
    assert {(c.zone, c.part, c.spaces) for c in ample.choices} == {
        ("blocks", "", 2),
        ("plain", "", 2),
        ("border", "", 1),
    }
    assert len({c.idea.name for c in ample.choices}) <= MOST_KINDS


def test_less_time_is_kept_to_and_what_it_costs_is_told(
    drawn: Drawn, found: Any, ample: IdeaSet, least: IdeaSet, file: Path
) -> None:
    asked = (ample.minutes + least.minutes) / 2
    half = idea_set(drawn, minutes=asked, found=found)
    assert half.kept and least.minutes <= half.minutes <= asked < ample.minutes and half.given_up
    saved = [float(re.search(r"(-?\d+) min less$", line)[1]) for line in half.given_up]  # type: ignore[index]
    assert sum(saved) == pytest.approx(ample.minutes - half.minutes, abs=0.5 * len(saved) + 0.1)
    text = with_option(file.read_text(encoding="utf-8"), "half", half.fills)
    path = file.with_name("half.toml")
    path.write_text(text, encoding="utf-8")
    sewn = plumeline.stitch(plumeline.read_plan(path), option="half").report
    # the set counts each space with a start and stop of its own; joined to fewer lines they take less, not more
    assert 0.5 * half.minutes < sewn.totals.minutes <= half.minutes
    assert sewn.totals.widest_gap_mm <= 4 * 25.4 + 1e-6


def test_tightness_is_even_where_fills_know_it(drawn: Drawn, ample: IdeaSet) -> None:
    knows = [c.idea.tight for c in ample.choices if "density" in c.idea.stack[-1]]
    middle = sorted(c.idea.tight for c in ample.choices)[len(ample.choices) // 2]
    assert all(1 / EVEN < tight / middle < EVEN for tight in knows)


def test_a_price_is_kept_to_by_the_plan_s_rates(drawn: Drawn, found: Any, ample: IdeaSet, least: IdeaSet) -> None:
    assert ample.price == pytest.approx(ample.minutes / 60 * 40)  # 40 an hour and nothing else
    asked = (ample.minutes + least.minutes) / 2 / 60 * 40
    less = idea_set(drawn, price=asked, found=found)
    assert less.kept and less.price is not None and less.price <= asked


def test_what_cannot_be_kept_is_said(least: IdeaSet) -> None:
    assert not least.kept and least.given_up


@pytest.mark.parametrize("asked", [{}, {"minutes": 1.0, "price": 1.0}, {"minutes": math.nan}, {"price": -1.0}])
def test_nonsense_is_refused(drawn: Drawn, asked: dict[str, float]) -> None:
    with pytest.raises(InputError, match="keeps to"):
        idea_set(drawn, **asked)


ONE = """\
title = "One"
[top.blocks]
setting = "straight"
size = 2
rows = [["block"]]
[[zone]]
name = "block"
patches = ["*"]
[prices]
currency = "$"
[prices.fills."*"]
per_hour = 40
"""


def test_the_command_line_tells_the_set(run, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    plan = tmp_path / "one.toml"
    plan.write_text(ONE, encoding="utf-8")
    code, out, _ = run("ideas", plan, "--hours", "2", "--to", tmp_path / "set.svg")
    assert code == 0 and (tmp_path / "set.svg").is_file()
    assert "min at the machine" in out and "to ask" in out
    code, _, err = run("ideas", plan, "--hours", "1", "--zone", "block", "--to", tmp_path / "a.svg")
    assert code == 2 and "one of --zone, --hours and --price" in err
