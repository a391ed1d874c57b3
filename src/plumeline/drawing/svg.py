"""Reading SVG drawings: every element that is drawn, as a mark at true size, in mm.

Read: path, rect, polygon, polyline, circle, ellipse, line, g, a, switch, nested svg, use and symbol, every kind of
transform, viewBox, units and percentages, style sheets, clip paths, masks of plain black and white. Nothing outside
the file is ever fetched.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry.base import BaseGeometry

from ..codes import FindingCode
from ..errors import DrawingError, shown
from ..geometry import area_within, check_rings, common_area, dedupe, painted_regions
from ..model import Finding, FloatArray
from ..tolerances import READ_MM
from ..units import Unit
from .colours import colour_hex
from .marks import Mark, Sheet, Track, faults_in_one
from .names import is_made_up, is_made_up_layer
from .painted import CLOSE_MM
from .path_data import PathPieces, flatten_path_data
from .said import count_of, were
from .sheer import SHEER, Paint, seen_paint
from .style import FAINT, Rules, Seen, Style, declared, parse_rules, seen_of, styled
from .svg_page import Page, page_of
from .svg_shapes import path_data_of
from .transforms import LONGEST_LIST, is_aspect, length_px, parse_transform, parse_view_box, view_box_matrix
from .xml_file import MOST_ELEMENTS, MOST_NESTED, TooMuchError, svg_root, tag_of

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["FLATTEN_MM", "SvgFile", "open_svg", "svg_sheet"]

FLATTEN_MM = 0.05
"""Curves become chords that stray at most this far, on the cloth: a third of a thread."""

MOST_POINTS = 2_000_000
MOST_MM = 1e6
"""Limits that no quilt comes near; beyond them a file is a mistake or an attack."""

LIGHT = 0.5
"""A mask shows what it paints lighter than this."""

_CONTAINERS = ("g", "a", "switch")
_DRAWN = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
_UNDRAWN = ("text", "image", "foreignObject")
_LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"
_HREF = "{http://www.w3.org/1999/xlink}href"
_LETTERS = re.compile(r"glyph[-_ ]?\d.*|.*(?:Sans|Serif|Mono)[\w]*-[0-9a-f]{2,}", re.IGNORECASE)
"""Ids of drawn letters in files of programs that write text as shapes."""


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """Where the walk is: what an element takes over from all that it is in."""

    matrix: FloatArray
    style: Style
    view: tuple[float, float]
    chain: tuple[Seen, ...] = ()
    using: tuple[str, ...] = ()
    name: str = ""
    """What the copy is called that the element is (or, ending in ``-``, is in)."""

    layer: str | None = None
    clip: BaseGeometry | None = None


@dataclass(slots=True)
class _Reader:
    """Walks one document, once."""

    file: str
    page: Page
    ids: dict[str, Element]
    rules: Rules
    marks: list[Mark] = field(default_factory=list)
    faults: list[DrawingError] = field(default_factory=list)
    elements: int = 0
    points: int = 0
    notes: Counter[str] = field(default_factory=Counter)
    ignored: dict[str, str] = field(default_factory=dict)
    """What is not as SVG says and counts as not said: of what, and its value."""

    undrawn: Counter[str] = field(default_factory=Counter)
    copies: Counter[str] = field(default_factory=Counter)
    parsed: dict[str, PathPieces] = field(default_factory=dict)
    clips: dict[tuple[str, bytes], BaseGeometry | None] = field(default_factory=dict)

    def fault(self, rule: str, element: Element, what_to_do: str | None = None) -> DrawingError:
        name = _title(element) or (element.get("id") or "").strip()
        tag = tag_of(element)
        return DrawingError(rule, file=self.file, key=f"{tag} '{name}'" if name else tag, what_to_do=what_to_do)

    def walk(self, element: Element, at: _Place, first: bool = False) -> None:
        self.elements += 1
        if self.elements > MOST_ELEMENTS or len(at.using) > MOST_NESTED:
            many = self.elements > MOST_ELEMENTS
            limit = f"more than {MOST_ELEMENTS:,} elements" if many else f"{MOST_NESTED} levels of groups"
            raise _too_much(limit, self.file)
        tag = tag_of(element)
        if tag not in (*_CONTAINERS, "svg", "use", *_DRAWN, *_UNDRAWN):
            return
        chain = (*at.chain, seen_of(tag, element.attrib, first=first))
        style = styled(at.style, element.attrib, chain, self.rules)
        if not style.shown:
            return
        if tag in _UNDRAWN:
            self.undrawn[tag] += style.seen
            return
        try:
            self.enter(element, tag, replace(at, style=style, chain=chain))
        except ValueError as error:
            if isinstance(error, TooMuchError):
                raise
            self.faults.append(error if isinstance(error, DrawingError) else self.fault(str(error), element))

    def enter(self, element: Element, tag: str, at: _Place) -> None:
        with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is refused where it is drawn
            at = replace(at, matrix=at.matrix @ self.transform(element))
        at = replace(at, clip=self.shown_part(element, at), style=at.style.taken())
        if tag in _DRAWN:
            if at.style.seen:
                self.draw(element, at)
            return
        if tag == "use":
            self.use(element, at)
            return
        if tag == "svg" and at.using:
            matrix, view = self.viewport(element, at.view)
            at = replace(at, matrix=at.matrix @ matrix, view=view)
        own = _group_name(element) if at.using else None
        if own and not at.name:
            at = replace(at, layer=own)
        if _is_lettering(element):
            self.undrawn["drawn text"] += 1
            return
        children = [c for c in element if tag_of(c)]
        if tag == "switch":  # a reader without extensions takes the first child that asks for none
            children = [c for c in children if not c.get("requiredExtensions")][:1]
        for k, child in enumerate(children):
            self.walk(child, replace(at, using=(*at.using, "")), k == 0)

    def use(self, element: Element, at: _Place) -> None:
        target_id = element.get("href") or element.get(_HREF) or ""
        if not target_id.startswith("#"):
            raise self.fault(
                f"refers to {target_id!r}, outside the file", element, "Put a copy of it into the drawing itself."
            )
        if target_id in at.using:
            raise self.fault(f"{target_id} is used inside itself", element, "Take one of the copies out.")
        target = self.ids.get(target_id[1:])
        if target is None:
            self.notes["missing"] += 1
            return
        if _LETTERS.fullmatch(target_id[1:]):
            self.undrawn["drawn text"] += 1
            return
        shift = np.eye(3)
        shift[:2, 2] = (
            length_px(element.get("x"), whole=at.view[0]),
            length_px(element.get("y"), whole=at.view[1]),
        )
        own, tag, name = _own_name(element), tag_of(target), at.name
        if own:
            name = f"{name if name.endswith('-') else ''}{own}{'' if tag in _DRAWN else '-'}"
        at = replace(at, matrix=at.matrix @ shift, name=name, using=(*at.using, target_id))
        if tag not in ("symbol", "svg"):
            self.walk(target, at)
            return
        matrix, view = self.viewport(target, at.view, element)
        chain = (*at.chain, seen_of(tag, target.attrib))
        style = styled(at.style, target.attrib, chain, self.rules)
        at = replace(at, matrix=at.matrix @ matrix, view=view, chain=chain, style=style.taken())
        for k, child in enumerate(target if style.shown else ()):
            self.walk(child, at, k == 0)

    def viewport(
        self, element: Element, view: tuple[float, float], user: Element | None = None
    ) -> tuple[FloatArray, tuple[float, float]]:
        # a nested svg or a symbol in use: its place, and its view box in its width and height
        box = parse_view_box(element.get("viewBox"))
        place = np.eye(3)
        place[:2, 2] = length_px(element.get("x"), whole=view[0]), length_px(element.get("y"), whole=view[1])
        texts = [(user.get(k) if user is not None else None) or element.get(k) or "100%" for k in ("width", "height")]
        texts = ["100%" if t.strip() == "auto" else t for t in texts]
        width, height = (length_px(t, whole=w) for t, w in zip(texts, view))
        if box is None:
            return place, (width, height)
        inner = view_box_matrix(box, width, height, self.aspect(element))
        return place @ inner, (box[2], box[3])

    def aspect(self, element: Element) -> str | None:
        said = element.get("preserveAspectRatio")
        if not is_aspect(said):
            self.ignore(element, "preserveAspectRatio")
        return said

    def transform(self, element: Element) -> FloatArray:
        """Return an element's transform; a broken one counts as none, as SVG 2 section 8.5 says of invalid values."""
        text = element.get("transform") or ""
        try:
            return parse_transform(text)
        except ValueError:
            if len(text) > LONGEST_LIST:
                raise
            self.ignore(element, "transform")
            return np.eye(3)

    def ignore(self, element: Element, key: str) -> None:
        name = _title(element) or (element.get("id") or "").strip()
        self.ignored.setdefault(f"{key} of {tag_of(element)}" + (f" '{name}'" if name else ""), element.get(key, ""))

    def draw(self, element: Element, at: _Place) -> None:
        if not np.isfinite(at.matrix).all():
            raise self.fault("its transform is not finite", element)
        if _is_lettering(element):
            self.undrawn["drawn text"] += 1
            return
        tracks = self.tracks(element, at)
        if not tracks:
            return
        check_rings([track.path for track in tracks if track.closed])
        style, name = at.style, self.called(element, at.name)
        paint, opacity = seen_paint(style.fill, self.ids, self.stop_says), style.opacity * style.fill_opacity
        sheer = style.filled and paint.is_sheer(opacity)
        # a faint tint within a plain outline: the outline is what counts
        outlined = sheer and style.stroked and style.opacity * style.stroke_opacity >= SHEER
        clip = (
            self.unfaded(paint, opacity, tracks, at) if style.filled and paint.fades and not style.stroked else at.clip
        )
        spare = (element.get("id") or "").strip() or None
        self.marks.append(
            Mark(
                tracks=tuple(tracks),
                filled=style.filled and paint.covers * opacity > FAINT and not outlined,
                stroked=style.stroked,
                evenodd=style.fill_rule == "evenodd",
                colour=paint.on_white(opacity) if sheer else paint.colour,
                stroke=colour_hex(style.stroke),
                cloth="figured" if style.fill.strip().lower().startswith("url(") else "plain",
                name=name,
                layer=at.layer,
                spare=spare,
                clip=clip,
                bare=style.bare,
                sheer=sheer and not outlined,
            )
        )

    def unfaded(self, paint: Paint, opacity: float, tracks: Sequence[Track], at: _Place) -> BaseGeometry | None:
        """Return what clips show of an element where its gradient has not faded, in mm; None: all."""
        back = np.linalg.inv(at.matrix)
        user = np.vstack([t.path for t in tracks]) / self.page.px_mm @ back[:2, :2].T + back[:2, 2]
        ring = paint.shown(opacity, user.min(axis=0), np.ptp(user, axis=0))
        if ring is None:
            return at.clip
        seen = common_area(painted_regions([(ring @ at.matrix[:2, :2].T + at.matrix[:2, 2]) * self.page.px_mm]))
        return seen if at.clip is None else area_within(at.clip, seen)

    def stop_says(self, stop: Element) -> dict[str, str]:
        return declared(stop.attrib, (seen_of(tag_of(stop), stop.attrib),), self.rules)

    def tracks(self, element: Element, at: _Place) -> list[Track]:
        scale = float(np.linalg.norm(at.matrix[:2, :2], 2)) * self.page.px_mm
        if scale == 0:
            self.notes["dropped"] += 1
            return []
        left = MOST_POINTS - self.points
        out: list[Track] = []
        shut = False
        data = path_data_of(element, at.view)
        for sub in flatten_path_data(data, tolerance=FLATTEN_MM / scale, most_points=left, parsed=self.parsed):
            self.notes["dropped"] += sub.dropped
            with np.errstate(over="ignore", invalid="ignore"):
                xy = (sub.points @ at.matrix[:2, :2].T + at.matrix[:2, 2]) * self.page.px_mm
            if not (np.abs(xy) < MOST_MM).all():
                raise self.fault(f"a coordinate lies more than {MOST_MM / 1e6:g} km away", element, "Delete it.")
            self.points += len(xy)
            closed, gap = sub.closed, float(np.hypot(*(xy[-1] - xy[0])))
            if not closed and len(xy) > 2 and (gap <= READ_MM or (at.style.filled and not _flat(xy))):
                closed, shut = True, shut or gap > READ_MM
                self.notes["closed"] += READ_MM < gap <= CLOSE_MM
                self.notes["open"] += gap > CLOSE_MM
                xy = xy[:-1] if gap <= READ_MM else xy
            else:
                gap = 0.0
            path = dedupe(xy, closed=closed)
            if len(path) > 1:  # a closed path of two points is there and back: one line
                out.append(Track(path, closed and len(path) > 2, gap))
        return out

    def called(self, element: Element, name: str) -> str | None:
        own = _own_name(element)
        if not name.endswith("-"):
            return name or own
        own = own or (element.get("id") or "").strip() or None
        self.copies[name] += 1
        return f"{name}{own or self.copies[name]}"

    def shown_part(self, element: Element, at: _Place) -> BaseGeometry | None:
        """Return what clips and masks show of an element, in mm; None: all."""
        shown = at.clip
        for kind, target in (("clipPath", at.style.clip), ("mask", at.style.mask)):
            source = self.ids.get(target) if target else None
            if source is None or tag_of(source) != kind:
                continue
            key = (target, at.matrix.tobytes())
            if key not in self.clips:
                self.clips[key] = self.region_of(source, at, kind == "mask")
            region = self.clips[key]
            if region is not None:
                shown = region if shown is None else area_within(shown, region)
        return shown

    def region_of(self, source: Element, at: _Place, mask: bool) -> BaseGeometry | None:
        """Return the region that a clip or mask shows, in mm; None when it is of a kind that is not read."""
        units = source.get("maskContentUnits" if mask else "clipPathUnits")
        if units == "objectBoundingBox" or f"#{source.get('id')}" in at.using:
            self.notes["clip"] += 1
            return None
        keep, self.marks = self.marks, []
        inner = _Place(
            at.matrix @ self.transform(source),
            Style(),
            at.view,
            using=(*at.using, f"#{source.get('id')}"),
        )
        try:
            for child in source:
                self.walk(child, inner)
            found, self.marks = self.marks, keep
        finally:
            self.marks = keep
        area = common_area([])
        for mark in found:
            if mask and (mark.colour is None or not mark.filled):
                if mark.filled or mark.stroked:
                    self.notes["clip"] += 1
                    return None
                continue
            painted = common_area(painted_regions([t.path for t in mark.tracks if t.closed], evenodd=mark.evenodd))
            area = area.union(painted) if not mask or _light(mark.colour) > LIGHT else area.difference(painted)
        return area


