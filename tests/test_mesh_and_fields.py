"""Meshes keep what they must keep; harmonic fields on them agree with closed forms and a published modulus."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from plumeline.geometry import arc_lengths, as_region, rings
from plumeline.geometry.fields.fields import Strip, harmonic, slit, stiffness, unwrapped
from plumeline.geometry.fields.mesh import mesh_region
from shapes import DEGENERATE, NAMED, random_regions

UNIT = as_region([(0, 0), (1, 0), (1, 1), (0, 1)])


def areas(points, triangles):
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]) / 2


def edges(triangles):
    pairs = np.vstack([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    return {tuple(sorted(p)) for p in pairs.tolist()}


def energy(points, triangles, field):
    return float(field @ (stiffness(points, triangles) @ field))


@pytest.mark.parametrize("name", [*NAMED, "koch", "comb", "neck", "needle tip", "far away", "hole near edge"])
def test_a_mesh_covers_its_region_exactly_and_keeps_outline(name):
    region = {**NAMED, **DEGENERATE}[name]
    mesh = mesh_region(region, np.sqrt(region.area) / 25)
    size = np.abs(areas(mesh.points, mesh.triangles))
    assert size.sum() == pytest.approx(region.area, rel=1e-9)
    assert size.min() > 0
    known = edges(mesh.triangles)
    for ring, drawn in zip(mesh.rings, rings(region)):
        assert all(tuple(sorted(e)) in known for e in zip(ring.tolist(), np.roll(ring, -1).tolist()))
        # every corner of the outline is a node of its ring
        assert all(np.abs(mesh.points[ring] - corner).sum(axis=1).min() < 1e-6 for corner in drawn)


@pytest.mark.parametrize("name", NAMED)
def test_weights_between_free_nodes_are_never_negative(name):
    # Opposite angles in a Delaunay triangulation sum to at most 180 degrees, so cotangent weights of inner
    # edges are >= 0 (Rippa 1990): the matrix is an M-matrix and the maximum principle holds.
    region = NAMED[name]
    mesh = mesh_region(region, np.sqrt(region.area) / 25)
    matrix = stiffness(mesh.points, mesh.triangles).tocoo()
    inner = np.ones(len(mesh.points), dtype=bool)
    inner[np.concatenate(mesh.rings)] = False
    off = (matrix.row != matrix.col) & inner[matrix.row] & inner[matrix.col]
    assert matrix.data[off].max() <= 1e-9


def test_a_line_is_a_chain_of_edges_and_may_end_on_the_outline():
    line = np.array([(0, 0), (40, 35), (90, 80)], dtype=float)
    region = as_region([(0, 0), (120, 0), (120, 100), (0, 100)])
    mesh = mesh_region(region, 8.0, lines=[line])
    chain = mesh.lines[0]
    assert chain[0] in mesh.rings[0]
    known = edges(mesh.triangles)
    assert all(tuple(sorted(e)) in known for e in zip(chain[:-1].tolist(), chain[1:].tolist()))
    assert arc_lengths(mesh.points[chain])[-1] == pytest.approx(arc_lengths(line)[-1])


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 500))
def test_a_mesh_of_any_zone_covers_it(seed):
    region = next(random_regions(1, seed=seed))
    mesh = mesh_region(region, np.sqrt(region.area) / 20)
    assert np.abs(areas(mesh.points, mesh.triangles)).sum() == pytest.approx(region.area, rel=1e-9)


def test_conformal_modulus_of_the_l_is_bracketed():
    # L = [0,2]^2 less [1,2]^2 between its two arm ends: modulus 2.558523 = 2 x 1.2792615712 (the value of its
    # diagonal half is the published one for the conformal modulus of this quadrilateral). Linear elements give
    # energies that are too large, so the field and its conjugate bracket it from both sides.
    region = as_region([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])
    low, high = {}, {}
    for parts in (20, 40):
        mesh = mesh_region(region, 1 / parts)
        p, ring = mesh.points, mesh.rings[0]
        matrix = stiffness(p, mesh.triangles)
        right, top = ring[np.abs(p[ring, 0] - 2) < 1e-9], ring[np.abs(p[ring, 1] - 2) < 1e-9]
        ends = harmonic(matrix, np.concatenate([right, top]), np.concatenate([np.zeros(len(right)), np.ones(len(top))]))
        x, y = p[ring].T
        outer = ring[(x < 1e-9) | (y < 1e-9)]
        inner = ring[((np.abs(x - 1) < 1e-9) & (y >= 1 - 1e-9)) | ((np.abs(y - 1) < 1e-9) & (x >= 1 - 1e-9))]
        across = harmonic(
            matrix, np.concatenate([outer, inner]), np.concatenate([np.zeros(len(outer)), np.ones(len(inner))])
        )
        low[parts], high[parts] = 1 / energy(p, mesh.triangles, ends), energy(p, mesh.triangles, across)
        assert low[parts] < 2.558523 < high[parts]
    assert high[40] - low[40] < 0.03
    # and the bracket closes as the mesh gets finer
    assert high[40] - low[40] < 0.6 * (high[20] - low[20])


@pytest.mark.parametrize("sides", [(1.0, 1.0), (3.0, 1.0), (2.0, 5.0)])
def test_modulus_of_a_rectangle_is_its_ratio(sides):
    a, b = sides
    mesh = mesh_region(as_region([(0, 0), (a, 0), (a, b), (0, b)]), 0.13)
    p, ring = mesh.points, mesh.rings[0]
    left, right = ring[p[ring, 0] < 1e-9], ring[p[ring, 0] > a - 1e-9]
    field = harmonic(
        stiffness(p, mesh.triangles),
        np.concatenate([left, right]),
        np.concatenate([np.zeros(len(left)), np.ones(len(right))]),
    )
    # a linear field is exact in linear elements
    assert field == pytest.approx(p[:, 0] / a, abs=1e-9)
    assert energy(p, mesh.triangles, field) == pytest.approx(b / a, rel=1e-9)


def test_a_robin_edge_draws_the_field_as_its_closed_form_says():
    # u'' = 0, u(0) = 0, u'(L) = k (A - u(L)): u = A k x / (1 + k L)
    length, k, aim = 2.0, 1.7, 5.0
    mesh = mesh_region(as_region([(0, 0), (length, 0), (length, 1), (0, 1)]), 0.11)
    p, ring = mesh.points, mesh.rings[0]
    left = ring[p[ring, 0] < 1e-9]
    end = ring[p[ring, 0] > length - 1e-9]
    end = end[np.argsort(p[end, 1])]
    step = np.diff(p[end, 1])
    own = np.concatenate([[step[0] / 2], (step[1:] + step[:-1]) / 2, [step[-1] / 2]])
    field = harmonic(
        stiffness(p, mesh.triangles), left, np.zeros(len(left)), robin=(end, k * own, np.full(len(end), aim))
    )
    assert field == pytest.approx(aim * k * p[:, 0] / (1 + k * length), abs=1e-9)


def test_harmonic_fields_converge_to_closed_forms():
    # sin(pi x) sinh(pi y) / sinh(pi) in the unit square; error falls with the square of the step
    worst = []
    for step in (0.1, 0.05):
        mesh = mesh_region(UNIT, step)
        exact = np.sin(np.pi * mesh.points[:, 0]) * np.sinh(np.pi * mesh.points[:, 1]) / np.sinh(np.pi)
        ring = mesh.rings[0]
        field = harmonic(stiffness(mesh.points, mesh.triangles), ring, exact[ring])
        worst.append(np.abs(field - exact).max())
    assert worst[1] < 0.003
    assert worst[1] < 0.45 * worst[0]


def test_between_two_circles_the_field_is_a_logarithm():
    mesh = mesh_region(NAMED["ring"], 7.0)
    outer, inner = mesh.rings
    field = harmonic(
        stiffness(mesh.points, mesh.triangles),
        np.concatenate([inner, outer]),
        np.concatenate([np.zeros(len(inner)), np.ones(len(outer))]),
    )
    exact = np.log(np.hypot(*mesh.points.T) / (3 * 25.4)) / np.log(7 / 3)
    assert np.abs(field - exact).max() < 0.004


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 300), st.integers(0, 9))
def test_fields_keep_the_maximum_principle(seed, rng_seed):
    region = next(random_regions(1, seed=seed, holes=False))
    mesh = mesh_region(region, np.sqrt(region.area) / 18)
    ring = mesh.rings[0]
    values = np.random.default_rng(rng_seed).uniform(-1, 1, len(ring))
    field = harmonic(stiffness(mesh.points, mesh.triangles), ring, values)
    assert field.min() >= values.min() - 1e-9
    assert field.max() <= values.max() + 1e-9


@pytest.mark.parametrize("base", [(0.0, 50.0), (0.0, 0.0), (100.0, 0.0), (60.0, 60.0)])
def test_a_slit_parts_left_from_right(base):
    # a straight slit from the side, a corner, and the re-entrant corner of an L
    region = as_region([(0, 0), (100, 0), (100, 60), (60, 60), (60, 100), (0, 100)])
    tip = np.array([40.0, 30.0])
    line = np.linspace(base, tip, 12)
    mesh = mesh_region(region, 6.0, lines=[line])
    chain = mesh.lines[0]
    ring = np.roll(mesh.rings[0], -int(np.flatnonzero(mesh.rings[0] == chain[0])[0]))
    points, triangles, right = slit(mesh.points, mesh.triangles, chain, ring)
    assert np.array_equal(points[chain], points[right])
    assert right[-1] == chain[-1]
    way = tip - np.array(base)
    middle = points[triangles].mean(axis=1) - np.array(base)
    # positive on the right as seen (y down)
    aside = way[0] * middle[:, 1] - way[1] * middle[:, 0]
    along = middle @ way / (way @ way)
    beside = (along > 0.02) & (along < 0.98)
    on_left = np.isin(triangles, chain[:-1]).any(axis=1) & beside
    on_right = np.isin(triangles, right[:-1]).any(axis=1) & beside
    assert (aside[on_left] < 0).all()
    assert (aside[on_right] > 0).all()
    # one piece still: each copy has its own triangles and only the tip joins them
    assert np.isin(chain, triangles).all()
    assert np.isin(right, triangles).all()
    assert np.abs(areas(points, triangles)).sum() == pytest.approx(region.area)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000))
def test_a_strip_gives_back_the_places_it_charts(seed):
    # a chart known in closed form: the unit square bent into a quarter ring, cos and sin
    rng = np.random.default_rng(seed)
    mesh = mesh_region(as_region([(0, 0), (12, 0), (12, 1), (0, 1)]), 0.16)
    along, across = mesh.points.T
    turn = along / 12 * np.pi / 2
    bent = np.column_stack([(2 + across) * np.cos(turn), (2 + across) * np.sin(turn)])
    strip = Strip(along[mesh.triangles], across[mesh.triangles], bent[mesh.triangles], 12.0)
    ask = rng.uniform((0, 0), (12, 1), (200, 2))
    found = strip.places(*ask.T)
    turn = ask[:, 0] / 12 * np.pi / 2
    exact = np.column_stack([(2 + ask[:, 1]) * np.cos(turn), (2 + ask[:, 1]) * np.sin(turn)])
    assert np.abs(found - exact).max() < 0.002
    # at nodes it is exact
    some = rng.integers(0, len(bent), 50)
    assert strip.places(along[some], across[some]) == pytest.approx(bent[some], abs=1e-9)


def test_a_closed_strip_repeats_after_its_period():
    mesh = mesh_region(NAMED["ring"], 9.0)
    angle = np.arctan2(mesh.points[:, 1], mesh.points[:, 0]) * 8 / (2 * np.pi)
    radius = (np.hypot(*mesh.points.T) / 25.4 - 3) / 4
    strip = Strip(unwrapped(mesh.triangles, angle, 8.0), radius[mesh.triangles], mesh.points[mesh.triangles], 8.0, 8.0)
    along, across = np.linspace(-3, 3, 40), np.linspace(0.05, 0.95, 40)
    once, again = strip.places(along, across), strip.places(along + 8, across)
    assert once == pytest.approx(again, abs=1e-9)
    turn = along / 8 * 2 * np.pi
    exact = 25.4 * (3 + 4 * across)[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    assert np.abs(once - exact).max() < 1.0


def test_meshes_move_and_turn_with_their_region():
    region, line = NAMED["equilateral8"], np.array([(101.6, 0.0), (101.6, -120.0)])
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    axis = (line[0], np.array([0.0, -1.0]))
    one = mesh_region(region, 6.0, lines=[line], axis=axis)
    two = mesh_region(
        as_region(shapely.transform(region, lambda p: p @ turn + 300)),
        6.0,
        lines=[line @ turn + 300],
        axis=(line[0] @ turn + 300, axis[1] @ turn),
    )
    there = one.points @ turn + 300
    assert len(one.points) == len(two.points)
    far = np.hypot(*(there[:, None] - two.points[None]).transpose(2, 0, 1)).min(axis=1)
    assert far.max() < 1e-6


@given(st.integers(0, 10_000), st.floats(0.0, 180.0), st.sampled_from([3.0, 7.0]))
@settings(deadline=None, max_examples=30)
def test_no_node_lies_in_the_circle_of_a_triangle(seed, axis_deg, step):
    # the definition of a Delaunay triangulation, of all nodes at once; and it covers the region, turning one way
    (region,) = random_regions(1, seed=seed)
    way = np.array([np.cos(np.radians(axis_deg)), np.sin(np.radians(axis_deg))])
    mesh = mesh_region(region, step, axis=(np.array([region.centroid.x, region.centroid.y]), way))
    a, b, c = (mesh.points[mesh.triangles[:, k]] for k in range(3))
    u, v = b - a, c - a
    twice = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    assert (twice > 0).all()
    assert twice.sum() / 2 == pytest.approx(region.area, rel=1e-6)
    uu, vv = (u**2).sum(axis=1), (v**2).sum(axis=1)
    shift = np.column_stack([v[:, 1] * uu - u[:, 1] * vv, u[:, 0] * vv - v[:, 0] * uu]) / (2 * twice[:, None])
    radius = np.hypot(*shift.T)
    nearest, _ = cKDTree(mesh.points).query(a + shift)
    plump = twice > 1e-4 * np.maximum(uu, vv)
    assert (nearest[plump] > radius[plump] - 1e-5).all()
