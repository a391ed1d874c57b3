"""Pictures made of pixels: the one place that reads and writes PNG and JPEG."""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageOps, UnidentifiedImageError

from ..errors import DrawingError
from ..model import FloatArray

__all__ = ["MOST_BYTES", "MOST_PIXELS", "Pixels", "drawn_pixels", "pixels_of", "png_bytes", "read_picture", "resized"]

Pixels = NDArray[np.uint8]
"""``(rows, cols, 3)``: red, green, blue; with a fourth where it says so: how much it covers."""

MOST_BYTES = 25_000_000
"""Size of a picture file: a camera's best JPEG has half of it."""

MOST_PIXELS = 50_000_000
"""Pixels of a picture: more than a camera makes; keeps a small file that unfolds hugely from filling the memory."""

FINER = 3
"""Pixels beside each other that make one of a smooth line."""

COMPRESSED = 3
"""Of 9: more takes three times as long for a file one part in twenty smaller."""

_BROKEN = (UnidentifiedImageError, Image.DecompressionBombError, OSError, SyntaxError, ValueError, EOFError)
"""What the library raises for a file that is no picture, or a broken one."""


def read_picture(path: str | Path) -> Pixels:
    """Return a PNG or JPEG picture, the right way up; what is clear in it becomes white.

    Raises
    ------
    DrawingError
        It can't be read, is no PNG or JPEG, is broken, or is larger than `MOST_BYTES` or `MOST_PIXELS`.
    """
    path = Path(path)
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise DrawingError(
                f"has {size:,} bytes; must have at most {MOST_BYTES:,}",
                file=path.name,
                what_to_do="Save it smaller: a few hundred pixels across do.",
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise DrawingError("is not there", file=path.name, what_to_do="Put the picture beside the plan.") from None
    except DrawingError:
        raise
    except OSError as error:
        raise DrawingError(f"can't be read ({error.strerror})", file=path.name) from None
    return pixels_of(data, name=path.name)


def pixels_of(data: bytes, *, name: str, clear: bool = False) -> Pixels:
    """Return the pixels of a PNG or JPEG file's bytes; ``clear``: with a fourth value, how much each covers.

    Raises
    ------
    DrawingError
        As `read_picture` raises it.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own limit is lower, and says more
            opened = Image.open(io.BytesIO(data), formats=("PNG", "JPEG"))
        with opened as image:
            if image.width * image.height > MOST_PIXELS:
                raise DrawingError(
                    f"has {image.width} x {image.height} pixels; must have at most {MOST_PIXELS:,}",
                    file=name,
                    what_to_do="Save it smaller: a few hundred pixels across do.",
                )
            if clear:
                return np.asarray(image.convert("RGBA"))
            upright: Any = ImageOps.exif_transpose(image).convert("RGBA")
            ground = Image.new("RGBA", upright.size, "white")
            return np.asarray(Image.alpha_composite(ground, upright).convert("RGB"))
    except DrawingError:
        raise
    except _BROKEN:
        raise DrawingError(
            "is no PNG or JPEG picture, or a broken one", file=name, what_to_do="Save it anew as PNG or JPEG."
        ) from None


def resized(pixels: Pixels, width: int, height: int) -> Pixels:
    """Return a picture of another size in pixels, smoothly."""
    return np.asarray(Image.fromarray(pixels).resize((width, height), Image.Resampling.LANCZOS))


def drawn_pixels(
    size: tuple[int, int],
    areas: Sequence[tuple[FloatArray, str]],
    lines: Sequence[tuple[FloatArray, str]],
    *,
    ground: str,
    line_px: float,
) -> Pixels:
    """Return filled areas with lines over them, smooth: drawn `FINER` times as large and made smaller.

    Parameters
    ----------
    size : (width, height)
        In pixels.
    areas, lines : sequence of ((n, 2) pixels, colour)
        Drawn in their order.
    """
    image = Image.new("RGB", (size[0] * FINER, size[1] * FINER), ground)
    draw = ImageDraw.Draw(image)
    for ring, colour in areas:
        draw.polygon((ring * FINER).ravel().tolist(), fill=colour)
    for path, colour in lines:
        draw.line((path * FINER).ravel().tolist(), fill=colour, width=max(1, round(line_px * FINER)))
    return np.asarray(image.reduce(FINER))


def png_bytes(pixels: Pixels, *, px_a_mm: float | None = None) -> bytes:
    """Return pixels as a PNG file; ``px_a_mm`` states its true size in the file."""
    out = io.BytesIO()
    dpi = {} if px_a_mm is None else {"dpi": (px_a_mm * 25.4, px_a_mm * 25.4)}
    Image.fromarray(np.ascontiguousarray(pixels)).save(out, "PNG", compress_level=COMPRESSED, **dpi)
    return out.getvalue()
