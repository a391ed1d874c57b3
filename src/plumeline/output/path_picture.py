"""The path picture: the way the needle goes, as a working drawing on pale cloth.

Arrows along each line, its start and its stop with the line's number, doubled stitching, travel and moves each in its
own colour and dash, and below it a key that draws them just so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from xml.sax.saxutils import escape

import numpy as np

from ..geometry import arc_lengths, point_at, simplify_paths
from ..model import FloatArray, Line, Top
from ._colours import ASIDE, LINES, REST, SHOWN, START, STOP
from ._frame import FONT, INK, PAPER, STRAY, Window, fabric_colours, outline_data, short, short_path, tape, words
from ._names import visible
from ._photo import photo_image
from .sheet import line_numbers

__all__ = ["Window", "path_svg"]

PALE = 0.6
"""So much white lies over the fabrics: lines and numbers are read, not the cloth."""

PALE_PHOTO = 0.45
"""So much white over a photo: its prints are fainter than fabrics drawn plain, and show where the seams are."""

PHOTO_PX = 1400
"""Pixels of a photo along the picture's longer side."""


@dataclass(frozen=True, slots=True)
class _Look:
    """How one kind of line is drawn, here and in the key: widths and dashes in the picture's unit."""

    colour: str
    name: str
    wide: float
    dash: tuple[float, ...] = ()

    def style(self, u: float) -> str:
        dash = f' stroke-dasharray="{" ".join(short(d * u) for d in self.dash)}"' if self.dash else ""
        return (
            f'fill="none" stroke="{self.colour}" stroke-width="{short(self.wide * u)}" '
            f'stroke-linejoin="round" stroke-linecap="round"{dash}'
        )


LOOKS = {
    "stitch": _Look(LINES["stitch"], "stitching", 0.8),
    "done": _Look(ASIDE, "stitched already", 0.8),
    "backtrack": _Look(LINES["backtrack"], "stitched twice", 1.2),
    "seam": _Look(LINES["seam-travel"], "hidden in a seam", 1.4, (6, 3)),
    "edge": _Look(LINES["edge-travel"], "along the edge", 1.4, (3, 2)),
    "step": _Look(LINES["step"], "short step", 1.4),
    "jump": _Look(LINES["jump"], "a move, not stitched", 1.2, (9, 5)),
}
"""By kind of span, in the order in which they are drawn over each other."""

BANDS = {
    "shown-seam": _Look(SHOWN["shown-seam"], "a crooked seam that shows", 7.0),
    "shown-by": _Look(SHOWN["shown-by"], "the straight line beside it", 7.0),
}
"""What stands out below the stitching."""

BADGE_EM, BADGE_HIGH = 8.6, 13.0
"""Letters and height of a badge, in the picture's unit."""

ASIDES = np.array([16.0, 24, 34, 46, 60, 78, 100, 130, 170, 220, 300, 400])
"""How far from its place a badge may stand, tried in turn."""

TURNS = np.radians([-45.0, 45, 135, -135, -90, 0, 90, 180, -20, 20, 160, -160])
"""On which side of its place a badge may stand, tried in turn."""


def path_svg(
    top: Top,
    lines: Sequence[Line],
    *,
    title: str,
    caption: Sequence[str],
    window: Window | None = None,
    done: Sequence[FloatArray] = (),
    rests: Sequence[FloatArray] = (),
    shown_seams: Sequence[tuple[FloatArray, FloatArray]] = (),
) -> str:
    """Return the path picture as SVG text.

    Parameters
    ----------
    top, lines
        What lies below and what is stitched, in sewing order; for the numbers of lines see `line_numbers`.
    title, caption : str, sequence of str
        Heading and lines of plain words below the picture.
    window : Window, optional
        The part to show (one zone with a margin); the whole top when left out.
    done : sequence of (n, 2) arrays
        What is stitched already, drawn paler.
    rests : sequence of (2,) arrays
        Where the hands may rest.
    shown_seams : sequence of (seam, line)
        Crooked seams and the straight line beside each that shows it, ``(0, 2)`` where a whole grid does.
    """
    view = window or Window(0.0, 0.0, *top.size)
    u = view.unit
    shown = _clip(lines, view)
    said, depth = words(title, caption, view)
    key, key_depth = _key(view, depth, [*_entries(shown, done, rests, view), *_band_entries(shown_seams, view)])
    margin, foot = 45 * u, 40 * u + depth + key_depth
    left, upper = view.left - margin, view.top - margin
    width, height = view.width + 2 * margin, view.height + 2 * margin + foot
    body = [
        f'<defs><clipPath id="window"><rect x="{short(view.left)}" y="{short(view.top)}" '
        f'width="{short(view.width)}" height="{short(view.height)}"/></clipPath></defs>',
        f'<rect x="{short(left)}" y="{short(upper)}" width="{short(width)}" height="{short(height)}" fill="{PAPER}"/>',
        # of the whole top nothing is cut off: a number at its edge is seen whole
        '<g clip-path="url(#window)">' if window is not None else "<g>",
        *_cloth(top, view),
        *_bands(shown_seams, view),
        *_drawn(shown, done, view),
        f'<path d="{"".join(a for _, line in shown for a in _arrows(line, view))}" fill="{LINES["stitch"]}"/>',
        *_rests(rests, view),
        "</g>",
        *_badges(shown, line_numbers(lines), view),
        *tape(view),
        *said,
        *key,
    ]
    linked = "" if top.photo is None else ' xmlns:xlink="http://www.w3.org/1999/xlink"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg"{linked} width="{short(width)}mm" height="{short(height)}mm" '
        f'viewBox="{short(left)} {short(upper)} {short(width)} {short(height)}">\n'
        f"<title>{escape(visible(title))}</title>\n" + "\n".join(body) + "\n</svg>\n"
    )


