"""The film over the quilt: spines, fences and places left open, drawn over one space and taken to all like it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
import tomlkit
from shapely import Polygon

from .alike import carry
from .errors import InputError
from .fills.kit.stack import fill_zone
from .geometry import (
    Knot,
    clip_path,
    contains,
    dilate,
    disc,
    intersect,
    path_distance,
    path_length,
    smooth_through,
    subtract,
    unite,
)
from .model import Fence, Filled, FloatArray, Path, Zone, as_path
from .pipeline.layers import layers_of
from .pipeline.lookup import ZoneSources
from .plan import Plan, with_fill
from .quilt import Drawn
from .specs import matching
from .tolerances import COARSE_MM
from .units import MM_PER
from .zones import OPEN_CLEARANCE_MM

__all__ = ["MOST_MARKS", "Mark", "grown_with", "marks_on", "with_marks"]

MOST_MARKS, MOST_POINTS = 40, 60
"""Marks on one space, and points of one mark: more than a hand draws."""

OVER_EDGE_MM = 0.5
"""So far a line on the film goes over the edge of its space, so that it surely parts it."""

BEYOND_MM = 1.0
"""So far beyond the edge a fence is cut off while the hand draws: it parts the space however it is rounded."""

LEAST_FENCE_MM = 2.0
"""A bit of fence shorter than this, at the edge of a space, parts nothing."""

ON_LINE_MM = 2.0
"""A fence lies this near the line that it was cut from; its points were rounded when they were written."""

NEAR_MM = 1.0
"""A line that runs less than this through a space is none of its marks."""


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """One mark on the film, mm on the top.

    Attributes
    ----------
    kind : {"spine", "fence", "open"}
        What it is: a line that a feather grows from, a limit line, or a round place that stays open.
    points : (n, 2) array
        What a spine or fence runs through in a smooth curve; of a place left open its middle alone.
    soft_mm : float
        How far a plume may lean over a fence; 0: firm.
    radius_mm : float
        Of a place left open.
    """

    kind: Literal["spine", "fence", "open"]
    points: FloatArray
    soft_mm: float = 0.0
    radius_mm: float = 0.0

    def __post_init__(self) -> None:
        n = len(self.points)
        least, most = (1, 1) if self.kind == "open" else (2, MOST_POINTS)
        if not least <= n <= most:
            raise InputError(f"has {n} points; must have {least} to {most}", key=f"a {self.kind} on the film")
        if not np.isfinite(self.points).all():
            raise InputError("has a point that is no place on the quilt", key=f"a {self.kind} on the film")
        if self.kind == "open" and not self.radius_mm >= 1.0:
            raise InputError("must be at least 1 mm in radius", key="a place left open")
        if n > 1 and (np.hypot(*np.diff(self.points, axis=0).T) < 0.01).any():
            raise InputError("has the same point twice in a row", key=f"a {self.kind} on the film")

    @property
    def path(self) -> Path:
        """The line as it is drawn; of a place left open the circle round it."""
        if self.kind == "open":
            return as_path(disc(_at(self), self.radius_mm).exterior.coords)
        if len(self.points) < 3:
            return as_path(self.points)
        return as_path(smooth_through([Knot(complex(*p)) for p in self.points]))


def _at(mark: Mark) -> tuple[float, float]:
    x, y = mark.points[0].tolist()
    return x, y


def _stem(zone: str) -> str:
    return "-".join(re.findall(r"[a-z0-9]+", zone.lower())) or "space"


def _own(zone: str, name: str) -> re.Match[str] | None:
    return re.fullmatch(rf"{re.escape(_stem(zone))}-(spine|fence)-(\d+)-at-(\d+)", name)


def marks_on(drawn: Drawn, zone: Zone) -> list[Mark]:
    """Return the marks that were drawn on the film over a space, as `with_marks` wrote them."""
    plan, out = drawn.plan, []
    soft = _softness(plan, zone.name)
    spaces = _like(drawn, zone)
    for guide in plan.guides:
        found = _own(zone.name, guide.name)
        if found is None or not guide.points or guide.patch or guide.block:
            continue
        path = drawn.top.guides[guide.name]
        inside = [sum(path_length(p) for p in clip_path(path, z.outline, least_mm=NEAR_MM)) for z in spaces]
        if max(inside) > 0.0 and spaces[inside.index(max(inside))] is zone:
            kind: Literal["spine", "fence"] = "spine" if found[1] == "spine" else "fence"
            out.append(Mark(kind, np.array(guide.points), soft.get(found[2], 0.0) if kind == "fence" else 0.0))
    spec = next(spec for spec in plan.zones if spec.name == zone.name)
    for part in spec.leave_open:
        if part.centre is not None and intersect(disc(part.centre, part.radius_mm), zone.outline):
            out.append(Mark("open", np.array([part.centre]), radius_mm=part.radius_mm))
    return out


def _like(drawn: Drawn, zone: Zone) -> list[Zone]:
    """Return the spaces of a zone's part, itself one of them."""
    return [z for z in (*drawn.zones, *drawn.bare) if (z.name, z.part) == (zone.name, zone.part)]


