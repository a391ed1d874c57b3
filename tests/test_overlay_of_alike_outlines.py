"""Mended: overlays of two outlines that differ by rounding only came back as if they lay apart."""

import pytest
from shapely import Polygon

from plumeline.geometry import intersect, subtract

ONE = Polygon(
    [
        [63.380454324548936, 135.427271487611],
        [6.234047956505776, 345.10905858229046],
        [-206.644640050171, 282.47609367916624],
        [-149.4982336821278, 72.79430658448682],
        [63.380454324548936, 135.427271487611],
    ]
)
OTHER = Polygon(
    [
        [-149.4982336821278, 72.79430658448682],
        [63.38045432454893, 135.427271487611],
        [6.234047956505748, 345.1090585822904],
        [-206.64464005017095, 282.47609367916624],
        [-149.4982336821278, 72.79430658448682],
    ]
)


def test_outlines_that_differ_by_rounding_share_everything():
    # 48216.03 mm2 by the shoelace formula; GEOS 3.14 says 0 for one order of the two
    for a, b in ((ONE, OTHER), (OTHER, ONE)):
        assert sum(p.area for p in intersect(a, b)) == pytest.approx(48216.0326, abs=0.01)
        assert sum(p.area for p in subtract(a, [b])) == pytest.approx(0.0, abs=0.01)


def test_outlines_that_only_touch_share_nothing():
    a, b = Polygon([(0, 0), (9, 0), (9, 9), (0, 9)]), Polygon([(9, 0), (18, 0), (18, 9), (9, 9)])
    assert intersect(a, b) == []
    assert [p.area for p in subtract(a, [b])] == [81.0]