def _too_much(limit: str, file: str) -> TooMuchError:
    return TooMuchError(f"the drawing holds {limit}", file=file, what_to_do="Save it without nested copies.")


def _walked(element: Element, ids: dict[str, Element], known: dict[Element, int], depth: int = 0) -> int:
    """Return how many elements a walk comes to, copies of copies counted; deeper than a walk goes counts as one.

    Each element is counted once, so that what would be refused after half a minute's walk is refused at once.
    """
    if element not in known and depth <= MOST_NESTED:
        known[element] = 1  # one that is used inside itself is refused by the walk
        tag = tag_of(element)
        inner: Iterable[Element] = element if tag in (*_CONTAINERS, "svg", "symbol") else ()
        if tag == "use":
            target = ids.get((element.get("href") or element.get(_HREF) or "").removeprefix("#"))
            inner = () if target is None else (target,)
        known[element] = 1 + sum(_walked(child, ids, known, depth + 1) for child in inner)
    return known.get(element, 1)


@dataclass(frozen=True, slots=True, eq=False)
class SvgFile:
    """An SVG file, read and parsed once: its marks can be had at any size."""

    file: str
    root: Element
    head: str
    ids: dict[str, Element]
    rules: Rules
    parsed: dict[str, PathPieces] = field(default_factory=dict)


