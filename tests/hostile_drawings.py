"""Drawings made to do harm, as bytes; the heavy ones are for ``benchmarks/hostile_drawings.py``."""

from __future__ import annotations

import math
from collections.abc import Callable

SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
PAGE = f'{SVG}width="60in" height="60in" viewBox="0 0 60 60">'
RECT = '<rect width="5" height="3"/>'

Make = Callable[[], bytes]


def within(body: str, page: str = PAGE, before: str = "") -> Make:
    """Return a page with something in it, to be made."""
    return f"{before}{page}{body}</svg>".encode


def path(d: str, more: str = "") -> Make:
    """Return a page with one path."""
    return within(f'<path d="{d}" {more}/>')


def ring(n: int, r: float = 20.0) -> str:
    """Return a circle of n corners as path data."""
    turns = (2 * math.pi * k / n for k in range(n))
    return "M" + "L".join(f"{30 + r * math.cos(a):.5f} {30 + r * math.sin(a):.5f}" for a in turns) + "Z"


def uses(levels: int, each: int) -> str:
    """Return copies of copies of a square, each made of so many of the one before."""
    groups = "".join(f'<g id="l{k + 1}">{each * f"""<use href="#l{k}"/>"""}</g>' for k in range(levels))
    return f'<defs><rect id="l0" width="1" height="1"/>{groups}</defs><use href="#l{levels}"/>'


LAUGHS = '<!DOCTYPE svg [<!ENTITY a "ha">' + "".join(
    f'<!ENTITY {b} "{10 * f"&{a};"}">' for a, b in zip("abcdefgh", "bcdefghi")
)

