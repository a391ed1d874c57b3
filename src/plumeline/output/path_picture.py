"""The preview: how the quilt will look on the cloth, and the way the needle goes.

Cloth first (fabric colours, soft light, thread at its true thickness, an inch tape along two edges); over it
small arrows along each line, its start and stop numbered, travel and jumps marked, and a caption in plain words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from textwrap import wrap
from xml.sax.saxutils import escape

import numpy as np

from ..geometry import arc_lengths, point_at, simplify_path
from ..model import FloatArray, Line, Top
from ._frame import FONT, INK, PAPER, Window, fabric_colours, outline_data, short, short_path, tape, words

__all__ = ["Window", "path_svg"]

THREAD_MM = 0.4
"""Thickness of a quilting thread as it lies (about 40 wt)."""

VALLEY_MM = 3.2
"""How far the cloth dips on either side of a line of stitches."""

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

def path_svg(
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
        f'<rect x="{short(left)}" y="{short(upper)}" width="{short(width)}" height="{short(height)}" fill="#f4f0e8"/>',
        *_cloth(top, view, clipped=window is not None),
        *_old(done, view),
        *_thread(shown, threads or {}, u),
        *(_marks(shown, view) if path_marks else ()),
        *(_rests(rests, view) if path_marks else ()),
        "</g>",
        *tape(view),
        *words,
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{short(width)}mm" height="{short(height)}mm" '
        f'viewBox="{short(left)} {short(upper)} {short(width)} {short(height)}">\n'
        f"<title>{escape(title)}</title>\n" + "\n".join(body) + "\n</svg>\n"
    )


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
    d = "".join(short_path(simplify_path(p, 0.12 * view.unit)) for p in done if len(p) > 1 and _seen(p, view))
    wide = max(THREAD_MM, 0.55 * view.unit)
    style = f'stroke="{MARKS["done"][0]}" stroke-width="{short(wide)}" stroke-linecap="round" stroke-linejoin="round"'
    return [f'<path d="{d}" fill="none" {style}/>'] if d else []


def _rests(rests: Sequence[FloatArray], view: Window) -> list[str]:
    r = 5.5 * view.unit
    corner = np.array([(0.0, -r), (r, 0.0), (0.0, r), (-r, 0.0)])
    d = "".join(short_path(at + corner, closed=True) for at in rests if _seen(at[None], view))
    style = f'fill="#fff" stroke="{MARKS["rest"][0]}" stroke-width="{short(1.4 * view.unit)}"'
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
        f'<feGaussianBlur stdDeviation="{short(7 * u)}"/></filter>'
        f'<clipPath id="window"><rect x="{short(view.left)}" y="{short(view.top)}" '
        f'width="{short(view.width)}" height="{short(view.height)}"/></clipPath>'
        "</defs>"
    )


def _box(view: Window, extra: str) -> str:
    return f'<rect x="{short(view.left)}" y="{short(view.top)}" width="{short(view.width)}" height="{short(view.height)}" {extra}/>'


def _cloth(top: Top, view: Window, *, clipped: bool) -> list[str]:
    u = view.unit
    out = ['<g clip-path="url(#window)">' if clipped else "<g>"]
    for patch, colour in zip(top.patches, fabric_colours(top)):
        out.append(f'<path d="{outline_data(patch)}" fill="{colour}" fill-rule="evenodd"/>')
    seams = "".join(short_path(s.path) for s in top.seams if s.b is not None)
    wide = max(0.5, 0.9 * u)
    out.append(f'<path d="{seams}" fill="none" stroke="#241a10" stroke-opacity="0.34" stroke-width="{short(wide)}"/>')
    out.append(
        f'<path d="{seams}" transform="translate({short(wide)},{short(wide)})" fill="none" stroke="#fff" '
        f'stroke-opacity="0.3" stroke-width="{short(wide)}"/>'
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
        d = "".join(short_path(p) for p in spans if len(p) > 1)
        out.append(
            f'<defs><path id="{ident}" d="{d}" fill="none" stroke-linecap="round" stroke-linejoin="round"/></defs>'
        )
        line = f'<use href="#{ident}" '
        # the cloth dips along a line: shade on the side away from the light, a gleam on the other
        dip = min(VALLEY_MM, 4.5 * u)
        out.append(f'{line}stroke="#1c1309" stroke-opacity="0.13" stroke-width="{short(dip)}"/>')
        out.append(
            f'{line}stroke="#fff" stroke-opacity="0.2" stroke-width="{short(dip / 2)}" '
            f'transform="translate({short(dip / 3)},{short(dip / 3)})"/>'
        )
        colour = threads.get(thread, "#5b5147")
        out.append(f'{line}stroke="{colour}" stroke-width="{short(max(THREAD_MM, 0.55 * u))}"/>')
    return out


def _marks(shown: Sequence[tuple[int, Line]], view: Window) -> list[str]:
    u = view.unit
    out = []
    for kind, (colour, _) in MARKS.items():
        d = "".join(
            short_path(simplify_path(line.path[s.start : s.end + 1], 0.12 * u))
            for _, line in shown
            for s in line.spans
            if s.kind == kind and s.end > s.start
        )
        if kind == "jump":
            d = "".join(
                short_path(np.vstack([a.path[-1], b.path[0]]))
                for (i, a), (j, b) in pairwise(shown)
                if j == i + 1 and a.reach == b.reach
            )
        if d:
            dash = f' stroke-dasharray="{short(4 * u)} {short(3 * u)}"' if kind != "backtrack" else ' stroke-opacity="0.3"'
            out.append(f'<path d="{d}" fill="none" stroke="{colour}" stroke-width="{short(1.1 * u)}"{dash}/>')
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
        out.append(short_path(np.array([p, q + side, q + (p - q) * 0.25, q - side]), closed=True))
    return out


def _badge(at: FloatArray, number: int, colour: str, u: float, *, square: bool = False) -> str:
    text = str(number)
    r = (6.5 + 2.2 * (len(text) - 1)) * u
    shape = (
        f'<rect x="{short(at[0] - r)}" y="{short(at[1] - r)}" width="{short(2 * r)}" height="{short(2 * r)}" rx="{short(u)}"'
        if square
        else f'<circle cx="{short(at[0])}" cy="{short(at[1])}" r="{short(r)}"'
    )
    return (
        f'{shape} fill="{colour}" stroke="#fff" stroke-width="{short(u)}"/>'
        f'<text x="{short(at[0])}" y="{short(at[1] + 3.1 * u)}" font-size="{short(8.6 * u)}" font-family="{FONT}" '
        f'text-anchor="middle" fill="#fff">{text}</text>'
    )


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
                f'<text x="{short(x)}" y="{short(y + deep)}" font-size="{short(size * u)}" font-family="{FONT}" '
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
        out.append(f'<path d="M{short(x)},{short(at)}h{short(26 * u)}" stroke="{colour}" stroke-width="{short(2.4 * u)}"/>')
        out.append(
            f'<text x="{short(x + 32 * u)}" y="{short(at + 4.5 * u)}" font-size="{short(12.5 * u)}" font-family="{FONT}" '
            f'fill="#2b2118">{name}</text>'
        )
        x += long
    return out, deep + 24 * u
