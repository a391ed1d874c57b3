"""Which files a quilt is written to, and what goes into each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np

from ..geometry import arc_lengths, point_at, rings
from ..lines import marks_in, named_marks, origin_of, rest_places
from ..model import FloatArray, Line, Reach, Zone, as_path
from ..output import Shape, Sheet, cautions_text, find_writer, report_text
from ..output.png import png_of
from ..output.preview import Window, preview_svg
from ..output.reach_sheet import ReachSheet, reach_sheet_svg
from ..output.svg import write_svg
from ..units import format_length

if TYPE_CHECKING:
    from .result import Quilt, Report

__all__ = ["caption_of", "files_of", "fill_svg", "preview_of", "reach_stem", "sheet_of", "stem_of"]

PREVIEW_PX = 1200
"""Width of the preview picture: sharp on a screen, small in a mail."""

CLOSE_UP_MARGIN_MM = 20.0
"""How much of the neighbours a close-up of one zone shows."""

REST_MARK = np.array([(0.0, -2.0), (2.0, 0.0), (0.0, 2.0), (-2.0, 0.0)])
"""A small square on its point, mm, drawn where the hands may rest."""

SAME_MM = 1e-6
"""A rest this little past the end of a stretch lies in it."""


def files_of(quilt: Quilt, formats: Sequence[str]) -> dict[str, bytes]:
    """Return the files by name: one a format (and reach), the sheets of the reaches, previews, cautions, report.

    Raises
    ------
    OutputError
        No such format, or a stitch file that did not read back equal.
    """
    stem = stem_of(quilt.plan)
    files: dict[str, bytes] = {}
    for name in formats:
        files |= _in_format(quilt, name)
    if len(quilt.reaches) > 1:
        for reach in quilt.reaches:
            files[f"{reach_stem(quilt, reach.number)}-sheet.svg"] = _reach_sheet(quilt, reach, tuple(files)).encode()
    for name, svg in _previews(quilt, stem).items():
        files[f"{name}.svg"] = svg.encode()
        files[f"{name}.png"] = png_of(svg, PREVIEW_PX)
    files[f"{stem}-read-first.txt"] = cautions_text(quilt.plan.title, tuple(files)).encode()
    files["report.json"] = report_text(replace(quilt.report, files=(*files, "report.json"))).encode()
    return files


def _in_format(quilt: Quilt, name: str) -> dict[str, bytes]:
    """Return the file of one format, or one for each reach."""
    writer, stem = find_writer(name), stem_of(quilt.plan)
    marks = named_marks(quilt.reaches)
    zero = {r.number: origin_of(r, marks)[1] for r in quilt.reaches} if len(quilt.reaches) > 1 else {}
    out: dict[str, bytes] = {}
    if writer.takes == "points":
        for points in quilt.points:
            data = writer.write(points, quilt.plan.title, origin=zero.get(points.reach))
            out[f"{reach_stem(quilt, points.reach)}{writer.suffix}"] = data
    elif writer.for_machine and zero:
        for number in sorted({line.reach for line in quilt.lines}):
            lines = _lines_of(quilt, number)
            sheet = replace(sheet_of(quilt), lines=lines, origin=zero[number])
            out[f"{reach_stem(quilt, number)}{writer.suffix}"] = writer.write(sheet)
    else:
        out[f"{stem}{writer.suffix}"] = writer.write(sheet_of(quilt))
    return out


def stem_of(plan: Any) -> str:
    """Return the name that a plan's files begin with: its own, with the option's behind it."""
    stem = PurePath(plan.file).stem
    return f"{stem}-{plan.option}" if plan.option else stem


def reach_stem(quilt: Quilt, number: int) -> str:
    """Return the name that the files of one reach begin with: ``quilt-reach-2of4``, or as all if there is only one."""
    count, stem = len(quilt.reaches), stem_of(quilt.plan)
    return f"{stem}-reach-{number}of{count}" if count > 1 else stem


def sheet_of(quilt: Quilt) -> Sheet:
    """Return what the drawn formats show: patches, seams, outlines, fences, and all lines in order."""
    shapes = [
        *(
            Shape(ring, True, "patch", colour=patch.colour)
            for patch in quilt.top.patches
            for ring in rings(patch.outline)
        ),
        *(Shape(seam.path, False, "seam") for seam in quilt.top.seams),
    ]
    new = len(quilt.zones) - len(quilt.done)
    for i, (zone, filled) in enumerate(zip(quilt.zones[:new], quilt.filled)):
        shapes += [Shape(ring, True, "outline", i) for ring in rings(zone.region)]
        shapes += [Shape(fence.path, False, "fence", i) for fence in (*zone.fences, *filled.fences)]
    shapes += [Shape(as_path(at + REST_MARK), True, "mark", zone) for at, zone in rests_of(quilt)]
    return Sheet(
        title=quilt.plan.title,
        names=tuple(zone.label for zone in quilt.zones),
        lines=quilt.lines,
        zone_of_stroke=_zone_of_stroke(quilt),
        shapes=tuple(shapes),
        size=quilt.top.size,
        done=dict(enumerate(quilt.done, start=new)),
    )


def _zone_of_stroke(quilt: Quilt) -> list[int]:
    return [i for i, f in enumerate(quilt.filled) for _ in f.strokes]


def rests_of(quilt: Quilt) -> list[tuple[FloatArray, int]]:
    """Return place and zone of every rest of a plan guided by hand or ruler; none for a computer, which needs none."""
    if quilt.plan.machine.guided == "computer":
        return []
    out: list[tuple[FloatArray, int]] = []
    zone_of_stroke = _zone_of_stroke(quilt)
    for line in quilt.lines:
        at = rest_places(line)
        ends = arc_lengths(line.path)[[span.end for span in line.spans]]
        zones = line.span_zones(zone_of_stroke)
        span = np.minimum(np.searchsorted(ends, at - SAME_MM), len(zones) - 1)
        out += [(point, zones[k]) for point, k in zip(point_at(line.path, at), span.tolist())]
    return out


def _previews(quilt: Quilt, stem: str) -> Mapping[str, str]:
    out = {f"{stem}-preview": preview_of(quilt)}
    if quilt.zones:
        out[f"{stem}-close-up"] = preview_of(quilt, zone=quilt.zones[0])
    return out


def preview_of(quilt: Quilt, *, zone: Zone | None = None) -> str:
    """Return the preview of the whole top, or of one zone with a little of its neighbours, as SVG text."""
    width, height = (format_length(v) for v in quilt.top.size)
    title, window = f"{quilt.plan.title}, {width} x {height}", None
    if zone is not None:
        left, top, right, bottom = zone.outline.bounds
        margin = CLOSE_UP_MARGIN_MM
        window = Window(left - margin, top - margin, right - left + 2 * margin, bottom - top + 2 * margin)
        title = f"{quilt.plan.title}: {zone.label}"
    return preview_svg(
        quilt.top,
        quilt.lines,
        title=title,
        caption=caption_of(quilt.report),
        threads={name: thread.colour for name, thread in quilt.plan.threads.items()},
        window=window,
        done=[run.path for stitched in quilt.done for run in stitched.runs if run.kind != "jump"],
        rests=[at for at, _ in rests_of(quilt)],
    )


def _lines_of(quilt: Quilt, number: int) -> list[Line]:
    return [line for line in quilt.lines if line.reach == number]


def _sewn_box(quilt: Quilt, number: int) -> tuple[float, float, float, float]:
    points = np.vstack([line.path for line in _lines_of(quilt, number)])
    (left, top), (right, bottom) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return left, top, right, bottom


def _reach_sheet(quilt: Quilt, reach: Reach, files: Sequence[str]) -> str:
    """Return the sheet of one reach, in plain words and with its picture."""
    marks, zone_of_stroke = marks_in(reach, named_marks(quilt.reaches)), _zone_of_stroke(quilt)
    own, later = marks_in(reach, marks, of=[reach]), marks_in(reach, marks, of=quilt.reaches[reach.number :])
    names = [zone.name for zone in quilt.zones]
    lines = _lines_of(quilt, reach.number)
    touched = [list(dict.fromkeys(names[z] for z in line.span_zones(zone_of_stroke) if z >= 0)) for line in lines]
    mine = reach_stem(quilt, reach.number)
    return reach_sheet_svg(
        ReachSheet(
            title=quilt.plan.title,
            plan=quilt.plan.file + (f" --option {quilt.plan.option}" if quilt.plan.option else ""),
            units=quilt.plan.units,
            top=quilt.top,
            reach=reach,
            reaches=quilt.reaches,
            lines=lines,
            others=[
                *(line.path for line in quilt.lines if line.reach != reach.number),
                *(run.path for stitched in quilt.done for run in stitched.runs if run.kind != "jump"),
            ],
            sewn={r.number: _sewn_box(quilt, r.number) for r in quilt.reaches if _lines_of(quilt, r.number)},
            own=own,
            later={name: at for name, at in later.items() if name not in own},
            zones=[", ".join(zones) or "travel" for zones in touched],
            files=[name for name in files if name.startswith(f"{mine}.")],
        )
    )


def caption_of(report: Report) -> tuple[str, ...]:
    """Return the report in three or more lines of plain words."""
    totals = report.totals
    stops, fewest = totals.planned_stops, totals.fewest_lines_possible
    pieces = _some(totals.lines, "continuous line")
    if stops:
        pieces += f", {stops} of them only because a bobbin is empty"
    bound = "no plan could do with fewer" if totals.lines - stops <= fewest else f"{fewest} at the fewest"
    said = (
        f"{pieces} ({bound}).",
        "Numbers are green where a line starts, red where it stops.",
        f"About {_spoken(totals.minutes)} at the machine{_moving(report)}, {totals.stitches:,} stitches, "
        f"{totals.needle_thread_m / 0.9144:,.0f} yards of thread on top"
        + ("." if totals.bobbins is None else f", {_some(totals.bobbins, 'bobbin')}."),
    )
    reaches, done = len(report.reaches), report.done.zones
    more = (
        (f"Sewn in {reaches} reaches: each has its own stitch file, and a sheet with the line numbers of that file.",)
        if reaches
        else ()
    )
    old = f"{_some(done, 'space')} {'are' if done != 1 else 'is'} stitched already (paler) and in no stitch file."
    return (*said, *more, *((old,) if done else ()))


def _moving(report: Report) -> str:
    moves = len(report.reaches) - 1
    if moves < 1:
        return ""
    times = "once" if moves == 1 else f"{moves} times"
    return f" ({_spoken(report.totals.moving_minutes)} of it to move the quilt {times})"


def _some(count: int, what: str) -> str:
    return f"{count:,} {what}{'s' if count != 1 else ''}"


def _spoken(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    words = [_some(n, unit) for n, unit in ((hours, "hour"), (rest, "minute")) if n]
    return " ".join(words) or "a minute"


def fill_svg(tried: Quilt, name: str) -> tuple[str, bytes]:
    """Return file name and content of one tried fill: SVG at true size, or a PNG of it on cloth."""
    if name.lower().endswith(".png"):
        svg = preview_svg(tried.top, tried.lines, title=tried.report.title, caption=caption_of(tried.report))
        return name, png_of(svg, PREVIEW_PX)
    shapes = tuple(Shape(ring, True, "outline", 0) for zone in tried.zones for ring in rings(zone.region))
    sheet = Sheet(
        title=tried.report.title,
        names=tuple(zone.label for zone in tried.zones),
        lines=tried.lines,
        zone_of_stroke=[0] * len(tried.filled[0].strokes),
        shapes=shapes,
    )
    return name, write_svg(sheet)