def _clip(lines: Sequence[Line], view: Window) -> list[tuple[int, Line]]:
    """Return number and line of those that touch the window, each with the spans that touch it."""
    out = []
    for number, line in enumerate(lines, 1):
        spans = tuple(s for s in line.spans if view.touches(line.path[s.start : s.end + 1]))
        if spans:
            out.append((number, replace(line, spans=spans)))
    return out


def _entries(
    shown: Sequence[tuple[int, Line]], done: Sequence[FloatArray], rests: Sequence[FloatArray], view: Window
) -> list[tuple[str, str]]:
    """Return kind and name of all that the key explains: what is seen in the window, and no more."""
    found: set[str] = {s.kind for _, line in shown for s in line.spans if s.end > s.start}
    found |= {kind for kind, some in (("done", done), ("jump", _moves(shown, view))) if some}
    marks = (
        ("start", "where a line starts", [line.path[0] for _, line in shown]),
        ("stop", "where it stops", [line.path[-1] for _, line in shown]),
        ("rest", "a place to rest", rests),
    )
    return [
        *((kind, look.name) for kind, look in LOOKS.items() if kind in found),
        *((kind, name) for kind, name, places in marks if any(view.touches(at[None]) for at in places)),
    ]


def _cloth(top: Top, view: Window) -> list[str]:
    if top.photo is not None:
        every = "".join(outline_data(patch) for patch in top.patches)
        out = [
            photo_image(top.photo, view, PHOTO_PX / max(view.width, view.height)),
            f'<path d="{every}" fill="#fff" fill-opacity="{PALE_PHOTO}"/>',
        ]
    else:
        out = [
            f'<path d="{outline_data(patch)}" fill="{_pale(colour)}" fill-rule="evenodd"/>'
            for patch, colour in zip(top.patches, fabric_colours(top))
            if view.touches(np.array(patch.outline.exterior.coords))
        ]
    seams = "".join(short_path(s.path) for s in top.seams if view.touches(s.path))
    wide = short(max(0.3, 0.6 * view.unit))
    return [*out, f'<path d="{seams}" fill="none" stroke="#8d8578" stroke-width="{wide}"/>'] if seams else out


def _bands(shown_seams: Sequence[tuple[FloatArray, FloatArray]], view: Window) -> list[str]:
    out = []
    for kind, paths in zip(BANDS, zip(*shown_seams)):
        d = "".join(dict.fromkeys(short_path(p) for p in paths if len(p) > 1 and view.touches(p)))
        if d:
            out.append(f'<path class="{kind}" d="{d}" {BANDS[kind].style(view.unit)} stroke-opacity="0.55"/>')
    return out


def _band_entries(shown_seams: Sequence[tuple[FloatArray, FloatArray]], view: Window) -> list[tuple[str, str]]:
    kinds = zip(BANDS, zip(*shown_seams))
    return [(kind, BANDS[kind].name) for kind, paths in kinds if any(len(p) > 1 and view.touches(p) for p in paths)]


def _pale(colour: str) -> str:
    parts = (int(colour[k : k + 2], 16) for k in (1, 3, 5))
    return "#" + "".join(f"{round(p + PALE * (255 - p)):02x}" for p in parts)


