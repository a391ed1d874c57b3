"""A comma as the decimal sign, wherever a number is typed: understood, or refused with the way out."""

from __future__ import annotations

import json
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumeline.errors import InputError, PlanError, TopError
from plumeline.fills import find_fill
from plumeline.page.said import lengths_said
from plumeline.plan import parse_plan
from plumeline.top import from_measures
from plumeline.units import MM_PER, decimal_point, parse_length, parse_lengths, parse_number

TWO_WAYS = "a comma can be read in two ways"

PLAN = """units = "cm"
[top.blocks]
setting = "straight"
size = 20
rows = [["block"]]
[[zone]]
name = "block"
patches = ["*"]
[zone.fill]
kind = "channel"
spacing = 1
"""


@given(
    st.integers(0, 10**9),
    st.integers(0, 10**6).filter(lambda part: len(str(part)) != 3),
    st.sampled_from(["", "-", "+"]),
    st.sampled_from(["mm", "cm", "in", "yd", "m"]),
)
def test_a_comma_means_what_a_point_means(whole, part, sign, unit):
    wanted = float(f"{sign}{whole}.{part}") * MM_PER[unit]
    assert parse_length(f"{sign}{whole},{part} {unit}", "in") == wanted
    assert parse_length(f" {sign}{whole},{part}", unit) == wanted
    assert parse_number(f"{sign}{whole},{part}") == float(f"{sign}{whole}.{part}")


@given(st.integers(1, 999), st.integers(0, 999))
def test_what_may_be_thousands_is_refused_with_both_ways_to_write_it(whole, part):
    text = f"{whole},{part:03}"
    for read in (decimal_point, parse_number, lambda text: parse_length(text, "mm")):
        with pytest.raises(ValueError, match=rf"write {whole}\.{part:03} or {whole}{part:03}$"):
            read(text)
    assert parse_number(f"0,{part:03}") == part / 1000  # a nought leads no thousands
    assert parse_number(f"12345,{part:03}") == 12345 + part / 1000


@pytest.mark.parametrize("text", ["1,2,3", "1.2,5", "1,2.5", "1,1/2", "1,5/8 in", "1, 5", "1 ,5", ",", "5,"])
def test_other_commas_are_no_length(text):
    assert decimal_point(text) == text
    with pytest.raises(ValueError, match="must be a length such as"):
        parse_length(text, "in")


@pytest.mark.parametrize(
    ("text", "unit", "wanted"),
    [
        ("21 1/4,15,15", "in", [539.75, 381.0, 381.0]),  # 25.4 mm an inch
        ("14,14 1/8, 13", "in", [355.6, 358.775, 330.2]),
        ("300,300", "mm", [300.0, 300.0]),
        ("3, 14", "cm", [30.0, 140.0]),
        ("7,5;10", "cm", [75.0, 100.0]),
        ("7,5 cm; 3 in", "mm", [75.0, 76.2]),
        ("12 in,5", "mm", [304.8, 5.0]),
    ],
)
def test_lists_are_parted_by_commas_or_by_semicolons(text, unit, wanted):
    assert parse_lengths(text, unit) == pytest.approx(wanted)


@pytest.mark.parametrize("text", ["7,5 cm", "7,5 cm, 10 cm", "7,5, 10", "30,5 cm,30,5 cm", "14,5\u2033"])
def test_a_list_whose_comma_may_be_decimal_is_refused(text):
    with pytest.raises(ValueError, match=TWO_WAYS):
        parse_lengths(text, "cm")


def test_the_page_in_centimetres_takes_no_comma_between_two_digits_for_a_parting_one():
    with pytest.raises(InputError, match=TWO_WAYS):
        lengths_said({"units": "cm", "borders": "7,5"}, "borders")
    assert lengths_said({"units": "cm", "borders": "7,5; 10"}, "borders") == [75.0, 100.0]
    assert lengths_said({"units": "cm", "borders": "7, 5"}, "borders") == [70.0, 50.0]
    assert lengths_said({"units": "in", "borders": "7,5"}, "borders") == pytest.approx([177.8, 127.0])
    assert lengths_said({"units": "in"}, "borders") == []


