"""From names to spaces: patches joined across their seams, shapes laid over them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, replace

from shapely import Polygon

from ..codes import FindingCode
from ..errors import ZoneError, nearest
from ..geometry import (
    inscribed_circle,
    intersect,
    join_regions,
    laid_shape,
    meeting_point,
    path_length,
    subtract,
    unite,
)
from ..model import Finding, Top
from ..specs import ShapeSpec, ZoneSpec, families_of, family_matching, matching

__all__ = ["PART_CLEARANCE_MM", "Space", "chosen", "inset_of", "spaces_of"]

PART_CLEARANCE_MM = 25.4 / 16
"""Between the stitching of two parts of one zone, or of a zone and a shape laid over it; half on each side."""

TOUCH_MM = 1.0
"""Patches that share less seam than this meet only at a corner and are not joined by it."""

OVERLAP_MM2 = 1.0
"""Spaces may overlap by rounding along a common edge, never by more than this."""

STAYS_OPEN = 0.01
"""A patch in no zone is reported when shapes leave more than this share of it open."""

MOST_NAMED = 12
"""Patches or kinds of patches named in one finding; the others are counted."""


@dataclass(frozen=True, slots=True, eq=False)
class Space:
    """One space of a zone entry.

    ``whole`` is its outline from seam to seam, ``outline`` what is left beside the shapes that ``covered`` it, each
    with whether its outline is sewn as a line by itself.
    """

    spec: ZoneSpec
    whole: Polygon
    outline: Polygon
    covered: tuple[tuple[Polygon, bool], ...] = ()


def inset_of(spec: ZoneSpec, default_mm: float) -> float:
    """Return a zone entry's clearance: its own, or the default; a laid-over shape has no seam to keep clear of."""
    if spec.inset_mm is not None:
        return spec.inset_mm
    return default_mm if spec.shape is None else PART_CLEARANCE_MM / 2


def chosen(patterns: Sequence[str], names: Sequence[str], *, zone: str, key: str, what: str) -> list[str]:
    """Return the names that patterns choose, in the names' order; a leading ``!`` takes out again.

    Parameters
    ----------
    patterns : sequence of str
        Names, with ``*`` for any letters.
    names : sequence of str
        What can be chosen from.
    zone, key : str
        Where the patterns stand, for a message.
    what : str
        What the names are of, such as ``"patch"``.

    Returns
    -------
    list of str
        Each once.

    Raises
    ------
    ZoneError
        A pattern stands for no name.
    """
    kept: dict[str, None] = {}
    for pattern in patterns:
        found = _meant(pattern.removeprefix("!"), names)
        if not found:
            near = nearest(pattern.strip("!*"), names)
            if near and pattern.endswith("-*"):
                near = f"{re.sub(r'(-[0-9]+)+$', '', near)}-*"
            way_out = f"The first are {', '.join(names[:8])}." if names else "The drawing has none."
            raise ZoneError(
                f"'{pattern}' is the name of no {what}",
                zone=zone,
                key=key,
                what_to_do=f"Did you mean '{near}'?" if near else way_out,
            )
        for name in found:
            if pattern.startswith("!"):
                kept.pop(name, None)
            else:
                kept[name] = None
    return [name for name in names if name in kept]


def _meant(pattern: str, names: Sequence[str]) -> list[str]:
    """Return what a pattern stands for: names, a family but for its numbers, or all pieces of a block or border."""
    return matching(pattern, names) or family_matching(pattern, names) or _pieces(pattern, names)


def _pieces(block: str, names: Sequence[str]) -> list[str]:
    return matching(f"{block}-*", names) if "*" not in block else []


