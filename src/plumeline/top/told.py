"""What making a top mended, cut out or left open: one note for each kind, with how many and how large."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

from ..codes import FindingCode
from ..drawing import named
from ..model import Finding, Severity
from ..units import Unit, format_area, format_length, format_small_length

__all__ = ["dangling", "inside", "joined", "laid_over", "left_out", "mended", "moved", "open_between", "thin_given"]

Box: TypeAlias = tuple[float, float, float, float]
"""Left, top, right and bottom in mm."""


def joined(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings of which no two are of one kind: one note says, where the first stood, what several stages found.

    What to do is as the first of a kind says.
    """
    out: dict[tuple[FindingCode, Severity], Finding] = {}
    for finding in findings:
        kind = (finding.code, finding.severity)
        before = out.get(kind)
        out[kind] = replace(before, text=f"{before.text}; {finding.text}") if before else finding
    return tuple(out.values())


def mended(changes: Mapping[str, float], unit: Unit) -> Finding:
    """Return the note of outlines that crossed themselves; ``changes`` says in mm2 how much each area changed."""
    most = max(changes, key=lambda name: changes[name])
    if len(changes) == 1:
        text = (
            f"the outline of '{most}' crossed itself by a hair and was mended; its area changed by "
            f"{format_area(changes[most], unit)}"
        )
    else:
        text = (
            f"the outlines of {len(changes)} patches crossed themselves by a hair and were mended: "
            f"{named(list(changes))}; {_changed(changes, unit)}"
        )
    return _note(FindingCode.OUTLINE_MENDED, text, "Nothing, unless it looks wrong.")


def moved(changes: Mapping[str, float], farthest_mm: float, unit: Unit) -> Finding:
    """Return the note of corners brought together; ``changes`` says in mm2 how much the area of each patch changed."""
    patches = "1 patch" if len(changes) == 1 else f"{len(changes)} patches"
    far = format_small_length(farthest_mm, unit)
    far = far if far.startswith("under") else f"up to {far}"
    return _note(
        FindingCode.GAP_CLOSED,
        f"corners and edges of {patches} did not quite meet and were moved by {far}; {_changed(changes, unit)}",
        "Nothing, unless those gaps were meant; close_gaps says how near is the same.",
    )


def _changed(changes: Mapping[str, float], unit: Unit) -> str:
    most = max(changes, key=lambda name: changes[name])
    said = f"areas changed by {format_area(sum(changes.values()), unit)} altogether"
    return f"{said}, the most by that of '{most}': {format_area(changes[most], unit)}"


def laid_over(under: Mapping[str, Sequence[str]], area_mm2: float, unit: Unit) -> Finding:
    """Return the note of patches over others; ``under`` says what lies under each, ``area_mm2`` how much in all."""
    if len(under) == 1:
        ((name, below),) = under.items()
        return _note(
            FindingCode.PATCH_OVER,
            f"'{name}' is laid over {named(below, 4)}, which lose what it covers",
            "Nothing, if it is an applique; else move it.",
        )
    return _note(
        FindingCode.PATCH_OVER,
        f"{len(under)} patches are laid over others, which lose what they cover, {format_area(area_mm2, unit)} "
        f"altogether: {named(list(under))}",
        "Nothing, if they are appliques; else move them.",
    )


def inside(outer_of: Mapping[str, str], area_mm2: float, unit: Unit) -> Finding:
    """Return the note of patches inside others: which lies in which, and how large they are together."""
    outers = list(dict.fromkeys(outer_of.values()))
    if len(outer_of) == 1:
        ((name, outer),) = outer_of.items()
        text = f"'{name}' lies inside '{outer}', which gets a hole there"
    elif len(outers) == 1:
        text = (
            f"{len(outer_of)} patches ({format_area(area_mm2, unit)}) lie inside '{outers[0]}', which gets holes "
            f"there: {named(list(outer_of))}"
        )
    else:
        pairs = [f"'{name}' in '{outer}'" for name, outer in outer_of.items()]
        more = f" and {len(pairs) - 3} more" if len(pairs) > 3 else ""
        text = (
            f"{len(pairs)} patches ({format_area(area_mm2, unit)}) lie inside {len(outers)} others, which get holes "
            f"there: {', '.join(pairs[:3])}{more}"
        )
    way = "it is a patch of its own" if len(outer_of) == 1 else "they are patches of their own"
    return _note(FindingCode.PATCH_INSIDE, text, f"Nothing; {way}.")


