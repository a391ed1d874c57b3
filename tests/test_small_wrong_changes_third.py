"""Small wrong changes that a third sample of them found unnoticed; each is named beside the check that it fails."""

from __future__ import annotations

import numpy as np
import pytest

from plumeline.fills.feather.layout import _inside
from plumeline.fills.feather.spine import Spine
from plumeline.geometry import as_region, path_length
from plumeline.geometry.areas.fitting import near_passes
from plumeline.model import as_path


def test_a_spine_that_crosses_two_arms_runs_in_the_wider_one():
    # max -> min of its pieces in fills/feather/layout.py; a U with arms 90 and 40 mm wide
    u = as_region([(0, 0), (90, 0), (90, 100), (160, 100), (160, 0), (200, 0), (200, 150), (0, 150)])
    path = _inside(u, Spine(as_path([(-5.0, 50.0), (205.0, 50.0)])), ()).path
    assert path_length(path) == pytest.approx(90)
    assert path[:, 0].max() == pytest.approx(90)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (400.0, -250.0)])
def test_strands_pass_nearest_half_way_between_them(shift):
    # / 2 -> * 2 in geometry/areas/fitting.py: a straight strand and a bent one, 2 mm from it at its bend
    level = np.array([(-30.0, 0.0), (30.0, 0.0)]) + shift
    bent = np.array([(-30.0, 8.0), (0.0, 2.0), (30.0, 8.0)]) + shift
    places, far = near_passes([level, bent], [False, False], 5.0)
    assert far[0] == pytest.approx(2.0, rel=0.1)
    assert places[0] == pytest.approx(np.array([0.0, 1.0]) + shift, abs=0.5)
