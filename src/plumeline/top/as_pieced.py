"""From the top as planned to the top as pieced: corners where the seams seen in a photo meet, outlines through them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from ..codes import FindingCode
from ..errors import TopError
from ..geometry import arc_lengths, as_region, point_at
from ..model import Finding, FloatArray, Patch, Top
from ..units import Unit, format_length
from .seam_net import SeamNet, rings_of
from .seams_seen import SeenSeam

__all__ = ["EndLine", "Pieced", "as_pieced", "end_lines"]

STIFF = 1e-3
"""How much less than a seam that is seen the wish counts that neighbouring corners move alike."""

BOW_MM = 0.5
"""A seam that bows less than this is drawn straight: it is what the photo tells."""

EVERY_MM, NEAR_MM = 25.0, 12.0
"""From point to point of a bowed seam; nothing between its corner and so far from it."""

STEP_MM, GENTLE = 1.0, 3.3
"""A seam that misses its corner by more than the first steps over to it, within so many times what it misses."""

MISSED_MM = 2.0
"""Seams that pass their corner by more than this miss it."""

MOST_SAID = 8
"""Corners that are told of, the worst first."""


@dataclass(frozen=True, slots=True, eq=False)
class Pieced:
    """The top as pieced: its patches by their planned names, what was seen, the corners and how each misses, mm."""

    patches: tuple[Patch, ...]
    seen: tuple[SeenSeam, ...]
    paths: tuple[FloatArray, ...]
    corners: FloatArray
    findings: tuple[Finding, ...]


def as_pieced(top: Top, net: SeamNet, seen: Sequence[SeenSeam], *, unit: Unit = "in") -> Pieced:
    """Return the top as its seams are seen.

    Parameters
    ----------
    top : Top
        As planned.
    net : SeamNet
        Of its seams.
    seen : sequence of SeenSeam
        What a photo shows of each stretch of the net.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    Pieced
        Patches and paths of seams where they were seen, the corners and how each misses.

    Raises
    ------
    TopError
        No seam is sure, so nothing tells how it is pieced; or what was found closes no patch.

    Notes
    -----
    Least squares over all corners at once: each seam that is seen wants its corners on its line; two corners at the
    ends of a seam want to move alike, a thousand times less. So a corner that no seam pins goes along with its
    neighbours.
    """
    if not any(s.seen for s in seen):
        raise TopError(
            "shows no seam of the plan for sure",
            what_to_do="Check that the points are those of this top, and that the photo is bright and sharp.",
        )
    lines = list(end_lines(seen))
    corners = net.corners + _moved(net, lines)
    paths = [_path(s, corners) for s in seen]
    patches = []
    for patch in top.patches:
        own = [
            (s.stretch.start, s.stretch.end, p) for s, p in zip(seen, paths) if patch.name in (s.stretch.a, s.stretch.b)
        ]
        shell, *holes = rings_of(own)
        try:
            region = as_region(shell, holes)
        except ValueError:
            raise TopError(
                f"shows patch '{patch.name}' with an outline that crosses itself",
                what_to_do="Take a sharper photo, or draw the top as it is.",
            ) from None
        patches.append(Patch(patch.name, region, patch.colour, patch.fabric))
    findings = (*_seen_said(seen, unit), *_missed(top, net, lines, corners, unit))
    return Pieced(tuple(patches), tuple(seen), tuple(paths), corners, findings)


EndLine = tuple[int, FloatArray, FloatArray]
"""A corner's number, a point of a seam seen near it, and which way lies across that seam."""


def end_lines(seen: Sequence[SeenSeam]) -> Iterator[EndLine]:
    """Yield the line on which each seam that is seen runs into each of its corners."""
    for s in seen:
        if not s.seen:
            continue
        near = min(0.5, 20.0 / s.stretch.length)
        for corner, ends in ((s.stretch.start, (0.0, near)), (s.stretch.end, (1.0, 1.0 - near))):
            at, _ = s.across(np.array(ends))
            way = at[1] - at[0]
            way /= np.hypot(*way)
            yield corner, at[0], np.array([way[1], -way[0]])


def _moved(net: SeamNet, lines: Sequence[EndLine]) -> FloatArray:
    """Return how far each corner lies from its planned place, ``(n, 2)``."""
    count = len(net.corners)
    rows, cols, values, wanted = [], [], [], []
    row = 0
    for corner, at, across in lines:
        rows += [row, row]
        cols += [2 * corner, 2 * corner + 1]
        values += across.tolist()
        wanted.append(float(across @ (at - net.corners[corner])))
        row += 1
    for stretch in net.stretches:
        stiff = float(np.sqrt(STIFF * 100.0 / max(stretch.length, 10.0)))
        for axis in (0, 1):
            rows += [row, row]
            cols += [2 * stretch.start + axis, 2 * stretch.end + axis]
            values += [stiff, -stiff]
            wanted.append(0.0)
            row += 1
    for k in range(2 * count):  # a hair, so that a part of the net that nothing pins stays where it is planned
        rows.append(row)
        cols.append(k)
        values.append(1e-4)
        wanted.append(0.0)
        row += 1
    system = coo_matrix((np.array(values), (np.array(rows), np.array(cols))), shape=(row, 2 * count)).tocsr()
    found = spsolve((system.T @ system).tocsc(), system.T @ np.array(wanted))
    return np.asarray(found, dtype=np.float64).reshape(-1, 2)


