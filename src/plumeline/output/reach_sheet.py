"""The reach sheet: one page for each reach, to lie beside the machine.

Where the reach lies on the top, what is sewn in it and in which order, the marks that line it up with what is sewn
already, room to write down what was measured, and the cautions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, groupby

import numpy as np

from ..geometry import rings, simplify_path
from ..model import FloatArray, Line, Reach, Top
from ..units import format_length
from ._page import number as n
from ._page import path_data, text, wrapped
from .cautions import CAUTIONS

__all__ = ["ReachSheet", "reach_sheet_svg"]

PAGES = {"in": (215.9, 279.4), "mm": (210.0, 297.0), "cm": (210.0, 297.0)}
"""Letter where she measures in inches, else A4."""

EDGE_MM = 12.0
"""Margin of the page: most printers can't print nearer to the edge."""

PICTURE_MM, MAP_MM = 104.0, 42.0
"""Greatest height of the large picture and of the map."""

CROSSING_ENDS, AT_CROSSING_MM = 3, 0.3
"""Seam ends that make a crossing; a mark this near to one is at it."""

MOST_PAIRS = 6
"""Pairs of marks whose distance is stated: enough to check four marks against each other."""

DARK, LINE, OTHER, SEAM, MARK = "#222", "#1d2b53", "#c4bdb2", "#9b948a", "#b3206e"
START, STOP = "#1f7a3d", "#a3212a"


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class ReachSheet:
    """What the sheet of one reach shows.

    Attributes
    ----------
    title, plan : str
        Name of the work; file name of its plan.
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
    marks : mapping of str to (x, y)
        The registration marks within the reach, those that it is lined up on first.
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
    marks: Mapping[str, tuple[float, float]]
    files: Sequence[str] = ()

    def length(self, mm: float) -> str:
        """Return a length in her unit, to 1/16 in."""
        return format_length(mm, self.units, per_inch=16)

    @property
    def own(self) -> tuple[str, ...]:
        """The marks that are on the cloth already, from an earlier reach."""
        return tuple(
            name
            for name, at in self.marks.items()
            if (np.abs(self.reach.marks - at) < AT_CROSSING_MM).all(axis=1).any()
        )


def reach_sheet_svg(sheet: ReachSheet) -> str:
    """Return the sheet of one reach as SVG text, one page at true size."""
    width, height = PAGES[sheet.units]
    inner = width - 2 * EDGE_MM
    cautions = _cautions(EDGE_MM, height - EDGE_MM, inner)
    picture, below = _picture(sheet, EDGE_MM, 62.0, inner)
    left, gap = 0.58 * inner, 6.0
    body = [
        *_head(sheet, width, inner),
        *picture,
        *_marks(sheet, EDGE_MM, below, left),
        *_order(sheet, EDGE_MM + left + gap, below, inner - left - gap, cautions.top - 4.0),
        *cautions.rows,
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
        text(EDGE_MM, 19.0, wrapped(sheet.title, room, 5.5)[0], 5.5, bold=True),
        text(EDGE_MM, 30.0, f"Reach {sheet.reach.number} of {len(sheet.reaches)}", 8.5, bold=True, colour=LINE),
    ]
    y = 37.0
    for row in rows:
        for words in wrapped(row, room, 3.1):
            out.append(text(EDGE_MM, y, words, 3.1))
            y += 4.3
    return [*out, *_map(sheet, width - EDGE_MM, EDGE_MM)]


def _map(sheet: ReachSheet, right: float, top: float) -> list[str]:
    """Return the small map of the whole top: this reach shaded, all numbered."""
    s = min(60.0 / sheet.top.size[0], MAP_MM / sheet.top.size[1])
    wide, high = (s * v for v in sheet.top.size)
    x, y = right - wide, top
    out = [f'<g transform="translate({n(x)},{n(y)})">']
    patches = "".join(path_data(ring * s, closed=True) for p in sheet.top.patches for ring in rings(p.outline))
    out.append(f'<path d="{patches}" fill="none" stroke="{OTHER}" stroke-width="0.15"/>')
    boxes = [_on_top(r.window, sheet.top.size, s) for r in sheet.reaches]
    for reach, (a, b, w, h) in zip(sheet.reaches, boxes):
        mine = reach.number == sheet.reach.number
        style = 'fill="#1d2b53" fill-opacity="0.22" stroke-width="0.6"' if mine else 'fill="none" stroke-width="0.25"'
        out.append(f'<rect x="{n(a)}" y="{n(b)}" width="{n(w)}" height="{n(h)}" stroke="{LINE}" {style}/>')
    size = max(min(4.5, *(0.5 * min(w, h) for _, _, w, h in boxes)), 1.8)
    out += [
        text(
            a + w / 2, b + h / 2 + 0.36 * size, str(r.number), size, anchor="middle", colour=LINE, bold=r is sheet.reach
        )
        for r, (a, b, w, h) in zip(sheet.reaches, boxes)
    ]
    out.append(f'<rect width="{n(wide)}" height="{n(high)}" fill="none" stroke="{DARK}" stroke-width="0.35"/></g>')
    return [*out, text(right, y + high + 3.6, "Map of the whole top, not to scale", 2.4, anchor="end")]


def _on_top(window: tuple[float, float, float, float], size: tuple[float, float], s: float) -> tuple[float, ...]:
    left, top = max(window[0], 0.0), max(window[1], 0.0)
    right, bottom = min(window[2], size[0]), min(window[3], size[1])
    return left * s, top * s, (right - left) * s, (bottom - top) * s


def _picture(sheet: ReachSheet, x: float, y: float, inner: float) -> tuple[list[str], float]:
    """Return the large picture with its sizes and its key, and where the page goes on below."""
    left, top, right, bottom = sheet.reach.window
    s = min((inner - 10.0) / (right - left), PICTURE_MM / (bottom - top))
    wide, high = s * (right - left), s * (bottom - top)
    x += (inner - wide) / 2 + 3.0
    shift = np.array([x - s * left, y - s * top])
    box = f'x="{n(x)}" y="{n(y)}" width="{n(wide)}" height="{n(high)}"'
    seams = "".join(path_data(seam.path * s + shift) for seam in sheet.top.seams)
    cloth = "".join(path_data(ring * s + shift, closed=True) for p in sheet.top.patches for ring in rings(p.outline))
    out = [
        f'<clipPath id="reach"><rect {box}/></clipPath><rect {box} fill="#eeebe5"/>',
        f'<g clip-path="url(#reach)" fill="none" stroke-linejoin="round" stroke-linecap="round">'
        f'<path d="{cloth}" fill="#fbf9f4" stroke="none"/>'
        f'<path d="{seams}" stroke="{SEAM}" stroke-width="0.25"/>',
        _strands(sheet.others, s, shift, OTHER, 0.25),
        _strands([line.path for line in sheet.lines], s, shift, LINE, 0.3),
        "</g>",
        *_ends(sheet, s, shift),
        f'<rect {box} fill="none" stroke="{DARK}" stroke-width="0.5"/>',
        text(x + wide / 2, y - 1.8, sheet.length(right - left), 3.0, anchor="middle"),
        f'<g transform="translate({n(x - 1.8)},{n(y + high / 2)}) rotate(-90)">'
        f"{text(0, 0, sheet.length(bottom - top), 3.0, anchor='middle')}</g>",
        *_crosses(sheet, s, shift),
    ]
    key = (
        f"Not to scale (about 1 to {1 / s:.1f}): trust the sizes that are written. Green circle: a line starts; red "
        "square: it stops; the numbers are those of the lines in the stitch file of this reach. Grey: sewn in another "
        "reach, or already."
    )
    y += high + 4.6
    for words in wrapped(key, inner, 2.6):
        out.append(text(EDGE_MM, y, words, 2.6, colour="#555"))
        y += 3.5
    return out, y + 4.5


def _strands(paths: Sequence[FloatArray], s: float, shift: FloatArray, colour: str, wide: float) -> str:
    d = "".join(path_data(simplify_path(path, 0.08 / s) * s + shift) for path in paths if len(path) > 1)
    return f'<path d="{d}" stroke="{colour}" stroke-width="{n(wide)}"/>' if d else ""


def _ends(sheet: ReachSheet, s: float, shift: FloatArray) -> list[str]:
    """Return the numbered starts and stops; a stop on its own start moves aside."""
    r = 2.1 if len(sheet.lines) <= 25 else 1.5
    starts, stops = [], []
    for k, line in enumerate(sheet.lines, 1):
        a, b = line.path[0] * s + shift, line.path[-1] * s + shift
        if np.hypot(*(b - a)) < 2 * r:
            b = a + np.array([2 * r, 0.0])
        size = r * (1.35 if k < 10 else 1.1 if k < 100 else 0.8)
        white = f'stroke="#fff" stroke-width="{n(r / 7)}"'
        starts.append(f'<circle cx="{n(a[0])}" cy="{n(a[1])}" r="{n(r)}" fill="{START}" {white}/>')
        starts.append(text(a[0], a[1] + 0.36 * size, str(k), size, anchor="middle", colour="#fff"))
        stops.append(
            f'<rect x="{n(b[0] - r)}" y="{n(b[1] - r)}" width="{n(2 * r)}" height="{n(2 * r)}" fill="{STOP}" {white}/>'
        )
        stops.append(text(b[0], b[1] + 0.36 * size, str(k), size, anchor="middle", colour="#fff"))
    return [*stops, *starts]


def _crosses(sheet: ReachSheet, s: float, shift: FloatArray) -> list[str]:
    """Return the registration marks, each with its letter towards the middle of the picture."""
    window = np.array(sheet.reach.window)
    middle = (window[:2] + window[2:]) / 2 * s + shift
    out = []
    for name, at in sheet.marks.items():
        x, y = np.asarray(at) * s + shift
        cross = f"M{n(x - 3.4)},{n(y)}h6.8M{n(x)},{n(y - 3.4)}v6.8"
        out.append(f'<path d="{cross}" stroke="#fff" stroke-width="1.4"/>')
        out.append(f'<path d="{cross}" stroke="{MARK}" stroke-width="0.5"/>')
        out.append(f'<circle cx="{n(x)}" cy="{n(y)}" r="2" fill="none" stroke="{MARK}" stroke-width="0.5"/>')
        u, v = x + (4.4 if x <= middle[0] else -4.4), y + (5.4 if y <= middle[1] else -3.2)
        out.append(f'<circle cx="{n(u)}" cy="{n(v - 1.5)}" r="2.7" fill="#fff" fill-opacity="0.9"/>')
        out.append(text(u, v, name, 4.2, bold=True, anchor="middle", colour=MARK))
    return out


def _marks(sheet: ReachSheet, x: float, y: float, width: float) -> list[str]:
    """Return where the marks are, the distances between them, and room to write down what was measured."""
    own = sheet.own
    later = [name for name in sheet.marks if name not in own]
    crossings = _crossings(sheet.top)
    out: list[str] = []

    def say(words: str, size: float = 2.9, *, bold: bool = False, indent: float = 0.0, after: float = 0.0) -> None:
        nonlocal y
        for row in wrapped(words, width - indent, size):
            out.append(text(x + indent, y, row, size, bold=bold, colour=MARK if bold and size > 3 else DARK))
            y += 1.38 * size
        y += after

    first = next(iter(sheet.marks), None)
    zero = "the top left corner of this reach" if first is None else f"mark {first}"
    groups = [
        (own, "Line up on these marks", f"0, 0 of the file is {zero}: set the needle over it, then check the others."),
        (
            later,
            "Mark before you move on",
            "The next reaches are lined up on them." if own else f"0, 0 of the file is {zero}.",
        ),
    ]
    for names, heading, words in groups:
        if names:
            say(heading, 3.6, bold=True, after=0.6)
            say(words, after=0.8)
            for name in names:
                out.append(text(x, y, name, 3.2, bold=True, colour=MARK))
                say(_place(sheet, name, crossings), indent=6.0, after=0.7)
            y += 1.6
    if len(sheet.marks) > 1:
        say("Measure and write down", 3.6, bold=True, after=0.8)
        for a, b in list(combinations(own if len(own) > 1 else list(sheet.marks), 2))[:MOST_PAIRS]:
            apart = float(np.hypot(*(np.array(sheet.marks[a]) - sheet.marks[b])))
            out.append(text(x, y, f"{a} to {b}: planned {sheet.length(apart)}, measured", 2.9))
            out.append(f'<path d="M{n(x + 66)},{n(y + 0.6)}H{n(x + width)}" stroke="{DARK}" stroke-width="0.2"/>')
            y += 6.0
    if own:
        say(
            "More than 1 % off, or turned? Measure every mark, right and down from one point of the frame, and run",
            after=0.4,
        )
        pairs = " ".join(f"{name}=RIGHT,DOWN" for name in own[:3])
        say(f'plumeline refit {sheet.plan} --reach {sheet.reach.number} --marks "{pairs}" --to FOLDER', 2.6, after=0.4)
    return out


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
        f"{sheet.length(abs(v))} {('left', 'right')[v > 0] if k == 0 else ('above', 'below')[v > 0]}"
        for k, v in enumerate(off.tolist())
        if abs(v) > AT_CROSSING_MM
    ]
    return f"{' and '.join(beside)} of the nearest seam crossing; {edges}"


def _crossings(top: Top) -> FloatArray:
    ends = np.array([seam.path[k] for seam in top.seams for k in (0, -1)]).reshape(-1, 2)
    places, count = np.unique(np.round(ends, 1), axis=0, return_counts=True)
    return places[count >= CROSSING_ENDS]


def _order(sheet: ReachSheet, x: float, y: float, width: float, bottom: float) -> list[str]:
    """Return what is sewn in which order: lines in a row that sew the same in one entry."""
    out = [text(x, y, "Sew in this order", 3.6, bold=True, colour=LINE)]
    y += 5.6
    for zones, group in groupby(enumerate(sheet.zones, 1), lambda item: item[1]):
        numbers = [k for k, _ in group]
        which = f"{numbers[0]}" if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
        rows = wrapped(zones, width - 15.0, 2.9)
        if y + 4.0 * len(rows) > bottom - 4.0:
            out.append(text(x, y, "and so on, as numbered in the picture", 2.9))
            break
        out.append(text(x, y, which, 2.9, bold=True))
        for words in rows:
            out.append(text(x + 15.0, y, words, 2.9))
            y += 4.0
        y += 0.5
    return out if sheet.lines else [*out, text(x, y, "nothing: no zone lies here", 2.9)]


@dataclass(frozen=True, slots=True)
class _Foot:
    rows: list[str]
    top: float


def _cautions(x: float, bottom: float, width: float) -> _Foot:
    """Return the cautions in two columns that end at the foot of the page."""
    size, step, column = 2.3, 3.1, width / 2 - 3.0
    blocks = [wrapped(caution, column - 2.5, size) for caution in CAUTIONS]
    total = sum(map(len, blocks))
    columns: tuple[list[tuple[bool, str]], list[tuple[bool, str]]] = ([], [])
    for block in blocks:
        side = columns[0] if len(columns[0]) + len(block) / 2 <= total / 2 else columns[1]
        side += [(k == 0, words) for k, words in enumerate(block)]
    top = bottom - step * max(map(len, columns)) - 2.0
    out = [
        f'<path d="M{n(x)},{n(top - 4.6)}H{n(x + width)}" stroke="{SEAM}" stroke-width="0.25"/>',
        text(x, top - 0.8, "Read first", 3.0, bold=True),
    ]
    for k, rows in enumerate(columns):
        for row, (first, words) in enumerate(rows):
            at = (x + k * (column + 6.0), top + step * (row + 1))
            out += [text(*at, "•", size)] if first else []
            out.append(text(at[0] + 2.5, at[1], words, size))
    return _Foot(out, top - 5.0)
