"""The weakest places of a whole quilt in order: each measured against the limit of its own kind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from ..codes import FindingCode
from ..geometry import contains, dilate, intersect
from ..model import Barest, Finding, FloatArray, Zone
from ..units import Unit, format_length
from .density import HAND_MM, KNOT, MANY, UNEVEN
from .straight import ShownSeam

__all__ = [
    "MOST_PLACES",
    "WeakPlace",
    "weak_bald",
    "weak_knots",
    "weak_neighbours",
    "weak_seams",
    "weak_starts",
    "weakest_findings",
]

MOST_PLACES = 3
"""So many places are named: what is mended first, not a list of all."""

PLAIN = 0.25
"""A gap between a line and a seam that changes by more than this share of it shows plainly."""

STARTS = 2
"""A start and a stop side by side are what one line leaves; more of them within a hand's breadth show."""

BESIDE_MM = 2.0
"""Half as wide again as what parts neighbours: what of a zone lies within this of another is their border."""

Kind: TypeAlias = Literal["bald", "knot", "uneven", "straight", "starts"]


@dataclass(frozen=True, slots=True)
class WeakPlace:
    """A place that is weaker than it should be.

    Attributes
    ----------
    times : float
        How many times over the limit of its kind it is: 1 is just at it.
    zone : str or None
        Name of the zone it lies in; None where it is of no one zone.
    text : str
        What is weak there.
    """

    kind: Kind
    times: float
    place: tuple[float, float]
    zone: str | None
    text: str


def weak_bald(zones: Sequence[Zone], barest: Sequence[Barest | None]) -> Iterator[WeakPlace]:
    """Give the barest place of each zone: how far it is from every line, in what its fills may leave at most.

    Parameters
    ----------
    zones : sequence of Zone
        In order.
    barest : sequence of Barest or None
        The barest place of each; None where it has none.

    Yields
    ------
    WeakPlace
        One for each zone that has one.
    """
    for zone, bare in zip(zones, barest):
        if bare is not None:
            text = f"bald, {bare.times:.1f} times as far from any line as its fill may leave it"
            yield WeakPlace("bald", bare.times, bare.place, zone.name, text)


def weak_knots(zones: Sequence[Zone], dense: Iterable[tuple[float, tuple[float, float]]]) -> Iterator[WeakPlace]:
    """Give the knots: inches of line in one square inch, in `KNOT`.

    Parameters
    ----------
    zones : sequence of Zone
        Where a knot lies is told by them.
    dense : iterable of (float, (float, float))
        As `dense_inches` gives it.

    Yields
    ------
    WeakPlace
        One for each.
    """
    for inches, place in dense:
        zone = next((zone.name for zone in zones if contains(zone.outline, [place]).all()), None)
        yield WeakPlace("knot", inches / KNOT, place, zone, f"a knot, {inches:.0f} in of line in one square inch")


def weak_neighbours(pairs: Iterable[tuple[Zone, Zone]], density: dict[str, float]) -> Iterator[WeakPlace]:
    """Give the borders of neighbours: how many times as tight one is as the other, in `UNEVEN`.

    Parameters
    ----------
    pairs : iterable of (Zone, Zone)
        Zones side by side.
    density : dict of str to float
        Inches of line per square inch by zone name.

    Yields
    ------
    WeakPlace
        One for each pair in which both are quilted.
    """
    for a, b in pairs:
        loose, tight = sorted((a, b), key=lambda zone: density[zone.name])
        if density[loose.name] > 0:
            ratio = density[tight.name] / density[loose.name]
            times = f"{ratio:.1f} times" if ratio < MANY else f"more than {MANY:g} times"
            text = f"{times} as tight as '{loose.name}' beside it"
            yield WeakPlace("uneven", min(ratio, MANY) / UNEVEN, _border(a, b), tight.name, text)


