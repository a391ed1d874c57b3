"""A quilt as the page draws it: one block of bytes, names and figures in front, coordinates as 32-bit floats."""

from __future__ import annotations

import base64
import json
import struct
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from ..drawing.raster import Pixels, jpeg_bytes, resized
from ..geometry import close_ring, rings
from ..model import Fabric, Filled, FloatArray, Photo, Thread, Top, Zone
from ..output._colours import LINES, START, STOP
from ..output.cloth import fabric_colours
from ..output.sheet import line_numbers
from ..pipeline.cloth import sewn_before
from ..pipeline.pictures import caption_of
from ..pipeline.price import price_of
from ..pipeline.result import Report
from ..plan import Plan
from ..quilt import Drawn, Quilt
from ..units import format_length, format_thread
from .played import pieces, stops

__all__ = ["pack", "pack_fresh"]

THREAD = "#5b4a35"
"""Thread whose colour is not known yet."""

PHOTO_PX = 2000
"""Longer side of a photo on the page: it stays sharp to about four times the size of the screen's first view."""

PRINT_PX = 1000
"""Longer side of one repeat of a printed fabric."""


class _Floats:
    """Coordinates put one behind the other; each path is known by where it begins and how many points it has."""

    def __init__(self) -> None:
        self.parts: list[FloatArray] = []
        self.count = 0

    def add(self, path: FloatArray) -> list[int]:
        at = [self.count, len(path)]
        self.parts.append(path)
        self.count += len(path)
        return at


def pack(
    top: Top,
    drawn: Drawn | None,
    quilt: Quilt | None,
    *,
    partial: Sequence[tuple[Zone, Filled]] = (),
) -> bytes:
    """Return a quilt as bytes: length of the head, the head as JSON, the coordinates.

    Parameters
    ----------
    top : Top
        The pieced top.
    drawn : Drawn, optional
        Filled zones, shown as strokes while there is no quilt.
    quilt : Quilt, optional
        The joined quilt: its needle points are shown, its figures and findings told.
    partial : sequence of (Zone, Filled)
        What is filled so far, shown while there is nothing else.

    Returns
    -------
    bytes
        Four bytes little-endian: how long the head is (a multiple of 4); the head; float32 x and y in mm.
    """
    floats = _Floats()
    width, height = top.size
    zones = quilt.zones if quilt else drawn.zones if drawn else tuple(zone for zone, _ in partial)
    bare = drawn.bare if drawn else ()
    prints = list(dict.fromkeys(patch.fabric for patch in top.patches if patch.fabric is not None))
    head: dict[str, Any] = {
        "size": [width, height],
        "patches": [
            {
                "name": p.name,
                "colour": colour,
                "print": -1 if p.fabric is None else prints.index(p.fabric),
                "rings": [floats.add(r) for r in _rings(p.outline)],
            }
            for p, colour in zip(top.patches, fabric_colours(top))
        ],
        "prints": [{"size": [fabric.width_mm, fabric.height_mm], "source": _print_source(fabric)} for fabric in prints],
        "photo": None if top.photo is None else {"size": list(top.photo.size), "source": _photo_source(top.photo)},
        "seams": [floats.add(seam.path) for seam in top.seams],
        "zones": [
            {
                "name": zone.name,
                "part": zone.part,
                "number": zone.number,
                "open": place >= len(zones),
                "label": zone.label,
                "area": zone.outline.area,
                "rings": [floats.add(r) for r in _rings(zone.outline)],
                "inside": [floats.add(r) for r in _rings(zone.region)],
            }
            for place, zone in enumerate((*zones, *bare))
        ],
        "fences": [floats.add(fence.path) for zone in zones for fence in zone.fences],
        "joined": quilt is not None,
        "pieces": [],
        "colours": [],
        "words": [],
        "findings": [],
    }
    if quilt is not None:
        head |= _as_sewn(quilt, floats)
    else:
        every = drawn.filled if drawn else tuple(filled for _, filled in partial)
        strokes, head["colours"] = _strokes(every, drawn.plan.threads if drawn else {}, floats)
        head["pieces"] = [[*piece, place, -1, thread] for piece, place, thread in strokes]
    return _bytes(head, floats)


