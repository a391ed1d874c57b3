"""The reach sheet: one page for each reach, to lie beside the machine.

Where the reach lies on the top, what is sewn in it and in which order, the marks that line it up with what is sewn
already, room to write down what was measured, and the cautions.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, groupby

import numpy as np

from ..geometry import as_region, clip_paths, rings, simplify_path
from ..model import FloatArray, Line, Path, Reach, Top
from ..units import format_length
from ._colours import LINES, START, STOP
from ._page import LETTER_WIDTH, path_data, text, wrapped
from ._page import number as n
from .cautions import SHEET_CAUTIONS

__all__ = ["ReachSheet", "reach_sheet_svg"]

PAGES = {"in": (215.9, 279.4), "mm": (210.0, 297.0), "cm": (210.0, 297.0)}
"""Letter where she measures in inches, else A4."""

EDGE_MM = 12.0
"""Margin of the page: most printers can't print nearer to the edge."""

PICTURE_Y, PICTURE_LEAST_MM, MAP_MM, ORDER_MM = 66.0, 55.0, 40.0, 40.0
"""Where the large picture begins and its least height; greatest height of the map; least room for the order."""

CROSSING_ENDS, AT_CROSSING_MM = 3, 0.3
"""Seam ends that make a crossing; a mark this near to one is at it."""

MOST_PAIRS = 6
"""Pairs of marks whose distance is stated: enough to check four marks against each other."""

MOST_ASIDE = 9
"""Rings of places tried for a badge that would cover another."""

ASIDE_TURNS = tuple(math.radians(turn) for turn in (45, 135, -135, -45, 0, 90, 180, -90))
"""On which side of its place a badge may stand, tried in turn."""

LOOKS: dict[str, tuple[str, float, tuple[float, ...]]] = {
    "stitch": ("stitch", 0.3, ()),
    "backtrack": ("backtrack", 0.4, ()),
    "seam-travel": ("seam", 0.45, (2.0, 1.0)),
    "edge-travel": ("edge", 0.45, (1.0, 0.7)),
    "step": ("step", 0.45, ()),
}
"""Kind of span, width and dashes of each kind of stitching, mm, in the order in which they are drawn."""

NAMES = {
    "stitch": "stitching",
    "backtrack": "stitched twice",
    "seam-travel": "hidden in a seam",
    "edge-travel": "along the edge",
    "step": "short step",
    "other": "sewn in another reach, or already",
}
"""What the key calls them: as the path picture does."""

Box = tuple[float, float, float, float]

DARK, LINE, OTHER, SEAM, MARK = "#222", LINES["stitch"], "#c4bdb2", "#9b948a", "#b3206e"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ReachSheet:
    """What the sheet of one reach shows.

    Attributes
    ----------
    title, plan : str
        Name of the work; file name of its plan, with its option as the command line takes it.
    units : {"in", "mm", "cm"}
        Of the written sizes; also chooses the page.
    top : Top
        Patches and seams.
    reach, reaches : Reach, sequence of Reach
        This one; all of them.
    lines : sequence of Line
        Those of this reach, in sewing order.
    zones : sequence of str
        What each line sews, in words.
    others : sequence of (n, 2) arrays
        What is sewn in other reaches or already, drawn pale.
    sewn : mapping of reach number to left, top, right, bottom
        What is sewn in each reach that has lines.
    own, later : mapping of str to (x, y)
        The registration marks that this reach is lined up on; those in it that later reaches need.
    files : sequence of str
        Its stitch files.
    """

    title: str
    plan: str
    units: str
    top: Top
    reach: Reach
    reaches: Sequence[Reach]
    lines: Sequence[Line]
    zones: Sequence[str]
    others: Sequence[FloatArray] = ()
    sewn: Mapping[int, Box]
    own: Mapping[str, tuple[float, float]]
    later: Mapping[str, tuple[float, float]]
    files: Sequence[str] = ()

    def length(self, mm: float) -> str:
        """Return a length in her unit, to 1/16 in."""
        return format_length(mm, self.units, per_inch=16)

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        """All its marks, those that it is lined up on first."""
        return {**self.own, **self.later}


@dataclass(frozen=True, slots=True)
class _Block:
    """A part of the page, drawn from 0, 0, and how high it is."""

    rows: list[str]
    height: float

    def at(self, x: float, y: float) -> list[str]:
        return [f'<g transform="translate({n(x)},{n(y)})">', *self.rows, "</g>"]