def open_svg(path: FilePath) -> SvgFile:
    """Return an SVG file as it was parsed.

    Raises
    ------
    DrawingError
        The file can't be read, or exceeds a limit.
    """
    root, head = svg_root(path)
    ids: dict[str, Element] = {}
    rules = []
    for element in root.iter():
        if element.get("id"):
            ids.setdefault(element.get("id", ""), element)
        if tag_of(element) == "style":
            rules.append("".join(element.itertext()))
    return SvgFile(path.name, root, head, ids, parse_rules("\n".join(rules), path.name))


def svg_sheet(opened: SvgFile, *, unit_mm: float | None = None, unit: Unit = "in") -> Sheet:
    """Return the marks of an SVG file, at the size it says or with ``unit_mm`` millimetres in a user unit.

    Raises
    ------
    DrawingError
        The file refers to something outside itself, holds faults (all in one error), or exceeds a limit.
    """
    file, root = opened.file, opened.root
    page = page_of(root, opened.head, file, unit_mm=unit_mm, unit=unit)
    reader = _Reader(file, page, opened.ids, replace(opened.rules, tried=0), parsed=opened.parsed)
    if _walked(root, opened.ids, {}) > MOST_ELEMENTS:
        raise _too_much(f"more than {MOST_ELEMENTS:,} elements", file)
    reader.aspect(root)
    reader.walk(root, _Place(page.matrix, Style(), page.view))
    if reader.faults:
        raise faults_in_one(reader.faults, file)
    sheet = Sheet(file, reader.marks, page.size, page.unit_mm, page.sized, findings=list(page.findings), unit=unit)
    _report(reader, sheet)
    return sheet