def left_out(areas: Mapping[str, float], unit: Unit) -> Finding:
    """Return the note of shapes of which nothing is left; ``areas`` says in mm2 how large each was drawn."""
    if len(areas) == 1:
        (name,) = areas
        text = f"'{name}' is covered by other patches, or thinner than close_gaps, and was left out"
    else:
        text = (
            f"{len(areas)} shapes ({format_area(sum(areas.values()), unit)}) are covered by other patches, or thinner "
            f"than close_gaps, and were left out: {named(list(areas))}"
        )
    way = "Nothing, unless it was meant as a patch." if len(areas) == 1 else "Nothing, unless one was meant as a patch."
    return _note(FindingCode.PATCH_COVERED, text, way)


def thin_given(covered: int, names: Sequence[str], area_mm2: float, unit: Unit) -> Finding:
    """Return the note of what was too thin for a patch and went to a neighbour; ``covered``: by none, 1 or 2 shapes."""
    code = (FindingCode.GAP_CLOSED, FindingCode.SLIVER_DROPPED, FindingCode.OVERLAP_MENDED)[covered]
    said = (
        "thin gaps were closed",
        "slivers too thin for a patch were given to what lies beside them",
        "thin overlaps were given to one of the two patches",
    )[covered]
    text = f"{said} at {named(names)}; {format_area(area_mm2, unit)} altogether"
    return _note(code, text, "Nothing, unless it was meant.")


def open_between(openings: Sequence[tuple[Box, float]], unit: Unit) -> Finding:
    """Return the warning of openings between patches: the box round each and its area in mm2."""
    (left, top, right, bottom), _ = max(openings, key=lambda opening: opening[1])
    size = f"{format_small_length(right - left, unit)} x {format_small_length(bottom - top, unit)}"
    at = f"{format_length(left, unit)} from the left, {format_length(top, unit)} from the top"
    if len(openings) == 1:
        text = f"no patch covers an opening of {size} at {at}"
        way = "Draw the missing patch, or raise close_gaps if it is only a gap."
    else:
        text = (
            f"no patch covers {len(openings)} openings, {format_area(sum(area for _, area in openings), unit)} "
            f"altogether; the largest is {size} at {at}"
        )
        way = "Draw the missing patches, or raise close_gaps if they are only gaps."
    return Finding(FindingCode.GAP_OPEN, "warning", None, text, way)


def dangling(free: Mapping[str, float], unit: Unit) -> Finding:
    """Return the note of lines with a free end; ``free`` says in mm along how much each cuts nothing."""
    most = max(free, key=lambda name: free[name])
    if len(free) == 1:
        text = (
            f"line '{most}' cuts nothing along {format_length(free[most], unit)} of its length: an end of it hangs free"
        )
    else:
        text = (
            f"{len(free)} lines cut nothing along {format_length(sum(free.values()), unit)} of their length "
            f"altogether, because an end hangs free: {named(list(free))}; the most is "
            f"{format_length(free[most], unit)} of '{most}'"
        )
    what = "it end on a seam, or list it in guides if it cuts no patch"
    if len(free) > 1:
        what = "them end on seams, or list them in guides if they cut no patch"
    return _note(FindingCode.LINE_DANGLES, text, f"Let {what}.")


def _note(code: FindingCode, text: str, what_to_do: str) -> Finding:
    return Finding(code, "note", None, text, what_to_do)