def _softness(plan: Plan, zone: str) -> dict[str, float]:
    """Return how soft each of a zone's drawn fences is, by its number."""
    spec = next(spec for spec in plan.zones if spec.name == zone)
    rule = re.compile(rf"{re.escape(_stem(zone))}-fence-(\d+)-\*")
    found = ((rule.fullmatch(f.line), f.soft_mm) for f in spec.fences if isinstance(f.line, str))
    return {match[1]: soft for match, soft in found if match}


def grown_with(drawn: Drawn, zone: Zone, marks: Sequence[Mark]) -> Filled:
    """Return what would fill a space with other marks on it: that one space only, and nothing is written.

    It follows a moving hand, so it is drawn coarsely and not measured; `with_marks` and a fill give what is sewn.

    Raises
    ------
    InputError
        The fill can't grow there.
    """
    if len(marks) > MOST_MARKS:
        raise InputError(f"are {len(marks)}; must be at most {MOST_MARKS}", key="marks on one space")
    plan = drawn.plan
    zone = _marked(zone, marks_on(drawn, zone), marks)
    spines = {f"drawn-{k}": mark.path for k, mark in enumerate(marks) if mark.kind == "spine"}
    top = replace(drawn.top, guides={**drawn.top.guides, **spines})
    sources = ZoneSources(zone, top, plan.folder, {}, quilt_density=plan.density)
    layers = layers_of(_with_spines(_stack(plan, zone), list(spines)), sources, units=plan.units)
    return fill_zone(zone, layers, tolerance_mm=COARSE_MM, measured=False) if layers else Filled()


def _marked(zone: Zone, before: Sequence[Mark], marks: Sequence[Mark]) -> Zone:
    """Return a space with the places left open and the fences of other marks than those it has."""
    region = zone.region
    for piece in _left_open(before):
        region = _largest(unite([region, *intersect(piece, zone.outline)]), region)
    region = _largest(subtract(region, _left_open(marks)), region)
    kept = [fence for fence in zone.fences if not _is_drawn(fence, before)]
    drawn_now = [
        Fence(stretch, mark.soft_mm)
        for mark in marks
        if mark.kind == "fence"
        for around in dilate(region, BEYOND_MM, join="mitre")
        for stretch in clip_path(mark.path, around, least_mm=LEAST_FENCE_MM)
    ]
    return replace(zone, region=region, fences=(*kept, *drawn_now))


def _left_open(marks: Sequence[Mark]) -> list[Polygon]:
    """Return the round places that marks leave open, with their clearance."""
    discs = [disc(_at(mark), mark.radius_mm) for mark in marks if mark.kind == "open"]
    return [grown for one in discs for grown in dilate(one, OPEN_CLEARANCE_MM)]


def _largest(pieces: Iterable[Any], otherwise: Any) -> Any:
    return max(pieces, key=lambda piece: float(piece.area), default=otherwise)