def _path(s: SeenSeam, corners: FloatArray) -> FloatArray:
    """Return a seam's path as pieced, from corner to corner."""
    stretch = s.stretch
    ends = corners[[stretch.start, stretch.end]]
    planned = np.asarray(stretch.path)
    share = arc_lengths(planned) / arc_lengths(planned)[-1]
    moved = ends - planned[[0, -1]]
    carried: FloatArray = planned + (1 - share)[:, None] * moved[0] + share[:, None] * moved[1]
    carried[0], carried[-1] = ends
    if not s.seen or stretch.length < 3 * NEAR_MM:
        return carried
    first, last = _begins(s, ends)
    if stretch.length - first - last < NEAR_MM:
        return carried
    count = max(3, round((stretch.length - first - last) / EVERY_MM) + 1)
    between = np.linspace(first / stretch.length, 1 - last / stretch.length, count)
    seen, _ = s.across(between)
    even = point_at(carried, between * arc_lengths(carried)[-1])
    if np.hypot(*(seen - even).T).max() < BOW_MM:
        return carried
    return np.vstack([ends[0], seen, ends[1]])


def _begins(s: SeenSeam, ends: FloatArray) -> list[float]:
    """Return how far from each end of its planned stretch a seam lies where it is seen, mm."""
    at, normal = s.across(np.array([0.0, 1.0]))
    missed = np.abs(((ends - at) * normal).sum(axis=1))
    inward = np.column_stack([-normal[:, 1], normal[:, 0]]) * [[1.0], [-1.0]]
    moved = np.maximum(0.0, ((ends - at) * inward).sum(axis=1))  # or its path would turn back to its corner
    # a seam that misses its corner steps over to it: soon, for it is true up to there, but not as sharply as a corner
    steps = np.where(missed < STEP_MM, NEAR_MM, np.minimum(NEAR_MM, missed * GENTLE))
    begins: list[float] = (moved + steps).tolist()
    return begins


def _seen_said(seen: Sequence[SeenSeam], unit: Unit) -> Iterator[Finding]:
    shown = sum(s.seen for s in seen)
    reasons: dict[str, list[SeenSeam]] = {}
    for s in seen:
        if s.why:
            reasons.setdefault(s.why, []).append(s)
    said = "; ".join(f"{len(some)} {_many(why, len(some))}" for why, some in sorted(reasons.items()))
    yield Finding(
        FindingCode.SEAMS_SEEN,
        "note",
        None,
        f"{shown} of {len(seen)} stretches of seam are seen for sure"
        + (f"; {said}: those are not used" if said else ""),
        "Look at seams.png: what is dashed there was taken from the seams about it. Measure it if it matters.",
    )
    loose = [s for s in seen if not s.placed]
    if loose:
        worst = max(loose, key=lambda s: s.may_be_off_mm)
        right, down = (format_length(v, unit, per_inch=8) for v in worst.across(np.array([0.5]))[0][0].tolist())
        off = format_length(worst.may_be_off_mm, unit, per_inch=32)
        yield Finding(
            FindingCode.SEAMS_FAR,
            "note",
            None,
            f"{len(loose)} {'stretch lies' if len(loose) == 1 else 'stretches lie'} so far from measured points that "
            f"the true place may be up to {off} off; the worst is at {right} right, {down} down",
            "Measure a point or two near it. They are yellow in seams.png, and used as they are seen.",
        )


def _many(why: str, count: int) -> str:
    return why if count == 1 else why.replace("lies ", "lie ").replace("is ", "are ", 1).replace("wanders", "wander")


def _missed(top: Top, net: SeamNet, lines: Sequence[EndLine], corners: FloatArray, unit: Unit) -> Iterator[Finding]:
    """Yield the corners that seams miss, the worst first."""
    off: dict[int, float] = {}
    for corner, at, across in lines:
        off[corner] = max(off.get(corner, 0.0), abs(float(across @ (at - corners[corner]))))
    worst = sorted((k for k, v in off.items() if v > MISSED_MM), key=lambda k: -off[k])
    for k in worst[:MOST_SAID]:
        about = sorted({n for s in net.stretches if k in (s.start, s.end) for n in (s.a, s.b) if n})
        right, down = (format_length(v, unit, per_inch=8) for v in corners[k].tolist())
        yield Finding(
            FindingCode.CORNER_MISSED,
            "warning",
            None,
            f"seams miss each other by {format_length(2 * off[k], unit, per_inch=16)} at {right} right, {down} down, "
            f"where {', '.join(about[:4])} meet",
            "Keep straight lines away from it, or let a curved fill run over it.",
        )
