"""The pictures of a quilt: the cloth as it will look, the path as it is sewn; the whole top and one space close up."""

from __future__ import annotations

import numpy as np

from ..geometry import arc_lengths, point_at
from ..lines import rest_places
from ..model import FloatArray, Zone
from ..output.cloth import framed_cloth
from ..output.path_picture import Window, path_svg
from ..output.png import png_of
from ..tolerances import SAME_MM
from ..units import Unit, format_length, format_thread
from .cloth import PICTURE_PX, pixels_on, relief_of_quilt, sewn_before
from .result import Finished, Report, Totals

__all__ = [
    "caption_of",
    "cloth_picture",
    "fewest_words",
    "path_picture",
    "pictures_of",
    "rests_of",
    "spoken",
]

CLOSE_UP_MARGIN_MM = 20.0
"""How much of the neighbours a close-up of one zone shows."""


def pictures_of(quilt: Finished, stem: str) -> dict[str, bytes]:
    """Return the pictures by file name: cloth first, then path; the first space close up in both kinds."""
    files: dict[str, bytes] = {}
    for name, zone in ((stem, None), *((f"{stem}-close-up", zone) for zone in quilt.zones[:1])):
        path = path_picture(quilt, zone=zone)
        files[f"{name}-cloth.png"] = cloth_picture(quilt, zone=zone)
        files[f"{name}-path.png"] = png_of(path, PICTURE_PX)
        files[f"{name}-path.svg"] = path.encode()
    return files


def cloth_picture(quilt: Finished, *, zone: Zone | None = None) -> bytes:
    """Return the cloth picture of the whole top, or of one zone with a little of its neighbours, as PNG."""
    view = None if zone is None else _window(zone)
    field = relief_of_quilt(quilt, window=view)
    caption = (_finished(quilt), _work(quilt.report, quilt.plan.units)) if zone is None else _space(quilt, zone)
    return framed_cloth(pixels_on(quilt, field), field, title=_title(quilt, zone), caption=caption)


def path_picture(quilt: Finished, *, zone: Zone | None = None) -> str:
    """Return the path picture of the whole top, or of one zone with a little of its neighbours, as SVG text."""
    return path_svg(
        quilt.top,
        quilt.lines,
        title=_title(quilt, zone),
        caption=caption_of(quilt.report, quilt.plan.units) if zone is None else _space(quilt, zone),
        window=None if zone is None else Window(*_window(zone)),
        done=sewn_before(quilt),
        rests=[at for at, _ in rests_of(quilt)],
        shown_seams=[
            (np.array(row.seam_mm).reshape(-1, 2), np.array(row.line_mm).reshape(-1, 2)) for row in quilt.report.shown
        ],
    )


def _title(quilt: Finished, zone: Zone | None) -> str:
    if zone is not None:
        return f"{quilt.report.title}: {zone.label}"
    width, height = (format_length(v, quilt.plan.units) for v in quilt.top.size)
    return f"{quilt.report.title}, {width} x {height}"


def _window(zone: Zone) -> tuple[float, float, float, float]:
    left, top, right, bottom = zone.outline.bounds
    margin = CLOSE_UP_MARGIN_MM
    return left - margin, top - margin, right - left + 2 * margin, bottom - top + 2 * margin


def rests_of(quilt: Finished) -> list[tuple[FloatArray, int]]:
    """Return place and zone of every rest of a plan guided by hand or ruler; none for a computer, which needs none."""
    if quilt.plan.machine.guided == "computer":
        return []
    out: list[tuple[FloatArray, int]] = []
    for line in quilt.lines:
        at = rest_places(line)
        ends = arc_lengths(line.path)[[span.end for span in line.spans]]
        span = np.minimum(np.searchsorted(ends, at - SAME_MM), len(line.spans) - 1)
        out += [(point, line.spans[k].zone) for point, k in zip(point_at(line.path, at), span.tolist())]
    return out


