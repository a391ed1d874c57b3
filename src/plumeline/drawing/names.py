"""What marks are called: the names that people give, told from those that programs make up."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from .colours import colour_word
from .marks import Mark

__all__ = ["base_names", "is_made_up", "is_made_up_layer"]

_WORDS = (
    "path|rect|rectangle|circle|ellipse|polygon|polyline|line|g|group|use|svg|shape|object|layer|surface|page|slide|"
    "node|edge|graph|clust|cluster|a_node|a_edge|image|text|tspan|clip|clippath|clip0|mask|symbol|glyph|def|defs|"
    "figure|axes|patch_|line2d|polycollection|patchcollection|pathcollection|linecollection|matplotlib.axis|quadmesh|"
    "xmlid|svgid|id|sketch|artboard|vector|union|subtract|compound|curve|form|xobject|flowroot|flowpara|namedview|base|"
    "element|item|container|presentation|gnuplot_canvas|canvas|chart|plot|obj|feature|drawing|artwork|ebene|calque|capa|livello|laag|lager|trazado|pfad|rechteck|gruppe|kreis"
)
_MADE_UP = re.compile(rf"(?:(?:{_WORDS})[-_ ]*)+(?:x[0-9a-f]*)?[-_\d. ]*|[-_\d.]*", re.IGNORECASE)
_HASH = re.compile(r"_?[0-9a-f]{8,}|[A-Za-z]?[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f-]+|[a-z]{1,2}[0-9a-f]{6,}", re.IGNORECASE)


def is_made_up(text: str) -> bool:
    """Return whether a name looks as if a program made it up.

    Examples
    --------
    >>> [is_made_up(name) for name in ("path1234", "rect12-3", "XMLID_7_", "patch_3", "star-2-1", "patch-7", "plain")]
    [True, True, True, True, False, False, False]
    """
    return bool(_MADE_UP.fullmatch(text) or (_HASH.fullmatch(text) and re.search(r"\d", text)))


def is_made_up_layer(text: str) -> bool:
    """Return whether a layer still has the name that its editor gave it: ``Layer 1``, ``0``, ``Defpoints``."""
    return is_made_up(text) or text.lower() in ("defpoints", "background", "foreground", "main", "root", "content")


def base_names(marks: Sequence[Mark]) -> list[str | None]:
    """Return the name of each mark before equal ones are numbered; None where nothing gives one.

    Her own name, else that of its layer or group, else a word for its colour where there are several colours, else
    the name that a program made up. A layer that holds everything tells nothing apart: where there are several colours,
    those do.
    """
    if len({(m.name, m.layer) for m in marks}) == 1 and len({m.colour for m in marks if m.filled}) > 1:
        marks = [replace(m, layer=None) for m in marks]
    nameless = [m for m in marks if not (m.name or m.layer)]
    colours = list(dict.fromkeys(m.colour for m in nameless if m.filled and m.colour))
    words = _colour_words(colours) if len(colours) > 1 else {}
    return [m.name or m.layer or (words.get(m.colour or "") if m.filled else None) or m.spare for m in marks]


def _colour_words(colours: Sequence[str]) -> dict[str, str]:
    by_word: dict[str, list[str]] = {}
    for colour in colours:
        by_word.setdefault(colour_word(colour), []).append(colour)
    out: dict[str, str] = {}
    for word, alike in by_word.items():
        for k, colour in enumerate(alike):
            out[colour] = word if len(alike) == 1 else f"{word}-{_letters(k)}"
    return out


def _letters(k: int) -> str:
    return (_letters(k // 26 - 1) if k >= 26 else "") + chr(ord("a") + k % 26)