def _report(reader: _Reader, sheet: Sheet) -> None:
    notes = reader.notes
    if n := notes["dropped"]:
        _note(sheet, FindingCode.NO_LENGTH, f"{n} pieces of no length were left out", "Nothing; they draw nothing.")
    if n := notes["closed"]:
        _note(
            sheet,
            FindingCode.PATH_CLOSED,
            f"{n} filled shapes did not quite end where they began and were closed",
            "Close them in the drawing if they are not patches.",
        )
    if n := notes["open"]:
        _note(
            sheet,
            FindingCode.OPEN_FILLED,
            f"{n} open {'line is' if n == 1 else 'lines are'} filled, and read as the closed "
            f"{'shape' if n == 1 else 'shapes'} that the paint makes",
            "Set the fill to none if only a line was meant.",
        )
    if n := notes["missing"]:
        _note(
            sheet,
            FindingCode.NOT_READ,
            f"{n} copies of what is not in the drawing were left out",
            "Nothing; they draw nothing.",
        )
    if n := notes["clip"]:
        _note(
            sheet,
            FindingCode.CLIP_IGNORED,
            f"{n} masks or clips of a kind that is not read were ignored: more may show than in your editor",
            "Cut the shapes themselves in your editor if it matters.",
        )
    if reader.ignored:
        first, value = next(iter(reader.ignored.items()))
        n = len(reader.ignored)
        _note(
            sheet,
            FindingCode.VALUE_IGNORED,
            f"{count_of(n, 'value')} that SVG does not know {were(n)} left out, as browsers do: "
            f"{first} is '{shown(value)}'" + (f", and {n - 1} more" if n > 1 else ""),
            "Look at the map; if a shape lies wrong there, mend it in your editor.",
        )
    for tag, count in sorted(reader.undrawn.items()):
        if count:
            what = "drawn text" if tag == "drawn text" else f"{tag} elements"
            _note(
                sheet, FindingCode.NOT_READ, f"{count} {what} were left out", "Turn what must be stitched into paths."
            )


