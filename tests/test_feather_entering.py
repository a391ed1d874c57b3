"""A line comes into and leaves every feather at the edge, without a third pass anywhere."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest

from plumeline import geometry as g
from plumeline.fills import find_fill
from shapes import NAMED, zone

FEATHER = find_fill("feather")


@pytest.mark.parametrize(
    ("name", "spines"),
    [("square12", "corners"), ("square12", "diagonal"), ("ring", "wave"), ("hole14", "wreath"), ("l12", "along")],
)
def test_one_closed_chain_from_the_edge_back_to_it_within_two_passes(name, spines):
    region = NAMED[name]
    filled = FEATHER(zone(region), FEATHER.settings.model_validate({"spines": spines}), rng=np.random.default_rng(1))
    strokes = filled.strokes
    assert {s.chain for s in strokes} == {strokes[0].chain}
    for before, after in itertools.pairwise(strokes):
        assert (before.path[-1] == after.path[0]).all()
    start, end = strokes[0].path[0], strokes[-1].path[-1]
    assert np.hypot(*(start - end)) == 0
    assert abs(g.boundary_distance(region, start[None])[0]) < 0.3
    passes = Counter(
        tuple(sorted((tuple(np.round(a, 6)), tuple(np.round(b, 6)))))
        for s in strokes
        for a, b in zip(s.path, s.path[1:])
    )
    assert max(passes.values()) <= 2


def test_it_comes_in_where_it_is_wished():
    region = NAMED["square12"]
    for wished in ((0.0, 0.0), (304.8, 304.8)):
        filled = FEATHER(
            zone(region, enter=wished),
            FEATHER.settings.model_validate({"spines": "corners"}),
            rng=np.random.default_rng(1),
        )
        assert np.hypot(*(filled.strokes[0].path[0] - wished)) < 60