class _Column:
    """Words one below the other in a column of a width."""

    def __init__(self, width: float) -> None:
        self.width, self.y, self.rows = width, 0.0, list[str]()

    def heading(self, words: str, colour: str) -> None:
        self.y += 7.0 if self.y else 4.2
        self.rows.append(text(0, self.y, words, 3.6, bold=True, colour=colour))
        self.y += 1.4

    def say(self, words: str, size: float = 2.9, *, lead: str = "", indent: float = 0.0, colour: str = DARK) -> None:
        for k, row in enumerate(wrapped(words, self.width - indent, size)):
            self.y += 1.38 * size
            if lead and not k:
                self.rows.append(text(0, self.y, lead, size, bold=True, colour=colour))
            self.rows.append(text(indent, self.y, row, size))
        self.y += 0.6

    def blank(self, words: str, size: float = 2.9) -> None:
        """Say something and leave a line to write on behind it."""
        self.y += 6.2
        self.rows.append(text(0, self.y, words, size))
        start = LETTER_WIDTH * size * 1.06 * len(words)
        self.rows.append(
            f'<path d="M{n(start)},{n(self.y + 0.6)}H{n(self.width)}" stroke="{DARK}" stroke-width="0.2"/>'
        )

    def block(self) -> _Block:
        return _Block(self.rows, self.y)


def reach_sheet_svg(sheet: ReachSheet) -> str:
    """Return the sheet of one reach as SVG text, one page at true size."""
    width, height = PAGES[sheet.units]
    inner = width - 2 * EDGE_MM
    gap = 7.0
    column = (inner - gap) / 2
    foot = _cautions(inner)
    foot_y = height - EDGE_MM - foot.height
    marks, later = _line_up(sheet, column), _mark_later(sheet, column)
    order = _order(sheet, column, math.inf)
    least = min(order.height, ORDER_MM)
    later_left = marks.height < least  # the marks of later reaches stand in the shorter column
    fixed = max(marks.height + later.height * later_left, least + later.height * (not later_left))
    picture = _picture(sheet, inner, foot_y - PICTURE_Y - fixed - 9.0)
    below = PICTURE_Y + picture.height + 3.0
    order = _order(sheet, column, foot_y - 6.0 - below - later.height * (not later_left))
    later_x, later_y = (0.0, marks.height) if later_left else (column + gap, order.height)
    body = [
        *_head(sheet, width, inner),
        *picture.at(EDGE_MM, PICTURE_Y),
        *marks.at(EDGE_MM, below),
        *order.at(EDGE_MM + column + gap, below),
        *later.at(EDGE_MM + later_x, below + later_y),
        *foot.at(EDGE_MM, foot_y),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{n(width)}mm" height="{n(height)}mm" '
        f'viewBox="0 0 {n(width)} {n(height)}">\n'
        f"<title>{_plain(sheet.title)}: reach {sheet.reach.number} of {len(sheet.reaches)}</title>\n"
        f'<rect width="{n(width)}" height="{n(height)}" fill="#fff"/>\n' + "\n".join(body) + "\n</svg>\n"
    )


def _plain(words: str) -> str:
    return text(0, 0, words, 1).partition(">")[2].rpartition("<")[0]


def _head(sheet: ReachSheet, width: float, inner: float) -> list[str]:
    left, top, right, bottom = sheet.reach.window
    size = f"{sheet.length(right - left)} x {sheet.length(bottom - top)}"
    whole = " x ".join(sheet.length(v) for v in sheet.top.size)
    rows = [
        f"This reach: {size}. The whole top: {whole}.",
        f"Stitch file: {', '.join(sheet.files)}"
        if sheet.files
        else "Guided by this sheet; no stitch file was asked for.",
    ]
    room = inner - 66.0
    out = [
        *_title(sheet.title, room),
        text(EDGE_MM, 30.0, f"Reach {sheet.reach.number} of {len(sheet.reaches)}", 8.5, bold=True, colour=LINE),
    ]
    y = 37.0
    for row in rows:
        for words in wrapped(row, room, 3.1):
            out.append(text(EDGE_MM, y, words, 3.1))
            y += 4.3
    return [*out, *_map(sheet, width - EDGE_MM, EDGE_MM)]


