"""Zones that are done: what is stitched is taken from the drawing of that time and never changes."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Sequence
from pathlib import Path as FilePath
from typing import Literal

from ..codes import FindingCode
from ..errors import OutputError, ZoneError
from ..geometry import outside_mm, path_length
from ..model import Filled, Finding, Path, Stroke, Way, Zone
from ..output import Drawn, Stitched, read_file
from ..specs import INSIDE

__all__ = ["already_sewn", "already_stitched", "filled_as_stitched", "old_ways"]

PASSES = 2
"""Old stitching may be gone along once more: with its own pass two, as for new stitching."""

BACKTRACK = 1.5
"""What a mm of travel on old stitching costs against one in a seam: it thickens the line."""

MOVED_SHARE, NEAR_MM = 0.02, 1.0
"""More than this share of the stitching further than this outside its zone: the top has changed, not the fill."""

_ROLES: dict[str, Literal["stitch", "backtrack", "step"]] = {
    "stitch": "stitch",
    "backtrack": "backtrack",
    "step": "step",
    "seam-travel": "step",
    "edge-travel": "step",
}
"""Strokes that stand for what is on the cloth; travel counts as thread, not as a drawn line."""


def already_stitched(
    zones: Sequence[Zone], drawing: str | FilePath | None, *, plan: str, unfilled: Container[str] = ()
) -> tuple[tuple[Stitched, ...], tuple[Finding, ...]]:
    """Return how each zone was stitched, from the full-size drawing that was written then.

    Parameters
    ----------
    zones : sequence of Zone
        The zones marked done; nothing is read when there is none.
    drawing : path or None
        The SVG of that time.
    plan : str
        Name of the plan, for messages.
    unfilled : container of str
        Labels of zones without a fill: they may have had none then either, and need not be in the drawing.

    Raises
    ------
    ZoneError
        There is no drawing, or it does not hold a zone.
    OutputError
        The drawing can't be read.
    """
    if not zones:
        return (), ()
    if drawing is None or not FilePath(drawing).is_file():
        looked = "" if drawing is None else f" ({drawing} is not there)"
        raise ZoneError(
            f"is true, but there is no drawing of how it was stitched{looked}",
            file=plan,
            zone=zones[0].name,
            key="done",
            what_to_do="Name the drawing that was written with its stitch file: --stitched FILE.svg.",
        )
    _, drawn = read_file(drawing)
    if not isinstance(drawn, Drawn):
        raise OutputError("must be the full-size SVG that was written with the stitch file", file=str(drawing))
    found = tuple(
        Stitched()
        if zone.label in unfilled and _label_in(drawn, zone) is None
        else _from_drawing(drawn, zone, str(drawing), plan)
        for zone in zones
    )
    return found, tuple(x for zone, stitched in zip(zones, found) for x in _moved(zone, stitched))


def _from_drawing(drawn: Drawn, zone: Zone, drawing: str, plan: str) -> Stitched:
    label = _label_in(drawn, zone)
    if label is None:
        raise ZoneError(
            f"is true, but {drawing} does not hold '{zone.label}'; it holds {', '.join(drawn.names[:20]) or 'no zone'}",
            file=plan,
            zone=zone.name,
            key="done",
            what_to_do="Name the drawing that was written with its stitch file: --stitched FILE.svg.",
        )
    number = drawn.names.index(label)
    return Stitched(
        tuple(shape for shape in drawn.shapes if shape.zone == number),
        tuple(run for run in drawn.runs if run.zone == number),
    )


def _label_in(drawn: Drawn, zone: Zone) -> str | None:
    """Return the zone's label in a drawing, also in one written when what is left inside was called its rest."""
    old = zone.name if zone.number == 1 else f"{zone.name}, rest {zone.number}"
    labels = (zone.label, *([old] if zone.part in ("", INSIDE) else []))
    return next((label for label in labels if label in drawn.names), None)


def _moved(zone: Zone, stitched: Stitched) -> Iterator[Finding]:
    paths = [run.path for run in stitched.runs if run.kind == "stitch"]
    outside = outside_mm(paths, zone.outline, tolerance_mm=NEAR_MM)
    if outside > MOVED_SHARE * sum(path_length(path) for path in paths):
        yield Finding(
            FindingCode.DONE_ZONE_MOVED,
            "warning",
            zone.label,
            "It is marked done, but its stitching no longer lies in the space that the plan gives it.",
            "Put the top back as it was when the zone was stitched, or take done = true out.",
        )


def filled_as_stitched(zone: Zone, stitched: Stitched, thread: str) -> Filled:
    """Return the strokes on the cloth as a filled zone, for measures."""
    return Filled(
        tuple(
            Stroke(run.path, role=_ROLES[run.kind], zone=zone.name, fill="done", thread=thread)
            for run in stitched.runs
            if run.kind in _ROLES
        )
    )


def old_ways(done: Sequence[Stitched]) -> list[Way]:
    """Return old stitching as ways for hidden travel; `already_sewn` says how often each place has been gone along."""
    return [Way(r.path, "stitched", BACKTRACK, PASSES) for s in done for r in s.runs if r.kind == "stitch"]


def already_sewn(done: Iterable[Stitched]) -> list[Path]:
    """Return every pass that is on the cloth."""
    return [run.path for s in done for run in s.runs if run.kind != "jump"]
