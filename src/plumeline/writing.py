"""Which files a quilt is written to, and what goes into each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import PurePath
from typing import Any

from .geometry import rings
from .model import Quilt, Zone
from .output import Shape, Sheet, cautions_text, find_writer, report_text
from .output.png import png_of
from .output.preview import Window, preview_svg
from .output.svg import write_svg
from .units import format_length

__all__ = ["caption_of", "files_of", "fill_svg", "preview_of", "sheet_of"]

PREVIEW_PX = 1200
"""Width of the preview picture: sharp on a screen, small in a mail."""

CLOSE_UP_MARGIN_MM = 20.0
"""How much of the neighbours a close-up of one zone shows."""


def files_of(quilt: Quilt, formats: Sequence[str]) -> dict[str, bytes]:
    """Return the files by name: one a format (and reach), the previews, the cautions, the report.

    Raises
    ------
    OutputError
        No such format, or a stitch file that did not read back equal.
    """
    stem = stem_of(quilt)
    files: dict[str, bytes] = {}
    for name in formats:
        writer = find_writer(name)
        if writer.takes == "lines":
            files[f"{stem}{writer.suffix}"] = writer.write(sheet_of(quilt))
        else:
            count = len(quilt.points)
            for points in quilt.points:
                part = f"-reach-{points.reach}of{count}" if count > 1 else ""
                files[f"{stem}{part}{writer.suffix}"] = writer.write(points, quilt.plan.title)
    for name, svg in _previews(quilt, stem).items():
        files[f"{name}.svg"] = svg.encode()
        files[f"{name}.png"] = png_of(svg, PREVIEW_PX)
    files[f"{stem}-read-first.txt"] = cautions_text(quilt.plan.title, tuple(files)).encode()
    report = {**quilt.report, "files": [*files, "report.json"]}
    files["report.json"] = report_text(report).encode()
    return files


def stem_of(quilt: Quilt) -> str:
    """Return the name that a quilt's files begin with: the plan's, with the option's behind it."""
    stem = PurePath(quilt.plan.file).stem
    return f"{stem}-{quilt.plan.option}" if quilt.plan.option else stem


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
    for i, (zone, filled) in enumerate(zip(quilt.zones, quilt.filled)):
        shapes += [Shape(ring, True, "outline", i) for ring in rings(zone.region)]
        shapes += [Shape(fence.path, False, "fence", i) for fence in (*zone.fences, *filled.fences)]
    return Sheet(
        title=quilt.plan.title,
        names=tuple(zone.label for zone in quilt.zones),
        lines=quilt.lines,
        zone_of_stroke=[i for i, f in enumerate(quilt.filled) for _ in f.strokes],
        shapes=tuple(shapes),
        size=quilt.top.size,
    )


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
    )


def caption_of(report: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the report in three lines of plain words.

    Examples
    --------
    >>> totals = {"lines": 2, "fewest_lines_possible": 2, "planned_stops": 0, "minutes": 95.0, "bobbins": 3,
    ...     "stitches": 41000, "needle_thread_m": 190.0}
    >>> caption_of({"totals": totals})[2]
    'About 1 hour 35 minutes at the machine, 41,000 stitches, 208 yards of thread on top, 3 bobbins.'
    """
    totals = report["totals"]
    lines, stops = totals["lines"], totals["planned_stops"]
    pieces = _some(lines, "continuous line")
    if stops:
        pieces += f", {stops} of them only because a bobbin is empty"
    fewest = totals["fewest_lines_possible"]
    bound = "no plan could do with fewer" if lines - stops <= fewest else f"{fewest} at the fewest"
    bobbins = totals["bobbins"]
    return (
        f"{pieces} ({bound}).",
        "Numbers are green where a line starts, red where it stops.",
        f"About {_spoken(totals['minutes'])} at the machine, {totals['stitches']:,} stitches, "
        f"{totals['needle_thread_m'] / 0.9144:,.0f} yards of thread on top"
        + ("." if bobbins is None else f", {_some(bobbins, 'bobbin')}."),
    )


def _some(count: int, what: str) -> str:
    return f"{count:,} {what}{'s' if count != 1 else ''}"


def _spoken(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    words = [_some(n, unit) for n, unit in ((hours, "hour"), (rest, "minute")) if n]
    return " ".join(words) or "a minute"


def fill_svg(tried: Quilt, name: str) -> tuple[str, bytes]:
    """Return file name and content of one tried fill: SVG at true size, or a PNG of it on cloth."""
    if name.lower().endswith(".png"):
        svg = preview_svg(tried.top, tried.lines, title=tried.report["title"], caption=caption_of(tried.report))
        return name, png_of(svg, PREVIEW_PX)
    shapes = tuple(Shape(ring, True, "outline", 0) for zone in tried.zones for ring in rings(zone.region))
    sheet = Sheet(
        title=tried.report["title"],
        names=tuple(zone.label for zone in tried.zones),
        lines=tried.lines,
        zone_of_stroke=[0] * len(tried.filled[0].strokes),
        shapes=shapes,
    )
    return name, write_svg(sheet)