def _title(words: str, room: float) -> list[str]:
    """Return the title on one line, or smaller on two; what is longer still is cut short."""
    if len(wrapped(words, room, 5.5)) == 1:
        return [text(EDGE_MM, 19.0, words, 5.5, bold=True)]
    return [text(EDGE_MM, 15.0 + 5.2 * k, row, 3.9, bold=True) for k, row in enumerate(wrapped(words, room, 4.2)[:2])]


def _map(sheet: ReachSheet, right: float, top: float) -> list[str]:
    """Return the small map of the whole top: this reach shaded, all numbered."""
    s = min(60.0 / sheet.top.size[0], MAP_MM / sheet.top.size[1])
    wide, high = (s * v for v in sheet.top.size)
    x, y = right - wide, top
    out = [f'<g transform="translate({n(x)},{n(y)})">']
    patches = "".join(path_data(ring * s, closed=True) for p in sheet.top.patches for ring in rings(p.outline))
    out.append(f'<path d="{patches}" fill="none" stroke="{OTHER}" stroke-width="0.15"/>')
    boxes = {number: _on_top(box, sheet.top.size, s) for number, box in sheet.sewn.items()}
    a, b, w, h = _on_top(sheet.reach.window, sheet.top.size, s)
    style = f'fill="{LINE}" fill-opacity="0.2" stroke="{LINE}" stroke-width="0.7"'
    out.append(f'<rect x="{n(a)}" y="{n(b)}" width="{n(w)}" height="{n(h)}" {style}/>')
    for number, (a, b, w, h) in boxes.items():
        if number != sheet.reach.number:
            style = f'fill="none" stroke="{LINE}" stroke-width="0.2" stroke-dasharray="1 0.8"'
            out.append(f'<rect x="{n(a)}" y="{n(b)}" width="{n(w)}" height="{n(h)}" {style}/>')
    for number, (a, b, w, h) in boxes.items():
        mine = number == sheet.reach.number
        size = min(4.5, 0.5 * min(w, h)) * (1.25 if mine else 1.0)
        out.append(
            text(
                a + w / 2, b + h / 2 + 0.36 * size, str(number), max(size, 1.8), anchor="middle", colour=LINE, bold=mine
            )
        )
    out.append(f'<rect width="{n(wide)}" height="{n(high)}" fill="none" stroke="{DARK}" stroke-width="0.35"/></g>')
    return [*out, text(right, y + high + 3.6, "Map of the whole top, not to scale", 2.4, anchor="end")]


def _on_top(window: Box, size: tuple[float, float], s: float) -> Box:
    left, top = max(window[0], 0.0), max(window[1], 0.0)
    right, bottom = min(window[2], size[0]), min(window[3], size[1])
    return left * s, top * s, (right - left) * s, (bottom - top) * s


def _picture(sheet: ReachSheet, inner: float, most: float) -> _Block:
    """Return the large picture with its sizes and its key, no higher than ``most``."""
    left, top, right, bottom = sheet.reach.window
    s = min((inner - 10.0) / (right - left), max(most - 14.0, PICTURE_LEAST_MM) / (bottom - top))
    wide, high = s * (right - left), s * (bottom - top)
    x, y = (inner - wide) / 2 + 3.0, 0.0
    shift = np.array([x - s * left, y - s * top])
    box = f'x="{n(x)}" y="{n(y)}" width="{n(wide)}" height="{n(high)}"'
    seams = "".join(path_data(seam.path * s + shift) for seam in sheet.top.seams)
    cloth = "".join(path_data(ring * s + shift, closed=True) for p in sheet.top.patches for ring in rings(p.outline))
    others, by_kind = _within(sheet.others, sheet.reach.window), _by_kind(sheet.lines)
    out = [
        f'<clipPath id="reach"><rect {box}/></clipPath><rect {box} fill="#eeebe5"/>',
        f'<g clip-path="url(#reach)" fill="none" stroke-linejoin="round" stroke-linecap="round">'
        f'<path d="{cloth}" fill="#fbf9f4" stroke="none"/>'
        f'<path d="{seams}" stroke="{SEAM}" stroke-width="0.25"/>',
        _strands(others, s, shift, OTHER, 0.25),
        *(_strands(paths, s, shift, LINES[kind], *LOOKS[kind][1:]) for kind, paths in by_kind.items()),
        "</g>",
        *_ends(sheet, s, shift),
        f'<rect {box} fill="none" stroke="{DARK}" stroke-width="0.5"/>',
        text(x + wide / 2, y - 4.4, sheet.length(right - left), 3.0, anchor="middle"),
        f'<g transform="translate({n(x - 4.4)},{n(y + high / 2)}) rotate(-90)">'
        f"{text(0, 0, sheet.length(bottom - top), 3.0, anchor='middle')}</g>",
        *_crosses(sheet, s, shift),
    ]
    drawn, deep = _key([*by_kind, *(["other"] if others else [])], inner, y + high + 5.6)
    words = (
        f"Not to scale (about 1 to {1 / s:.1f}): trust the sizes that are written. Green circle: a line starts; red "
        "square: it stops; the numbers are those of the lines in the stitch file of this reach."
    )
    out += drawn
    for row in wrapped(words, inner, 2.6):
        out.append(text(0, deep, row, 2.6, colour="#555"))
        deep += 3.5
    return _Block(out, deep)


