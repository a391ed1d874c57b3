"""Photos bent, coloured and smoothed: the one place that calls the picture library of the extra ``photo``."""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from ..errors import DrawingError
from ..model import FloatArray
from .raster import Pixels

__all__ = ["Lab", "aside_px", "check_photo_extra", "extra_missing", "lab_of", "warped"]

Lab = NDArray[np.float32]
"""``(rows, cols, 3)``: lightness 0 to 100, and two colours that the eye tells apart evenly (CIE 1976)."""

BAND_ROWS = 256
"""Rows that are bent at a time: their places take little memory beside the picture."""

FINE_PX = 2.0
"""A photo of more pixels than this for each of the new picture is made coarser first, lest fine prints shimmer."""

OUTSIDE = (255, 255, 255)
"""What the photo does not show is white."""


def _library() -> ModuleType:
    try:
        import cv2
    except ImportError:
        raise extra_missing() from None
    return cv2


def extra_missing() -> DrawingError:
    """Return what is raised where a library of the extra ``photo`` is not installed; the message says how it is."""
    return DrawingError(
        "needs a picture library that is not installed",
        key="photo",
        what_to_do="Install it with: pip install 'plumeline[photo]'.",
    )


def check_photo_extra() -> None:
    """Check that photos can be bent at all.

    Raises
    ------
    DrawingError
        The extra ``photo`` is not installed; the message says how it is.
    """
    _library()


def warped(
    photo: Pixels, seen_at: Callable[[FloatArray], FloatArray], places: tuple[FloatArray, FloatArray]
) -> tuple[Pixels, float]:
    """Return a picture whose pixels are taken from where they are seen in a photo.

    Parameters
    ----------
    photo : (rows, cols, 3) uint8
    seen_at : callable
        Takes places, ``(n, 2)``, to pixels of the photo.
    places : (xs, ys)
        The places of the new picture's columns and rows.

    Returns
    -------
    picture : (len(ys), len(xs), 3) uint8
        White where the photo does not reach.
    missed : float
        Share of it that the photo does not show.
    """
    cv2 = _library()
    xs, ys = places
    step = _pixels_a_pixel(seen_at, xs, ys)
    coarser = int(step // FINE_PX) if step >= 2 * FINE_PX else 1
    rows, cols = photo.shape[:2]
    source = photo
    if coarser > 1:
        source = cv2.resize(photo, (cols // coarser, rows // coarser), interpolation=cv2.INTER_AREA)
    across, down = cols / source.shape[1], rows / source.shape[0]
    out = np.empty((len(ys), len(xs), 3), dtype=np.uint8)
    missed = 0
    for first in range(0, len(ys), BAND_ROWS):
        band = ys[first : first + BAND_ROWS]
        at = seen_at(np.stack(np.meshgrid(xs, band), axis=-1).reshape(-1, 2))
        off = ~((at >= -0.5).all(axis=1) & (at[:, 0] <= cols - 0.5) & (at[:, 1] <= rows - 0.5))
        missed += int(off.sum())
        at[off] = -10.0 * max(across, down) - 10
        # pixels are counted by their middles, in the coarser picture too
        u = ((at[:, 0] + 0.5) / across - 0.5).astype(np.float32).reshape(len(band), len(xs))
        v = ((at[:, 1] + 0.5) / down - 0.5).astype(np.float32).reshape(len(band), len(xs))
        bent = cv2.remap(source, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        bent[off.reshape(bent.shape[:2])] = OUTSIDE
        out[first : first + BAND_ROWS] = bent
    return out, missed / out[..., 0].size


def _pixels_a_pixel(seen_at: Callable[[FloatArray], FloatArray], xs: FloatArray, ys: FloatArray) -> float:
    """Return how many pixels of the photo one pixel of the new picture covers in its middle."""
    x, y = xs[len(xs) // 2], ys[len(ys) // 2]
    dx, dy = (float(v[1] - v[0]) if len(v) > 1 else 0.5 for v in (xs, ys))
    at = seen_at(np.array([(x, y), (x + dx, y), (x, y + dy)]))
    return float(np.hypot(*(at[1:] - at[0]).T).min())


def lab_of(pixels: Pixels, *, blur_px: float = 0.0) -> Lab:
    """Return a picture in colours as the eye tells them apart, smoothed by so many pixels (standard deviation)."""
    cv2 = _library()
    out: Lab = cv2.cvtColor(pixels.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB)
    return cv2.GaussianBlur(out, (0, 0), blur_px) if blur_px > 0 else out


def aside_px(picture: Lab, other: Lab) -> tuple[float, float]:
    """Return how many pixels right and down another picture of one size lies from a first, by their lightness."""
    cv2 = _library()
    rows, cols = picture.shape[:2]
    one, two = (np.ascontiguousarray(p[..., 0]) for p in (picture, other))
    (right, down), _ = cv2.phaseCorrelate(one, two, cv2.createHanningWindow((cols, rows), cv2.CV_32F))
    return float(right), float(down)
