"""More small wrong changes to the code that no other test noticed; each is named beside the check that it fails."""

from __future__ import annotations

import numpy as np
import pytest

from plumeline.fills.feather import plumes
from plumeline.fills.meander.opening import _wavy as wavy_cut
from plumeline.model import Reach, Top, as_path
from plumeline.output import reach_sheet


def test_a_wavy_cut_is_as_calm_at_one_end_as_at_the_other():
    # wrong change: the swing fades out at the start alone
    start, stop = np.zeros(2), np.array([200.0, 0.0])
    aside = np.abs(wavy_cut(start, stop, 10.0)[1:-1, 1])
    assert aside == pytest.approx(aside[::-1], abs=1e-9)
    assert aside.max() > 0 and aside[:2].max() < 0.5 * aside.max()


def test_an_even_arch_stays_even_when_it_is_rounded(monkeypatch):
    # wrong change: the mirrored points beyond one end begin one point further
    monkeypatch.setattr(plumes, "_kept_inside", lambda _cells, _plain, smooth: smooth)
    t = np.linspace(0, np.pi, 401)
    arch = np.column_stack([30 * (1 - np.cos(t)), 40 * np.minimum(np.sin(t), 0.8)])
    (rounded,) = plumes._rounded(None, [arch], np.array([20.0]), np.array([0.0]))
    assert rounded[:, 1] == pytest.approx(rounded[::-1, 1], abs=1e-9)
    assert rounded[:, 0] + rounded[::-1, 0] == pytest.approx(60, abs=1e-9)


def test_the_letter_of_a_mark_stands_close_to_it_towards_the_middle():
    # wrong change: twice as far aside one way
    marks = {"A": (20.0, 20.0), "B": (180.0, 130.0)}
    reach = Reach(1, (0.0, 0.0, 200.0, 150.0), as_path(list(marks.values())))
    sheet = reach_sheet.ReachSheet(
        title="t", plan="p", units="in", top=Top((), (), {}, (200.0, 150.0)), reach=reach, reaches=(reach,), lines=(),
        zones=(), others=(), sewn={}, own=marks, later={},
    )  # fmt: skip
    drawn = reach_sheet._crosses(sheet, 1.0, np.zeros(2))
    places = np.array([[float(v) for v in c.split('"')[1:4:2]] for c in drawn if 'r="2.6"' in c])
    for place, mark in zip(places, marks.values(), strict=True):
        away = place - mark
        assert np.abs(away) == pytest.approx([4.4, 4.4], abs=0.06)
        assert away @ (np.array([100.0, 75.0]) - mark) > 0
