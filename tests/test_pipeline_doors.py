"""What the glue between the rooms does in rare cases: where zones are kept, what tells them apart, what must stay."""

from __future__ import annotations

import sys
from hashlib import blake2b
from pathlib import Path

import numpy as np
import pytest
from shapely import box

import plumeline
from plumeline.errors import OutputError
from plumeline.pipeline.cloth import relief_of_quilt
from plumeline.pipeline.kept import _feed as feed
from plumeline.pipeline.kept_files import cache_folder
from plumeline.pipeline.placing import moved_to_start
from plumeline.plan import parse_plan
from shapes import moved, rectangle, zone


@pytest.mark.parametrize(
    ("system", "said", "where"),
    [
        # as Microsoft's known folders, Apple's file system guide and the XDG base directory specification have it
        ("win32", {"LOCALAPPDATA": "base"}, Path("base", "plumeline", "Cache")),
        ("win32", {}, None),
        ("darwin", {"HOME": "/Users/her"}, Path("/Users/her/Library/Caches/plumeline")),
        ("linux", {"HOME": "/home/her"}, Path("/home/her/.cache/plumeline")),
        ("linux", {"HOME": "/home/her", "XDG_CACHE_HOME": "/quick"}, Path("/quick/plumeline")),
    ],
)
def test_zones_are_kept_where_the_system_keeps_what_can_be_made_again(monkeypatch, system, said, where):
    for name in ("PLUMELINE_CACHE", "LOCALAPPDATA", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    for name, value in said.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", system)
    assert cache_folder() == where


class Foreign:
    """What a fill of another package may keep."""

    def __init__(self, value):
        self.value = value


def test_whatever_differs_has_another_key():
    """Among them are those that a plain joining of texts would take for one."""
    parts = [
        (1, 2), (12,), ("1", "2"), ("12",), (1.0, 2), (True, 2), (None,), ("None",), (), ((),), {"a": 1}, {"a": 2},
        {"b": 1}, np.array([1, 2]), np.array([1.0, 2.0]), np.array([[1, 2]]), box(0, 0, 1, 1), box(0, 0, 1, 2), b"12",
        Foreign(1), Foreign(2),
    ]  # fmt: skip

    def key(part):
        found = blake2b()
        feed(found, part)
        return found.hexdigest()

    assert len({key(part) for part in parts}) == len(parts)
    assert [key(part) for part in parts] == [key(part) for part in parts]


def test_a_space_that_is_moved_lies_at_its_start_and_a_turned_one_stays():
    here = zone(rectangle(4, 3))
    there = moved(here, (531.0, -92.0), 0.0)
    assert moved_to_start(here).region.equals(moved_to_start(there).region)  # to the byte, so that one serves for both
    for found in (moved_to_start(here), moved_to_start(there)):
        assert found is not None
        assert found.region.symmetric_difference(box(-50.8, -38.1, 50.8, 38.1)).area < 1e-3
    assert moved_to_start(moved(here, (0.0, 0.0), 30.0)) is None


def test_a_picture_of_more_pixels_than_there_may_be_is_refused():
    plan = parse_plan(
        '[top.blocks]\nsize = 4\nrows = [["a"]]\n[[zone]]\nname = "a"\npatches = ["*"]\n[zone.fill]\nkind = "ditch"\n'
    )
    quilt = plumeline.stitch(plan)
    with pytest.raises(OutputError, match=r"picture: would have 101600 x 101600 pixels; must have at most"):
        relief_of_quilt(quilt, px_a_mm=1000.0)