@pytest.mark.parametrize(
    ("shape", "area"),
    [  # by hand, square cm
        (("--square", "12,5"), 156.25),
        (("--rect", "12,5x8"), 100.0),
        (("--rect", "12,5 cm x 80 mm"), 100.0),
        (("--sides", "12,5; 8; 12,5; 8", "--diagonals", "14,84; 14,84"), 100.0),
        (("--sides", "12.5,8,12.5,8", "--diagonals", "14.84,14.84"), 100.0),
    ],
)
def test_shapes_on_the_command_line(run, tmp_path, shape, area):
    code, out, err = run("fill", "channel", *shape, "--units", "cm", "--json", "--to", tmp_path / "x.svg")
    assert code == 0, err
    assert _area(out) / 100 == pytest.approx(area, rel=1e-3)


def _area(out):
    return json.loads(out)["zones"][0]["area_mm2"]


def test_settings_on_the_command_line(run, tmp_path):
    said = ("fill", "channel", "--square", "20 cm", "--units", "cm")
    for name, pairs in (
        ("comma", ("--set", "spacing=2,5", "--set", "angle=22,5")),
        ("point", ("--set", "spacing=2.5", "--set", "angle=22.5")),
        ("unit", ("--set", "spacing=2,5 cm", "--set", "angle=22.5")),
    ):
        assert run(*said, *pairs, "--to", tmp_path / f"{name}.svg")[0] == 0
    comma, point, unit = ((tmp_path / f"{n}.svg").read_bytes() for n in ("comma", "point", "unit"))
    assert comma == point == unit
    code, _, err = run(*said, "--set", "spacing=1,250", "--to", tmp_path / "x.svg")
    assert code == 2 and "write 1.250 or 1250" in err


def test_a_plan_changed_from_the_command_line(run, tmp_path):
    plan = tmp_path / "block.toml"
    plan.write_text(PLAN, encoding="utf-8")
    assert run("set", plan, "block.fill.spacing=2,5", "block.fill.angle=22,5", "title=Two, three")[0] == 0
    read = tomllib.loads(plan.read_text(encoding="utf-8"))
    assert read["zone"][0]["fill"] == {"kind": "channel", "spacing": 2.5, "angle": 22.5}
    assert read["title"] == "Two, three"


def test_a_plan_says_what_to_do_about_a_comma_out_of_quotes():
    assert parse_plan(PLAN.replace("size = 20", 'size = "20,5"')).top.blocks.size_mm == 205.0
    with pytest.raises(PlanError, match=r"line 4, .*Write the number with a point, 20\.5, or in quotes\.$"):
        parse_plan(PLAN.replace("size = 20", "size = 20,5"))
    with pytest.raises(PlanError, match=r"Look for a missing quote, bracket or comma there\.$"):
        parse_plan(PLAN.replace("size = 20", "size = 20 5"))


def test_hours_on_the_command_line(run, tmp_path):
    plan = tmp_path / "block.toml"
    plan.write_text(PLAN, encoding="utf-8")
    code, out, err = run("ideas", plan, "--hours", "7,5", "--to", tmp_path / "ideas.svg")
    assert code == 0, err + out
    code, _, err = run("ideas", plan, "--hours", "1,250", "--to", tmp_path / "more.svg")
    assert code == 2 and "write 1.250 or 1250" in err
    assert run("ideas", plan, "--hours", "0,05", "--to", tmp_path / "more.svg")[0] == 2  # below a tenth


def test_too_many_sides_may_be_decimals():
    with pytest.raises(TopError, match=r"8 sides are given.*Write a decimal with a point, as 30\.5\."):
        from_measures([30, 5] * 4, [])
    with pytest.raises(TopError, match=r"2 sides are given; must be 4 \(or 3 of a triangle\)$"):
        from_measures([30, 5], [])


@pytest.mark.parametrize(
    ("text", "wanted"),
    [("1, 1/4", (25.4, 6.35)), ("2,5 cm; 10 mm", (25.0, 10.0)), ("0,5", (12.7,)), ("1/2", (12.7,))],
)
def test_spacings_that_follow_each_other_may_be_one_text(text, wanted):
    # as the page shows a list, and so sends it back
    settings = find_fill("channel").settings.model_validate({"spacing": text}, context={"units": "in"})
    assert settings.spacing_mm == pytest.approx(wanted)
