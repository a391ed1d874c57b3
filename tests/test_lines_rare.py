"""Strokes that fold back on themselves, lines that are none, ends in one place."""

from __future__ import annotations

import numpy as np
import pytest

import plumeline
from plumeline.geometry import path_length
from plumeline.lines.order import order_lines


def total(lines):
    return sum(path_length(line.path) for line in lines)


def test_a_ring_of_two_points_is_one_stretch_sewn_once():
    lines = plumeline.join([[(0, 0), (100, 0)]], closed=[True])
    assert len(lines) == 1 and total(lines) == pytest.approx(100)


def test_a_ring_with_a_tail_is_sewn_from_the_tip_of_the_tail():
    """A square of 50 mm with a tail of 50 mm, drawn out to its tip and back: 200 mm and 50 mm, no stretch twice."""
    ring = [(0, 0), (100, 0), (50, 0), (50, 50), (0, 50)]
    lines = plumeline.join([ring], closed=[True])
    assert len(lines) == 1 and total(lines) == pytest.approx(250)
    assert {tuple(lines[0].path[k]) for k in (0, -1)} == {(100, 0), (50, 0)}


def test_nothing_has_no_order():
    assert order_lines(np.zeros((0, 2)), np.zeros((0, 2))) == []