def _is_drawn(fence: Fence, marks: Sequence[Mark]) -> bool:
    """Return whether a fence of a space is one of its marks on the film: it lies on its line."""
    lines = [mark.path for mark in marks if mark.kind == "fence"]
    return path_distance(fence.path[len(fence.path) // 2], lines) < ON_LINE_MM


def _stack(plan: Plan, zone: Zone) -> list[dict[str, Any]]:
    """Return a space's stack as she wrote it: the part's own name overrides a pattern, a longer one a shorter."""
    by_part = plan.fills.get(zone.name, {})
    fitting = [p for p in by_part if matching(p, [zone.part])]
    best = max(fitting, key=lambda p: (p == zone.part, len(p)), default=None)
    return [] if best is None else [dict(layer) for layer in by_part[best]]


def _with_spines(stack: Sequence[Mapping[str, Any]], names: str | list[str]) -> list[dict[str, Any]]:
    """Return a stack whose feather grows from drawn spines; where it has none, a feather is all there is."""
    out = [dict(layer) for layer in stack]
    place = next((k for k, layer in enumerate(out) if layer["kind"] == "feather"), None)
    if place is None:
        return [{"kind": "feather", "spines": names}] if names else out
    if names:
        out[place]["spines"] = names
    elif isinstance(out[place].get("spines"), list) or "-spine-" in str(out[place].get("spines", "")):
        del out[place]["spines"]
    return out


def with_marks(text: str, drawn: Drawn, zone: Zone, marks: Sequence[Mark], *, file: str = "plan.toml") -> str:
    """Return the plan's text with the marks of a space, and of all spaces of its zone, drawn anew.

    Each space gets them turned, mirrored and fitted as it lies: spines and fences as guides named
    ``ZONE-spine-1-at-2``, soft fences with how far, places left open as circles. The spines go into the feather of the
    space's part; where there is none, a feather is put there. Comments and all else stay.

    Raises
    ------
    InputError
        There are too many marks, or the text is no TOML.
    """
    if len(marks) > MOST_MARKS:
        raise InputError(f"are {len(marks)}; must be at most {MOST_MARKS}", key="marks on one space")
    plan, stem = drawn.plan, _stem(zone.name)
    spaces = _like(drawn, zone)
    marks = [_trimmed(mark, zone) for mark in marks]
    document = tomlkit.parse(text)
    entry = next(entry for entry in document["zone"] if entry["name"] == zone.name)
    _write_guides(document, zone, spaces, marks, plan.units)
    fences = [f for f in entry.get("fences", []) if not _is_ours(f, stem)]
    for k, mark in _numbered(marks):
        if mark.kind == "fence":
            row = tomlkit.inline_table()
            row["line"] = f"{stem}-fence-{k}-*"
            if mark.soft_mm:
                row["soft"] = _plain(mark.soft_mm, plan.units)
            fences.append(row)
    _put(entry, "fences", fences)
    open_marks = [mark for mark in marks if mark.kind == "open"]
    _put(entry, "leave_open", _open_places(entry, zone, spaces, open_marks, plan.units))
    before = _stack(plan, zone)
    stack = _with_spines(before, f"{stem}-spine-*" if any(mark.kind == "spine" for mark in marks) else "")
    text = tomlkit.dumps(document)
    if stack == before:
        return text
    return with_fill(text, zone.name, stack, part=zone.part, option=plan.option, file=file)


def _trimmed(mark: Mark, zone: Zone) -> Mark:
    """Return a line that ends just over the edge of its space: what runs on would lie in the next one."""
    if mark.kind == "open":
        return mark
    around = dilate(zone.outline, OVER_EDGE_MM, join="mitre")
    stretch = max((p for a in around for p in clip_path(mark.path, a)), key=path_length, default=None)
    within = np.any([contains(a, mark.points) for a in around], axis=0)
    if stretch is None or within.all():
        return mark
    first = mark.points[:0] if within[0] else stretch[:1]
    last = mark.points[:0] if within[-1] else stretch[-1:]
    return replace(mark, points=np.vstack([first, mark.points[within], last]))


def _numbered(marks: Sequence[Mark]) -> list[tuple[int, Mark]]:
    """Return marks with their numbers, each kind counted from 1."""
    counts: dict[str, int] = {}
    out = []
    for mark in marks:
        counts[mark.kind] = counts.get(mark.kind, 0) + 1
        out.append((counts[mark.kind], mark))
    return out


def _is_ours(fence: Any, stem: str) -> bool:
    line = fence.get("line") if isinstance(fence, Mapping) else fence
    return isinstance(line, str) and re.fullmatch(rf"{re.escape(stem)}-fence-\d+-\*", line) is not None


def _write_guides(document: Any, zone: Zone, spaces: Sequence[Zone], marks: Sequence[Mark], units: str) -> None:
    guides = document.get("guide", tomlkit.aot())
    for place in range(len(guides) - 1, -1, -1):
        if _own(zone.name, str(guides[place].get("name", ""))):
            del guides[place]
    for n, space in enumerate(spaces, 1):
        over = carry(zone, space)
        for k, mark in _numbered(marks):
            if mark.kind == "open":
                continue
            entry = tomlkit.table()
            entry["name"] = f"{_stem(zone.name)}-{mark.kind}-{k}-at-{n}"
            points = mark.points if space is zone else over(mark.points)
            entry["points"] = [[_plain(v, units) for v in point] for point in points.tolist()]
            guides.append(entry)
    if len(guides):
        document["guide"] = guides
    else:
        document.pop("guide", None)


def _open_places(entry: Any, zone: Zone, spaces: Sequence[Zone], marks: Sequence[Mark], units: str) -> list[Any]:
    """Return what a zone leaves open: what it names by name, and the circles on the film in each of its spaces."""
    rows: list[Any] = [part for part in entry.get("leave_open", []) if isinstance(part, str)]
    for space in spaces:
        over = carry(zone, space)
        for mark in marks:
            row = tomlkit.inline_table()
            points = mark.points if space is zone else over(mark.points)
            row["centre"] = [_plain(v, units) for v in points[0].tolist()]
            row["radius"] = _plain(mark.radius_mm, units)
            rows.append(row)
    return rows


def _put(entry: Any, key: str, rows: Sequence[Any]) -> None:
    if not rows:
        entry.pop(key, None)
        return
    array = tomlkit.array()
    array.extend(rows)
    entry[key] = array


def _plain(mm: float, units: str) -> float:
    """Return a length as a plan holds it, to a thousandth of its unit in inches, a hundredth of a millimetre else."""
    value = round(mm / MM_PER[units], {"in": 3, "cm": 3}.get(units, 2))
    return int(value) if value == int(value) else value
