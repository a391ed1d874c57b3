"""Ways of breaking up a space, each worked out in that very space."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from .errors import InputError
from .geometry import bounds, close_ring, rings
from .model import FloatArray, Zone
from .quilt import Drawn
from .specs import DivideStep
from .units import MM_PER
from .zones import parts_made, spaces_of

__all__ = ["Division", "divisions_for"]


@dataclass(frozen=True, slots=True, eq=False)
class Division:
    """One way of breaking up a space.

    Attributes
    ----------
    words : str
        What it is called.
    steps : tuple of mapping
        As a plan's ``divide`` has them; none: whole.
    parts : tuple of (n, 2) arrays
        The parts' outlines, mm on the top.
    """

    words: str
    steps: tuple[Mapping[str, Any], ...]
    parts: tuple[FloatArray, ...]


def divisions_for(drawn: Drawn, zone: Zone) -> list[Division]:
    """Return the ways of breaking up a space that it has room for, whole first."""
    spec = next(spec for spec in drawn.plan.zones if spec.name == zone.name)
    # one space of the zone alone: the others, and where travel may go, take a second or more in a large top
    spaces, _ = spaces_of(drawn.top, [spec])
    here = zone.outline.representative_point()
    home = next((one for one in spaces if one.outline.contains(here)), spaces[0])
    found = []
    for words, steps in _ways(bounds(home.outline), MM_PER[drawn.plan.units]):
        if steps and steps[0]["by"] == "line" and len(spaces) > 1:
            continue  # a line lies in one place: the others like it would stay whole
        divide = tuple(DivideStep(**_said(step, MM_PER[drawn.plan.units])) for step in steps)
        try:
            made = parts_made(drawn.top, home, divide, chance=drawn.plan.chance)
        except InputError:
            continue  # it does not suit this space
        parts = [part.outline for part in made]
        if len(parts) > 1 or not steps:
            found.append(Division(words, steps, tuple(close_ring(r) for part in parts for r in rings(part))))
    return found


def _ways(box: tuple[float, float, float, float], unit: float) -> list[tuple[str, tuple[Mapping[str, Any], ...]]]:
    left, top, right, bottom = box
    x, y = round((left + right) / 2 / unit, 3), round((top + bottom) / 2 / unit, 3)
    past = 2 * unit  # over the edge, so that the line parts the whole space
    west, north = round((left - past) / unit, 3), round((top - past) / unit, 3)
    east, south = round((right + past) / unit, 3), round((bottom + past) / unit, 3)
    return [
        ("whole", ()),
        ("a frame", ({"by": "frame"},)),
        ("on point", ({"by": "on-point"},)),
        ("a circle", ({"by": "circle"},)),
        ("frame, on point", ({"by": "frame"}, {"by": "on-point"})),
        ("four wedges", ({"by": "wedges", "count": 4},)),
        ("eight wedges", ({"by": "wedges", "count": 8},)),
        ("four parts", ({"by": "grid", "rows": 2, "cols": 2},)),
        ("a line across", ({"by": "line", "line": [[west, y], [east, y]]},)),
        ("a line down", ({"by": "line", "line": [[x, north], [x, south]]},)),
    ]


def _said(step: Mapping[str, Any], unit: float) -> dict[str, Any]:
    """Return a step with its line in mm."""
    out = dict(step)
    if "line" in out:
        out["line"] = tuple((px * unit, py * unit) for px, py in out["line"])
    return out