def _flat(xy: FloatArray) -> bool:
    # whether points lie so near one line that their paint shows nothing
    middle = xy - xy.mean(axis=0)
    return bool(np.linalg.svd(middle, compute_uv=False)[-1] <= READ_MM * len(xy) ** 0.5)


def _light(colour: str | None) -> float:
    text = colour or "#000000"
    red, green, blue = (int(text[k : k + 2], 16) / 255 for k in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _title(element: Element) -> str | None:
    for child in element:
        if tag_of(child) == "title" and (child.text or "").strip():
            return " ".join((child.text or "").split())
    return None


def _own_name(element: Element) -> str | None:
    """Return what she called an element: its label, its title, or an id that no program made up."""
    label, own = (element.get(_LABEL) or "").strip(), (element.get("id") or "").strip()
    if label and not is_made_up(label.lstrip("#")):
        return label
    return _title(element) or (own if own and not is_made_up(own) else None)


def _group_name(element: Element) -> str | None:
    name = _own_name(element)
    return None if name is None or is_made_up_layer(name) else name


def _is_lettering(element: Element) -> bool:
    # text that an editor turned into shapes keeps its words in aria-label, or its group is numbered as text
    label = element.get("aria-label") and not element.get("role") and not element.get("aria-roledescription")
    return bool(label) or bool(re.fullmatch(r"text[-_]?\d+", element.get("id") or "") and tag_of(element) == "g")


def _note(sheet: Sheet, code: FindingCode, text: str, what_to_do: str) -> None:
    sheet.findings.append(Finding(code, "note", None, text, what_to_do))
