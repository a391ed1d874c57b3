"""The map of a top: every patch, seam, guide and zone with its name where it lies, on one page, with a list beside.

The page is a sheet of paper across, in millimetres; the top is fitted to it. Colours tell zones apart; what is in no
zone, or in one without a fill, is hatched.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias
from xml.sax.saxutils import escape

import numpy as np
from shapely import Polygon

from ..drawing.raster import jpeg_bytes
from ..geometry import clip_paths, rings
from ..model import FloatArray, Path, Top, as_path
from ..specs import families_of
from ._frame import Window
from ._map_names import (
    LETTER,
    MapBlock,
    Place,
    label_behind,
    large_blocks,
    names_in_block,
    patch_names,
)
from ._names import visible
from ._page import Words, number, path_data, text, wrapped
from ._photo import faded, photo_image, photo_part
from .pdf import PdfPages

__all__ = ["MapBlock", "MapZone", "map_pdf", "map_svg"]

PAGE_MM = (279.4, 215.9)
"""Letter paper across (ANSI/ASME Y14.1, from memory); it lies on A4 with a little white to spare."""

MARGIN_MM, HEAD_MM, LIST_MM = 8.0, 14.0, 74.0
"""White round the page, the strip for the title, the column for the list."""

COLOURS = (
    "#f2c9b8", "#bcd7c6", "#c6cfe8", "#eddca4", "#d9c3dd", "#b7dbe0", "#e6c7cf", "#d3dcae",
    "#c9c2b4", "#f0d3a0", "#b9c9b0", "#d7bfae",
)  # fmt: skip
"""Pale, so that names read on all of them; after the last they begin again."""

PALE, CLEAR, PHOTO_PX = 0.4, 0.4, 1600
"""With a photo behind it: how much white lies over that, how much a zone's colour covers it, its longer side."""

HATCH_MM = 2.2
"""From stroke to stroke of what is open."""


@dataclass(frozen=True, slots=True, eq=False)
class MapZone:
    """A zone on the map: name, what is in it in words ("" for nothing), and the outlines of its spaces."""

    name: str
    fill: str
    spaces: tuple[FloatArray, ...]
    patches: tuple[str, ...]


_Drawn: TypeAlias = "tuple[list[_Line], list[Words]]"


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    path: Path
    closed: bool
    width: float
    colour: str | None
    fill: str | None = None
    dash: tuple[float, ...] = ()
    kind: str = "patch"
    clear: bool = False


def map_svg(top: Top, zones: Sequence[MapZone], *, title: str, blocks: Sequence[MapBlock] = ()) -> str:
    """Return the map as SVG text."""
    wide, high = (number(v) for v in PAGE_MM)
    lines, words = _items(top, zones, title, blocks)
    linked = "" if top.photo is None else ' xmlns:xlink="http://www.w3.org/1999/xlink"'
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg"{linked} width="{wide}mm" height="{high}mm" '
        f'viewBox="0 0 {wide} {high}">',
        f"<title>{escape(visible(title))}: map</title>",
        f'<rect width="{wide}" height="{high}" fill="#ffffff"/>',
    ]
    if top.photo is not None:
        scale, (x, y) = _fitted(top)
        pale = faded(top.photo, PHOTO_PX, PALE)
        image = photo_image(pale, Window(0.0, 0.0, *top.photo.size), PHOTO_PX / max(top.photo.size))
        rows.append(f'<g transform="translate({number(x)},{number(y)}) scale({scale:.8f})">{image}</g>')
    for line in lines:
        dash = f' stroke-dasharray="{" ".join(map(number, line.dash))}"' if line.dash else ""
        through = f' fill-opacity="{CLEAR}"' if line.clear and line.fill else ""
        stroke = f' stroke="{line.colour}" stroke-width="{line.width:g}"' if line.colour else ""
        rows.append(
            f'<path class="{line.kind}" fill="{line.fill or "none"}"{through}{stroke}{dash} '
            f'd="{path_data(line.path, closed=line.closed)}"/>'
        )
    rows += [
        text(w.x, w.y, w.text, w.size, bold=w.bold, anchor=w.anchor, colour=w.colour, turned=w.turned) for w in words
    ]
    return "\n".join([*rows, "</svg>"]) + "\n"