def _by_kind(lines: Sequence[Line]) -> dict[str, list[FloatArray]]:
    """Return the stretches of each kind of stitching, kinds in the order in which they are drawn over each other."""
    found: dict[str, list[FloatArray]] = {}
    for kind, (span_kind, *_) in LOOKS.items():
        paths = [line.path[s.start : s.end + 1] for line in lines for s in line.spans if s.kind == span_kind]
        if paths:
            found[kind] = paths
    return found


def _key(kinds: Sequence[str], inner: float, y: float) -> tuple[list[str], float]:
    """Return a sample of each kind of line as it is drawn, with its name, and where the next words go."""
    x, out = 0.0, []
    for kind in kinds:
        name = NAMES[kind]
        long = 12.0 + 2.6 * LETTER_WIDTH * len(name) + 5.0
        if x > 0 and x + long > inner:
            x, y = 0.0, y + 3.8
        colour, wide, dash = (OTHER, 0.25, ()) if kind == "other" else (LINES[kind], *LOOKS[kind][1:])
        sample = np.array([(x, y - 0.9), (x + 10.0, y - 0.9)])
        out.append(f'<path class="key" d="{path_data(sample)}" {_stroke(colour, wide, dash)}/>')
        out.append(text(x + 12.0, y, name, 2.6, colour="#555"))
        x += long
    return out, y + (4.2 if kinds else 0.0)


def _within(paths: Sequence[FloatArray], window: Box) -> list[Path]:
    """Return what of the paths lies in a window, so that a sheet does not carry the whole quilt."""
    left, top, right, bottom = window
    region = as_region([(left, top), (right, top), (right, bottom), (left, bottom)])
    return [piece for _, piece in clip_paths([p for p in paths if len(p) > 1], region)]


def _strands(
    paths: Sequence[FloatArray], s: float, shift: FloatArray, colour: str, wide: float, dash: Sequence[float] = ()
) -> str:
    d = "".join(path_data(simplify_path(path, 0.08 / s) * s + shift) for path in paths if len(path) > 1)
    return f'<path class="sewn" d="{d}" {_stroke(colour, wide, dash)}/>' if d else ""


def _stroke(colour: str, wide: float, dash: Sequence[float]) -> str:
    dashed = f' stroke-dasharray="{" ".join(n(v) for v in dash)}"' if dash else ""
    return f'stroke="{colour}" stroke-width="{n(wide)}"{dashed}'


def _ends(sheet: ReachSheet, s: float, shift: FloatArray) -> list[str]:
    """Return the numbered starts and stops; one that would cover another or a registration mark stands aside of it."""
    r = 2.1 if len(sheet.lines) <= 25 else 1.5
    taken = [(np.asarray(at) * s + shift, 3.6) for at in sheet.marks.values()]
    leaders, badges = [], []
    for k, line in enumerate(sheet.lines, 1):
        for path_end, colour in ((line.path[0], START), (line.path[-1], STOP)):
            at = path_end * s + shift
            spot = _free_spot(at, r, taken)
            taken.append((spot, r))
            if np.hypot(*(spot - at)) > 0:
                leaders.append(f'<path d="{path_data(np.array([at, spot]))}" stroke="{colour}" stroke-width="0.3"/>')
                dot = path_data(np.array([at, at]))
                leaders.append(f'<path d="{dot}" stroke="{colour}" stroke-width="1.2" stroke-linecap="round"/>')
            badges += _badge(spot, r, colour, k)
    return [*leaders, *badges]