def _border(a: Zone, b: Zone) -> tuple[float, float]:
    """Return a place on the border of two zones that touch."""
    grown = dilate(a.outline, BESIDE_MM)
    beside = [piece for part in grown for piece in intersect(part, b.outline)]
    x, y = max(beside, key=lambda piece: piece.area).representative_point().coords[0]
    return float(x), float(y)


def weak_seams(shown: Iterable[ShownSeam]) -> Iterator[WeakPlace]:
    """Give the crooked seams that straight lines show: the share by which the gap changes, in `PLAIN`.

    Parameters
    ----------
    shown : iterable of ShownSeam
        As `shown_seams` gives them.

    Yields
    ------
    WeakPlace
        One for each.
    """
    for seam in shown:
        x, y = seam.seam.mean(axis=0).tolist()
        how = f"the gap changes by {100 * seam.score:.0f} % of it" if seam.away_mm else "a grid ends at it"
        text = f"straight beside crooked, {seam.name}: {how}"
        yield WeakPlace("straight", seam.score / PLAIN, (x, y), seam.zone, text)


def weak_starts(ends: FloatArray) -> Iterator[WeakPlace]:
    """Give the places where starts and stops show: how many within a hand's breadth, in `STARTS`.

    Parameters
    ----------
    ends : (n, 2) array
        As `ends_that_show` gives them.

    Yields
    ------
    WeakPlace
        The fullest place first; each end is counted once.
    """
    if not len(ends):
        return
    near = [np.flatnonzero(np.hypot(*(ends - end).T) <= HAND_MM / 2) for end in ends]
    left = np.ones(len(ends), dtype=bool)
    for k in sorted(range(len(ends)), key=lambda k: (-len(near[k]), k)):
        if left[k]:
            count = len(near[k])
            left[near[k]] = False
            x, y = ends[k].tolist()
            text = f"{count} starts and stops in open cloth within a hand's breadth"
            yield WeakPlace("starts", count / STARTS, (x, y), None, text)


def weakest_findings(places: Iterable[WeakPlace], *, unit: Unit = "in") -> tuple[Finding, ...]:
    """Return one note that names the weakest places in order; none where fewer than two are over their limits.

    Of alike places of one zone, and of places within a hand's breadth, only the worst is named. One place alone is
    told by the finding of its own kind.

    Parameters
    ----------
    places : iterable of WeakPlace
        From all of the ``weak_`` functions.
    unit : {"in", "mm", "cm"}
        The unit of lengths in the words.

    Returns
    -------
    tuple of Finding
        One or none.
    """
    over = sorted((p for p in places if round(p.times, 3) > 1), key=lambda p: (-round(p.times, 3), p.place))
    named: list[WeakPlace] = []
    for weak in over:
        again = any(
            (weak.zone is not None and (weak.kind, weak.zone) == (other.kind, other.zone))
            or np.hypot(weak.place[0] - other.place[0], weak.place[1] - other.place[1]) < HAND_MM
            for other in named
        )
        if not again:
            named.append(weak)
    if len(named) < 2:
        return ()
    said = [f"{k}. {_said(weak, unit)}" for k, weak in enumerate(named[:MOST_PLACES], start=1)]
    more = len(named) - MOST_PLACES
    rest = f"; {more} more {'is' if more == 1 else 'are'} over the limit" if more > 0 else ""
    return (
        Finding(
            FindingCode.WEAKEST_PLACES,
            "note",
            None,
            f"the weakest places, the worst first: {'; '.join(said)}{rest}",
            "Mend them in this order; each is told by itself too, with the way out.",
        ),
    )


def _said(weak: WeakPlace, unit: Unit) -> str:
    x, y = weak.place
    where = f"{format_length(x, unit)} from the left and {format_length(y, unit)} from the top"
    inside = f" in '{weak.zone}'" if weak.zone else ""
    return f"{weak.text},{inside} {where} ({weak.times:.1f} times its limit)"
