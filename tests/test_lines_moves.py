"""Order of lines: the head moves as little as trying every order shows, and lines are the same ones as before."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumeline.geometry import as_region
from plumeline.lines import Work, join_works
from plumeline.lines.order import best_orders, order_lines
from plumeline.model import Machine, Stroke, Zone, as_path

PLACE = st.tuples(st.integers(0, 9), st.integers(0, 9))


def moved(route, begin=None, then=None):
    """How far the head moves along lines given as (where it begins, where it ends)."""
    places = [begin, *(place for line in route for place in line), then]
    return sum(math.dist(a, b) for a, b in zip(places[::2], places[1::2]) if a is not None and b is not None)


def every_route(groups):
    """Every order of every group, each line sewn in each of its ways: nothing clever."""
    orders = [itertools.permutations(range(len(group))) for group in groups]
    for order in itertools.product(*orders):
        lines = [groups[g][k] for g, one in enumerate(order) for k in one]
        yield from ((order, route) for route in itertools.product(*lines))


def lines_of(ends):
    """Open lines from pairs of places, closed ones from lists of more: each with its ways."""
    return [[(e[0], e[1]), (e[1], e[0])] if len(e) == 2 else [(place, place) for place in e] for e in ends]


LINE = st.lists(PLACE, min_size=2, max_size=3)


@settings(max_examples=60)
@given(st.lists(st.lists(LINE, min_size=1, max_size=3), min_size=1, max_size=2), PLACE, st.none() | PLACE)
def test_the_best_order_moves_no_farther_than_any_other(ends, begin, then):
    groups = [lines_of(group) for group in ends]
    found = best_orders(
        [[np.array(line, dtype=float) for line in group] for group in groups],
        begin=np.array(begin, dtype=float),
        then=None if then is None else np.array(then, dtype=float),
    )
    assert [sorted(one) for one in found] == [list(range(len(group))) for group in groups]
    ours = min(moved(r, begin, then) for order, r in every_route(groups) if [list(o) for o in order] == found)
    assert ours == pytest.approx(min(moved(r, begin, then) for _, r in every_route(groups)), abs=1e-4)


def test_a_line_waits_for_those_below_it():
    # three dots in a row; the middle one lies over the last, so it can't be sewn on the way there
    dots = [np.full((1, 2, 2), float(x)) for x in (10, 20, 30)]
    assert best_orders([dots], begin=np.zeros(2)) == [[0, 1, 2]]
    assert best_orders([dots], begin=np.zeros(2), before=[[set(), {2}, set()]]) == [[0, 2, 1]]


@given(st.lists(st.tuples(PLACE, PLACE), min_size=1, max_size=7), PLACE, st.none() | PLACE)
def test_turning_any_stretch_of_many_lines_makes_no_shorter_move(ends, begin, then):
    first, last = (np.array([e[k] for e in ends], dtype=float) for k in (0, 1))
    goal = None if then is None else np.array(then, dtype=float)
    found = order_lines(first, last, begin=np.array(begin, dtype=float), then=goal)
    assert sorted(k for k, _ in found) == list(range(len(ends)))
    route = [ends[k][::-1] if turn else ends[k] for k, turn in found]
    ours = moved(route, begin, then)
    for i, j in itertools.combinations(range(len(route) + 1), 2):
        turned = [*route[:i], *(line[::-1] for line in reversed(route[i:j])), *route[j:]]
        assert moved(turned, begin, then) >= ours - 1e-5


def test_a_line_in_a_wrong_place_moves_elsewhere():
    # two rows of dashes 100 apart; every dash of the far row comes after those of the near one
    first = np.array([(x, y) for y in (0.0, 100.0) for x in range(0, 80, 20)])
    last = first + np.array([10.0, 0.0])
    found = order_lines(first, last, begin=np.zeros(2))
    route = [(last[k], first[k]) if turn else (first[k], last[k]) for k, turn in found]
    # by hand: three gaps of 10 along each row and one move of 100 from row to row
    assert moved(route, (0, 0)) == pytest.approx(160)


def _quarter_turns(place, count):
    x, y = place
    for _ in range(count):
        x, y = 1000 - y, x
    return x, y


def test_the_head_does_not_cross_the_quilt_twice():
    """Ditch work that may begin anywhere, then two lines with their ends in the four corners of 1 m, then a border.

    By hand: from one line to the other the head moves 980 mm; the ditch work and the border are each 10 mm from an end.
    """
    edge = as_region([(0, 0), (1000, 0), (1000, 1000), (0, 1000)])
    side = [(x, 0) for x in range(0, 1000, 100)]
    square = as_path([(x, y) for k in range(4) for x, y in (_quarter_turns(p, k) for p in side)])
    strokes = [
        Stroke(square, zone="ditch", closed=True),
        Stroke(as_path([(10, 100), (500, 200), (990, 900)]), zone="a"),
        Stroke(as_path([(10, 900), (100, 500), (10, 300), (990, 100)]), zone="b"),
        Stroke(square, zone="border", closed=True),
    ]
    stages = ("ditch", "motif", "background", "last")
    for turned in itertools.product((False, True), repeat=2):
        drawn = [
            replace(s, path=as_path(s.path[::-1])) if turn else s for s, turn in zip(strokes, (False, *turned, False))
        ]
        works = [
            Work(Zone(s.zone, "", 1, edge, edge), (s,), stage, k) for k, (s, stage) in enumerate(zip(drawn, stages))
        ]
        lines = join_works(works, seams=(), machine=Machine()).lines
        moves = [math.dist(a.path[-1], b.path[0]) for a, b in itertools.pairwise(lines)]
        # a ends 10 mm from the edge on either side, b begins 800 mm up or down from there
        assert moves[0] == pytest.approx(10) and moves[2] == pytest.approx(10)
        assert moves[1] == pytest.approx(800)