def _free_spot(at: FloatArray, r: float, taken: Sequence[tuple[FloatArray, float]]) -> FloatArray:
    """Return the place nearest to ``at`` where a badge covers none that is taken; ``at`` itself where all is full."""
    for ring in range(MOST_ASIDE):
        far = ring * 1.6 * r
        for turn in ASIDE_TURNS[: 1 if ring == 0 else None]:
            spot = at + far * np.array([math.cos(turn), math.sin(turn)])
            if all(math.hypot(*(spot - other)) >= r * 1.05 + size for other, size in taken):
                return spot
    return at


def _badge(at: FloatArray, r: float, colour: str, number: int) -> list[str]:
    """Return a numbered disc (a start) or square (a stop)."""
    size = r * (1.35 if number < 10 else 1.1 if number < 100 else 0.8)
    white = f'stroke="#fff" stroke-width="{n(r / 7)}"'
    shape = (
        f'<circle cx="{n(at[0])}" cy="{n(at[1])}" r="{n(r)}"'
        if colour == START
        else f'<rect x="{n(at[0] - 0.9 * r)}" y="{n(at[1] - 0.9 * r)}" width="{n(1.8 * r)}" height="{n(1.8 * r)}"'
    )
    words = text(at[0], at[1] + 0.36 * size, str(number), size, anchor="middle", colour="#fff")
    return [f'{shape} fill="{colour}" {white}/>', words]


def _crosses(sheet: ReachSheet, s: float, shift: FloatArray) -> list[str]:
    """Return the registration marks, each with its letter towards the middle of the picture."""
    window = np.array(sheet.reach.window)
    middle = (window[:2] + window[2:]) / 2 * s + shift
    places = {name: np.asarray(at) * s + shift for name, at in sheet.marks.items()}
    out, taken = [], list(places.values())
    for x, y in places.values():
        cross = f"M{n(x - 3.4)},{n(y)}h6.8M{n(x)},{n(y - 3.4)}v6.8"
        out.append(f'<path d="{cross}" stroke="#fff" stroke-width="1.4"/>')
        out.append(f'<path d="{cross}" stroke="{MARK}" stroke-width="0.5"/>')
        out.append(f'<circle cx="{n(x)}" cy="{n(y)}" r="2" fill="none" stroke="{MARK}" stroke-width="0.5"/>')
    for name, at in places.items():
        inward = np.where(at <= middle, 1.0, -1.0)
        spots = [at + 4.4 * inward * np.array(way) for way in ((1, 1), (1, -1), (-1, 1), (-1, -1))]
        box = [window[:2] * s + shift, window[2:] * s + shift]
        inside = [spot for spot in spots if (spot > box[0]).all() and (spot < box[1]).all()]
        u, v = max(inside or spots, key=lambda spot: round(min(float(np.hypot(*(spot - other))) for other in taken), 1))
        taken.append(np.array([u, v]))
        out.append(f'<circle cx="{n(u)}" cy="{n(v)}" r="2.6" fill="#fff" fill-opacity="0.9"/>')
        out.append(text(u, v + 1.5, name, 4.2, bold=True, anchor="middle", colour=MARK))
    return out


def _line_up(sheet: ReachSheet, width: float) -> _Block:
    """Return the marks to line up on, the distances between them, and room to write down what was measured."""
    column, crossings = _Column(width), _crossings(sheet.top)
    first = next(iter(sheet.marks), None)
    zero = "the top left corner of this reach" if first is None else f"mark {first}"
    column.heading("Line up on these marks" if sheet.own else "Begin here", MARK)
    then = "then check the others." if len(sheet.own) > 1 else "and lay the edges of the reach straight with the top."
    column.say(f"0, 0 of the stitch file is {zero}: set the needle over it, {then}")
    for name in sheet.own or list(sheet.later)[:1]:
        column.say(_place(sheet, name, crossings), lead=name, indent=6.0, colour=MARK)
    for a, b in list(combinations(sheet.own, 2))[:MOST_PAIRS]:
        apart = float(np.hypot(*(np.array(sheet.own[a]) - sheet.own[b])))
        column.blank(f"{a} to {b}: planned {sheet.length(apart)}, measured")
    if sheet.own:
        for name in list(sheet.own)[:MOST_PAIRS]:
            column.blank(f"{name} lies now, right and down:")
        pairs = " ".join(f"{name}=RIGHT,DOWN" for name in list(sheet.own)[:2])
        column.y += 3.0
        column.say(
            "If they do not lie as planned: measure each, right and down from any one point of the frame, and have "
            "the file turned and moved to them, with that point as 0, 0:"
        )
        column.say(f'plumeline refit {sheet.plan} --reach {sheet.reach.number} --marks "{pairs}" --to FOLDER', 2.4)
    return column.block()


