"""The cloth of a quilt: its relief, and its picture at any scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..drawing.raster import Pixels, jpeg_bytes, png_bytes
from ..errors import OutputError
from ..geometry import close_ring, rings
from ..model import Batting, FloatArray, Line, Relief, Top
from ..output.cloth import cloth_pixels, light_pixels
from ..review import grid_step, inside_grid, relief, springs
from .done import already_sewn
from .result import Finished

__all__ = ["PICTURE_PX", "cloth_light", "cloth_of", "cloth_png", "relief_of_quilt", "relief_of_top", "sewn_before"]

PICTURE_PX = 900
"""Longer side of a picture in pixels unless asked: as wide as a page of a screen, and quick to draw."""

MOST_PX = 6_000_000
"""Pixels of one cloth picture: more than any screen has; keeps a slip of the pen from filling the memory."""

LIGHT_QUALITY = 90
"""Of the JPEG with the light: at 80 its blocks are seen where one comes close."""

FAR = 6.0
"""What is stitched so many ranges outside a window no longer matters in it."""

Box = tuple[float, float, float, float]
"""Left, top, width, height in mm."""


def sewn_before(quilt: Finished) -> list[FloatArray]:
    """Return the paths that were on the cloth before: those of the zones that are done."""
    return already_sewn(quilt.done.values())


def relief_of_top(
    top: Top,
    lines: Sequence[Line],
    batting: Batting,
    *,
    done: Sequence[FloatArray] = (),
    window: Box | None = None,
    step_mm: float | None = None,
) -> Relief:
    """Return how the cloth of a top stands up, in a window or the whole of it; what is no cloth lies flat."""
    loft, far = springs(batting)
    left, upper, width, height = window or (0.0, 0.0, *top.size)
    step = step_mm or grid_step(width, height)
    edge = [seam.path for seam in top.seams if seam.b is None] or [
        close_ring(ring) for patch in top.patches for ring in rings(patch.outline)
    ]
    held = [*(line.path for line in lines), *done, *edge]
    # whole cells more on every side, as far as stitching out there still pulls, and a range past the edge of the top
    before = [math.ceil(min(FAR * far, far + max(0, x)) / step) for x in (left, upper)]
    beyond = [
        math.ceil(min(FAR * far, far + max(0, whole - x - long)) / step)
        for whole, x, long in zip(top.size, (left, upper), (width, height))
    ]
    cols, rows = (max(2, math.ceil(long / step - 1e-6)) for long in (width, height))
    about = (
        left - before[0] * step,
        upper - before[1] * step,
        (before[0] + cols + beyond[0]) * step,
        (before[1] + rows + beyond[1]) * step,
    )
    low, high = np.array(about[:2]), np.array(about[:2]) + np.array(about[2:])
    near = [p for p in held if len(p) > 1 and (p.max(axis=0) >= low).all() and (p.min(axis=0) <= high).all()]
    field = relief(near, about, loft_mm=loft, range_mm=far, step_mm=step)
    if edge:
        down, right, inside = inside_grid(edge, field)
        cloth = np.zeros(field.height.shape, dtype=bool)
        cloth[down, right] = inside
        for grid in (field.height, field.across, field.down):
            grid[~cloth] = 0
    part = np.s_[before[1] : before[1] + rows, before[0] : before[0] + cols]
    return replace(
        field, left=left, top=upper, height=field.height[part], across=field.across[part], down=field.down[part]
    )


def relief_of_quilt(quilt: Finished, *, window: Box | None = None, px_a_mm: float | None = None) -> Relief:
    """Return the relief of a quilt for a picture: one cell a pixel.

    Raises
    ------
    OutputError
        The picture would have more than `MOST_PX` pixels.
    """
    _, _, width, height = window or (0.0, 0.0, *quilt.top.size)
    scale = px_a_mm or PICTURE_PX / max(width, height)
    if width * height * scale**2 > MOST_PX:
        raise OutputError(
            f"would have {width * scale:.0f} x {height * scale:.0f} pixels; must have at most {MOST_PX:,}",
            key="picture",
            what_to_do="Show a smaller part, or fewer pixels a millimetre.",
        )
    return relief_of_top(
        quilt.top, quilt.lines, quilt.plan.batting, done=sewn_before(quilt), window=window, step_mm=1 / scale
    )


def cloth_of(quilt: Finished, *, window: Box | None = None, px_a_mm: float | None = None) -> Pixels:
    """Return the quilted cloth as pixels, ``(rows, cols, 3)`` uint8.

    Parameters
    ----------
    quilt : Finished
        As `plumeline.stitch` returns it.
    window : (left, top, width, height), optional
        The part of the top to show, mm; the whole when left out.
    px_a_mm : float, optional
        Pixels a millimetre; when left out the longer side has `PICTURE_PX`.

    Returns
    -------
    Pixels
        Red, green, blue; the first row is the top one.

    Raises
    ------
    OutputError
        The picture would have more than `MOST_PX` pixels.

    Examples
    --------
    >>> import plumeline
    >>> from plumeline.plan import parse_plan
    >>> plan = parse_plan('''
    ... [top.blocks]
    ... setting = "straight"
    ... size = 6
    ... rows = [["block"]]
    ... [[zone]]
    ... name = "block"
    ... patches = ["*"]
    ... fill = { kind = "crosshatch", spacing = 1 }
    ... ''')
    >>> quilt = plumeline.stitch(plan)
    >>> cloth_of(quilt, window=(0.0, 0.0, 50.0, 25.0), px_a_mm=2.0).shape
    (50, 100, 3)
    """
    return pixels_on(quilt, relief_of_quilt(quilt, window=window, px_a_mm=px_a_mm))


def pixels_on(quilt: Finished, field: Relief) -> Pixels:
    """Return the cloth of a quilt on a relief of it."""
    threads = {name: thread.colour for name, thread in quilt.plan.threads.items()}
    return cloth_pixels(quilt.top, quilt.lines, field, threads=threads, done=sewn_before(quilt))


def cloth_png(quilt: Finished, *, window: Box | None = None, px_a_mm: float | None = None) -> bytes:
    """Return `cloth_of` as a PNG file that states its true size; no tape, no words.

    Parameters
    ----------
    quilt : Finished
        As `plumeline.stitch` returns it.
    window : (left, top, width, height), optional
        The part of the top to show, mm; the whole when left out.
    px_a_mm : float, optional
        Pixels a millimetre; when left out the longer side has `PICTURE_PX`.

    Returns
    -------
    bytes
        The file.

    Raises
    ------
    OutputError
        The picture would have more than `MOST_PX` pixels.

    Examples
    --------
    >>> import plumeline
    >>> from plumeline.plan import parse_plan
    >>> plan = parse_plan('''
    ... [top.blocks]
    ... setting = "straight"
    ... size = 6
    ... rows = [["block"]]
    ... [[zone]]
    ... name = "block"
    ... patches = ["*"]
    ... fill = { kind = "crosshatch", spacing = 1 }
    ... ''')
    >>> quilt = plumeline.stitch(plan)
    >>> png = cloth_png(quilt, window=(0.0, 0.0, 50.0, 25.0), px_a_mm=2.0)
    >>> png[1:4], int.from_bytes(png[16:20]), int.from_bytes(png[20:24])  # its head: width and height in pixels
    (b'PNG', 100, 50)
    """
    field = relief_of_quilt(quilt, window=window, px_a_mm=px_a_mm)
    return png_bytes(pixels_on(quilt, field), px_a_mm=1 / field.step_mm)


def cloth_light(quilt: Finished) -> tuple[bytes, Box]:
    """Return the light on the whole of a quilt as a JPEG file, and where it lies; see `light_pixels`."""
    field = relief_of_top(quilt.top, quilt.lines, quilt.plan.batting, done=sewn_before(quilt))
    rows, cols = field.height.shape
    return jpeg_bytes(light_pixels(field), quality=LIGHT_QUALITY), (
        field.left,
        field.top,
        cols * field.step_mm,
        rows * field.step_mm,
    )
