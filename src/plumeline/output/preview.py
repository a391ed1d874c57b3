"""The preview: how the quilt will look on the cloth, and the way the needle goes.

Cloth first (fabric colours, soft light, thread at its true thickness, an inch tape along two edges); over it
small arrows along each line, its start and stop numbered, travel and jumps marked, and a caption in plain words.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from textwrap import wrap
from xml.sax.saxutils import escape

import numpy as np

from ..geometry import arc_lengths, point_at, simplify_path
from ..model import FloatArray, Line, Top

__all__ = ["Window", "preview_svg"]

THREAD_MM = 0.4
"""Thickness of a quilting thread as it lies (about 40 wt)."""

VALLEY_MM = 3.2
"""How far the cloth dips on either side of a line of stitches."""

FABRICS = ("#efe6d5", "#8fa9a4", "#c98b6b", "#5f7488", "#d9b75f", "#9a6d7d", "#7f8d5b", "#b9a28a")
"""Colours for patches whose drawing gives none, one a family of names."""

MARKS = {
    "backtrack": ("#8a3b12", "stitched twice"),
    "seam": ("#0f7c8a", "hidden in a seam"),
    "edge": ("#c46a00", "along the edge"),
    "step": ("#5a4fb5", "short step"),
    "jump": ("#b3206e", "start and stop"),
    "done": ("#a89f92", "stitched already"),
    "rest": ("#1d2b53", "a place to rest"),
}
"""Colour and plain name of what is not simply stitched."""

FONT = "DejaVu Sans, sans-serif"

_ZEROS, _LAST_ZERO = re.compile(r"\.00(?![0-9])"), re.compile(r"(\.[1-9])0(?![0-9])")
_MINUS_ZERO = re.compile(r"-0(?![.0-9])")

LETTER = 0.56
"""Mean width of a letter of that font, in its size; bold ones are a quarter wider."""


@dataclass(frozen=True, slots=True)
class Window:
    """The part of the page to show, mm."""

    left: float
    top: float
    width: float
    height: float

    @property
    def unit(self) -> float:
        """A thousandth of the longer side: sizes of marks are given in it."""
        return max(self.width, self.height) / 1000


def preview_svg(
    top: Top,
    lines: Sequence[Line],
    *,
    title: str,
    caption: Sequence[str],
    threads: Mapping[str, str] | None = None,
    window: Window | None = None,
    path_marks: bool = True,
    done: Sequence[FloatArray] = (),
    rests: Sequence[FloatArray] = (),
) -> str:
    """Return the preview as SVG text.

    Parameters
    ----------
    top, lines
        What lies below and what is stitched, in sewing order.
    title, caption : str, sequence of str
        Heading and lines of plain words below the picture.
    threads : mapping, optional
        Colour of each thread by name.
    window : Window, optional
        The part to show (one zone with a margin); the whole top when left out.
    path_marks : bool
        Whether to draw arrows, numbers, travel and jumps over the cloth.
    done : sequence of (n, 2) arrays
        What is stitched already, drawn paler.
    rests : sequence of (2,) arrays
        Where the hands may rest.
    """
    view = window or Window(0.0, 0.0, *top.size)
    u = view.unit
    shown = _clip(lines, view)
    words, depth = _caption(title, caption, view, marked=_kinds(shown, done, rests) if path_marks else ())
    margin, foot = 45 * u, 40 * u + depth
    left, upper = view.left - margin, view.top - margin
    width, height = view.width + 2 * margin, view.height + 2 * margin + foot
    body = [
        _definitions(view),
        f'<rect x="{_n(left)}" y="{_n(upper)}" width="{_n(width)}" height="{_n(height)}" fill="#f4f0e8"/>',
        *_cloth(top, view, clipped=window is not None),
        *_old(done, view),
        *_thread(shown, threads or {}, u),
        *(_marks(shown, view) if path_marks else ()),
        *(_rests(rests, view) if path_marks else ()),
        "</g>",
        *_tape(view),
        *words,
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm" '
        f'viewBox="{_n(left)} {_n(upper)} {_n(width)} {_n(height)}">\n'
        f"<title>{escape(title)}</title>\n" + "\n".join(body) + "\n</svg>\n"
    )


def _n(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _d(path: FloatArray, *, closed: bool = False) -> str:
    # one formatting of all numbers, and then what `_n` does to each: a large top has half a million of them
    text = ("%.2f,%.2fL" * len(path) % tuple(path.ravel().tolist()))[:-1]
    text = _ZEROS.sub("", _LAST_ZERO.sub(r"\1", text))
    return "M" + _MINUS_ZERO.sub("0", text) + ("Z" if closed else "")


def _clip(lines: Sequence[Line], view: Window) -> list[tuple[int, Line]]:
    """Return number and line of those that touch the window, each with the spans that touch it."""
    out = []
    for number, line in enumerate(lines, 1):
        spans = tuple(s for s in line.spans if _seen(line.path[s.start : s.end + 1], view))
        if spans:
            out.append((number, replace(line, spans=spans)))
    return out


def _seen(points: FloatArray, view: Window) -> bool:
    low = np.array([view.left, view.top])
    high = low + np.array([view.width, view.height])
    return bool((points.max(axis=0) >= low).all() and (points.min(axis=0) <= high).all())


def _kinds(
    shown: Sequence[tuple[int, Line]], done: Sequence[FloatArray], rests: Sequence[FloatArray]
) -> tuple[str, ...]:
    found: set[str] = {s.kind for _, line in shown for s in line.spans}
    found |= {kind for kind, some in (("done", done), ("rest", rests)) if some}
    return tuple(k for k in MARKS if k in found or (k == "jump" and len(shown) > 1))


def _old(done: Sequence[FloatArray], view: Window) -> list[str]:
    d = "".join(_d(simplify_path(p, 0.12 * view.unit)) for p in done if len(p) > 1 and _seen(p, view))
    wide = max(THREAD_MM, 0.55 * view.unit)
    style = f'stroke="{MARKS["done"][0]}" stroke-width="{_n(wide)}" stroke-linecap="round" stroke-linejoin="round"'
    return [f'<path d="{d}" fill="none" {style}/>'] if d else []


def _rests(rests: Sequence[FloatArray], view: Window) -> list[str]:
    r = 5.5 * view.unit
    corner = np.array([(0.0, -r), (r, 0.0), (0.0, r), (-r, 0.0)])
    d = "".join(_d(at + corner, closed=True) for at in rests if _seen(at[None], view))
    style = f'fill="#fff" stroke="{MARKS["rest"][0]}" stroke-width="{_n(1.4 * view.unit)}"'
    return [f'<path d="{d}" {style}/>'] if d else []


def _definitions(view: Window) -> str:
    u = view.unit
    return (
        "<defs>"
        '<radialGradient id="light" cx="0.25" cy="0.2" r="1.1">'
        '<stop offset="0" stop-color="#fff" stop-opacity="0.22"/>'
        '<stop offset="0.6" stop-color="#fff" stop-opacity="0"/>'
        '<stop offset="1" stop-color="#201408" stop-opacity="0.16"/></radialGradient>'
        f'<filter id="soft" x="-10%" y="-10%" width="120%" height="120%">'
        f'<feGaussianBlur stdDeviation="{_n(7 * u)}"/></filter>'
        f'<clipPath id="window"><rect x="{_n(view.left)}" y="{_n(view.top)}" '
        f'width="{_n(view.width)}" height="{_n(view.height)}"/></clipPath>'
        "</defs>"
    )


def _box(view: Window, extra: str) -> str:
    return f'<rect x="{_n(view.left)}" y="{_n(view.top)}" width="{_n(view.width)}" height="{_n(view.height)}" {extra}/>'


def _fabric(name: str, families: dict[str, str]) -> str:
    family = name.split("-")[0]
    return families.setdefault(family, FABRICS[len(families) % len(FABRICS)])


def _cloth(top: Top, view: Window, *, clipped: bool) -> list[str]:
    u, families = view.unit, dict[str, str]()
    shadow = Window(view.left + 5 * u, view.top + 8 * u, view.width, view.height)
    out = [_box(shadow, 'fill="#3a2c1c" fill-opacity="0.35" filter="url(#soft)"')]
    # of the whole top nothing is cut off: a number at its edge is seen whole
    out.append('<g clip-path="url(#window)">' if clipped else "<g>")
    for patch in top.patches:
        rings = [patch.outline.exterior, *patch.outline.interiors]
        d = "".join(_d(np.asarray(r.coords)[:-1, :2], closed=True) for r in rings)
        out.append(f'<path d="{d}" fill="{patch.colour or _fabric(patch.name, families)}" fill-rule="evenodd"/>')
    seams = "".join(_d(s.path) for s in top.seams if s.b is not None)
    wide = max(0.5, 0.9 * u)
    out.append(f'<path d="{seams}" fill="none" stroke="#241a10" stroke-opacity="0.34" stroke-width="{_n(wide)}"/>')
    out.append(
        f'<path d="{seams}" transform="translate({_n(wide)},{_n(wide)})" fill="none" stroke="#fff" '
        f'stroke-opacity="0.3" stroke-width="{_n(wide)}"/>'
    )
    out.append(_box(view, 'fill="url(#light)"'))
    return out


def _thread(shown: Sequence[tuple[int, Line]], threads: Mapping[str, str], u: float) -> list[str]:
    out = []
    for number, thread in enumerate(sorted({line.thread for _, line in shown}), 1):
        ident = f"thread-{number}"
        spans = [
            simplify_path(line.path[s.start : s.end + 1], 0.12 * u)
            for _, line in shown
            if line.thread == thread
            for s in line.spans
            if s.kind != "backtrack"
        ]
        d = "".join(_d(p) for p in spans if len(p) > 1)
        out.append(
            f'<defs><path id="{ident}" d="{d}" fill="none" stroke-linecap="round" stroke-linejoin="round"/></defs>'
        )
        line = f'<use href="#{ident}" '
        # the cloth dips along a line: shade on the side away from the light, a gleam on the other
        dip = min(VALLEY_MM, 4.5 * u)
        out.append(f'{line}stroke="#1c1309" stroke-opacity="0.13" stroke-width="{_n(dip)}"/>')
        out.append(
            f'{line}stroke="#fff" stroke-opacity="0.2" stroke-width="{_n(dip / 2)}" '
            f'transform="translate({_n(dip / 3)},{_n(dip / 3)})"/>'
        )
        colour = threads.get(thread, "#5b5147")
        out.append(f'{line}stroke="{colour}" stroke-width="{_n(max(THREAD_MM, 0.55 * u))}"/>')
    return out


def _marks(shown: Sequence[tuple[int, Line]], view: Window) -> list[str]:
    u = view.unit
    out = []
    for kind, (colour, _) in MARKS.items():
        d = "".join(
            _d(simplify_path(line.path[s.start : s.end + 1], 0.12 * u))
            for _, line in shown
            for s in line.spans
            if s.kind == kind and s.end > s.start
        )
        if kind == "jump":
            d = "".join(
                _d(np.vstack([a.path[-1], b.path[0]]))
                for (i, a), (j, b) in pairwise(shown)
                if j == i + 1 and a.reach == b.reach
            )
        if d:
            dash = f' stroke-dasharray="{_n(4 * u)} {_n(3 * u)}"' if kind != "backtrack" else ' stroke-opacity="0.3"'
            out.append(f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{_n(1.1 * u)}"{dash}/>')
    arrows = [a for _, line in shown for a in _arrows(line, view)]
    out.append(f'<path d="{"".join(arrows)}" fill="#1d2b53" fill-opacity="0.85"/>')
    for number, line in shown:
        for end, colour in ((line.path[-1:], "#a3212a"), (line.path[:1], "#1f7a3d")):
            if _seen(end, view):
                out.append(_badge(end[0], number, colour, u, square=colour == "#a3212a"))
    return out


def _arrows(line: Line, view: Window) -> list[str]:
    """Return small arrowheads along the stitched stretches of a line."""
    u = view.unit
    s = arc_lengths(line.path)
    gap, size = 85 * u, 6.5 * u
    at = np.arange(gap / 2, s[-1], gap) if s[-1] > gap else np.array([s[-1] / 2])
    tip, back = point_at(line.path, at + size / 2), point_at(line.path, at - size / 2)
    inside = [_seen(p[None], view) for p in tip]
    tip, back = tip[inside], back[inside]
    way = tip - back
    norm = np.hypot(way[:, 0], way[:, 1])
    out = []
    for p, q, w, n in zip(tip, back, way, norm):
        if n < 0.7 * size:  # in a tight bend an arrow would point nowhere
            continue
        side = np.array([-w[1], w[0]]) / n * size * 0.33
        out.append(_d(np.array([p, q + side, q + (p - q) * 0.25, q - side]), closed=True))
    return out


def _badge(at: FloatArray, number: int, colour: str, u: float, *, square: bool = False) -> str:
    text = str(number)
    r = (6.5 + 2.2 * (len(text) - 1)) * u
    shape = (
        f'<rect x="{_n(at[0] - r)}" y="{_n(at[1] - r)}" width="{_n(2 * r)}" height="{_n(2 * r)}" rx="{_n(u)}"'
        if square
        else f'<circle cx="{_n(at[0])}" cy="{_n(at[1])}" r="{_n(r)}"'
    )
    return (
        f'{shape} fill="{colour}" stroke="#fff" stroke-width="{_n(u)}"/>'
        f'<text x="{_n(at[0])}" y="{_n(at[1] + 3.1 * u)}" font-size="{_n(8.6 * u)}" font-family="{FONT}" '
        f'text-anchor="middle" fill="#fff">{text}</text>'
    )


def _tape(view: Window) -> list[str]:
    """Return inch tapes along the bottom and the left side, counted from the left and from the top as plans do."""
    u = view.unit
    wide, inch = 16 * u, 25.4
    every = next((n for n in (1, 2, 3, 6, 12, 24) if n * inch / u >= 26), 12 * math.ceil(26 * u / inch / 12))
    out = []
    for length, low, turn in ((view.width, view.height, 0), (view.height, 0.0, 90)):
        ticks = [
            f"M{_n(k * inch)},0V{_n(wide * (0.5 if k % every == 0 else 0.25))}"
            for k in range(math.floor(length / inch) + 1)
        ]
        numbers = "".join(
            f'<text x="{_n(k * inch + 2 * u)}" y="{_n(wide * 0.85)}" font-size="{_n(8 * u)}" '
            f'font-family="{FONT}" fill="#3b2a10">{k}</text>'
            for k in range(0, math.floor((length - 12 * u) / inch) + 1, every)
        )
        out.append(
            f'<g transform="translate({_n(view.left)},{_n(view.top + low)}) rotate({turn}) '
            f'translate(0,{_n(wide * 0.45)})"><rect width="{_n(length)}" height="{_n(wide)}" '
            f'fill="#f0cf6e" stroke="#8d6d1f" stroke-width="{_n(0.5 * u)}"/>'
            f'<path d="{"".join(ticks)}" stroke="#3b2a10" stroke-width="{_n(0.6 * u)}" fill="none"/>{numbers}</g>'
        )
    return out


def _caption(title: str, caption: Sequence[str], view: Window, *, marked: Sequence[str]) -> tuple[list[str], float]:
    """Return title, plain words and the key of the marks, wrapped to the width of the picture, and their depth."""
    u = view.unit
    x, y = view.left, view.top + view.height + 64 * u
    out: list[str] = []
    deep = 0.0

    def write(text: str, size: float, *, bold: bool = False) -> None:
        nonlocal deep
        letter = LETTER * (1.25 if bold else 1.0) * size * u
        weight = 'font-weight="bold" ' if bold else ""
        for part in wrap(text, max(int(view.width / letter), 12)):
            out.append(
                f'<text x="{_n(x)}" y="{_n(y + deep)}" font-size="{_n(size * u)}" font-family="{FONT}" '
                f'{weight}fill="#2b2118">{escape(part)}</text>'
            )
            deep += 24 * u

    write(title, 22, bold=True)
    for text in caption:
        write(text, 15.5)
    for kind in marked:
        colour, name = MARKS[kind]
        long = (58 + 7.6 * len(name)) * u
        if x > view.left and x + long > view.left + view.width:
            x, deep = view.left, deep + 20 * u
        at = y + deep - 1.2 * u
        out.append(f'<path d="M{_n(x)},{_n(at)}h{_n(26 * u)}" stroke="{colour}" stroke-width="{_n(2.4 * u)}"/>')
        out.append(
            f'<text x="{_n(x + 32 * u)}" y="{_n(at + 4.5 * u)}" font-size="{_n(12.5 * u)}" font-family="{FONT}" '
            f'fill="#2b2118">{name}</text>'
        )
        x += long
    return out, deep + 24 * u
