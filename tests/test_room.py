"""Motifs sit in the middle of their space, and leave room for what is behind them."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from plumeline import geometry as g
from plumeline.fills import find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.lines import Work, join_works
from plumeline.model import Machine
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.single import zone_of
from shapes import IN, polygon, rectangle, zone


def layer(z, name, **said):
    fill = find_fill(name)
    return Layer(fill, fill.settings.model_validate(said, context={"units": "in"}).resolved(ZoneSources(z)))


def motif_of(filled):
    return shapely.MultiLineString([g.close_ring(s.path, s.closed) for s in filled.strokes if s.fill == "motif"])


# out of true by 1/8 to 1/4 in, a rectangle, a crooked block: the motif belongs on the middle of the sides
SPACES = {
    "out of true": polygon([(0, 0), (8.125, 0), (8, 8.25), (-0.125, 8)]),
    "rectangle": rectangle(9, 8),
    "long": rectangle(16, 6),
    "rhomb": polygon([(0, 0), (8, 0), (8.25, 8), (0.25, 8)]),
}


@pytest.mark.parametrize("name", sorted(SPACES))
@pytest.mark.parametrize("art", ["leaf", "clover", "scroll"])
def test_a_motif_sits_in_the_middle(name, art):
    region = SPACES[name]
    filled = fill_zone(zone(region), [layer(zone(region), "motif", art=art)])
    left, top, right, bottom = motif_of(filled).bounds
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    assert np.hypot(*(middle - np.array(region.centroid.coords[0]))) < 0.06 * IN


def test_off_the_middle_only_for_a_much_larger_motif():
    # a flag on a thin pole: on the middle of the area hardly anything fits
    flag = polygon([(0, 0), (6, 0), (6, 6), (30, 6), (30, 6.8), (0, 6.8)])
    filled = fill_zone(zone(flag), [layer(zone(flag), "motif")])
    left, _, right, _ = motif_of(filled).bounds
    assert (left + right) / 2 < 6 * IN
    assert right - left > 4 * IN


@pytest.mark.parametrize("art", ["leaf", "clover", "scroll"])
@pytest.mark.parametrize(("count", "spacing"), [(1, 0.25), (2, 0.375), (3, 0.25)])
def test_a_motif_leaves_room_for_echoes_and_background(art, count, spacing):
    block = rectangle(12, 12)
    z = zone(block)
    behind = [layer(z, "echo", count=count), layer(z, "meander", spacing=spacing)]
    filled = fill_zone(z, [layer(z, "motif", art=art), *behind])
    room = block.exterior.distance(motif_of(filled))
    assert room > (count * 0.25 + spacing + 0.125) * IN - 0.1
    alone = fill_zone(z, [layer(z, "motif", art=art)])
    assert motif_of(filled).length <= motif_of(alone).length
    stated = fill_zone(z, [layer(z, "motif", art=art, fit=90), *behind])
    assert motif_of(stated).length == pytest.approx(motif_of(alone).length, rel=1e-3)


@pytest.mark.parametrize(("inside", "lines"), [("open", 1), ("background", 1)])
def test_wide_parts_of_a_motif_are_filled_in_the_same_line(inside, lines):
    block = rectangle(18, 18)
    z = zone_of(block)
    stack = [
        layer(z, "motif", art="clover", inside=inside),
        layer(z, "echo", count=2),
        layer(z, "meander", spacing=0.375),
    ]
    filled = fill_zone(z, stack)
    middle = block.centroid
    rest = shapely.MultiLineString([s.path for s in filled.strokes if s.fill == "meander"])
    said = [f for f in filled.findings if f.code == "motif-open"]
    assert (rest.distance(middle) < 0.75 * IN) == (inside == "background")
    assert bool(said) == (inside == "open")
    assert not len(g.self_crossings([s.path for s in filled.strokes if s.fill == "meander"]))
    works = [Work(z, filled.strokes, "motif")]
    assert len(join_works(works, seams=(), machine=Machine()).lines) == lines
    again = motif_of(filled)
    meander = shapely.MultiLineString([s.path for s in filled.strokes if s.fill == "meander" and s.role == "stitch"])
    assert not again.intersects(meander)


def test_echoes_go_inwards_in_a_wide_part():
    block = rectangle(18, 18)
    z = zone_of(block)
    filled = fill_zone(z, [layer(z, "motif", art="clover", inside="echo"), layer(z, "echo", count=1)])
    motif = motif_of(filled)
    within = [
        s
        for s in filled.strokes
        if s.fill == "echo" and s.role == "stitch" and shapely.Polygon(s.path).area < 50 * IN**2
    ]
    assert within
    for s in within:
        far = shapely.distance(motif, shapely.points(g.resample(s.path, 2.0, closed=s.closed)))
        assert far.min() > 0.1 * IN
