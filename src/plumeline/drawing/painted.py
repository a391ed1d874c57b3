"""Marks on a sheet into the shapes and lines that are seen: painted is what counts."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon

from ..codes import FindingCode
from ..errors import DrawingError
from ..geometry import common_area, is_thin, painted_regions, paths_within, regions_within, self_crossings, twins
from ..model import Finding, FloatArray, Path, as_path
from ..units import format_area, format_length
from .colours import colour_word
from .marks import Mark, Sheet
from .names import base_names
from .shapes import Drawing, OpenLine, Shape

__all__ = ["CLOSE_MM", "drawing_of"]

CLOSE_MM = 25.4 / 32
"""Parts of a self-crossing outline that are thinner than this are slips of the hand, not patches."""

SAME_MM = 0.05
"""Two shapes whose edges lie this near everywhere are the same shape drawn twice: half a thread."""

HAIR = 0.01
"""A mended outline that changes by more than this share of its area is no hair."""

PAGE_SHARE = 0.01
"""A rectangle that misses the page's edges by at most this share of its sides is the page."""

SOLID_SHARE = 0.9
"""Shapes that fill this much of the box round them are a whole that lies on a page, not motifs on cloth."""


@dataclass(slots=True, eq=False)
class _Seen:
    """One closed piece of a mark: its region, and which of the mark's pieces it is (0: the only one)."""

    region: Polygon
    mark: Mark
    filled: bool
    order: int
    part: int = 0
    path: Path | None = None
    """As drawn, where it is one plain ring: kept to the bit."""

    open_ended: bool = False


@dataclass(slots=True, eq=False)
class _Stroke:
    path: Path
    mark: Mark
    order: int
    part: int = 0
    bare: bool = False


def drawing_of(sheet: Sheet) -> Drawing:
    """Return the shapes and lines that are seen on a sheet.

    What paints nothing is left out; clips are honoured; a shape drawn twice in one place is one; a page-sized ground
    is the page; shapes beside the page are left out. Each is said once, with a count. Overlaps are kept: the
    ``order`` of shapes and lines says which lies on top.
    """
    marks = _painted(sheet)
    seen: list[_Seen] = []
    strokes: list[_Stroke] = []
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
    seen = _once(seen, sheet)
    seen = _without_page(seen, sheet)
    seen, strokes = _on_page(seen, strokes, sheet)
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
            f"{_count(unseen, 'shape')} with neither fill nor outline {_are(unseen)} not seen, and left out",
            "Give what is a patch a fill or an outline.",
        )
    kept = [_clipped(mark) for mark in painted]
    shut = sum(not mark.tracks for mark in kept)
    cut = sum(k.tracks != m.tracks for k, m in zip(kept, painted)) - shut
    if cut or shut:
        parts = [f"{_count(cut, 'shape')} {_are(cut)} cut to what a clip or mask shows"] if cut else []
        parts += [f"{_count(shut, 'shape')} that one hides {_are(shut)} left out"] if shut else []
        _note(sheet, FindingCode.CLIPPED, "; ".join(parts), "Nothing, if it looks so in your editor.")
    return [mark for mark in kept if mark.tracks]


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
) -> tuple[list[_Seen], list[_Stroke]]:
    rings = [t for t in mark.tracks if t.closed]
    if not (mark.filled or mark.stroked):
        closed = [as_path(np.vstack([t.path, t.path[:1]])) if t.closed else t.path for t in mark.tracks]
        return [], [_Stroke(p, mark, order, bare=t.closed) for p, t in zip(closed, mark.tracks)]
    seen: list[_Seen] = []
    strokes = [_Stroke(t.path, mark, order) for t in mark.tracks if not t.closed]
    # an outline alone paints no inside: each ring of it is a shape, and what lies in it lies on it
    groups = [[t] for t in rings] if not mark.filled else [rings] if rings else []
    for group in groups:
        paths = [t.path for t in group]
        regions = painted_regions(paths, evenodd=mark.evenodd)
        if len(paths) == 1 and len(regions) == 1 and len(regions[0].exterior.coords) == len(paths[0]) + 1:
            seen.append(_Seen(regions[0], mark, mark.filled, order, path=paths[0], open_ended=group[0].gap > CLOSE_MM))
            continue
        thick = [r for r in regions if not is_thin(r, CLOSE_MM)] or regions[:1]
        if not regions:
            strokes += [_Stroke(p, mark, order) for p in paths if len(p) > 1]
        seen += [_Seen(r, mark, mark.filled, order) for r in thick]
        if len(paths) == 1 and thick:
            crossed.append(_crossing(paths[0], mark, thick, regions))
            if not mark.filled and _crosses(paths[0]):
                strokes.append(_Stroke(as_path(np.vstack([paths[0], paths[0][:1]])), mark, order))
    for k, s in enumerate(seen, 1):
        s.part = k if len(seen) > 1 else 0
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
    hairs = [c for c in crossed if c[3] == 1 and c[1] <= HAIR * c[2]]
    if hairs:
        where = ", ".join(
            f"'{c[0]}' at {format_length(c[4][0])} from the left, {format_length(c[4][1])} from the top"
            for c in hairs[:3]
        )
        more = f" and {len(hairs) - 3} more" if len(hairs) > 3 else ""
        _note(
            sheet,
            FindingCode.OUTLINE_MENDED,
            f"{_count(len(hairs), 'outline')} crossed or touched {_own(len(hairs))} by a hair and {_were(len(hairs))} "
            f"mended: {where}{more}; {sum(c[1] for c in hairs):.1f} sq mm in all",
            "Nothing, unless it looks wrong.",
        )
    knotted = [c for c in crossed if c not in hairs]
    if knotted:
        listed = "; ".join(
            f"'{c[0]}' encloses {c[3]} {'area' if c[3] == 1 else 'areas'}, {format_area(c[2])}"
            + (f", without {format_area(c[1])} too thin for a patch" if c[1] > HAIR * c[2] else "")
            for c in knotted[:3]
        )
        more = f"; and {len(knotted) - 3} more" if len(knotted) > 3 else ""
        _note(
            sheet,
            FindingCode.OUTLINE_CROSSES,
            f"{_count(len(knotted), 'outline')} {'cross' if len(knotted) > 1 else 'crosses'} "
            f"{_own(len(knotted))} and {_are(len(knotted))} read as painted: {listed}{more}",
            "Redraw it as one plain outline if something else was meant.",
        )