def _mark_later(sheet: ReachSheet, width: float) -> _Block:
    """Return the marks that are still to be put on the cloth for later reaches."""
    column, crossings = _Column(width), _crossings(sheet.top)
    if sheet.later:
        column.y = 2.0
        column.heading("Mark before you move on", MARK)
        column.say("Later reaches are lined up on these.")
        for name in sheet.later:
            column.say(_place(sheet, name, crossings), lead=name, indent=6.0, colour=MARK)
    return column.block()


def _place(sheet: ReachSheet, name: str, crossings: FloatArray) -> str:
    """Return in words where a mark is: at or beside a seam crossing, and how far from two edges of the reach."""
    at = np.array(sheet.marks[name])
    left, top, right, bottom = sheet.reach.window
    across = min((at[0] - left, "left"), (right - at[0], "right"))
    down = min((at[1] - top, "top"), (bottom - at[1], "bottom"))
    edges = (
        f"{sheet.length(abs(across[0]))} from the {across[1]}, {sheet.length(abs(down[0]))} from the {down[1]} edge "
        "of this reach"
    )
    if not len(crossings):
        return edges
    off = at - crossings[np.argmin(np.hypot(*(crossings - at).T))]
    if np.abs(off).max() <= AT_CROSSING_MM:
        return f"at a seam crossing; {edges}"
    beside = [
        f"{sheet.length(abs(v))} {('left of', 'right of')[v > 0] if k == 0 else ('above', 'below')[v > 0]}"
        for k, v in enumerate(off.tolist())
        if abs(v) > AT_CROSSING_MM
    ]
    return f"{' and '.join(beside)} the nearest seam crossing; {edges}"


def _crossings(top: Top) -> FloatArray:
    ends = np.array([seam.path[k] for seam in top.seams for k in (0, -1)]).reshape(-1, 2)
    places, count = np.unique(np.round(ends, 1), axis=0, return_counts=True)
    return places[count >= CROSSING_ENDS]


def _order(sheet: ReachSheet, width: float, most: float) -> _Block:
    """Return what is sewn in which order, no higher than ``most``: lines in a row that sew the same in one entry."""
    column = _Column(width)
    column.heading("Sew in this order", LINE)
    for zones, group in groupby(enumerate(sheet.zones, 1), lambda item: item[1]):
        numbers = [k for k, _ in group]
        which = f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
        last = numbers[-1] == len(sheet.zones)
        if column.y + 4.6 * len(wrapped(zones, width - 15.0, 2.9)) > most - (0.0 if last else 4.6):
            column.say("and so on, as numbered in the picture")
            break
        column.say(zones, lead=which, indent=15.0)
    if not sheet.lines:
        column.say("nothing: no zone lies here")
    return column.block()


def _cautions(width: float) -> _Block:
    """Return the cautions in two columns below a line."""
    size, gap = 2.3, 6.0
    halves = (_Column((width - gap) / 2), _Column((width - gap) / 2))
    lengths = [len(caution) for caution in SHEET_CAUTIONS]
    for k, caution in enumerate(SHEET_CAUTIONS):
        half = halves[sum(lengths[:k]) + lengths[k] / 2 > sum(lengths) / 2]
        half.say(caution, size, lead="•", indent=2.5)
    rows = [
        f'<path d="M0,0H{n(width)}" stroke="{SEAM}" stroke-width="0.25"/>',
        text(0, 4.4, "Read first", 3.0, bold=True),
        *halves[0].block().at(0, 5.0),
        *halves[1].block().at((width + gap) / 2, 5.0),
    ]
    return _Block(rows, 5.0 + max(half.y for half in halves))
