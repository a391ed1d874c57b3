"""Which style an element of a drawing has: fill, stroke, whether it is seen. Attribute, class rule, ``style``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

__all__ = ["Rules", "Style", "colour_hex", "parse_rules", "styled"]

Rules = Mapping[str, Mapping[str, str]]
"""Selector (``.star``, ``rect``, ``#plain``) to declarations."""

_READ: Final = ("fill", "stroke", "fill-rule", "display", "visibility")

_NAMED: Final = {
    "black": "#000000", "silver": "#c0c0c0", "gray": "#808080", "grey": "#808080", "white": "#ffffff",
    "maroon": "#800000", "red": "#ff0000", "purple": "#800080", "fuchsia": "#ff00ff", "magenta": "#ff00ff",
    "green": "#008000", "lime": "#00ff00", "olive": "#808000", "yellow": "#ffff00", "navy": "#000080",
    "blue": "#0000ff", "teal": "#008080", "aqua": "#00ffff", "cyan": "#00ffff", "orange": "#ffa500",
    "pink": "#ffc0cb", "brown": "#a52a2a", "beige": "#f5f5dc", "ivory": "#fffff0", "tan": "#d2b48c",
    "gold": "#ffd700", "indigo": "#4b0082", "violet": "#ee82ee", "salmon": "#fa8072", "crimson": "#dc143c",
    "lightgray": "#d3d3d3", "lightgrey": "#d3d3d3", "darkgray": "#a9a9a9", "darkgrey": "#a9a9a9",
    "lightblue": "#add8e6", "skyblue": "#87ceeb", "steelblue": "#4682b4", "darkblue": "#00008b",
    "lightgreen": "#90ee90", "darkgreen": "#006400", "darkred": "#8b0000", "linen": "#faf0e6",
}  # fmt: skip
"""The sixteen basic colours of CSS and the commonest of the others."""


@dataclass(frozen=True, slots=True)
class Style:
    """Inherited style as written; ``shown`` is False under ``display: none``, which no child can undo."""

    fill: str = "black"
    stroke: str = "none"
    fill_rule: str = "nonzero"
    visibility: str = "visible"
    shown: bool = True

    @property
    def filled(self) -> bool:
        """Whether the inside is painted."""
        return self.fill not in ("none", "transparent")

    @property
    def seen(self) -> bool:
        """Whether the element is drawn at all."""
        return self.shown and self.visibility == "visible"


def colour_hex(text: str) -> str | None:
    """Return a colour as ``#rrggbb``; None for no colour, a gradient, or a name outside the common ones."""
    word = text.strip().lower()
    if match := re.fullmatch(r"#([0-9a-f]{3,4}|[0-9a-f]{6}|[0-9a-f]{8})", word):
        digits = match[1]
        if len(digits) < 6:
            digits = "".join(2 * d for d in digits)
        return f"#{digits[:6]}"
    if match := re.fullmatch(r"rgba?\(([^)]*)\)", word):
        parts = re.split(r"[\s,/]+", match[1].strip())[:3]
        if len(parts) == 3 and all(re.fullmatch(r"\d+(\.\d+)?%?", p) for p in parts):
            values = [float(p[:-1]) * 2.55 if p.endswith("%") else float(p) for p in parts]
            return "#" + "".join(f"{min(255, round(v)):02x}" for v in values)
    return _NAMED.get(word)


def parse_rules(text: str) -> dict[str, dict[str, str]]:
    """Return the simple rules of a style sheet: one class, element or id a selector. Others are passed over."""
    rules: dict[str, dict[str, str]] = {}
    # by splitting, not by searching: a search for pairs starts anew at every letter of a long sheet without any
    first, *rest = text.split("/*")
    plain = first + "".join(part.partition("*/")[2] for part in rest)
    for rule in plain.split("}")[:-1]:
        selectors, brace, body = rule.rpartition("{")
        if not brace:
            continue
        selectors = selectors.rpartition("{")[2]
        for selector in selectors.split(","):
            if re.fullmatch(r"[.#]?[\w-]+", selector.strip()):
                rules.setdefault(selector.strip(), {}).update(_declarations(body))
    return rules


def _declarations(text: str | None) -> dict[str, str]:
    pairs = (part.split(":", 1) for part in (text or "").split(";") if ":" in part)
    return {k.strip().lower(): v.replace("!important", "").strip() for k, v in pairs}


def styled(parent: Style, tag: str, attributes: Mapping[str, str], rules: Rules) -> Style:
    """Return an element's style: inherited, then attributes, rules (element, class, id), then ``style``."""
    given = {k: attributes[k].strip() for k in _READ if k in attributes}
    selectors = [tag, *(f".{c}" for c in attributes.get("class", "").split()), f"#{attributes.get('id', '')}"]
    for selector in selectors:
        given.update(rules.get(selector, {}))
    given.update(_declarations(attributes.get("style")))
    changes = {k: v for k, v in given.items() if v and v != "inherit"}
    return replace(
        parent,
        fill=changes.get("fill", parent.fill),
        stroke=changes.get("stroke", parent.stroke),
        fill_rule=changes.get("fill-rule", parent.fill_rule),
        visibility=changes.get("visibility", parent.visibility),
        shown=parent.shown and changes.get("display") != "none",
    )
