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
from ..opening import read_plain_file

__all__ = [
    "MOST_BYTES",
    "MOST_PIXELS",
    "Pixels",
    "drawn_pixels",
    "jpeg_bytes",
    "labels_of",
    "pixels_of",
    "png_bytes",
    "px_a_mm_of",
    "read_photo",
    "read_picture",
    "resized",
]

Pixels = NDArray[np.uint8]
"""``(rows, cols, 3)``: red, green, blue; with a fourth where it says so: how much it covers."""

MOST_BYTES = 25_000_000
"""Size of a picture file: a camera's best JPEG has half of it."""

MOST_PIXELS = 50_000_000
"""Pixels of a picture: more than a camera makes; keeps a small file that unfolds hugely from filling the memory."""

FINER = 3
"""Pixels beside each other that make one of a smooth line."""

MOST_PHOTO_BYTES = 200_000_000
"""Size of a photo's file, and of one squared up: three bytes a pixel where the camera's noise can't be packed."""

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
            turned: Any = ImageOps.exif_transpose(image)
            if not turned.has_transparency_data:
                return np.asarray(turned.convert("RGB"))
            upright = turned.convert("RGBA")
            ground = Image.new("RGBA", upright.size, "white")
            return np.asarray(Image.alpha_composite(ground, upright).convert("RGB"))
    except DrawingError:
        raise
    except Image.DecompressionBombError:
        raise DrawingError(
            f"has far too many pixels; must have at most {MOST_PIXELS:,}", file=name, what_to_do="Save it smaller."
        ) from None
    except _BROKEN:
        raise DrawingError(
            "is no PNG or JPEG picture, or a broken one", file=name, what_to_do="Save it anew as PNG or JPEG."
        ) from None


def read_photo(path: str | Path) -> tuple[Pixels, float | None]:
    """Return a photo, turned upright as its EXIF says, and how many pixels a millimetre it says it has.

    Raises
    ------
    DrawingError
        It can't be read, is no PNG or JPEG, is broken, or is larger than `MOST_PHOTO_BYTES` or `MOST_PIXELS`.
    """
    path = Path(path)
    data = read_plain_file(path, DrawingError, most=MOST_PHOTO_BYTES, missing="Check the name of the photo.")
    return pixels_of(data, name=path.name), px_a_mm_of(data)


def px_a_mm_of(data: bytes) -> float | None:
    """Return how many pixels a millimetre a picture's file says it has; None where it does not say, or not square."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=("PNG", "JPEG")) as image:
                across, down = image.info.get("dpi", (0.0, 0.0))
    except _BROKEN:
        return None
    across, down = float(across), float(down)
    return across / 25.4 if across > 0 and abs(across - down) < 1e-3 * across else None


def resized(pixels: Pixels, width: int, height: int) -> Pixels:
    """Return a picture of another size in pixels, smoothly."""
    return np.asarray(Image.fromarray(pixels).resize((width, height), Image.Resampling.LANCZOS))


def labels_of(outlines: Sequence[Sequence[NDArray[np.float64]]], size: tuple[int, int]) -> NDArray[np.int32]:
    """Return which outline each pixel lies in, counted from 1, ``(rows, cols)``; 0 in none, the last in several.

    Parameters
    ----------
    outlines : sequence of sequences of (n, 2) arrays
        The rings of each, in pixels: its shell, then its holes.
    size : (cols, rows)
    """
    image = Image.new("I", size, 0)
    for number, (shell, *holes) in enumerate(outlines, 1):
        if not holes:
            ImageDraw.Draw(image).polygon([tuple(at) for at in shell.tolist()], fill=number)
            continue
        mask = Image.new("1", size, 0)
        for ring, inside in ((shell, 1), *((hole, 0) for hole in holes)):
            ImageDraw.Draw(mask).polygon([tuple(at) for at in ring.tolist()], fill=inside)
        image.paste(number, mask=mask)
    return np.asarray(image, dtype=np.int32)


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


def jpeg_bytes(pixels: Pixels, *, quality: int = 80) -> bytes:
    """Return pixels as a JPEG file: for a photo a tenth of a PNG."""
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(out, "JPEG", quality=quality)
    return out.getvalue()


def png_bytes(pixels: Pixels, *, px_a_mm: float | None = None) -> bytes:
    """Return pixels as a PNG file; ``px_a_mm`` states its true size in the file."""
    out = io.BytesIO()
    dpi = {} if px_a_mm is None else {"dpi": (px_a_mm * 25.4, px_a_mm * 25.4)}
    Image.fromarray(np.ascontiguousarray(pixels)).save(out, "PNG", compress_level=COMPRESSED, **dpi)
    return out.getvalue()
