"""Settings that do nothing are told, and what is told does nothing: every fill drawn with a setting and without."""

from __future__ import annotations

from typing import Any, get_args

import numpy as np
import pytest
from shapely import Polygon

from plumeline.codes import FindingCode
from plumeline.fills import Fill, all_fills
from plumeline.fills.kit.settings import FillSettings
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.model import Filled
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.single import zone_of

SHAPES = {
    "square": [(0, 0), (150, 0), (150, 150), (0, 150)],
    "triangle": [(0, 0), (180, 180), (0, 180)],
    "strip": [(0, 0), (300, 0), (300, 90), (0, 90)],
}

OUTRIGHT = {
    "feather": {"bow", "waves", "corner", "at", "run", "centre", "gap_mm"},
    "crosshatch": {"on_point"},
    "outline": {"spacing_mm"},
    "rays": {"spacing_mm", "middles"},
    "spiral": {"spacing_mm"},
    "meander": {"spacing_mm"},
}
"""Settings that are for some spaces, or for some other settings, only."""

CASES: list[tuple[str, dict[str, Any]]] = [
    ("feather", {}),
    ("feather", {"spines": "wave"}),
    ("feather", {"spines": "from-corner", "style": "apart"}),
    ("crosshatch", {"angle_deg": 30.0}),
    ("outline", {}),
    ("outline", {"rows": 3}),
    ("rays", {"count": 17}),
    ("rays", {"count": 17, "at": "corner"}),
    ("spiral", {"density": 2.0}),
    ("meander", {"density": 2.0}),
]
"""Fills, and what is given beside the setting that is tried."""


def values(fill: Fill, field: str) -> list[Any]:
    """Other values of a setting than its own: every word, and of numbers one that differs much."""
    info = fill.settings.model_fields[field]
    words = [w for a in (info.annotation, *get_args(info.annotation)) for w in get_args(a) if isinstance(w, str)]
    if field == "at":
        return [(60.0, 70.0), (-50.0, -50.0)]
    if isinstance(info.default, bool):
        return [not info.default]
    if words:
        return [word for word in dict.fromkeys(words) if word != info.default]
    return {"bow": [0.2], "waves": [5], "middles": [2], "gap_mm": [6.0], "spacing_mm": [8.0]}[field]


def drawn(fill: Fill, shape: str, settings: dict[str, Any]) -> Filled:
    zone = zone_of(np.asarray(SHAPES[shape], float))
    model: FillSettings = fill.settings.model_validate(settings)
    return fill_zone(zone, [Layer(fill, model).resolved(ZoneSources(zone))])


def told(filled: Filled) -> set[str]:
    return {f.text.split()[1] for f in filled.findings if f.code == FindingCode.SETTING_IDLE}


def same(one: Filled, other: Filled) -> bool:
    return len(one.strokes) == len(other.strokes) and all(
        np.array_equal(a.path, b.path) for a, b in zip(one.strokes, other.strokes, strict=True)
    )


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("kind", "beside"), CASES)
def test_what_does_nothing_is_told_and_nothing_else(kind: str, beside: dict[str, Any], shape: str) -> None:
    fill = all_fills()[kind]
    without = drawn(fill, shape, beside)
    assert not told(without)
    for field in OUTRIGHT[kind]:
        for value in values(fill, field):
            given = drawn(fill, shape, {**beside, field: value})
            key = field.removesuffix("_mm").removesuffix("_deg")
            assert told(given) == ({key} if same(given, without) else set()), (field, value)


def test_a_row_of_middles_does_nothing_about_an_opening():
    fill = all_fills()["rays"]
    about = Polygon(SHAPES["square"], [[(50, 50), (100, 50), (100, 100), (50, 100)]])
    zone = zone_of(about)
    with_row, without = (
        fill_zone(zone, [Layer(fill, fill.settings.model_validate(said)).resolved(ZoneSources(zone))])
        for said in ({"middles": 3}, {})
    )
    assert same(with_row, without)
    assert (told(with_row), told(without)) == ({"middles"}, set())