def map_pdf(top: Top, zones: Sequence[MapZone], *, title: str, blocks: Sequence[MapBlock] = ()) -> bytes:
    """Return the map as a PDF of one page."""
    pdf = PdfPages(f"{title}: map")
    pdf.page(*PAGE_MM)
    if top.photo is not None:
        scale, (x, y) = _fitted(top)
        pale = faded(top.photo, PHOTO_PX, PALE)
        seen = photo_part(pale, Window(0.0, 0.0, *top.photo.size), PHOTO_PX / max(top.photo.size))
        if seen is not None:
            width, height = (v * scale for v in top.photo.size)
            pdf.picture(jpeg_bytes(seen[0]), x, y, width, height)
    lines, words = _items(top, zones, title, blocks)
    for line in lines:
        pdf.path(
            line.path, closed=line.closed, width_mm=line.width, colour=line.colour, fill=line.fill, dash_mm=line.dash,
            clear=CLEAR if line.clear else 1.0,
        )  # fmt: skip
    for w in words:
        pdf.words(w.x, w.y, w.text, w.size, bold=w.bold, anchor=w.anchor, colour=w.colour, turned=w.turned)
    return pdf.finish()


def _items(top: Top, zones: Sequence[MapZone], title: str, blocks: Sequence[MapBlock]) -> _Drawn:
    scale, shift = _fitted(top)

    def placed(path: FloatArray) -> Path:
        return as_path(np.asarray(path) * scale + shift)

    paper = "#ffffff" if top.photo is None else None
    colour = {name: COLOURS[k % len(COLOURS)] for k, zone in enumerate(zones) for name in zone.patches}
    filled = {name for zone in zones if zone.fill for name in zone.patches}
    lines: list[_Line] = []
    words = [Words(MARGIN_MM, MARGIN_MM + 6.0, title, 5.0, True)]
    for patch in top.patches:
        shell, *holes = (placed(r) for r in rings(patch.outline))
        lines.append(_Line(shell, True, 0.12, "#8d867b", colour.get(patch.name, paper), clear=top.photo is not None))
        lines += [_Line(hole, True, 0.12, "#8d867b") for hole in holes]
        if patch.name not in filled and top.photo is None:
            lines += _hatched(patch.outline, placed, scale)
    for k, zone in enumerate(zones):
        if not zone.patches:  # laid over the seams
            shade, clear = COLOURS[k % len(COLOURS)], top.photo is not None
            lines += [_Line(placed(space), True, 0.12, None, shade, clear=clear) for space in zone.spaces]
    lines += [_Line(placed(s.path), False, 0.18, "#6f675b", kind="seam") for s in top.seams]
    for path in top.guides.values():
        lines.append(_Line(placed(path), False, 0.35, "#a02c6d", dash=(1.2, 0.9), kind="guide"))
    for zone in zones:
        lines += [_Line(placed(space), True, 0.55, "#30343b", kind="outline") for space in zone.spaces]
    labels, names = _names(top, zones, blocks, placed, scale)
    lines += labels
    words += names
    for name, path in top.guides.items():
        at = placed(path)[len(path) // 2]
        words.append(Words(float(at[0]) + 0.6, float(at[1]) - 0.6, name, 1.5, colour="#a02c6d"))
    (squares, listed), below = _list_beside(top, zones)
    lines += squares
    words += listed
    corner = (PAGE_MM[0] - MARGIN_MM - LIST_MM, below + 4.0)
    room = (LIST_MM, PAGE_MM[1] - MARGIN_MM - below - 4.0)
    for _, pieces, said in large_blocks(blocks, corner, room):
        lines += [_Line(ring, True, 0.18, "#6f675b", colour.get(name, "#ffffff")) for name, ring in pieces]
        words += said
    return lines, words


def _names(top: Top, zones: Sequence[MapZone], blocks: Sequence[MapBlock], placed: Place, scale: float) -> _Drawn:
    """Return the names on the top: of patches, of blocks and their pieces, of shapes laid over the seams."""
    in_block = {name for block in blocks for name, _, _ in block.pieces}
    words = list(patch_names([p for p in top.patches if p.name not in in_block], placed, scale))
    outlines = {patch.name: patch.outline for patch in top.patches}
    over: list[Words] = []
    for block in blocks:
        label, said = names_in_block(block, outlines, placed, scale)
        over.append(label)
        words += said
    for zone in zones:
        if not zone.patches and zone.spaces:
            ring = placed(max(zone.spaces, key=lambda space: float(np.ptp(space[:, 0]))))
            x, y = ring[int(np.argmin(ring[:, 1]))].tolist()
            over.append(Words(x, y + 0.7, zone.name, 2.1, True, "middle"))
    labels = [_Line(label_behind(w), True, 0.12, "#b5aea2", "#ffffff", kind="label") for w in over]
    return labels, [*words, *over]


def _fitted(top: Top) -> tuple[float, FloatArray]:
    """Return how the top is made to fit its page: the scale, and where its 0, 0 lies."""
    room = (PAGE_MM[0] - 3 * MARGIN_MM - LIST_MM, PAGE_MM[1] - 2 * MARGIN_MM - HEAD_MM)
    every = np.vstack([ring for p in top.patches for ring in rings(p.outline)]) if top.patches else np.zeros((1, 2))
    low, high = every.min(axis=0), every.max(axis=0)
    scale = float(min(np.array(room) / np.maximum(high - low, 1e-9)))
    return scale, np.array([MARGIN_MM, MARGIN_MM + HEAD_MM]) - low * scale


def _hatched(outline: Polygon, placed: Place, scale: float) -> Iterator[_Line]:
    """Give the strokes that hatch a patch, `HATCH_MM` apart on the page."""
    left, top, right, bottom = outline.bounds
    step, span = HATCH_MM / scale * 2**0.5, (right - left) + (bottom - top)
    tall = bottom - top
    offsets = np.arange(step / 2, span, step)
    strokes = [np.array([(left + d - tall, bottom), (left + d, top)]) for d in offsets]
    for _, piece in clip_paths(strokes, outline):
        yield _Line(placed(piece), False, 0.1, "#b5aea2", kind="open")


def _list_beside(top: Top, zones: Sequence[MapZone]) -> tuple[_Drawn, float]:
    """Return the list of zones, thinned so that it fits the page, and where it ends; what is in no zone comes last."""
    words: list[Words] = []
    lines: list[_Line] = []
    x, y = PAGE_MM[0] - MARGIN_MM - LIST_MM, MARGIN_MM + HEAD_MM + 2.0
    rows: list[tuple[str, bool, str]] = []
    for k, zone in enumerate(zones):
        spaces = len(zone.spaces)
        count = f", {spaces} spaces" if spaces != 1 else ""
        rows.append((zone.name, True, COLOURS[k % len(COLOURS)]))
        where = f"{len(zone.patches)} patches" if zone.patches else "laid over the patches"
        rows.append((f"{zone.fill or 'no fill yet'}{count}, {where}", False, ""))
    named = {name for zone in zones for name in zone.patches}
    left = [p.name for p in top.patches if p.name not in named]
    if left:
        rows.append((f"in no zone: {len(left)} patches", True, ""))
        kinds = [alike[0] if len(alike) == 1 else f"{len(alike)} {kind}" for kind, alike in families_of(left).items()]
        said = wrapped(", ".join(kinds), LIST_MM - 4.5, 2.9)
        rows += [(row + (" ..." if len(said) > 3 and k == 2 else ""), False, "") for k, row in enumerate(said[:3])]
    if top.guides:
        rows.append(
            (f"guides: {', '.join(list(top.guides)[:6])}" + (", ..." if len(top.guides) > 6 else ""), False, "")
        )
    step = min(4.4, (PAGE_MM[1] - y - MARGIN_MM) / max(len(rows), 1))
    for said, bold, colour in rows:
        size = min(0.66 * step, LIST_MM / (LETTER * max(len(said), 1)), 2.9)
        if colour:
            high = 0.8 * size
            square = np.array([(x, y - high), (x + high, y - high), (x + high, y), (x, y)])
            lines.append(_Line(as_path(square), True, 0.12, "#8d867b", colour, kind="swatch"))
        words.append(Words(x + 4.5, y, said, size, bold))
        y += step
    return (lines, words), y
