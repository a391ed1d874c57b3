"""A photo of the top as part of a drawn picture."""

from __future__ import annotations

import base64
import math

import numpy as np

from ..drawing.raster import Pixels, jpeg_bytes, resized
from ..model import Photo
from ._frame import Window, short

__all__ = ["faded", "photo_image", "photo_part"]


def photo_part(photo: Photo, view: Window, px_a_mm: float) -> tuple[Pixels, Window] | None:
    """Return what a window shows of a photo, in no more pixels than are seen, and where it lies; None for nothing."""
    rows, cols = photo.pixels.shape[:2]
    scale = photo.px_a_mm
    left, top = max(0, math.floor(view.left * scale)), max(0, math.floor(view.top * scale))
    right = min(cols, math.ceil((view.left + view.width) * scale))
    bottom = min(rows, math.ceil((view.top + view.height) * scale))
    if right <= left or bottom <= top:
        return None
    part = photo.pixels[top:bottom, left:right]
    share = px_a_mm / scale
    if share < 1:
        part = resized(part, max(1, round((right - left) * share)), max(1, round((bottom - top) * share)))
    return part, Window(left / scale, top / scale, (right - left) / scale, (bottom - top) / scale)


def photo_image(photo: Photo, view: Window, px_a_mm: float) -> str:
    """Return an SVG image of what a window shows of a photo, mm; "" for nothing."""
    found = photo_part(photo, view, px_a_mm)
    if found is None:
        return ""
    pixels, at = found
    data = base64.b64encode(jpeg_bytes(pixels, quality=90)).decode()
    return (
        f'<image x="{short(at.left)}" y="{short(at.top)}" width="{short(at.width)}" height="{short(at.height)}" '
        f'preserveAspectRatio="none" xlink:href="data:image/jpeg;base64,{data}"/>'
    )


def faded(photo: Photo, longest_px: float, white: float) -> Photo:
    """Return a photo with a share of white over it, on which names read; its longer side has no more pixels."""
    share = max(photo.size) * photo.px_a_mm / longest_px
    pixels, px_a_mm = photo.pixels, photo.px_a_mm
    if share > 1:
        rows, cols = (max(1, round(n / share)) for n in pixels.shape[:2])
        pixels, px_a_mm = resized(pixels, cols, rows), px_a_mm / share
    pale = 255 - (1 - white) * (255 - pixels.astype(np.float32))
    return Photo(np.rint(pale).astype(np.uint8), px_a_mm)
