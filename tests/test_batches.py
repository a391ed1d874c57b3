"""What is done for many paths at once equals what is done for each alone."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from plumeline.geometry import dense_points, densify, simplify_path, simplify_paths

POINT = st.tuples(st.integers(-40, 40), st.integers(-40, 40))
PATHS = st.lists(st.lists(POINT, min_size=2, max_size=12).map(lambda p: np.array(p) / 4), max_size=6)


@given(PATHS, st.sampled_from([0.1, 0.7, 3.0]))
def test_the_points_of_many_paths_are_those_of_each(paths, step):
    each = np.vstack([np.zeros((0, 2)), *(densify(p, step) for p in paths)])
    assert np.array_equal(dense_points(paths, step), each)


@given(PATHS, st.sampled_from([0.01, 0.3, 2.0]))
def test_many_paths_lose_the_points_that_each_loses(paths, tolerance):
    many = simplify_paths(paths, tolerance)
    assert len(many) == len(paths)
    assert all(np.array_equal(a, simplify_path(p, tolerance)) for a, p in zip(many, paths, strict=True))
