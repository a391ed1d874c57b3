"""The cloth picture: the quilt as it will look, its relief in soft light, her fabrics, her thread; no marks on it."""

from __future__ import annotations

import base64
import math
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from ..drawing.raster import Pixels, pixels_of, png_bytes, resized
from ..geometry import simplify_paths
from ..model import FloatArray, Line, Photo, Relief, Top
from ._frame import PAPER, STRAY, Window, fabric_colours, outline_data, short, short_path, tape, words
from ._photo import photo_image
from .png import png_of

__all__ = ["cloth_pixels", "fabric_colours", "framed_cloth", "light_pixels"]

THREAD_MM = 0.4
"""Thickness of a quilting thread as it lies (about 40 wt)."""

STRAY_MOST_MM = 0.1
"""No thread of the cloth is drawn further off its way than this, also on a large top: a quarter of its thickness."""

LIGHT = (-0.5, -0.62, 0.6)
"""Where the light comes from: the upper left. Level cloth keeps its own colour."""

STEEPER = 1.6
"""Slopes are drawn this much steeper than they are: a picture has no second eye to see depth with."""

AMBIENT, HOLLOW = 0.42, 0.18
"""Share of the light that comes from everywhere; how much darker a hollow is than cloth that stands up."""

GROOVE = 0.95
"""Thread lies in a groove: this much of its own colour is seen, before the groove's own shade."""

WEAVE = 0.006
"""The weave lightens and darkens each spot by about so much; it also hides the steps of `SHADES`."""

HIDDEN = ("backtrack", "seam")
"""Stitching whose thread is not seen: it lies on other stitching, or in the ditch."""

SHADES = 3
"""Brightness is kept in steps of so much of 255: finer ones are not seen, and make the file half as large again."""

SMOOTH_PX = 0.6
"""The relief is smoothed by so many pixels before it is lit: creases are softer than a line."""

NOISE_SEED = 20
"""The same weave in every picture."""

Shade = NDArray[np.float32]


def cloth_pixels(
    top: Top,
    lines: Sequence[Line],
    relief: Relief,
    *,
    threads: Mapping[str, str],
    done: Sequence[FloatArray] = (),
) -> Pixels:
    """Return the quilted cloth, one pixel for each cell of its relief.

    Parameters
    ----------
    top, lines : Top, sequence of Line
        Patches with their fabrics, and what is stitched on them.
    relief : Relief
        How the cloth stands up; it says which part of the top is shown, and how large.
    threads : mapping
        Colour of each thread by name; one that is missing is a plain brown.
    done : sequence of (n, 2) arrays
        What is stitched already, in the main thread.

    Returns
    -------
    (rows, cols, 3) uint8
        What is no cloth has the colour of the page.
    """
    rows, cols = relief.height.shape
    view = Window(relief.left, relief.top, cols * relief.step_mm, rows * relief.step_mm)
    ground = _fabrics(top, relief.step_mm) if top.photo is None else _photographed(top, top.photo, view, relief.step_mm)
    body = [*ground, *_threads(lines, done, threads, view)]
    flat = _painted(body, view, rows, cols)
    lit = flat[..., :3] * _lit(relief)[..., None]
    if flat[..., 3].min() < 255:
        cloth = flat[..., 3:] / np.float32(255)
        paper = np.array([int(PAPER[k : k + 2], 16) for k in (1, 3, 5)], dtype=np.float32)
        lit = cloth * lit + (1 - cloth) * paper
    lit /= SHADES
    pixels: Pixels = np.minimum(np.rint(lit, out=lit) * SHADES, 255).astype(np.uint8)
    return pixels


def light_pixels(relief: Relief) -> Pixels:
    """Return how bright each spot of the cloth is as grey, ``(rows, cols, 3)``: 128 is level cloth that stands up.

    What shines brighter is lighter, a hollow darker; a picture laid over flat colours as hard light makes them cloth.
    """
    grey = np.clip(np.rint(128 * _brightness(relief)), 0, 255).astype(np.uint8)
    pixels: Pixels = np.repeat(grey[..., None], 3, axis=2)
    return pixels


def _lit(relief: Relief) -> Shade:
    """Return how bright each spot is, with the unevenness of the weave."""
    bright = _brightness(relief)
    weave = np.random.default_rng(NOISE_SEED).standard_normal(bright.shape, dtype=np.float32)
    shade: Shade = (bright * (1 + WEAVE * weave)).astype(np.float32)
    return shade


def _brightness(relief: Relief) -> Shade:
    """Return how bright each spot is; level cloth that stands up is 1."""
    height = gaussian_filter(relief.height, SMOOTH_PX)
    down, right = np.gradient(height, relief.step_mm)
    facing = (LIGHT[2] - STEEPER * (LIGHT[0] * right + LIGHT[1] * down)) / np.sqrt(
        1 + STEEPER**2 * (right**2 + down**2)
    )
    bright: Shade = AMBIENT + (1 - AMBIENT) * np.maximum(facing, 0) / LIGHT[2]
    bright *= 1 - HOLLOW * (1 - np.minimum(height / relief.loft_mm, 1))
    return bright