def _drawn(shown: Sequence[tuple[int, Line]], done: Sequence[FloatArray], view: Window) -> list[str]:
    out = []
    for kind, look in LOOKS.items():
        if kind == "done":
            paths = [p for p in done if len(p) > 1 and view.touches(p)]
        elif kind == "jump":
            paths = _moves(shown, view)
        else:
            paths = [
                line.path[s.start : s.end + 1]
                for _, line in shown
                for s in line.spans
                if s.kind == kind and s.end > s.start
            ]
        seen = [stretch for p in paths for stretch in _stretches(p, view)]
        d = "".join(short_path(p) for p in simplify_paths(seen, STRAY * view.unit))
        if d:
            out.append(f'<path class="{kind}" d="{d}" {look.style(view.unit)}/>')
    return out


def _stretches(path: FloatArray, view: Window) -> list[FloatArray]:
    """Return the stretches of a path whose segments touch the window: what is far outside is slow to cut off later."""
    low, high = view.corners
    before, after = path[:-1], path[1:]
    touch = ((np.maximum(before, after) >= low) & (np.minimum(before, after) <= high)).all(axis=1)
    ends = np.flatnonzero(np.diff(touch, prepend=False, append=False)).reshape(-1, 2)
    return [path[first : last + 1] for first, last in ends]


def _moves(shown: Sequence[tuple[int, Line]], view: Window) -> list[FloatArray]:
    """Return the moves from one line to the next; a stop for the bobbin moves nothing."""
    pairs = [
        np.vstack([a.path[-1], b.path[0]])
        for (i, a), (j, b) in pairwise(shown)
        if j == i + 1 and a.reach == b.reach and a.thread == b.thread
    ]
    return [p for p in pairs if (p[0] != p[1]).any() and view.touches(p)]


def _rests(rests: Sequence[FloatArray], view: Window) -> list[str]:
    d = "".join(_rest(at, view.unit) for at in rests if view.touches(at[None]))
    return [f'<path d="{d}" {_rest_style(view.unit)}/>'] if d else []


def _rest(at: FloatArray, u: float) -> str:
    r = 5.5 * u
    return short_path(at + np.array([(0.0, -r), (r, 0.0), (0.0, r), (-r, 0.0)]), closed=True)


def _rest_style(u: float) -> str:
    return f'fill="#fff" stroke="{REST}" stroke-width="{short(1.4 * u)}"'


def _arrows(line: Line, view: Window) -> list[str]:
    """Return small arrowheads along the stitched stretches of a line."""
    u = view.unit
    s = arc_lengths(line.path)
    gap, size = 85 * u, 6.5 * u
    at = np.arange(gap / 2, s[-1], gap) if s[-1] > gap else np.array([s[-1] / 2])
    tip, back = point_at(line.path, at + size / 2), point_at(line.path, at - size / 2)
    inside = [view.touches(p[None]) for p in tip]
    tip, back = tip[inside], back[inside]
    way = tip - back
    norm = np.hypot(way[:, 0], way[:, 1])
    out = []
    for p, q, w, n in zip(tip, back, way, norm):
        if n < 0.7 * size:  # in a tight bend an arrow would point nowhere
            continue
        side = np.array([-w[1], w[0]]) / n * size * 0.33
        out.append(short_path(np.array([p, q + side, q + (p - q) * 0.25, q - side]), closed=True))
    return out


# --- starts and stops ----------------------------------------------------------------------------------------------


def _badges(shown: Sequence[tuple[int, Line]], names: Sequence[str], view: Window) -> list[str]:
    """Return a mark on each start and stop and a badge beside it; no badge covers another, or any mark.

    A badge that finds no free place within reach is left out; its mark stays.
    """
    u = view.unit
    ends = [
        (at, word, names[number - 1])
        for number, line in shown
        for at, word in ((line.path[0], "start"), (line.path[-1], "stop"))
        if view.touches(at[None])
    ]
    if not ends:
        return []
    marks = np.array([at for at, _, _ in ends])
    boxes = np.zeros((0, 4))
    upper_left, lower_right = view.corners
    low, high = upper_left - 40 * u, lower_right + 40 * u
    leaders, badges = [], []
    for at, word, number in ends:
        text = f"{word} {number}"
        half = np.array([(0.3 * BADGE_EM * len(text) + 4), BADGE_HIGH / 2]) * u
        middle = _free_place(at, half, marks, boxes, low, high, u)
        if middle is None:
            continue
        boxes = np.vstack([boxes, [*(middle - half), *(middle + half)]])
        colour = START if word == "start" else STOP
        leaders.append(
            f'<path d="{short_path(np.array([at, middle]))}" stroke="{colour}" stroke-width="{short(0.8 * u)}"/>'
        )
        badges.append(_badge(middle, half, text, u))
    return [*leaders, *(_mark(at, word, u) for at, word, _ in sorted(ends, key=lambda e: e[1] == "start")), *badges]