def _as_sewn(quilt: Quilt, floats: _Floats) -> dict[str, Any]:
    """Return what is told of a joined quilt: its stitching in pieces, its lines and stops, its report."""
    plan, old = quilt.plan, sewn_before(quilt)
    colours = sorted({line.thread for line in quilt.lines} | ({"main"} if old else set()))
    thread = [colours.index(line.thread) for line in quilt.lines]
    sewn = [[*floats.add(xy), zone, line, thread[line], kind] for xy, zone, line, kind in pieces(quilt)]
    # what was on the cloth before belongs to no line: it is seen, and not played
    sewn += [[*floats.add(path), -1, -1, colours.index("main"), 0] for path in old if len(path) > 1]
    return {
        "colours": [plan.threads[name].colour for name in colours],
        "pieces": sewn,
        "numbers": line_numbers(quilt.lines),
        "events": stops(quilt),
        "looks": {**LINES, "start": START, "stop": STOP},
        **_told(quilt.report, plan),
    }


def _strokes(
    every: Sequence[Filled], threads: Mapping[str, Thread], floats: _Floats
) -> tuple[list[tuple[list[int], int, int]], list[str]]:
    """Return each stroke of filled zones with its place and its thread's number, and the threads' colours."""
    names = list(dict.fromkeys(s.thread for filled in every for s in filled.strokes))
    strokes = [
        (floats.add(close_ring(s.path) if s.closed else s.path), place, names.index(s.thread))
        for place, filled in enumerate(every)
        for s in filled.strokes
    ]
    return strokes, [threads[name].colour if name in threads else THREAD for name in names]


def pack_fresh(drawn: Drawn, partial: Sequence[tuple[Zone, Filled]]) -> bytes:
    """Return what was filled anew as bytes like those of `pack`: labels of the zones, their strokes, their colours."""
    floats = _Floats()
    strokes, colours = _strokes([filled for _, filled in partial], drawn.plan.threads, floats)
    pieces = [[*piece, place, thread] for piece, place, thread in strokes]
    return _bytes({"labels": [zone.label for zone, _ in partial], "colours": colours, "pieces": pieces}, floats)


@lru_cache(maxsize=2)
def _photo_source(photo: Photo) -> str:
    """Return a photo as an address that holds it, small enough to go with the rest."""
    return _picture_source(photo.pixels, PHOTO_PX, quality=80)


@lru_cache(maxsize=32)
def _print_source(fabric: Fabric) -> str:
    """Return one repeat of a printed fabric as an address that holds it."""
    return _picture_source(fabric.pixels, PRINT_PX, quality=90)


def _picture_source(pixels: Pixels, most_px: int, *, quality: int) -> str:
    """Return a picture as an address that holds it, its longer side at most so long."""
    rows, cols = pixels.shape[:2]
    share = min(1.0, most_px / max(rows, cols))
    small = resized(pixels, max(1, round(cols * share)), max(1, round(rows * share)))
    return "data:image/jpeg;base64," + base64.b64encode(jpeg_bytes(small, quality=quality)).decode()


def _rings(region: Any) -> list[FloatArray]:
    return [close_ring(ring) for ring in rings(region)]


def _told(report: Report, plan: Plan) -> dict[str, Any]:
    """Return a report as she reads it."""
    totals, loft, unit = report.totals, report.loft, plan.units
    price = price_of(report, plan.prices)
    finished = (format_length(v, unit, per_inch=4) for v in (loft.finished_width_mm, loft.finished_height_mm))
    hours, minutes = divmod(round(totals.minutes), 60)
    return {
        "title": report.title,
        "unit": unit,
        "words": list(caption_of(report, unit)),
        "figures": [
            ["continuous lines", f"{totals.lines:,}"],
            ["time at the machine", f"{hours} h {minutes:02d} min"],
            ["stitches", f"{totals.stitches:,}"],
            ["thread on top", format_thread(1000 * totals.needle_thread_m, unit, digits=0)],
            ["bobbins", "not known" if totals.bobbins is None else f"{totals.bobbins}"],
            ["widest gap", format_length(totals.widest_gap_mm, unit)],
            ["draw-in, about", f"{loft.draw_in_percent:.1f} %"],
            ["finished size, about", " x ".join(finished)],
            *([["price", str(price)]] if price else []),
        ],
        "rows": [
            {
                "label": row.name + (f", {row.part}" if row.part else ""),
                "fill": row.fill,
                "stitches": row.stitches,
                "gap": format_length(row.widest_gap_mm, unit),
                "tight": round(row.seen_per_square_inch, 2),
            }
            for row in report.zones
        ],
        "findings": [
            {"severity": f.severity, "zone": f.zone, "text": f.text, "todo": f.what_to_do, "code": f.code}
            for f in dict.fromkeys(report.findings)
        ],
    }


def _bytes(head: dict[str, Any], floats: _Floats) -> bytes:
    text = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    xy = np.concatenate(floats.parts) if floats.parts else np.zeros((0, 2))
    return struct.pack("<I", len(text)) + text + xy.astype("<f4").tobytes()