def _finished(quilt: Finished) -> str:
    """Return the finished size in words, as the estimate that it is."""
    loft = quilt.report.loft
    width, height = (
        format_length(v, quilt.plan.units, per_inch=4) for v in (loft.finished_width_mm, loft.finished_height_mm)
    )
    return f"By estimate the quilting draws it in to {width} x {height} ({loft.batting} batting, before washing)."


def _space(quilt: Finished, zone: Zone) -> tuple[str, ...]:
    """Return the figures of one space in plain words."""
    at, unit = (zone.name, zone.part, zone.number), quilt.plan.units
    row = next(r for r in quilt.report.zones if (r.name, r.part, r.number) == at)
    loft = next(r for r in quilt.report.loft.zones if (r.name, r.part, r.number) == at)
    alike = sum((r.name, r.part) == at[:2] for r in quilt.report.zones)
    which = f"One of {alike} spaces, each with " if alike > 1 else "With "
    stands = f" The motif stands {loft.stands_up:.1f} times as high as its ground." if loft.stands_up else ""
    return (
        f"{which}{row.fill}: this one has {row.stitches:,} stitches, "
        f"{format_thread(row.sewn_mm, unit, in_full=True)} sewn, "
        f"{row.inches_per_square_inch:.1f} in of line a square inch, "
        f"widest gap {format_length(row.widest_gap_mm, unit)}.",
        f"By estimate it draws in {loft.draw_in_percent:.1f} %.{stands}",
    )


def fewest_words(totals: Totals, *, reaches: bool) -> str:
    """Return how many lines there must be, as far as that is proven: with these fills, reaches and bobbins."""
    stops, fewest = totals.planned_stops, totals.fewest_lines_possible
    given = "these fills" + (" and reaches" if reaches else "")
    if totals.lines - stops <= fewest:
        return f"with {given} {'and this bobbin ' if stops else ''}none fewer are possible"
    return f"at the fewest {fewest} with {given}{', stops for the bobbin not counted' if stops else ''}"


def caption_of(report: Report, unit: Unit) -> tuple[str, ...]:
    """Return the report in two or more lines of plain words, in the unit of its plan."""
    totals = report.totals
    stops = totals.planned_stops
    if not totals.lines and not report.done.zones:
        return ("Nothing is quilted yet.",)
    pieces = _some(totals.lines, "continuous line")
    if stops:
        pieces += f", {stops} of them only because a bobbin is empty"
    said = (
        f"{pieces} ({fewest_words(totals, reaches=bool(report.reaches))}).",
        _work(report, unit),
    )
    reaches, done = len(report.reaches), report.done.zones
    more = (
        (f"Sewn in {reaches} reaches: each has its own stitch file and sheet; line 2-1 is the first of reach 2.",)
        if reaches
        else ()
    )
    old = f"{_some(done, 'space')} {'are' if done != 1 else 'is'} stitched already (paler) and in no stitch file."
    return (*said, *more, *((old,) if done else ()))


def _work(report: Report, unit: Unit) -> str:
    totals = report.totals
    return (
        f"About {spoken(totals.minutes)} at the machine{_moving(report)}, {totals.stitches:,} stitches, "
        f"{format_thread(1000 * totals.needle_thread_m, unit, digits=0, in_full=True)} of thread on top"
        + ("." if totals.bobbins is None else f", {_some(totals.bobbins, 'bobbin')}.")
    )


def _some(count: int, what: str) -> str:
    return f"{count:,} {what}{'s' if count != 1 else ''}"


def _moving(report: Report) -> str:
    moves = len(report.reaches) - 1
    if moves < 1:
        return ""
    times = "once" if moves == 1 else f"{moves} times"
    return f" ({spoken(report.totals.moving_minutes)} of it to move the quilt {times})"


def spoken(minutes: float) -> str:
    """Return a time in hours and minutes, as it is said."""
    hours, rest = divmod(round(minutes), 60)
    words = [_some(n, unit) for n, unit in ((hours, "hour"), (rest, "minute")) if n]
    return " ".join(words) or "a minute"
