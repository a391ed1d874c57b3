"""Reading SVG drawings: named shapes and lines at true size, in mm.

Read: path, rect, polygon, polyline, circle, ellipse, line, g, a, switch, nested svg, use and symbol, every kind of
transform, viewBox, physical units, fill and stroke by attribute, ``style`` or a simple rule. Nothing outside the
file is ever fetched; entities are refused.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, BinaryIO
from xml.etree.ElementTree import ParseError

import numpy as np
from defusedxml import DefusedXmlException
from defusedxml.ElementTree import iterparse

from ..errors import DrawingError
from ..geometry import dedupe, inside_ring, signed_area
from ..model import Finding, FloatArray, Path, as_path
from ..opening import check_plain_file
from ..units import format_length
from .path_data import flatten_path_data
from .shapes import Art, Drawing, OpenLine, Shape
from .style import Style, colour_hex, parse_rules, styled
from .transforms import PX_MM, length_px, parse_transform, parse_view_box, view_box_matrix

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["FLATTEN_MM", "read_art", "read_svg"]

FLATTEN_MM = 0.05
"""Curves become chords that stray at most this far, on the cloth: a third of a thread."""

CLOSE_MM = 25.4 / 32
"""A filled path that was not closed, but ends this near its start, is closed (with a note)."""

SAME_POINT_MM = 0.01
"""A path that ends here where it began is closed, whatever its fill."""

MOST_BYTES = 50_000_000
MOST_ELEMENTS = 50_000
MOST_POINTS = 2_000_000
MOST_NESTED = 100
MOST_PAIRS = 100_000
MOST_MM = 1e6
"""Limits that no quilt comes near; beyond them a file is a mistake or an attack."""

PIECE_BYTES = 8_000_000
"""What is read of a file at a time."""

SAMPLE = 500
"""Points of a ring that say whether it lies inside another."""

_CONTAINERS = ("g", "a", "switch")
_DRAWN = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
_UNDRAWN = ("text", "image", "foreignObject")


@dataclass(frozen=True, slots=True, eq=False)
class _Drawn:
    """One subpath, in mm on the page."""

    path: Path
    closed: bool
    element: int
    name: str | None
    style: Style


@dataclass(slots=True)
class _Reader:
    """Walks one document, once."""

    file: str
    ids: dict[str, Element]
    rules: dict[str, dict[str, str]]
    drawn: list[_Drawn] = field(default_factory=list)
    elements: int = 0
    points: int = 0
    dropped: int = 0
    closed_up: int = 0
    undrawn: dict[str, int] = field(default_factory=dict)
    copies: Counter[str] = field(default_factory=Counter)

    def fault(self, rule: str, element: Element | None = None, what_to_do: str | None = None) -> DrawingError:
        key = None
        if element is not None:
            name = _name(element)
            key = f"{_tag(element)} '{name}'" if name else _tag(element)
        return DrawingError(rule, file=self.file, key=key, what_to_do=what_to_do)

    def called(self, element: Element, name: str) -> str | None:
        """Return what a shape is called: ``name`` is that of the copy it is, or (ending in ``-``) is in."""
        own = _name(element)
        if not name.endswith("-"):
            return name or own
        self.copies[name] += 1
        return f"{name}{own or self.copies[name]}"

    def walk(
        self, element: Element, matrix: FloatArray, style: Style, name: str = "", using: tuple[str, ...] = ()
    ) -> None:
        self.elements += 1
        depth = len(using)
        if self.elements > MOST_ELEMENTS or depth > MOST_NESTED:
            limit = f"more than {MOST_ELEMENTS} elements" if depth <= MOST_NESTED else f"{MOST_NESTED} levels of groups"
            raise self.fault(f"the drawing holds {limit}", what_to_do="Save it without nested copies.")
        tag = _tag(element)
        style = styled(style, tag, element.attrib, self.rules)
        if not style.shown:
            return
        if tag in _UNDRAWN and style.seen:
            self.undrawn[tag] = self.undrawn.get(tag, 0) + 1
        if tag not in (*_CONTAINERS, "svg", "use", *_DRAWN):
            return
        try:
            matrix = matrix @ parse_transform(element.get("transform"))
            if tag in _DRAWN:
                if style.seen:
                    self.draw(element, matrix, style, self.called(element, name))
                return
            if tag == "use":
                self.use(element, matrix, style, name, using)
                return
            if tag == "svg" and using:
                matrix = matrix @ _viewport(element)
        except ValueError as error:
            if isinstance(error, DrawingError):
                raise
            raise self.fault(str(error), element) from error
        for child in element:
            self.walk(child, matrix, style, name, (*using, ""))

    def use(self, element: Element, matrix: FloatArray, style: Style, name: str, using: tuple[str, ...]) -> None:
        target_id = element.get("href") or element.get("{http://www.w3.org/1999/xlink}href") or ""
        if not target_id.startswith("#"):
            raise self.fault(
                f"refers to {target_id!r}, outside the file", element, "Put a copy of it into the drawing itself."
            )
        if target_id in using:
            raise self.fault(f"{target_id} is used inside itself", element, "Take one of the copies out.")
        target = self.ids.get(target_id[1:])
        if target is None:
            raise self.fault(f"refers to {target_id}, which is not in the drawing", element)
        shift = np.eye(3)
        shift[:2, 2] = length_px(element.get("x")), length_px(element.get("y"))
        inner, deeper = matrix @ shift, (*using, target_id)
        own = _name(element)
        if own:
            name = f"{name if name.endswith('-') else ''}{own}{'' if _tag(target) in _DRAWN else '-'}"
        if _tag(target) not in ("symbol", "svg"):
            self.walk(target, inner, style, name, deeper)
            return
        inner = inner @ _viewport(target, element)
        style = styled(style, _tag(target), target.attrib, self.rules)
        for child in target if style.shown else ():
            self.walk(child, inner, style, name, deeper)

    def draw(self, element: Element, matrix: FloatArray, style: Style, name: str | None) -> None:
        if not np.isfinite(matrix).all():
            raise self.fault("its transform is not finite", element)
        scale = float(np.linalg.norm(matrix[:2, :2], 2)) * PX_MM
        if scale == 0:
            self.dropped += 1
            return
        left = MOST_POINTS - self.points
        for sub in flatten_path_data(_path_data(element), tolerance=FLATTEN_MM / scale, most_points=left):
            self.dropped += sub.dropped
            with np.errstate(over="ignore", invalid="ignore"):
                xy = (sub.points @ matrix[:2, :2].T + matrix[:2, 2]) * PX_MM
            if not (np.abs(xy) < MOST_MM).all():
                raise self.fault(f"a coordinate lies more than {MOST_MM / 1e6:g} km away", element, "Delete it.")
            self.points += len(xy)
            closed, gap = sub.closed, float(np.hypot(*(xy[-1] - xy[0])))
            if not closed and len(xy) > 3 and (gap <= SAME_POINT_MM or (style.filled and gap <= CLOSE_MM)):
                closed = True
                self.closed_up += gap > SAME_POINT_MM
                xy = xy[:-1] if gap <= SAME_POINT_MM else xy
            path = dedupe(xy, closed=closed)
            if len(path) > (2 if closed else 1):
                self.drawn.append(_Drawn(path, closed, self.elements, name, style))
            elif len(path) > 1:  # a closed path of two points is there and back: one line
                self.drawn.append(_Drawn(path, False, self.elements, name, style))


def _tag(element: Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _name(element: Element) -> str | None:
    for child in element:
        if _tag(child) == "title" and (child.text or "").strip():
            return " ".join((child.text or "").split())
    return (element.get("id") or "").strip() or None


def _viewport(element: Element, user: Element | None = None) -> FloatArray:
    # a nested svg or a symbol in use: its place, and its view box in its width and height
    box = parse_view_box(element.get("viewBox"))
    widths = [(user.get(k) if user is not None else None) or element.get(k) for k in ("width", "height")]
    if box is not None and any(w is None or w.strip().endswith("%") for w in widths):
        raise ValueError("has a viewBox but no width and height of its own in lengths")
    place = np.eye(3)
    place[:2, 2] = length_px(element.get("x")), length_px(element.get("y"))
    if box is None:
        return place
    width, height = (length_px(w) for w in widths)
    return place @ view_box_matrix(box, width, height, element.get("preserveAspectRatio"))


def _path_data(element: Element) -> str:
    """Return any drawn element as path data."""

    def get(key: str) -> float:
        return length_px(element.get(key))

    match _tag(element):
        case "path":
            return element.get("d", "")
        case "line":
            return f"M{get('x1')!r} {get('y1')!r}L{get('x2')!r} {get('y2')!r}"
        case "polyline" | "polygon" as tag:
            points = element.get("points", "").strip()
            return f"M{points}{'Z' if tag == 'polygon' else ''}" if points else ""
        case "circle":
            return _ellipse(get("cx"), get("cy"), get("r"), get("r"))
        case "ellipse":
            return _ellipse(get("cx"), get("cy"), get("rx"), get("ry"))
        case _:
            return _rectangle(element, get("x"), get("y"), get("width"), get("height"))


def _ellipse(x: float, y: float, rx: float, ry: float) -> str:
    if rx <= 0 or ry <= 0:
        return f"M{x!r} {y!r}"
    return f"M{x + rx!r} {y!r}A{rx!r} {ry!r} 0 0 1 {x - rx!r} {y!r}A{rx!r} {ry!r} 0 0 1 {x + rx!r} {y!r}Z"


def _rectangle(element: Element, x: float, y: float, w: float, h: float) -> str:
    if w <= 0 or h <= 0:
        return f"M{x!r} {y!r}"
    given = [element.get("rx"), element.get("ry")]
    given = [None if g == "auto" else g for g in given]
    rx, ry = length_px(given[0] or given[1]), length_px(given[1] or given[0])
    rx, ry = min(max(rx, 0.0), w / 2), min(max(ry, 0.0), h / 2)
    if rx == 0 or ry == 0:
        return f"M{x!r} {y!r}h{w!r}v{h!r}h{-w!r}Z"
    steps = [f"M{x + rx!r} {y!r}"]
    for px, py, qx, qy in (
        (x + w - rx, y, x + w, y + ry),
        (x + w, y + h - ry, x + w - rx, y + h),
        (x + rx, y + h, x, y + h - ry),
        (x, y + ry, x + rx, y),
    ):
        steps.append(f"L{px!r} {py!r}A{rx!r} {ry!r} 0 0 1 {qx!r} {qy!r}")
    return "".join(steps) + "Z"


class _LargePieces:
    """A file read in large pieces, whatever is asked for.

    The parser begins a tag anew with every piece, so that one path of many megabytes in small pieces takes minutes.
    """

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def read(self, _size: int = -1) -> bytes:
        return self._stream.read(PIECE_BYTES)


def _root_of(path: FilePath) -> Element:
    file = path.name
    try:
        check_plain_file(
            path, DrawingError, most=MOST_BYTES, missing="Check the drawing's name, and the folder it lies in."
        )
        depth, count = 0, 0
        root: Element | None = None
        with path.open("rb") as stream:
            for event, element in iterparse(_LargePieces(stream), events=("start", "end"), forbid_entities=True):
                depth += 1 if event == "start" else -1
                count += event == "start"
                root = element if root is None else root
                if depth > MOST_NESTED or count > MOST_ELEMENTS:
                    limit = f"{MOST_NESTED} levels of groups" if depth > MOST_NESTED else f"{MOST_ELEMENTS} elements"
                    raise DrawingError(f"holds more than {limit}", file=file, what_to_do="Flatten its groups.")
    except DefusedXmlException as error:
        raise DrawingError(
            "declares entities or refers to something outside the file, which is never read",
            file=file,
            what_to_do="Save it again as plain SVG.",
        ) from error
    except (ParseError, ValueError, LookupError) as error:  # LookupError: an encoding that nobody knows
        if isinstance(error, DrawingError):
            raise
        raise DrawingError(f"is no readable SVG ({error})", file=file, what_to_do="Save it as plain SVG.") from error
    except OSError as error:
        raise DrawingError(f"can't be opened ({error.strerror})", file=str(path)) from error
    if root is None or _tag(root) != "svg":
        raise DrawingError("is no SVG: its first element is not svg", file=file, what_to_do="Save it as plain SVG.")
    return root


def _page(root: Element, file: str) -> tuple[FloatArray, tuple[float, float], list[Finding]]:
    # the matrix from user units to pixels, the page in mm
    sizes = []
    for key in ("width", "height"):
        text = root.get(key)
        if text is None or text.strip().endswith("%"):
            raise DrawingError(
                f"is {text!r}; a drawing must say its true size" if text else "is missing; a drawing must say its size",
                file=file,
                key=key,
                what_to_do='Set the page\'s width and height in in or mm, e.g. width="60in".',
            )
        try:
            value = length_px(text)
        except ValueError as error:
            raise DrawingError(str(error), file=file, key=key, what_to_do="Use in, mm or cm.") from error
        if value <= 0:
            raise DrawingError(f"is {text!r}; must be above 0", file=file, key=key)
        sizes.append(value)
    try:
        box = parse_view_box(root.get("viewBox"))
        matrix = view_box_matrix(box, sizes[0], sizes[1], root.get("preserveAspectRatio"))
    except ValueError as error:
        raise DrawingError(str(error), file=file, key="viewBox") from error
    notes = []
    if any((root.get(k) or "").strip().lower().rstrip("px")[-1:].isdigit() for k in ("width", "height")):
        notes.append(
            Finding(
                "size-in-pixels",
                "note",
                None,
                f"{file} gives its size in pixels; read at 96 to the inch, the page is "
                f"{format_length(sizes[0] * PX_MM)} x {format_length(sizes[1] * PX_MM)}",
                "Set the page's width and height in in or mm to be sure.",
            )
        )
    return matrix, (sizes[0] * PX_MM, sizes[1] * PX_MM), notes


def _read(path: str | FilePath) -> tuple[_Reader, tuple[float, float], tuple[Finding, ...]]:
    source = FilePath(path)
    root = _root_of(source)
    matrix, size, notes = _page(root, source.name)
    ids: dict[str, Element] = {}
    sheet = []
    for element in root.iter():
        if element.get("id"):
            ids.setdefault(element.get("id", ""), element)
        if _tag(element) == "style":
            sheet.append("".join(element.itertext()))
    reader = _Reader(source.name, ids, parse_rules("\n".join(sheet)))
    reader.walk(root, matrix, Style())
    if reader.dropped:
        notes.append(
            _note("no-length", f"{reader.dropped} pieces of no length were left out", "Nothing; they draw nothing.")
        )
    if reader.closed_up:
        notes.append(
            _note(
                "path-closed",
                f"{reader.closed_up} filled shapes did not quite end where they began and were closed",
                "Close them in the drawing if they are not patches.",
            )
        )
    for tag, count in sorted(reader.undrawn.items()):
        notes.append(
            _note("not-read", f"{count} {tag} elements were left out", "Turn what must be stitched into paths.")
        )
    return reader, size, tuple(notes)


def _note(code: str, text: str, what_to_do: str) -> Finding:
    return Finding(code, "note", None, text, what_to_do)


def read_svg(path: str | FilePath) -> Drawing:
    """Return the shapes and lines of an SVG file at true size.

    A shape's name is its ``<title>``, else its ``id``, else ``patch-7`` for the seventh shape of the drawing (lines:
    ``line-7``). Subpaths that lie inside another of the same path are holes by its fill rule; the others are
    shapes of their own, named ``name-1``, ``name-2``. Curves become chords that stray at most `FLATTEN_MM`. A drawing
    without anything drawn gives no shapes and no lines.

    Raises
    ------
    DrawingError
        The file can't be read, does not state its size, refers to something outside itself, or exceeds a limit.
    """
    reader, size, notes = _read(path)
    shapes: list[Shape] = []
    lines: list[OpenLine] = []
    for group in _by_element(reader.drawn):
        try:
            rings = _nested([d.path for d in group if d.closed], group[0].style.fill_rule)
        except ValueError as error:
            raise DrawingError(
                str(error), file=reader.file, key=group[0].name, what_to_do="Draw them as paths of their own."
            ) from None
        open_paths = [d.path for d in group if not d.closed]
        name, style = group[0].name, group[0].style
        for k, (shell, holes) in enumerate(rings, 1):
            called = f"{name}-{k}" if name and len(rings) > 1 else name
            shapes.append(Shape(called or f"patch-{len(shapes) + 1}", shell, tuple(holes), colour_hex(style.fill)))
        for k, line in enumerate(open_paths, 1):
            called = f"{name}-{k}" if name and len(open_paths) > 1 else name
            lines.append(OpenLine(called or f"line-{len(lines) + 1}", line, colour_hex(style.stroke)))
    return Drawing(tuple(shapes), tuple(lines), size, notes)


def read_art(path: str | FilePath) -> Art:
    """Return line art: every stroke of an SVG file in drawing order, in mm at the size it was drawn.

    Raises
    ------
    DrawingError
        As `read_svg`; or nothing is drawn.
    """
    reader, size, notes = _read(path)
    if not reader.drawn:
        raise DrawingError("draws nothing", file=reader.file, what_to_do="Draw the motif as paths.")
    return Art(tuple(d.path for d in reader.drawn), tuple(d.closed for d in reader.drawn), size, notes)


def _by_element(drawn: Sequence[_Drawn]) -> list[list[_Drawn]]:
    groups: dict[int, list[_Drawn]] = {}
    for d in drawn:
        groups.setdefault(d.element, []).append(d)
    return list(groups.values())


def _nested(paths: Sequence[Path], fill_rule: str) -> list[tuple[Path, list[Path]]]:
    # Shells with their holes. A ring lies inside another when most of its points do, so that a hole that crosses
    # its outline is still a hole, and is refused as one where the top is made.
    if len(paths) == 1:
        return [(paths[0], [])]
    areas = np.array([signed_area(p) for p in paths])
    outside = [[k for k in around if _inside(paths[i], paths[k])] for i, around in enumerate(_around(paths, areas))]
    turn = np.where(areas > 0, 1, -1).tolist()

    def painted(around: Sequence[int]) -> bool:
        return len(around) % 2 == 1 if fill_rule == "evenodd" else sum(turn[k] for k in around) != 0

    shells = [i for i, around in enumerate(outside) if not painted(around)]
    holes = [i for i, around in enumerate(outside) if painted(around) and not painted([*around, i])]
    found: dict[int, list[Path]] = {i: [] for i in shells}
    for i in holes:
        around = [k for k in outside[i] if k in found]
        found[max(around, key=lambda k: (len(outside[k]), k))].append(paths[i])
    return [(as_path(paths[i]), found[i]) for i in shells]


def _around(paths: Sequence[Path], areas: FloatArray) -> list[list[int]]:
    # for each ring the larger ones whose boxes it touches: only these can go round it
    low, high = np.array([p.min(axis=0) for p in paths]), np.array([p.max(axis=0) for p in paths])
    out, count = [], 0
    for i, area in enumerate(np.abs(areas)):
        near = (low <= high[i]).all(axis=1) & (high >= low[i]).all(axis=1) & (np.abs(areas) > area)
        out.append(np.flatnonzero(near).tolist())
        count += len(out[-1])
        if count > MOST_PAIRS:
            raise ValueError(f"holds {len(paths):,} shapes, too many of them one within another")
    return out


def _inside(inner: FloatArray, outer: FloatArray) -> bool:
    return bool(inside_ring(outer, inner[:: max(1, len(inner) // SAMPLE)]).mean() > 0.5)
