"""Which files a quilt is written to, and what goes into each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePath

import numpy as np

from ..geometry import rings
from ..lines import marks_in, named_marks, origin_of
from ..model import Line, Reach, as_path
from ..output import Shape, Sheet, cautions_text, find_writer, report_text
from ..output.reach_sheet import ReachSheet, reach_sheet_svg
from ..output.svg import write_svg
from ..plan import Plan
from ..stitches import new_bobbins
from .cloth import sewn_before
from .pictures import cloth_picture, pictures_of, rests_of
from .result import Finished

__all__ = ["files_of", "fill_picture", "reach_stem", "sheet_of", "stem_of"]

REST_MARK = np.array([(0.0, -2.0), (2.0, 0.0), (0.0, 2.0), (-2.0, 0.0)])
"""A small square on its point, mm, drawn where the hands may rest."""


def files_of(quilt: Finished, formats: Sequence[str]) -> dict[str, bytes]:
    """Return the files by name: one a format (and reach), the sheets of the reaches, pictures, cautions, report.

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
    files |= pictures_of(quilt, stem)
    files[f"{stem}-read-first.txt"] = cautions_text(quilt.plan.title, tuple(files)).encode()
    files["report.json"] = report_text(replace(quilt.report, files=(*files, "report.json"))).encode()
    return files


def _in_format(quilt: Finished, name: str) -> dict[str, bytes]:
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


def stem_of(plan: Plan) -> str:
    """Return the name that a plan's files begin with: its own, with the option's behind it."""
    stem = PurePath(plan.file).stem
    return f"{stem}-{plan.option}" if plan.option else stem


def reach_stem(quilt: Finished, number: int) -> str:
    """Return the name that the files of one reach begin with: ``quilt-reach-2of4``, or as all if there is only one."""
    count, stem = len(quilt.reaches), stem_of(quilt.plan)
    return f"{stem}-reach-{number}of{count}" if count > 1 else stem


def sheet_of(quilt: Finished) -> Sheet:
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
        if i in quilt.done:  # drawn as it was stitched then
            continue
        shapes += [Shape(ring, True, "outline", i) for ring in rings(zone.region)]
        shapes += [Shape(fence.path, False, "fence", i) for fence in (*zone.fences, *filled.fences)]
    shapes += [Shape(as_path(at + REST_MARK), True, "mark", zone) for at, zone in rests_of(quilt)]
    return Sheet(
        title=quilt.plan.title,
        names=tuple(zone.label for zone in quilt.zones),
        lines=quilt.lines,
        shapes=tuple(shapes),
        size=quilt.top.size,
        done=quilt.done,
    )


def _lines_of(quilt: Finished, number: int) -> list[Line]:
    return [line for line in quilt.lines if line.reach == number]


def _sewn_box(quilt: Finished, number: int) -> tuple[float, float, float, float]:
    points = np.vstack([line.path for line in _lines_of(quilt, number)])
    (left, top), (right, bottom) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return left, top, right, bottom


def _reach_sheet(quilt: Finished, reach: Reach, files: Sequence[str]) -> str:
    """Return the sheet of one reach, in plain words and with its picture."""
    marks = marks_in(reach, named_marks(quilt.reaches))
    own, later = marks_in(reach, marks, of=[reach]), marks_in(reach, marks, of=quilt.reaches[reach.number :])
    names = [zone.name for zone in quilt.zones]
    lines = _lines_of(quilt, reach.number)
    touched = [list(dict.fromkeys(names[span.zone] for span in line.spans if span.zone >= 0)) for line in lines]
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
                *sewn_before(quilt),
            ],
            sewn={r.number: _sewn_box(quilt, r.number) for r in quilt.reaches if _lines_of(quilt, r.number)},
            own=own,
            later={name: at for name, at in later.items() if name not in own},
            zones=[", ".join(zones) or "travel" for zones in touched],
            files=[name for name in files if name.startswith(f"{mine}.")],
            bobbins=None
            if quilt.plan.machine.bobbin_mm is None
            else [
                k
                for points in quilt.points
                if points.reach == reach.number
                for k in new_bobbins(points, quilt.plan.machine, quilt.plan.batting)
            ],
        )
    )


def fill_picture(tried: Finished, name: str) -> tuple[str, bytes]:
    """Return file name and content of one tried fill: SVG at true size, or a PNG of it on cloth."""
    if name.lower().endswith(".png"):
        return name, cloth_picture(tried)
    shapes = tuple(Shape(ring, True, "outline", 0) for zone in tried.zones for ring in rings(zone.region))
    sheet = Sheet(
        title=tried.report.title,
        names=tuple(zone.label for zone in tried.zones),
        lines=tried.lines,
        shapes=shapes,
    )
    return name, write_svg(sheet)
