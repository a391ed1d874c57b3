"""Names as formats can hold them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable

__all__ = ["ascii_text", "unique_names", "visible"]

_CONTROLS = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


def visible(text: str) -> str:
    """Return the text without control characters, which XML can't hold."""
    return _CONTROLS.sub("\N{REPLACEMENT CHARACTER}", text)


def ascii_text(text: str) -> str:
    """Return the nearest plain ASCII of a text on one line: accents dropped, all else unknown a ``?``."""
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" else "?" for c in plain)


def unique_names(names: Iterable[str], clean: Callable[[str], str]) -> list[str]:
    """Return cleaned names, each different from all others (upper and lower case aside): the second gets a ``-2``."""
    taken: set[str] = set()
    out = []
    for name in names:
        base = unique = clean(name)
        number = 2
        while unique.lower() in taken:
            unique = f"{base}-{number}"
            number += 1
        taken.add(unique.lower())
        out.append(unique)
    return out
