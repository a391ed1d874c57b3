"""Marks on a sheet into the shapes and lines that are seen: painted is what counts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from shapely import Polygon

from ..codes import FindingCode
from ..errors import DrawingError
from ..geometry import (
    is_thin,
    painted_regions,
    paths_within,
    reading_order,
    regions_within,
    self_crossings,
    simplify_together,
    twins,
)
from ..model import Finding, FloatArray, Path, as_path
from ..units import format_area, format_length
from .marks import Mark, Sheet
from .names import base_names
from .page_rules import Seen, Stroke, on_page, without_ground
from .said import are, count_of, themselves, were
from .shapes import Drawing, OpenLine, Shape

__all__ = ["CLOSE_MM", "drawing_of", "extent_of"]

CLOSE_MM = 25.4 / 32
"""Parts of a self-crossing outline that are thinner than this are slips of the hand, not patches."""

SAME_MM = 0.05
"""Two shapes whose edges lie this near everywhere are the same shape drawn twice: half a thread."""

FINE_FROM, FINE_MM = 50_000, 0.1
"""A drawing of more points has its edges straightened by so much: far less than a needle is thick."""

HAIR = 0.01
"""A mended outline that changes by more than this share of its area is no hair."""


def extent_of(sheet: Sheet, leave_out: Callable[[str], bool] = lambda _: False) -> tuple[float, float]:
    """Return the width and height in mm of what is seen on a sheet and lies on its page; 0, 0 of nothing.

    Of closed shapes, or of lines where there are none; ``leave_out`` says which names do not count. It is found without
    working out what is painted over what.
    """
    quiet = replace(sheet, findings=[])
    marks = _painted(quiet)
    called = dict(enumerate(base_names(marks)))
    drawn = [(k, m, t) for k, m in enumerate(marks) for t in m.tracks if m.filled or m.stroked]
    seen = [Seen(Polygon(t.path), m, m.filled, k) for k, m, t in drawn if t.closed]
    strokes = [Stroke(t.path, m, k) for k, m, t in drawn if not t.closed]
    seen, strokes = on_page(without_ground(seen, quiet), strokes, quiet)
    rings = [np.asarray(s.region.exterior.coords) for s in seen if not leave_out(called[s.order] or "")]
    paths = rings or [line.path for line in strokes if not leave_out(called[line.order] or "")]
    if not paths:
        return 0.0, 0.0
    width, height = np.ptp(np.vstack(paths), axis=0).tolist()
    return width, height


def drawing_of(sheet: Sheet) -> Drawing:
    """Return the shapes and lines that are seen on a sheet.

    What paints nothing is left out; clips are honoured; a shape drawn twice in one place is one; a page-sized ground
    is the page; shapes beside the page are left out. Each is said once, with a count. Overlaps are kept: the
    ``order`` of shapes and lines says which lies on top.

    Raises
    ------
    DrawingError
        A stroke that is drawn as a shape can't be outlined.
    """
    # faint paint covers nothing: it lies below all else
    marks = sorted(_calm(_painted(sheet)), key=lambda mark: not mark.sheer)
    seen: list[Seen] = []
    strokes: list[Stroke] = []
    crossed: list[tuple[str, float, float, int, tuple[float, float]]] = []
    for order, mark in enumerate(marks):
        try:
            shapes, lines = _of_mark(mark, order, crossed)
        except ValueError as error:
            way = "Draw them as paths of their own."
            raise DrawingError(str(error), file=sheet.file, key=mark.name or mark.spare, what_to_do=way) from None
        seen += shapes
        strokes += lines
    _report_crossed(crossed, sheet)
    _report_cloth(seen, sheet)
    _report_sheer(seen, sheet)
    try:
        seen = _once(seen, sheet)
    except ValueError as error:
        way = "Delete what lies under or over another of its kind."
        raise DrawingError(str(error), file=sheet.file, what_to_do=way) from None
    seen = without_ground(seen, sheet)
    seen, strokes = on_page(seen, strokes, sheet)
    return _named(seen, strokes, sheet)


def _painted(sheet: Sheet) -> list[Mark]:
    seen = [m.filled or m.stroked for m in sheet.marks]
    if not any(seen) and any(m.bare for m in sheet.marks):
        _note(
            sheet,
            FindingCode.NOT_PAINTED,
            "nothing in the drawing has a fill or an outline; all its shapes count",
            "Give them an outline in your editor, so that you see what is read.",
        )
        return [replace(m, stroked=True) for m in sheet.marks if m.bare]
    painted = [m for m, s in zip(sheet.marks, seen) if s or (m.bare and m.name)]
    if unseen := len(sheet.marks) - len(painted):
        _note(
            sheet,
            FindingCode.NOT_PAINTED,
            f"{count_of(unseen, 'shape')} with neither fill nor outline {are(unseen)} not seen, and left out",
            "Give what is a patch a fill or an outline.",
        )
    kept = [_clipped(mark) for mark in painted]
    shut = sum(not mark.tracks for mark in kept)
    cut = sum(k.tracks != m.tracks for k, m in zip(kept, painted)) - shut
    if cut or shut:
        parts = (
            [f"{count_of(cut, 'shape')} {are(cut)} cut to what a clip, a mask or a gradient that fades shows"]
            if cut
            else []
        )
        parts += [f"{count_of(shut, 'shape')} that one hides {are(shut)} left out"] if shut else []
        _note(sheet, FindingCode.CLIPPED, "; ".join(parts), "Nothing, if it looks so in your editor.")
    return [mark for mark in kept if mark.tracks]


def _calm(marks: list[Mark]) -> list[Mark]:
    if sum(len(track.path) for mark in marks for track in mark.tracks) <= FINE_FROM:
        return marks
    out = []
    for mark in marks:
        paths = simplify_together([t.path for t in mark.tracks], [t.closed for t in mark.tracks], FINE_MM)
        out.append(replace(mark, tracks=tuple(replace(t, path=p) for t, p in zip(mark.tracks, paths))))
    return out


def _clipped(mark: Mark) -> Mark:
    if mark.clip is None:
        return mark
    rings = [t.path for t in mark.tracks if t.closed]
    opens = [t for t in mark.tracks if not t.closed]
    regions = painted_regions(rings, evenodd=mark.evenodd)
    inside = regions_within(regions, mark.clip)
    lines = [p for t in opens for p in paths_within(t.path, mark.clip)]
    if inside == regions and len(lines) == len(opens):
        return mark
    track = type(mark.tracks[0])
    closed = [track(as_path(np.asarray(r.coords)[:-1]), True) for p in inside for r in (p.exterior, *p.interiors)]
    return replace(mark, tracks=(*closed, *(track(p, False) for p in lines)), evenodd=True)


def _of_mark(
    mark: Mark, order: int, crossed: list[tuple[str, float, float, int, tuple[float, float]]]
) -> tuple[list[Seen], list[Stroke]]:
    rings = [t for t in mark.tracks if t.closed]
    if not (mark.filled or mark.stroked):
        closed = [as_path(np.vstack([t.path, t.path[:1]])) if t.closed else t.path for t in mark.tracks]
        return [], [Stroke(p, mark, order, bare=t.closed) for p, t in zip(closed, mark.tracks)]
    seen: list[Seen] = []
    strokes = [Stroke(t.path, mark, order) for t in mark.tracks if not t.closed]
    # an outline alone paints no inside: each ring of it is a shape, and what lies in it lies on it
    groups = [[t] for t in rings] if not mark.filled else [rings] if rings else []
    for group in groups:
        paths = [t.path for t in group]
        regions = painted_regions(paths, evenodd=mark.evenodd)
        if len(paths) == 1 and len(regions) == 1 and len(regions[0].exterior.coords) == len(paths[0]) + 1:
            seen.append(Seen(regions[0], mark, mark.filled, order, path=paths[0], open_ended=group[0].gap > CLOSE_MM))
            continue
        thick = [r for r in regions if not is_thin(r, CLOSE_MM)] or regions[:1]
        if not regions:
            strokes += [Stroke(p, mark, order) for p in paths if len(p) > 1]
        seen += [Seen(r, mark, mark.filled, order) for r in thick]
        if len(paths) == 1 and thick:
            crossed.append(_crossing(paths[0], mark, thick, regions))
            if not mark.filled and _crosses(paths[0]):
                strokes.append(Stroke(as_path(np.vstack([paths[0], paths[0][:1]])), mark, order))
    for k, line in enumerate(strokes, 1):
        line.part = k if len(strokes) > 1 else 0
    return seen, strokes


def _crosses(ring: FloatArray) -> bool:
    return len(self_crossings([ring], closed=True)) > 0


def _crossing(
    ring: Path, mark: Mark, kept: Sequence[Polygon], every: Sequence[Polygon]
) -> tuple[str, float, float, int, tuple[float, float]]:
    # name, area that was left out, area that stays, parts, where
    lost = sum(r.area for r in every) - sum(r.area for r in kept)
    small = min(every, key=lambda r: r.area)
    x, y = small.representative_point().coords[0]
    return mark.name or mark.layer or "a shape", lost, sum(r.area for r in kept), len(kept), (x, y)


def _report_crossed(crossed: Sequence[tuple[str, float, float, int, tuple[float, float]]], sheet: Sheet) -> None:
    unit = sheet.unit
    hairs = [c for c in crossed if c[3] == 1 and c[1] <= HAIR * c[2]]
    if hairs:
        where = ", ".join(
            f"'{c[0]}' at {format_length(c[4][0], unit)} from the left, {format_length(c[4][1], unit)} from the top"
            for c in hairs[:3]
        )
        more = f" and {len(hairs) - 3} more" if len(hairs) > 3 else ""
        lost = sum(c[1] for c in hairs)
        _note(
            sheet,
            FindingCode.OUTLINE_MENDED,
            f"{count_of(len(hairs), 'outline')} crossed or touched {themselves(len(hairs))} by a hair and "
            f"{were(len(hairs))} mended: {where}{more}" + (f"; {format_area(lost, unit)} in all" if lost else ""),
            "Nothing, unless it looks wrong.",
        )
    knotted = [c for c in crossed if c not in hairs]
    if knotted:
        listed = "; ".join(
            f"'{c[0]}' encloses {c[3]} {'area' if c[3] == 1 else 'areas'}, {format_area(c[2], unit)}"
            + (f", without {format_area(c[1], unit)} too thin for a patch" if c[1] > HAIR * c[2] else "")
            for c in knotted[:3]
        )
        more = f"; and {len(knotted) - 3} more" if len(knotted) > 3 else ""
        _note(
            sheet,
            FindingCode.OUTLINE_CROSSES,
            f"{count_of(len(knotted), 'outline')} {'cross' if len(knotted) > 1 else 'crosses'} "
            f"{themselves(len(knotted))} and {are(len(knotted))} read as painted: {listed}{more}",
            "Redraw it as one plain outline if something else was meant.",
        )


def _report_cloth(seen: Sequence[Seen], sheet: Sheet) -> None:
    figured = [s for s in seen if s.filled and s.mark.cloth != "plain"]
    if figured:
        area = format_area(sum(s.region.area for s in figured), sheet.unit)
        _note(
            sheet,
            FindingCode.FIGURED_FABRIC,
            f"{count_of(len(figured), 'patch', 'patches')} ({area}) "
            f"{'has' if len(figured) == 1 else 'have'} a pattern or gradient, taken for fabric",
            "Nothing; the picture shows a plain colour there.",
        )


def _report_sheer(seen: Sequence[Seen], sheet: Sheet) -> None:
    faint = [s for s in seen if s.mark.sheer]
    if 0 < len(faint) < sum(s.filled for s in seen):
        n, area = len(faint), format_area(sum(s.region.area for s in faint), sheet.unit)
        _note(
            sheet,
            FindingCode.FAINT_PAINT,
            f"{count_of(n, 'shape')} ({area}) {are(n)} painted so faintly that what lies below shows through; "
            f"{'it counts' if n == 1 else 'they count'} only where nothing else is painted",
            "Give it a fuller colour in your editor if it is a patch.",
        )


def _once(seen: list[Seen], sheet: Sheet) -> list[Seen]:
    gone: set[int] = set()
    area = 0.0
    for low, high in twins([s.region for s in seen], gone, within_mm=SAME_MM):
        # the upper of two fills hides the lower; of a fill and an outline the fill counts
        stays, goes = (low, high) if seen[low].filled and not seen[high].filled else (high, low)
        keep, drop = seen[stays], seen[goes]
        gone.add(goes)
        area += drop.region.area
        named = keep.mark.name or (None if drop.mark.name else keep.mark.layer)
        if not named and (drop.mark.name or drop.mark.layer):
            seen[stays].mark = replace(keep.mark, name=drop.mark.name or keep.mark.name, layer=drop.mark.layer)
    if gone:
        _note(
            sheet,
            FindingCode.DRAWN_TWICE,
            f"{count_of(len(gone), 'shape')} ({format_area(area, sheet.unit)}) {'lies' if len(gone) == 1 else 'lie'} "
            "exactly under or over another, as a fill and its outline do; each place counts once",
            "Nothing, unless a patch is missing.",
        )
    return [s for k, s in enumerate(seen) if k not in gone]


def _parts(seen: Sequence[Seen]) -> dict[int, int]:
    """Return the numbers, as one reads, of what is one of several pieces of a path, by place."""
    by_path: dict[int, list[int]] = {}
    for k, s in enumerate(seen):
        by_path.setdefault(s.order, []).append(k)
    out: dict[int, int] = {}
    for places in by_path.values():
        if len(places) > 1:
            order = reading_order([seen[k].region for k in places])
            out.update({places[k]: number for number, k in enumerate(order, 1)})
    return out


def _named(seen: Sequence[Seen], strokes: Sequence[Stroke], sheet: Sheet) -> Drawing:
    shapes: list[Shape] = []
    parts = _parts(seen)
    for k, (s, name) in enumerate(zip(seen, base_names([s.mark for s in seen]))):
        called = f"{name}-{parts[k]}" if k in parts and s.mark.name else name
        shell = s.path if s.path is not None else as_path(np.asarray(s.region.exterior.coords)[:-1])
        holes = tuple(as_path(np.asarray(r.coords)[:-1]) for r in s.region.interiors)
        shapes.append(
            Shape(
                called or f"patch-{len(shapes) + 1}",
                shell,
                holes,
                s.mark.colour if s.filled else None,
                s.filled,
                s.open_ended,
                s.order,
                s.mark.sheer,
            )
        )
    lines: list[OpenLine] = []
    for line in strokes:
        name = line.mark.name or line.mark.layer
        called = f"{name}-{line.part}" if line.part and line.mark.name else name
        lines.append(
            OpenLine(
                called or line.mark.spare or f"line-{len(lines) + 1}",
                line.path,
                line.mark.stroke,
                line.order,
                line.bare,
            )
        )
    page = sheet.page
    if page is None:
        every = [s.region.bounds for s in seen] + [(*p.path.min(axis=0), *p.path.max(axis=0)) for p in strokes]
        box = np.array(every or [(0.0, 0.0, 0.0, 0.0)])
        width, height = (box[:, 2:].max(axis=0) - box[:, :2].min(axis=0)).tolist()
        page = (width, height)
    return Drawing(
        tuple(shapes),
        tuple(lines),
        page,
        tuple(sheet.findings),
        sheet.unit_mm,
        sheet.sized,
        sheet.outlines,
        sheet.origin,
    )


def _note(sheet: Sheet, code: FindingCode, text: str, what_to_do: str) -> None:
    sheet.findings.append(Finding(code, "note", None, text, what_to_do))
