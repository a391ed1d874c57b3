"""Look up what a zone names in the drawing: fences, dividing lines, parts left open."""

from __future__ import annotations

from shapely import Polygon

from ..errors import ZoneError
from ..geometry import as_region, disc
from ..model import Path, Top, as_path
from ..specs import LeaveOpen, LineSource, ZoneSpec, guides_matching
from .spaces import chosen

__all__ = ["left_open_parts", "line_of"]


def line_of(top: Top, source: LineSource, *, zone: str, key: str) -> list[Path]:
    """Return the guides of a name (``*`` for any letters), or the one line of the points.

    Raises
    ------
    ZoneError
        No guide bears the name.
    """
    if not isinstance(source, str):
        return [as_path(source)]
    names = guides_matching(source, top.guides)
    if not names:  # says what is near
        names = chosen([source], list(top.guides), zone=zone, key=key, what="guide")
    return [top.guides[name] for name in names]


def left_open_parts(top: Top, spec: ZoneSpec) -> list[tuple[str, Polygon]]:
    """Return the parts of a zone entry that stay unstitched, each with what she called it.

    Raises
    ------
    ZoneError
        A name is neither a patch nor a closed guide.
    """
    return [found for part in spec.leave_open for found in _open_part(top, spec, part)]


def _open_part(top: Top, spec: ZoneSpec, part: LeaveOpen) -> list[tuple[str, Polygon]]:
    if part.name is None:
        centre = part.centre or (0.0, 0.0)
        return [("the circle", disc(centre, part.radius_mm))]
    outlines = {patch.name: patch.outline for patch in top.patches}
    names = [*outlines, *(name for name in top.guides if name not in outlines)]
    out = []
    for name in chosen([part.name], names, zone=spec.name, key="leave_open", what="closed shape"):
        if name in outlines:
            out.append((f"'{name}'", outlines[name]))
            continue
        try:
            out.append((f"'{name}'", as_region(top.guides[name])))
        except ValueError:
            raise ZoneError(
                f"'{name}' is no closed shape",
                zone=spec.name,
                key="leave_open",
                what_to_do="Draw it closed and without crossings.",
            ) from None
    return out