def _free_place(
    at: FloatArray, half: FloatArray, marks: FloatArray, boxes: FloatArray, low: FloatArray, high: FloatArray, u: float
) -> FloatArray | None:
    """Return the first of the places about a mark where a badge covers no badge and no mark, and stays on the page."""
    ways = np.column_stack([np.cos(TURNS), np.sin(TURNS)])
    tries = at + ((ASIDES[:, None, None] * u + half[0] * np.abs(ways[:, :1])) * ways).reshape(-1, 2)
    fits = ((tries - half >= low) & (tries + half <= high)).all(axis=1)
    clear = half + 5 * u
    near = marks[(np.abs(marks - at) < 450 * u + 2 * half[0]).all(axis=1)]
    fits &= ~(np.abs(tries[:, None] - near) < clear).all(axis=2).any(axis=1)
    gap = 1.5 * u
    low_edge, high_edge = (tries - half - gap)[:, None], (tries + half + gap)[:, None]
    fits &= ~((low_edge < boxes[:, 2:]) & (high_edge > boxes[:, :2])).all(axis=2).any(axis=1)
    found = np.flatnonzero(fits)
    return tries[found[0]] if len(found) else None


def _mark(at: FloatArray, word: str, u: float) -> str:
    """Return the mark of a start (a disc) or a stop (a larger square, drawn below it) at its very place."""
    x, y, r = at[0], at[1], (2.8 if word == "start" else 4.4) * u
    ring = f'stroke="#fff" stroke-width="{short(0.8 * u)}"'
    if word == "start":
        return f'<circle cx="{short(x)}" cy="{short(y)}" r="{short(r)}" fill="{START}" {ring}/>'
    side = short(2 * r)
    return f'<rect x="{short(x - r)}" y="{short(y - r)}" width="{side}" height="{side}" fill="{STOP}" {ring}/>'


def _badge(middle: FloatArray, half: FloatArray, text: str, u: float) -> str:
    (x, y), (a, b) = middle, half
    if text.startswith("start"):  # round ends
        shape = (
            f'<rect x="{short(x - a)}" y="{short(y - b)}" width="{short(2 * a)}" height="{short(2 * b)}" '
            f'rx="{short(b)}" fill="{START}"'
        )
    else:  # cut corners
        c = 0.55 * b
        corner = [(a - c, -b), (a, c - b), (a, b - c), (a - c, b), (c - a, b), (-a, b - c), (-a, c - b), (c - a, -b)]
        shape = f'<path d="{short_path(middle + np.array(corner), closed=True)}" fill="{STOP}"'
    return (
        f'<g class="badge">{shape} stroke="#fff" stroke-width="{short(u)}"/>'
        f'<text x="{short(x)}" y="{short(y + 3.1 * u)}" font-size="{short(BADGE_EM * u)}" font-family="{FONT}" '
        f'text-anchor="middle" fill="#fff">{text}</text></g>'
    )


# --- the key -------------------------------------------------------------------------------------------------------


def _key(view: Window, depth: float, entries: Sequence[tuple[str, str]]) -> tuple[list[str], float]:
    """Return a sample of each kind of line as it is drawn, with its name, and the depth of the key, mm."""
    u = view.unit
    x, deep = view.left, 0.0
    out = []
    for kind, name in entries:
        long = (58 + 7.6 * len(name)) * u
        if x > view.left and x + long > view.left + view.width:
            x, deep = view.left, deep + 20 * u
        y = view.top + view.height + 64 * u + depth + deep - 1.2 * u
        at = np.array([x + 15 * u, y])  # the middle of the sample
        if kind in LOOKS or kind in BANDS:
            look, pale = (LOOKS[kind], "") if kind in LOOKS else (BANDS[kind], ' stroke-opacity="0.55"')
            out.append(f'<path d="M{short(x)},{short(y)}h{short(30 * u)}" {look.style(u)}{pale}/>')
        elif kind == "rest":
            out.append(f'<path d="{_rest(at, u)}" {_rest_style(u)}/>')
        else:
            out.append(_mark(at, kind, u))
        out.append(
            f'<text x="{short(x + 36 * u)}" y="{short(y + 4.5 * u)}" font-size="{short(12.5 * u)}" '
            f'font-family="{FONT}" fill="{INK}">{name}</text>'
        )
        x += long
    return out, deep + 24 * u