CHEAP: dict[str, Make] = {
    "empty": lambda: b"",
    "no xml": lambda: b"no xml",
    "nul": lambda: bytes(100),
    "nul in a path": path("M0 0L5 \0 5"),
    "cut off": f"{PAGE}<path d='M0 0L".encode,
    "another language": lambda: b"<html><body/></html>",
    "unknown encoding": lambda: b'<?xml version="1.0" encoding="klingon"?><svg/>',
    "wrong encoding": lambda: b'<?xml version="1.0" encoding="utf-8"?><svg>\xff\xfe</svg>',
    "utf-16": lambda: f"{PAGE}{RECT}</svg>".encode("utf-16"),
    "laughs": within("<text>&i;</text>", before=f"{LAUGHS}]>"),
    "long entity": within("<text>&a;</text>", before=f'<!DOCTYPE svg [<!ENTITY a "{"x" * 100_000}">]>'),
    "file from outside": within("<text>&a;</text>", before='<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>'),
    "outside doctype": within(RECT, before='<!DOCTYPE svg SYSTEM "http://localhost:1/x.dtd">'),
    "use from outside": within('<use href="http://localhost:1/a.svg#b"/>'),
    "image from outside": within(f'<image href="file:///etc/passwd" width="9" height="9"/>{RECT}'),
    "style from outside": within(f"<style>@import url(http://localhost:1/a.css);</style>{RECT}"),
    "use of itself": within('<g id="a"><use href="#a"/></g><use href="#a"/>'),
    "use in a ring": within('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>'),
    "use of uses": within(uses(8, 10)),
    "clip in itself": within(
        f'<clipPath id="c"><g clip-path="url(#c)">{RECT}</g></clipPath><g clip-path="url(#c)">{RECT}</g>'
    ),
    "mask in itself": within(f'<mask id="m"><g mask="url(#m)">{RECT}</g></mask><g mask="url(#m)">{RECT}</g>'),
    "pattern in itself": within(
        f'<pattern id="p"><rect fill="url(#p)" width="9" height="9"/></pattern><g fill="url(#p)">{RECT}</g>'
    ),
    "deep groups": within("<g>" * 5000 + "</g>" * 5000),
    "many elements": within("<g/>" * 30_000),
    "no numbers": path("M NaN NaN L Infinity 0"),
    "huge numbers": path("M0 0L1e300 1e300L0 9Z"),
    "numbers without end": path(f"M0 0L{'9' * 100_000} 5"),
    "many dots": path("M0 0L" + "." * 100_000),
    "many signs": path("M0 0L" + "-+" * 50_000),
    "one letter again and again": path("M" * 100_000),
    "bad letters": path("M0 0Q1"),
    "arcs without a radius": path("M0 0A0 0 0 0 1 9 9A1e9 1e9 0 1 1 9 9Z"),
    "a giant arc": path("M0 0A1e12 1e12 0 0 1 1e12 1"),
    "nan transform": within('<g transform="scale(nan)"><rect width="5" height="3"/></g>'),
    "no transform": within('<g transform="explode(5)"><rect width="5" height="3"/></g>'),
    "a transform to nothing": within('<g transform="scale(0)"><rect width="5" height="3"/></g>'),
    "a transform too far": within('<g transform="scale(1e200) scale(1e200)"><rect width="5" height="3"/></g>'),
    "a long transform": within(f'<g transform="{"a" * 100_000}">{RECT}</g>'),
    "no width": within(RECT, f'{SVG}width="0" height="0">'),
    "less than no width": within(RECT, f'{SVG}width="-5in" height="5in">'),
    "unknown units": within(RECT, f'{SVG}width="5parsec" height="5in">'),
    "an endless width": within(RECT, f'{SVG}width="1e999in" height="5in">'),
    "a flat view box": within(RECT, f'{SVG}width="5in" height="5in" viewBox="0 0 0 5">'),
    "a view box of words": within(RECT, f'{SVG}width="5in" height="5in" viewBox="a b c d">'),
    "km large": within('<rect width="9e9" height="9e9"/>'),
    "of no size": within('<rect width="1e-30" height="1e-30"/>'),
    "a rectangle inside out": within('<rect width="-5" height="-3"/>'),
    "points in odd number": within('<polygon points="0,0 5,0 5"/>'),
    "points of words": within('<polygon points="a,b c,d"/>'),
    "a long style sheet": within(f"<style>{'a' * 1_000_000}</style>{RECT}"),
    "braces": within(f"<style>{'{' * 100_000}</style>{RECT}"),
    "comments": within(f"<style>{'/*' * 500_000}</style>{RECT}"),
    "slow colours": within(f'<rect width="5" height="3" fill="rgb({"9," * 50_000})"/>'),
    "slow variables": within(f'<rect width="5" height="3" fill="var({"(" * 50_000}"/>'),
    "slow shares of colours": within(f'<rect width="5" height="3" fill="rgba(,{"0" * 50_000}x"/>'),
    "slow shares": within(f'<rect width="5" height="3" opacity="{"0" * 50_000}x" stroke-width="{"." * 50_000}"/>'),
    "copies in a row": within(
        "".join(f'<g id="l{k + 1}"><use href="#l{k}"/></g>' for k in range(2000)) + '<use href="#l2000"/>'
    ),
    "one place, a few hundred times": within(RECT * 300),
    "selectors": within(f"<style>{','.join(f'.a{k}' for k in range(30_000))}{{fill:red}}</style>{RECT}"),
    "equal subpaths": path(ring(8) * 2000),
    "thin as a hair": path("M0 0L60 0L60 1e-9Z"),
    "there and back": path("M0 0L60 0Z"),
    "names of control letters": within('<rect id="a&#9;b" width="5" height="3"/>'),
    "names as markup": within('<rect id="[/]" width="5" height="3"><title>[bold]x[/]</title></rect>'),
    "a name without end": within(f'<rect id="{"n" * 100_000}" width="5" height="3"/>'),
    "no dxf": lambda: b"0\nSECTION\n2\nENTITIES\n0\nLINE\n",
    "dxf of one kind": lambda: b"999\n" * 5000,
    "no pdf": lambda: b"%PDF-1.7\n%%EOF",
    "a pdf cut off": lambda: (
        b"%PDF-1.7\n1 0 obj\n<< /Type /Catalog /Pages 2 0 R >>\nendobj\n2 0 obj << /Kids [2 0 R] >>"
    ),
}

NAMED_FILES = {"no dxf": "d.dxf", "dxf of one kind": "d.dxf", "no pdf": "d.pdf", "a pdf cut off": "d.pdf"}
