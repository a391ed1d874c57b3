"""A plan changed step by step: what the text says after it is what was asked, and all else is as it was."""

from __future__ import annotations

import tomllib

import pytest

from plumeline.errors import PlanError
from plumeline.plan import parse_plan, with_fill, with_option, with_own_zone

PLAN = """# mine
[top.blocks]
size = 6
rows = [["a", "a"], ["a", "b"]]
[[zone]]
name = "squares"
patches = ["a-*"]
each = "patch"
inset = "1/8"   # of an inch
[[zone.fill]]
kind = "motif"
[[zone.fill]]
kind = "echo"
[[zone]]
name = "last"
patches = ["b-*"]
divide = [{ by = "frame", width = 1 }]
[zone.fill.frame]
kind = "rings"
[zone.fill.inside]
kind = "spiral"
[options.plain.squares]
kind = "channel"
[options.plain.last.inside]
kind = "meander"
"""
EVERY = ["a-1-1", "a-1-2", "a-2-1", "b-2-2"]
MOTIF, ECHO = {"kind": "motif"}, {"kind": "echo"}


def zones(text):
    return {zone.pop("name"): zone for zone in tomllib.loads(text)["zone"]}


def test_one_space_as_a_zone_of_its_own_is_quilted_as_the_others_are():
    text = with_own_zone(PLAN, "squares", "corner", ["a-1-1"], every=EVERY)
    found = zones(text)
    assert found["corner"] == {"patches": ["a-1-1"], "inset": "1/8", "fill": [MOTIF, ECHO]}
    assert found["squares"]["patches"] == ["a-*", "!a-1-1"]
    assert tomllib.loads(text)["options"]["plain"]["corner"] == {"kind": "channel"}
    assert "# mine" in text and "# of an inch" in text
    assert parse_plan(text).with_option("plain").fills["corner"][""] == ({"kind": "channel"},)


def test_a_divided_space_of_its_own_keeps_its_parts():
    both = PLAN.replace('"b-*"]', '"b-*", "a-2-1"]').replace('patches = ["a-*"]', 'patches = ["a-1-*"]')
    text = with_own_zone(both, "last", "own", ["a-2-1"], every=EVERY)
    assert zones(text)["own"]["fill"] == {"frame": {"kind": "rings"}, "inside": {"kind": "spiral"}}
    assert tomllib.loads(text)["options"]["plain"]["own"] == {"inside": {"kind": "meander"}}
    parse_plan(text)


def test_a_zone_without_a_fill_has_none_to_hand_on():
    bare = PLAN.replace('[[zone.fill]]\nkind = "motif"\n[[zone.fill]]\nkind = "echo"\n', "")
    text = with_own_zone(bare, "squares", "corner", ["a-1-1"], every=EVERY)
    assert "fill" not in zones(text)["corner"]


@pytest.mark.parametrize("stack", [[], [MOTIF], [MOTIF, ECHO]])
def test_another_stack_in_a_zone_or_a_part_and_nowhere_else(stack):
    said = stack[0] if len(stack) == 1 else stack
    found = zones(with_fill(PLAN, "squares", stack))
    assert found["squares"].get("fill", []) == said
    assert found["last"] == zones(PLAN)["last"]
    found = zones(with_fill(PLAN, "last", stack, part="frame"))
    assert found["last"]["fill"].get("frame", []) == said
    assert found["last"]["fill"]["inside"] == {"kind": "spiral"}
    text = with_fill(PLAN, "squares", stack, option="plain")
    assert tomllib.loads(text)["options"]["plain"].get("squares", []) == said
    assert zones(text) == zones(PLAN)


@pytest.mark.parametrize("part", ["", "inside", "rest"])
def test_what_is_left_inside_has_one_fill_however_it_is_called(part):
    for text in (PLAN, PLAN.replace("[zone.fill.inside]", "[zone.fill.rest]")):
        fill = zones(with_fill(text, "last", [MOTIF], part=part))["last"]["fill"]
        assert fill == {"frame": {"kind": "rings"}, "inside": MOTIF}


def test_an_option_holds_what_has_a_fill():
    fills = {"squares": {"": [MOTIF, ECHO]}, "last": {"frame": [ECHO], "inside": []}}
    text = with_option(PLAN, "new", fills)
    assert tomllib.loads(text)["options"]["new"] == {"squares": [MOTIF, ECHO], "last": {"frame": ECHO}}
    assert tomllib.loads(text)["options"]["plain"] == tomllib.loads(PLAN)["options"]["plain"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda text: with_option(text, "plain", {"squares": {"": [MOTIF]}}), "option 'plain': is an option already"),
        (lambda text: with_option(text, " ", {"squares": {"": [MOTIF]}}), "is empty; must be a name"),
        (lambda text: with_option(text, "new", {"squares": {"": []}}), "has nothing to keep"),
        (
            lambda text: with_fill(text, "squares", [MOTIF], option="plian"),
            "has no option 'plian'; its options are plain",
        ),
        (
            lambda text: with_fill(text, "square", [MOTIF]),
            "has no zone 'square'; its zones are .*Did you mean 'squares'",
        ),
        (lambda text: with_fill("[zone]\nname = 1", "squares", [MOTIF]), "zone: is no list of tables"),
        (lambda text: with_fill("zone = [", "squares", [MOTIF]), "is no valid TOML"),
        (lambda text: with_own_zone(text, "squares", "last", ["a-1-1"], every=EVERY), "zone 'last'"),
    ],
)
def test_a_change_that_can_not_be_made_is_refused(change, says):
    with pytest.raises(PlanError, match=says):
        change(PLAN)