def spaces_of(top: Top, specs: Sequence[ZoneSpec]) -> tuple[list[Space], list[Finding]]:
    """Return the spaces of all zone entries in order, and a note on the patches that stay open.

    Parameters
    ----------
    top : Top
        Where the patches are.
    specs : sequence of ZoneSpec
        The plan's entries in order.

    Returns
    -------
    list of Space, list of Finding
        Spaces before they are inset and divided; empty notes where no patch stays open.

    Raises
    ------
    ZoneError
        A name that nothing bears, a patch in two zones, a shape off the quilt or listed before what it covers.
    """
    owner: dict[str, str] = {}
    ditched: set[str] = set()
    spaces: list[Space] = []
    small: list[Finding] = []
    for spec in specs:
        if spec.shape is None:
            names = _own_patches(top, spec, owner)
            new = [Space(spec, outline, outline) for outline in _joined(top, spec, names)]
            new, left = _large_enough(spec, new)
            small += left
            if spec.shares:
                small += _seams_left_out(spec, names, new)
                ditched |= set(names)
            else:
                _not_under_a_shape(spec, new, spaces)
        else:
            new = [Space(spec, piece, piece) for piece in _laid(top, spec, spec.shape)]
            spaces = [left for space in spaces for left in _less(space, new)]
        spaces += new
    return spaces, [*_open_patches(top, ditched | set(owner), spaces), *small]


def _large_enough(spec: ZoneSpec, spaces: list[Space]) -> tuple[list[Space], list[Finding]]:
    """Return the spaces that are as wide as the entry asks, and a note on those that are not."""
    if spec.least_mm is None:
        return spaces, []
    kept = [space for space in spaces if 2 * inscribed_circle(space.outline)[1] >= spec.least_mm]
    count = len(spaces) - len(kept)
    if not count:
        return kept, []
    said = "1 space stays" if count == 1 else f"{count} spaces stay"
    text = f"{said} open, narrower than least; {len(kept)} {'is' if len(kept) == 1 else 'are'} kept"
    return kept, [
        Finding(FindingCode.SMALL_SPACES_OPEN, "note", spec.name, text, "Make least smaller to keep more of them.")
    ]


def _seams_left_out(spec: ZoneSpec, names: Sequence[str], spaces: Sequence[Space]) -> list[Finding]:
    """Return a note where patches that are stitched in the ditch are joined, so that no seam between them is."""
    if spec.each == "patch" or len(names) == len(spaces):
        return []
    text = f"only the outer seams of its {len(names)} patches are stitched in the ditch, none between them"
    return [
        Finding(
            FindingCode.DITCH_OUTER_ONLY,
            "note",
            spec.name,
            text,
            'Write each = "patch" to stitch the seams between too.',
        )
    ]


def _own_patches(top: Top, spec: ZoneSpec, owner: dict[str, str]) -> list[str]:
    names = chosen(spec.patches, [p.name for p in top.patches], zone=spec.name, key="patches", what="patch")
    if not names:
        raise ZoneError("is left with no patch", zone=spec.name, key="patches", what_to_do="Take out one of the '!'.")
    for name in names:
        if spec.shares:
            continue
        if name in owner:
            raise ZoneError(
                f"takes '{name}', which zone '{owner[name]}' has already; a patch can be in one zone only",
                zone=spec.name,
                key="patches",
                what_to_do=f"Add '!{name}' to one of them; or to stitch both there, write both fills in one zone, as a "
                "stack: [[zone.fill]] twice.",
            )
        owner[name] = spec.name
    return names


def _joined(top: Top, spec: ZoneSpec, names: Sequence[str]) -> list[Polygon]:
    outlines = {patch.name: patch.outline for patch in top.patches}
    if spec.each == "patch":
        return [outlines[name] for name in names]
    if spec.each == "joined":
        return [piece for group in _groups(top, names) for piece in join_regions([outlines[n] for n in group])]
    return join_regions([outlines[name] for name in names])


def _groups(top: Top, names: Sequence[str]) -> list[list[str]]:
    """Return groups of patches that share seams, each group and all of them in the order of the top."""
    group = {name: {name} for name in names}
    for seam in top.seams:
        if seam.a in group and seam.b in group and path_length(seam.path) > TOUCH_MM:
            both = group[seam.a] | group[seam.b]
            group.update(dict.fromkeys(both, both))
    first = dict.fromkeys(min(names.index(n) for n in group[name]) for name in names)
    return [[name for name in names if name in group[names[at]]] for at in first]