def _painted(body: Sequence[str], view: Window, rows: int, cols: int) -> NDArray[np.float32]:
    """Return flat colours and how much they cover, ``(rows, cols, 4)``."""
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{cols}" height="{rows}" '
        f'viewBox="{view.left:.6f} {view.top:.6f} {view.width:.6f} {view.height:.6f}">{"".join(body)}</svg>'
    )
    return pixels_of(png_of(svg, cols, background=None), name="cloth", clear=True).astype(np.float32)


def _fabrics(top: Top, step_mm: float) -> list[str]:
    out: list[str] = []
    prints: dict[int, str] = {}
    for patch, colour in zip(top.patches, fabric_colours(top)):
        fill = colour
        if patch.fabric is not None:
            ident = prints.get(id(patch.fabric))
            if ident is None:
                ident = prints[id(patch.fabric)] = f"print-{len(prints) + 1}"
                out.append(_print(patch.fabric.pixels, patch.fabric.width_mm, patch.fabric.height_mm, ident, step_mm))
            fill = f"url(#{ident})"
        # a hair of its own colour over the seam: no page shines through between two patches
        out.append(
            f'<path d="{outline_data(patch)}" fill="{fill}" fill-rule="evenodd" '
            f'stroke="{fill}" stroke-width="{short(0.35 * step_mm)}"/>'
        )
    seams = "".join(short_path(s.path) for s in top.seams if s.b is not None)
    if seams:
        out.append(f'<path d="{seams}" fill="none" stroke="#241a10" stroke-opacity="0.3" stroke-width="0.35"/>')
    return out


def _photographed(top: Top, photo: Photo, view: Window, step_mm: float) -> list[str]:
    """Return the photo where the top's patches are; what is round it is no cloth."""
    every = "".join(outline_data(patch) for patch in top.patches)
    return [
        f'<defs><clipPath id="cloth"><path d="{every}" clip-rule="nonzero"/></clipPath></defs>',
        f'<g clip-path="url(#cloth)">{photo_image(photo, view, 1 / step_mm)}</g>',
    ]


def _print(pixels: Pixels, width_mm: float, height_mm: float, ident: str, step_mm: float) -> str:
    """Return a fabric's picture as a pattern of its true size, in no more pixels than are seen."""
    rows, cols = pixels.shape[:2]
    wide, high = (max(1, min(n, math.ceil(mm / step_mm))) for n, mm in ((cols, width_mm), (rows, height_mm)))
    # a pixel more on every side, as the next repeat begins: no line shows where two of them meet
    tile = np.pad(resized(pixels, wide, high), ((1, 1), (1, 1), (0, 0)), mode="wrap")
    data = base64.b64encode(png_bytes(tile)).decode()
    x, y = width_mm / wide, height_mm / high
    return (
        f'<defs><pattern id="{ident}" patternUnits="userSpaceOnUse" width="{width_mm:.4f}" height="{height_mm:.4f}">'
        f'<image x="{-x:.4f}" y="{-y:.4f}" width="{width_mm + 2 * x:.4f}" height="{height_mm + 2 * y:.4f}" '
        f'preserveAspectRatio="none" xlink:href="data:image/png;base64,{data}"/></pattern></defs>'
    )


def _threads(lines: Sequence[Line], done: Sequence[FloatArray], threads: Mapping[str, str], view: Window) -> list[str]:
    stray = min(STRAY * view.unit, STRAY_MOST_MM)
    paths: dict[str, list[FloatArray]] = {"main": [p for p in done if len(p) > 1]} if done else {}
    for line in lines:
        paths.setdefault(line.thread, []).extend(
            line.path[s.start : s.end + 1] for s in line.spans if s.kind not in HIDDEN and s.end > s.start
        )
    out = []
    for name, own in sorted(paths.items()):
        seen = [p for p in own if view.touches(p)]
        d = "".join(short_path(p) for p in simplify_paths(seen, stray))
        if d:
            colour = _grooved(threads.get(name, "#5b5147"))
            out.append(
                f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{THREAD_MM}" '
                f'stroke-linecap="round" stroke-linejoin="round"/>'
            )
    return out


def _grooved(colour: str) -> str:
    return "#" + "".join(f"{round(GROOVE * int(colour[k : k + 2], 16)):02x}" for k in (1, 3, 5))


def framed_cloth(pixels: Pixels, relief: Relief, *, title: str, caption: Sequence[str]) -> bytes:
    """Return cloth with an inch tape along two sides and plain words below, as PNG, pixel for pixel."""
    rows, cols = pixels.shape[:2]
    step = relief.step_mm
    view = Window(relief.left, relief.top, cols * step, rows * step)
    u = view.unit
    said, depth = words(title, caption, view)
    margin = math.ceil(45 * u / step)
    foot = math.ceil((40 * u + depth) / step)
    width, height = cols + 2 * margin, rows + 2 * margin + foot
    left, upper = view.left - margin * step, view.top - margin * step
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="{left:.6f} {upper:.6f} {width * step:.6f} {height * step:.6f}"><title>{escape(title)}</title>'
        f'<rect x="{left:.6f}" y="{upper:.6f}" width="{width * step:.6f}" height="{height * step:.6f}" '
        f'fill="{PAPER}"/>{"".join([*tape(view), *said])}</svg>'
    )
    page = pixels_of(png_of(svg, width), name="page").copy()
    page[margin : margin + rows, margin : margin + cols] = pixels
    return png_bytes(page, px_a_mm=1 / step)
