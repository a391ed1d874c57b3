"""Draw the pictures of the feather's page: how it is laid out in plain shapes, and each setting at a few values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from shapely import Polygon

from plumeline import fill
from plumeline.geometry import close_ring, rings
from plumeline.output.png import png_of

IN = 25.4
FOLDER = Path(__file__).parent / "fills" / "feather"

WIDE_PX, CELL_PX = 520, 260
"""Width of a picture of one shape, and of each value's in a row."""

COLOURS = 32


def square(side: float) -> Polygon:
    """Return a square of so many inches."""
    return Polygon(np.array([(0, 0), (side, 0), (side, side), (0, side)]) * IN)


def turned(count: int, radii: Sequence[float]) -> Polygon:
    """Return a round shape of so many corners, at these radii in turn (inches)."""
    at = np.linspace(0, 2 * np.pi, count, endpoint=False) - np.pi / 2
    far = np.resize(np.asarray(radii), count) * IN
    return Polygon(np.column_stack([np.cos(at), np.sin(at)]) * far[:, None])


def with_hole(outer: float, inner: float) -> Polygon:
    """Return a square with a square opening in its middle, sides in inches."""
    edge = (outer - inner) / 2 * IN
    return Polygon(square(outer).exterior.coords, [np.array(square(inner).exterior.coords)[:, :2] + edge])


ELL = Polygon(np.array([(0, 0), (6, 0), (6, 9), (15, 9), (15, 15), (0, 15)]) * IN)
STRIP = Polygon(np.array([(0, 0), (35, 0), (35, 6), (0, 6)]) * IN)
TRIANGLE = Polygon(np.array([(0, 8.5), (8.5, 0), (17, 8.5)]) * IN)

SHAPES: dict[str, tuple[Polygon, dict[str, Any]]] = {
    "corners": (square(14), {"spines": "corners"}),
    "sides": (square(14), {"spines": "sides"}),
    "diagonal": (square(12), {"spines": "diagonal"}),
    "along-l": (ELL, {"spines": "along"}),
    "setting-triangle": (TRIANGLE, {"spines": "along"}),
    "strip": (STRIP, {"spines": "wave"}),
    "border": (with_hole(36, 24), {"spines": "wave"}),
    "wreath": (turned(96, [7]), {"spines": "wreath"}),
    "hole": (with_hole(14, 4), {"spines": "wreath"}),
    "meet": (square(14), {"spines": "corners", "centre": "meet"}),
    "rosette": (square(14), {"spines": "corners", "centre": "rosette"}),
    "apart": (square(12), {"spines": "diagonal", "style": "apart"}),
}
"""What is drawn, and how it is set."""

VALUES: dict[str, tuple[Polygon, dict[str, Any], tuple[Any, ...]]] = {
    "plume": (square(8), {}, ("1/2 in", "3/4 in", "1 1/4 in")),
    "lean": (square(8), {}, (0.0, 0.75, 1.2)),
    "stretch": (square(8), {}, (0.5, 1.0, 1.5)),
    "style": (square(8), {}, ("bump-back", "apart")),
    "gap": (square(8), {"style": "apart"}, ("1/16 in", "1/8 in", "1/4 in")),
    "belly": (square(8), {"style": "apart"}, (0.0, 0.1, 0.2)),
    "clearance": (square(8), {}, ("1/32 in", "1/8 in", "1/4 in")),
    "variation": (square(8), {}, (0.0, 0.1, 0.5)),
    "double_where_wide": (turned(8, [7, 3.5]), {}, (False, True)),
    "centre": (square(12), {"spines": "corners"}, ("ring", "rosette", "meet")),
}
"""Settings at a few values: the shape, what else is set, the values."""


def drawn(shape: Polygon, settings: Mapping[str, Any]) -> str:
    """Return a feather in a shape as SVG, with its outline."""
    lines = "".join(_path(s.path, closed=s.closed) for s in fill("feather", shape, **settings).strokes)
    edge = "".join(_path(ring, closed=True) for ring in rings(shape))
    return (
        f'<path d="{edge}" stroke="#c8c2b4" stroke-width="0.6"/>'
        f'<path d="{lines}" stroke="#27364a" stroke-width="{0.0045 * max(np.ptp(shape.exterior.xy, axis=1)):.2f}"/>'
    )


def picture(cells: Sequence[str], wide: float, high: float, width_px: int, captions: Sequence[str] = ()) -> bytes:
    """Return drawings side by side as a PNG, captions below; each is ``wide`` by ``high`` mm, its middle at 0, 0."""
    room, letters = 0.03 * wide, 0.06 * wide
    across, down = len(cells) * wide + room, high + room + (1.8 * letters if captions else 0.0)
    middles = [room / 2 + (k + 0.5) * wide for k, _ in enumerate(cells)]
    groups = "".join(
        f'<g transform="translate({at} {(high + room) / 2})">{cell}</g>' for at, cell in zip(middles, cells)
    )
    groups += "".join(
        f'<text x="{at}" y="{high + room + letters}" font-family="sans-serif" font-size="{letters}" '
        f'text-anchor="middle" fill="#27364a">{words}</text>'
        for at, words in zip(middles, captions)
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{across}mm" height="{down}mm" viewBox="0 0 {across} {down}" '
        f'fill="none" stroke-linejoin="round" stroke-linecap="round"><rect width="{across}" height="{down}" '
        f'fill="#fbfaf5"/>{groups}</svg>'
    )
    small = BytesIO()
    Image.open(BytesIO(png_of(svg, width_px))).convert("RGB").quantize(COLOURS).save(small, "PNG", optimize=True)
    return small.getvalue()


def centred(shape: Polygon) -> tuple[Polygon, float, float]:
    """Return a shape with the middle of its box at 0, 0, and the size of that box."""
    left, top, right, bottom = shape.bounds
    middle = np.array([(left + right) / 2, (top + bottom) / 2])
    moved = [np.array(ring.coords)[:, :2] - middle for ring in (shape.exterior, *shape.interiors)]
    return Polygon(moved[0], moved[1:]), right - left, bottom - top


def _path(path: Any, *, closed: bool) -> str:
    points = close_ring(path) if closed else path
    return "M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points)


def main() -> None:
    """Write every picture."""
    for name, (shape, settings) in SHAPES.items():
        middle, wide, high = centred(shape)
        (FOLDER / f"{name}.png").write_bytes(picture([drawn(middle, settings)], wide, high, WIDE_PX))
    for name, (shape, settings, values) in VALUES.items():
        middle, wide, high = centred(shape)
        cells = [drawn(middle, {**settings, name: value}) for value in values]
        captions = [f"{name} = {str(value).lower()}" for value in values]
        stem = "double" if name == "double_where_wide" else name
        (FOLDER / f"setting-{stem}.png").write_bytes(picture(cells, 1.04 * wide, high, CELL_PX * len(values), captions))


if __name__ == "__main__":
    main()