def _laid(top: Top, spec: ZoneSpec, shape: ShapeSpec) -> list[Polygon]:
    whole = [patch.outline for patch in top.patches]
    pieces: list[Polygon] = []
    for centre in _middles(top, spec, shape):
        try:
            laid = laid_shape(
                shape.kind,
                centre,
                width_mm=shape.width_mm,
                height_mm=shape.height_mm,
                points=shape.points,
                turn_deg=shape.turn_deg,
            )
        except ValueError as error:
            raise ZoneError(str(error), zone=spec.name, key="shape.points") from None
        on_top = [part for quilt in join_regions(whole) for part in intersect(laid, quilt)]
        if not on_top:
            raise ZoneError("lies off the quilt", zone=spec.name, key="shape.at", what_to_do="Move its middle.")
        if _area(on_top) < laid.area - OVERLAP_MM2 and shape.kind != "polygon" and len(on_top) > 1:
            raise ZoneError("is cut into pieces by the quilt's edge", zone=spec.name, key="shape.at")
        if any(_area(intersect(part, other)) > OVERLAP_MM2 for part in on_top for other in pieces):
            raise ZoneError(
                "is laid at several places that overlap", zone=spec.name, key="shape", what_to_do="Make it smaller."
            )
        pieces += on_top
    return pieces


def _middles(top: Top, spec: ZoneSpec, shape: ShapeSpec) -> list[tuple[float, float] | None]:
    if shape.at is None:
        return [None]
    if isinstance(shape.at, tuple) and not isinstance(shape.at[0], str):
        x, y = (float(v) for v in shape.at)
        return [(x, y)]
    outlines = {patch.name: patch.outline for patch in top.patches}
    wanted = [shape.at] if isinstance(shape.at, str) else [str(name) for name in shape.at]
    found = [chosen([name], list(outlines), zone=spec.name, key="shape.at", what="patch") for name in wanted]
    if isinstance(shape.at, str):
        regions = [outlines[n] for n in found[0]]
        if shape.at not in outlines and "*" not in shape.at:  # a block by its name: its middle, not those of its pieces
            regions = join_regions(regions)
        return [(region.centroid.x, region.centroid.y) for region in regions]
    place = meeting_point([join_regions([outlines[name] for name in several])[0] for several in found])
    if place is None:
        text = f"names {', '.join(wanted)}, which do not all meet at one place"
        raise ZoneError(text, zone=spec.name, key="shape.at")
    return [place]


def _not_under_a_shape(spec: ZoneSpec, new: Iterable[Space], before: Iterable[Space]) -> None:
    shapes = [space for space in before if space.spec.shape is not None]
    for space in new:
        for shape in shapes:
            if _area(intersect(space.outline, shape.outline)) > OVERLAP_MM2:
                raise ZoneError(
                    f"lies under the shape '{shape.spec.name}', which is listed before it",
                    zone=spec.name,
                    what_to_do=f"List '{shape.spec.name}' after it: a shape is taken out of the zones before it.",
                )


def _less(space: Space, shapes: Sequence[Space]) -> list[Space]:
    over = [
        (s.outline, s.spec.framed is not None and s.spec.inset_mm is None)
        for s in shapes
        if _area(intersect(space.outline, s.outline)) > OVERLAP_MM2
    ]
    if not over:
        return [space]
    left = subtract(space.outline, [outline for outline, _ in over], sliver_mm2=OVERLAP_MM2)
    return [replace(space, outline=piece, covered=(*space.covered, *over)) for piece in left]


def _open_patches(top: Top, owned: Set[str], spaces: Sequence[Space]) -> list[Finding]:
    shapes = unite([space.outline for space in spaces if space.spec.shape is not None])
    open_ones = [
        patch.name
        for patch in top.patches
        if patch.name not in owned and _area(subtract(patch.outline, shapes)) > STAYS_OPEN * patch.outline.area
    ]
    if not open_ones:
        return []
    kinds = (
        open_ones
        if len(open_ones) <= MOST_NAMED
        else [alike[0] if len(alike) == 1 else f"{len(alike)} {kind}" for kind, alike in families_of(open_ones).items()]
    )
    more = f" and {len(kinds) - MOST_NAMED} more kinds" if len(kinds) > MOST_NAMED else ""
    listed = f"{', '.join(kinds[:MOST_NAMED])}{more}"
    many = f"{len(open_ones)} patches are in no zone and stay open"
    count = "1 patch is in no zone and stays open" if len(open_ones) == 1 else many
    return [
        Finding(
            FindingCode.LEFT_OPEN,
            "note",
            None,
            f"{count}: {listed}",
            "Add them to a zone, or leave them open on purpose.",
        )
    ]


def _area(pieces: Iterable[Polygon]) -> float:
    return float(sum(piece.area for piece in pieces))
