"""Zones filled by a pool of the caller's, and zones of one shape filled once: the same bytes as one by one."""

import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace
from multiprocessing import get_context

import numpy as np
import pytest

import plumeline
from plumeline.cli._shared import workers
from plumeline.errors import EngineError
from plumeline.fills import find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.placing import moved_to_start, placed
from plumeline.pipeline.single import zone_of
from plumeline.pipeline.workers import handed_out

PLAN = """
title = "six"
units = "in"
[top.blocks]
size = 6
rows = [["a", "a", "a"], ["a", "a", "a"]]
[[zone]]
name = "left"
patches = ["*-1"]
each = "patch"
[zone.fill]
kind = "spiral"
spacing = "1/2"
[[zone]]
name = "right"
patches = ["*", "!*-1"]
each = "patch"
vary = true
[zone.fill]
kind = "meander"
spacing = "1/2"
"""


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "six.toml"
    path.write_text(PLAN, encoding="utf-8")
    return plumeline.read_plan(path)


def same(a, b):
    assert a.report == b.report
    for one, other in zip(a.points, b.points, strict=True):
        np.testing.assert_array_equal(one.xy, other.xy)


def test_a_process_pool_fills_several_plans(plan):
    alone = plumeline.stitch(plan)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        same(alone, plumeline.stitch(plan, executor=pool))
        same(alone, plumeline.stitch(plan, executor=pool))  # it is left running


def test_dask_fills(plan):
    distributed = pytest.importorskip("distributed", reason="dask[distributed] is not installed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None, silence_logs=50
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        same(plumeline.stitch(plan), plumeline.stitch(plan, executor=client.get_executor()))


def leave(_task):
    os._exit(3)


def test_a_broken_pool_is_said_in_plain_words():
    with (
        ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool,
        pytest.raises(EngineError, match="the pool that was given"),
    ):
        list(handed_out(leave, [1, 2], pool))


def test_what_has_not_begun_is_called_off():
    begun = []

    def work(k):
        begun.append(k)
        time.sleep(0.01)  # all of them would take 10 s; the first failure is met long before
        raise ValueError(k)

    with ThreadPoolExecutor(1) as pool, pytest.raises(ValueError, match="0"):
        list(handed_out(work, range(1000), pool))
    assert len(begun) < 1000


@pytest.mark.parametrize("kind", ["feather", "meander", "curl", "rings", "motif"])
def test_a_zone_placed_has_the_bytes_of_one_filled_where_it_lies(kind):
    fill = find_fill(kind)
    given = {"art": "leaf"} if kind == "motif" else {}
    shape = np.add([(0, 0), (150, 10), (160, 120), (40, 140)], (611.375, 1033.0625))
    zone = replace(zone_of(shape), chance=11)
    layer = Layer(fill, fill.settings.model_validate(given).resolved(ZoneSources(zone)))
    there, start = fill_zone(zone, [layer]), moved_to_start(zone)
    assert start is not None and start.frame.origin == (0, 0)
    here = placed(fill_zone(start, [layer]), zone)
    assert len(here.strokes) == len(there.strokes) > 0
    for a, b in zip(here.strokes, there.strokes):
        np.testing.assert_array_equal(a.path, b.path)
        assert (a.role, a.chain, a.closed, a.zone, a.fill) == (b.role, b.chain, b.closed, b.zone, b.fill)
    assert here.bare_mm2 == pytest.approx(there.bare_mm2, abs=1e-6)


def test_alike_zones_are_exact_copies_and_varied_ones_are_not(plan):
    quilt = plumeline.stitch(plan)
    by_zone = {}
    for zone, filled in zip(quilt.zones, quilt.filled):
        by_zone.setdefault(zone.name, []).append([s.path - zone.frame.origin for s in filled.strokes])
    first, second = by_zone["left"]
    for a, b in zip(first, second, strict=True):
        np.testing.assert_allclose(a, b, atol=1e-9)
    right = by_zone["right"]
    assert any(len(a) != len(b) or not np.allclose(a, b) for a, b in zip(right[0], right[1]))


@pytest.mark.skipif(not hasattr(os, "sched_setaffinity"), reason="this system can't say which cores are allowed")
def test_workers_go_by_the_cores_allowed():
    before = os.sched_getaffinity(0)
    try:
        os.sched_setaffinity(0, {min(before)})
        assert workers() == 1
    finally:
        os.sched_setaffinity(0, before)
    assert sys.platform != "linux" or workers() == min(8, len(before))
