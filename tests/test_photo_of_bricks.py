"""A real photo squared up: a floor of bricks, taken aslant, that comes with scikit-image; straight, even joints.

The photo is no quilt, but a plane with straight lines at even distances that nobody here has drawn.
"""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image

from plumeline.pipeline.photo import PX_A_MM, PhotoJob, squared_photo

data = pytest.importorskip("skimage.data", reason="the real photo comes with scikit-image, of the extra photo")

PITCH, DOWN = 60.0, 760.0
"""A brick and its joint are taken as 60 mm; how far the floor reaches down is not known, and does not matter here."""

JOINTS = {0: (70, 6), 1: (100, 48), 2: (130, 92), 3: (159, 135), 4: (190, 177), 5: (219, 219), 6: (248, 261),
          7: (281, 303), 8: (309, 345), 9: (339, 386), 10: (366, 425), 11: (395, 467)}  # fmt: skip
"""Where long joints cross the upper and the lower edge of the photo, read off it to a pixel."""

MEASURED = (0, 4, 6, 10)
"""Joints whose ends are the measured points: eight."""


@pytest.fixture(scope="module")
def squared(tmp_path_factory):
    where = tmp_path_factory.mktemp("bricks")
    photo = data.brick()
    assert photo.shape == (512, 512)
    Image.fromarray(photo).convert("RGB").save(where / "floor.png")
    rows = ["x_px,y_px,right,down"]
    for k in MEASURED:
        for x, y, down in zip(JOINTS[k], (0, 511), (0.0, DOWN)):
            rows.append(f"{x},{y},{k * PITCH} mm,{down} mm")
    (where / "points.csv").write_text("\n".join(rows) + "\n")
    return squared_photo(PhotoJob.read(where / "floor.png", where / "points.csv"))


def joint(picture, k):
    """Where a joint runs in the squared-up picture, row by row: the middle of what is bright, mm right and down."""
    grey = picture.astype(float).mean(axis=2)
    middle = round(k * PITCH * PX_A_MM)
    first, last = max(0, middle - 24), middle + 25
    part = np.clip(grey[:, first:last] - 130, 0, None)
    lit = part.sum(axis=1)
    # joints across make a row bright from end to end, and tell nothing of this one
    good = (lit > 0.3 * np.median(lit)) & ((part > 0).mean(axis=1) < 0.45)
    across = (part * np.arange(part.shape[1])).sum(axis=1)[good] / lit[good]
    return (across + first + 0.5) / PX_A_MM, (np.flatnonzero(good) + 0.5) / PX_A_MM


def test_eight_points_of_a_real_photo_fit(squared):
    # a pixel of the photo is 1.5 to 2 mm of the floor, and bricks are laid by hand
    assert squared.fit.used.all() and squared.fit.residual_mm < 2.5
    assert abs(squared.fit.camera.bend) < 0.1


@pytest.mark.parametrize("k", [k for k in JOINTS if 0 < k < 10])
def test_joints_are_straight_and_upright_and_at_even_distances(squared, k):
    right, down = joint(squared.pixels, k)
    assert len(right) > 500
    slope, at = np.polyfit(down - DOWN / 2, right, 1)
    off = np.sort(np.abs(right - at - slope * (down - DOWN / 2)))
    assert off[len(off) // 2] < 1.2 and off[int(0.95 * len(off))] < 2.5  # mm; a pixel of the photo is 1.7
    assert abs(slope) * 1000 < 5.0  # mm a metre
    assert abs(at - k * PITCH) < 5.5  # bricks are laid by hand
