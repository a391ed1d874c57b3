"""A quilt as the page draws it: one block of bytes, names and figures in front, coordinates as 32-bit floats."""

from __future__ import annotations

import base64
import json
import struct
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from ..drawing.raster import jpeg_bytes, resized
from ..geometry import close_ring, rings
from ..model import FloatArray, Needle, NeedlePoints, Photo, Top
from ..pipeline.pictures import caption_of
from ..pipeline.result import Report
from ..quilt import Drawn, Quilt
from ..units import format_length

__all__ = ["pack"]

PLAIN_COLOUR = "#efe7d6"
"""A patch whose fabric nobody told."""

PHOTO_PX = 2000
"""Longer side of a photo on the page: it stays sharp to about four times the size of the screen's first view."""


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


def pack(top: Top, drawn: Drawn | None, quilt: Quilt | None) -> bytes:
    """Return a quilt as bytes: length of the head, the head as JSON, the coordinates.

    Parameters
    ----------
    top : Top
        The pieced top.
    drawn : Drawn, optional
        Filled zones, shown as strokes while there is no quilt.
    quilt : Quilt, optional
        The joined quilt: its needle points are shown, its figures and findings told.

    Returns
    -------
    bytes
        Four bytes little-endian: how long the head is (a multiple of 4); the head; float32 x and y in mm.
    """
    floats = _Floats()
    width, height = top.size
    zones = quilt.zones if quilt else drawn.zones if drawn else ()
    head: dict[str, Any] = {
        "size": [width, height],
        "patches": [
            {"name": p.name, "colour": p.colour or PLAIN_COLOUR, "rings": [floats.add(r) for r in _rings(p.outline)]}
            for p in top.patches
        ],
        "photo": None if top.photo is None else {"size": list(top.photo.size), "source": _photo_source(top.photo)},
        "seams": [floats.add(seam.path) for seam in top.seams],
        "zones": [
            {
                "name": zone.name,
                "part": zone.part,
                "label": zone.label,
                "area": zone.outline.area,
                "rings": [floats.add(r) for r in _rings(zone.outline)],
                "inside": [floats.add(r) for r in _rings(zone.region)],
            }
            for zone in zones
        ],
        "fences": [floats.add(fence.path) for zone in zones for fence in zone.fences],
        "joined": quilt is not None,
        "pieces": [],
        "colours": [],
        "stops": [],
        "words": [],
        "findings": [],
    }
    if quilt is not None:
        plan = quilt.plan
        colours = sorted({line.thread for line in quilt.lines})
        head["colours"] = [plan.threads[name].colour for name in colours]
        thread = [colours.index(line.thread) for line in quilt.lines]
        for points, first in zip(quilt.points, _firsts(quilt)):
            head["pieces"] += [[*floats.add(xy), z, n, thread[n]] for xy, z, n in _pieces(points, first)]
            head["stops"] += points.xy[points.kind == Needle.STOP].round(2).tolist()
        head |= _told(quilt.report, plan.units)
    elif drawn is not None:
        head["colours"] = [thread.colour for thread in drawn.plan.threads.values()]
        names = list(drawn.plan.threads)
        for place, filled in enumerate(drawn.filled):
            for s in filled.strokes:
                path = close_ring(s.path) if s.closed else s.path
                head["pieces"].append([*floats.add(path), place, -1, names.index(s.thread)])
    return _bytes(head, floats)


@lru_cache(maxsize=2)
def _photo_source(photo: Photo) -> str:
    """Return a photo as an address that holds it, small enough to go with the rest."""
    rows, cols = photo.pixels.shape[:2]
    share = min(1.0, PHOTO_PX / max(rows, cols))
    pixels = resized(photo.pixels, max(1, round(cols * share)), max(1, round(rows * share)))
    return "data:image/jpeg;base64," + base64.b64encode(jpeg_bytes(pixels)).decode()


def _rings(region: Any) -> list[FloatArray]:
    return [close_ring(ring) for ring in rings(region)]


def _firsts(quilt: Quilt) -> list[list[int]]:
    """Return for each reach the numbers, among all lines, of its lines in order."""
    return [[n for n, line in enumerate(quilt.lines) if line.reach == points.reach] for points in quilt.points]


def _pieces(points: NeedlePoints, numbers: Sequence[int]) -> Iterator[tuple[FloatArray, int, int]]:
    """Yield runs of stitches of one zone and line; each begins where the one before it in its line ended."""
    sewn = np.flatnonzero((points.kind == Needle.STITCH) | (points.kind == Needle.TIE))
    if not len(sewn):
        return
    zone, line = points.zone[sewn], points.line[sewn]
    breaks = np.flatnonzero((np.diff(zone) != 0) | (np.diff(line) != 0)) + 1
    for start, end in zip([0, *breaks], [*breaks, len(sewn)]):
        joins = start > 0 and line[start] == line[start - 1]
        run = sewn[start - joins : end]
        if len(run) > 1:
            yield points.xy[run], int(zone[start]), numbers[int(line[start])]


def _told(report: Report, unit: str) -> dict[str, Any]:
    """Return a report as she reads it."""
    t = report.totals
    hours, minutes = divmod(round(t.minutes), 60)
    return {
        "title": report.title,
        "words": list(caption_of(report)),
        "figures": [
            ["continuous lines", f"{t.lines:,}"],
            ["time at the machine", f"{hours} h {minutes:02d} min"],
            ["stitches", f"{t.stitches:,}"],
            ["thread on top", f"{t.needle_thread_m / 0.9144:,.0f} yd"],
            ["bobbins", "not known" if t.bobbins is None else f"{t.bobbins}"],
            ["widest gap", format_length(t.widest_gap_mm, unit)],
        ],
        "rows": [
            {
                "label": row.name + (f", {row.part}" if row.part else ""),
                "fill": row.fill,
                "stitches": row.stitches,
                "gap": format_length(row.widest_gap_mm, unit),
                "tight": round(row.inches_per_square_inch, 2),
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