def _report_cloth(seen: Sequence[_Seen], sheet: Sheet) -> None:
    figured = [s for s in seen if s.filled and s.mark.cloth != "plain"]
    if figured:
        _note(
            sheet,
            FindingCode.FIGURED_FABRIC,
            f"{_count(len(figured), 'patch', 'patches')} ({format_area(sum(s.region.area for s in figured))}) "
            f"{'has' if len(figured) == 1 else 'have'} a pattern or gradient, taken for fabric",
            "Nothing; the picture shows a plain colour there.",
        )


def _once(seen: list[_Seen], sheet: Sheet) -> list[_Seen]:
    gone: set[int] = set()
    area = 0.0
    for low, high in twins([s.region for s in seen], within_mm=SAME_MM):
        if low in gone or high in gone:
            continue
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
            f"{_count(len(gone), 'shape')} ({format_area(area)}) {'lies' if len(gone) == 1 else 'lie'} exactly under "
            "or over another, as a fill and its outline do; each place counts once",
            "Nothing, unless a patch is missing.",
        )
    return [s for k, s in enumerate(seen) if k not in gone]


def _without_page(seen: list[_Seen], sheet: Sheet) -> list[_Seen]:
    if sheet.page is None:
        return seen
    width, height = sheet.page
    near = PAGE_SHARE * max(width, height)
    page = np.array([0.0, 0.0, width, height])

    def is_ground(s: _Seen) -> bool:
        beyond = np.array(s.region.bounds) - page
        covers = beyond[0] <= near and beyond[1] <= near and beyond[2] >= -near and beyond[3] >= -near
        box = (s.region.bounds[2] - s.region.bounds[0]) * (s.region.bounds[3] - s.region.bounds[1])
        return bool(s.filled and not s.mark.name and covers and s.region.area >= 0.999 * box)

    grounds = list(itertools.takewhile(is_ground, seen))
    others = seen[len(grounds) :]
    if not grounds or len(others) < 2:
        return seen
    boxes = np.array([s.region.bounds for s in others])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    if low.min() < near or high[0] > width - near or high[1] > height - near:
        return seen  # no margin shows all round: what shows of the ground is cloth
    white = all(s.mark.colour is None or colour_word(s.mark.colour) == "white" for s in grounds)
    solid = common_area([Polygon(s.region.exterior) for s in others]).area / float(np.prod(high - low))
    if not white and solid < SOLID_SHARE:
        return seen
    _note(
        sheet,
        FindingCode.PAGE_GROUND,
        f"a ground as large as the page ({format_length(width)} x {format_length(height)}) was taken for the page and "
        "left out",
        "Give it a name in the drawing if it is a patch.",
    )
    return others


def _on_page(seen: list[_Seen], strokes: list[_Stroke], sheet: Sheet) -> tuple[list[_Seen], list[_Stroke]]:
    if sheet.page is None:
        return seen, strokes
    width, height = sheet.page

    def beside(low: FloatArray, high: FloatArray) -> bool:
        return bool(high[0] <= 0 or high[1] <= 0 or low[0] >= width or low[1] >= height)

    off = [beside(np.array(s.region.bounds[:2]), np.array(s.region.bounds[2:])) for s in seen]
    lines_off = [beside(line.path.min(axis=0), line.path.max(axis=0)) for line in strokes]
    away = sum(s.region.area for s, o in zip(seen, off) if o)
    if not any(off) or 2 * away > sum(s.region.area for s in seen):
        return seen, strokes
    left = sum(off)
    _note(
        sheet,
        FindingCode.OFF_PAGE,
        f"{_count(left, 'shape')} ({format_area(away)}) {'lies' if left == 1 else 'lie'} beside the page and "
        f"{_were(left)} left out",
        "Move it onto the page if it is a patch.",
    )
    return [s for s, o in zip(seen, off) if not o], [line for line, o in zip(strokes, lines_off) if not o]


def _named(seen: Sequence[_Seen], strokes: Sequence[_Stroke], sheet: Sheet) -> Drawing:
    shapes: list[Shape] = []
    parts: dict[int, int] = {}
    for s in seen:
        parts[s.order] = parts.get(s.order, 0) + 1
    for s, name in zip(seen, base_names([s.mark for s in seen])):
        numbered = s.part and parts[s.order] > 1 and s.mark.name
        called = f"{name}-{s.part}" if numbered else name
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
    return Drawing(tuple(shapes), tuple(lines), page, tuple(sheet.findings), sheet.unit_mm, sheet.sized, sheet.outlines)


def _count(n: int, one: str, many: str | None = None) -> str:
    return f"{n} {one if n == 1 else many or one + 's'}"


def _are(n: int) -> str:
    return "is" if n == 1 else "are"


def _were(n: int) -> str:
    return "was" if n == 1 else "were"


def _own(n: int) -> str:
    return "itself" if n == 1 else "themselves"


def _note(sheet: Sheet, code: FindingCode, text: str, what_to_do: str) -> None:
    sheet.findings.append(Finding(code, "note", None, text, what_to_do))
