"""Planned stops before the bobbin runs out, and places to rest the hands, where they show least."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..codes import FindingCode
from ..errors import LineError
from ..geometry import arc_lengths, turns
from ..model import Finding, FloatArray, Line, as_path
from ..tolerances import ROUNDING_MM

__all__ = ["rest_places", "stop_for_bobbins"]

EARLY = 0.5
"""A line is stopped early by up to this share of a bobbin to reach a place that hides the stop."""

REST_MM, REST_SLACK = 914.4, 0.25
"""A rest about every 36 in, up to this share earlier or later for a good place."""

CORNER_DEG = 60.0
"""Turns sharper than this are places where the needle may stand without showing."""

IN_SEAM, AT_JOINT, AT_CORNER, ANYWHERE = range(4)


def stop_for_bobbins(lines: Sequence[Line], longest_mm: float) -> tuple[tuple[Line, ...], tuple[Finding, ...]]:
    """Return the lines with every longer one cut where a stop hides best, and a finding for stops in the open.

    In a seam if there is one in the second half of a bobbin, else where two stretches meet, else at a sharp
    corner; of the best kind the last place.

    Parameters
    ----------
    lines : sequence of Line
        In sewing order.
    longest_mm : float
        What a bobbin sews, mm.

    Returns
    -------
    tuple of Line, tuple of Finding
        The lines, where one was cut two or more that follow each other; a note where a stop shows.

    Raises
    ------
    LineError
        ``longest_mm`` is not more than 0.
    """
    if not longest_mm > 0:
        raise LineError(f"is {longest_mm:g} mm; must be more than 0", key="longest_mm")
    out: list[Line] = []
    seen = 0
    for line in lines:
        rest = line
        while True:
            s = arc_lengths(rest.path)
            if s[-1] <= longest_mm:
                break
            cut, kind = _hidden_place(rest, s, EARLY * longest_mm, longest_mm)
            seen += kind != IN_SEAM
            first, rest = _cut(rest, cut)
            out.append(first)
        out.append(rest)
    if not seen:
        return tuple(out), ()
    finding = Finding(
        FindingCode.BOBBIN_STOP_SEEN,
        "note",
        None,
        f"The bobbin runs out {'once' if seen == 1 else f'{seen} times'} where no seam is near.",
        "Stop there by hand and bury the tails, or wind a larger bobbin.",
    )
    return tuple(out), (finding,)


def rest_places(line: Line, *, every_mm: float = REST_MM) -> FloatArray:
    """Return where the hands may rest, mm along a line: about every 36 in, at the places that show least.

    Empty for a line not much longer than that.

    Parameters
    ----------
    line : Line
        A continuous line.
    every_mm : float
        About so far apart.

    Returns
    -------
    ``(k,)`` array
        Distances along the line, rising.
    """
    s = arc_lengths(line.path)
    out: list[float] = []
    last = 0.0
    while s[-1] - last > every_mm * (1 + REST_SLACK):
        last, _ = _hidden_place(line, s, last + every_mm * (1 - REST_SLACK), last + every_mm * (1 + REST_SLACK))
        out.append(last)
    return np.array(out)


def _hidden_place(line: Line, s: FloatArray, low: float, high: float) -> tuple[float, int]:
    """Return the best place between two distances along a line, and its kind; the last one of the best kind."""
    best, kind = high, ANYWHERE
    corner = np.flatnonzero(np.abs(turns(line.path)) > np.radians(CORNER_DEG))
    for found, said in ((s[corner], AT_CORNER), (s[[x.end for x in line.spans]], AT_JOINT)):
        inside = found[(found > low) & (found < high)]
        if len(inside):
            best, kind = float(inside.max()), said
    for span in line.spans:
        a, b = max(float(s[span.start]), low), min(float(s[span.end]), high)
        if span.kind == "seam" and b > a:
            best, kind = (a + b) / 2, IN_SEAM
    return best, kind


def _cut(line: Line, at_mm: float) -> tuple[Line, Line]:
    """Return the two parts of a line cut at a distance along it."""
    s = arc_lengths(line.path)
    place = int(np.searchsorted(s, at_mm))
    if s[place] - at_mm > ROUNDING_MM:
        point = [np.interp(at_mm, s, line.path[:, axis]) for axis in (0, 1)]
        path = np.insert(line.path, place, point, axis=0)
        spans = [replace(x, start=x.start + (x.start >= place), end=x.end + (x.end >= place)) for x in line.spans]
        line = replace(line, path=as_path(path), spans=tuple(spans))
    before = [replace(x, end=min(x.end, place)) for x in line.spans if x.start < place]
    after = [replace(x, start=max(x.start, place) - place, end=x.end - place) for x in line.spans if x.end > place]
    return (
        replace(line, path=as_path(line.path[: place + 1]), spans=tuple(before)),
        replace(line, path=as_path(line.path[place:]), spans=tuple(after)),
    )
