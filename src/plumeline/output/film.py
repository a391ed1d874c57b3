"""The drawing of what is on film over the top."""

from __future__ import annotations

from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

from ..model import Path
from ._frame import short_path
from ._names import visible

__all__ = ["film_svg"]


def film_svg(lines: Sequence[tuple[str, Path, bool]], size: tuple[float, float], *, title: str) -> str:
    """Return lines by name as SVG, true size: solid ones whole, others dotted."""
    width, height = (f"{v:.4f}" for v in size)
    rows = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">',
        f"<title>{escape(visible(title))}: film</title>",
    ]
    for name, path, solid in lines:
        dots = "" if solid else ' stroke-dasharray="0.1 4" stroke-linecap="round"'
        rows.append(
            f'<path id={quoteattr(name)} d="{short_path(path)}" fill="none" stroke="#30343b" stroke-width="1.5"{dots}/>'
        )
    return "\n".join([*rows, "</svg>"]) + "\n"
