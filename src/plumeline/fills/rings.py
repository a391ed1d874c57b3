"""Rings: rows that follow the edge of the zone, mitred, stepping inwards along one mitre."""

from __future__ import annotations

import itertools
from typing import Literal

import numpy as np
from pydantic import Field
from shapely import Polygon

from ..codes import FindingCode
from ..geometry import Band, band_of, close_ring, crossings, inscribed_circle, pieces, ridges, rings, rotate_start
from ..model import Filled, Finding, FloatArray, Path, Stroke, Zone, as_path
from ..tolerances import CURVE_MM
from .kit.around import arcs_of, mitred_rows, no_shape, rows_from
from .kit.following import Follow, straight_pieces
from .kit.limits import check_amount
from .kit.linked import linked
from .kit.nest import chains_of, every_ring, nested_rings, rows_to_middle
from .kit.parallel import LEAST_GAP_MM, Gaps, offsets_across, stretched
from .kit.registry import Fill, too_small
from .kit.settings import FillSettings, number
from .kit.tips import led_into_tips

__all__ = ["FILL", "RingsSettings"]

NARROWEST = 0.5
"""A border narrower than this part of the spacing takes no row, unless rows are asked for."""

STEP_OUT = 2.1
"""A step from the first row to the edge is at most this many spacings long: a whole one along a mitre down to
57 degrees."""

Chain = list[tuple[Path, bool, Literal["stitch", "step"]]]


class RingsSettings(FillSettings):
    """Settings of rings."""

    spacing_mm: Gaps = Field(
        default=(6.35,),
        description="from row to row; a list alternates",
        json_schema_extra={"unit": "length"},
    )
    rows: int | None = number(
        None,
        least=1,
        most=500,
        description="how many rows, counted from the edge; alone in a frame they share its width",
    )
    of: Literal["edge", "shape"] = Field(
        "edge", description="what the rows follow: the edge, or a shape laid over the zone (about it and in it)"
    )

    follow: Follow = Field("seam", description="with the seams as they are, or straight and true within them")

    @property
    def promise_mm(self) -> float | None:
        """The widest spacing; a count of rows promises those rows and no more."""
        return max(self.spacing_mm) if self.rows is None else None

    @property
    def counted_mm(self) -> tuple[float, ...] | None:
        """The spacings from the edge of rows that are counted with a spacing said; None where nobody says one."""
        return self.spacing_mm if self.rows is not None and "spacing_mm" in self.model_fields_set else None


def draw(zone: Zone, settings: RingsSettings, *, rng: np.random.Generator, tolerance_mm: float = CURVE_MM) -> Filled:
    """Draw one chain a piece: ring, step, ring, step. A border gets even rows, other zones nested insets.

    Each branch of an inset that splits is a chain of its own, said in a finding.
    """
    gaps = settings.spacing_mm
    check_amount(zone, sum(gaps) / len(gaps))
    strokes: list[Stroke] = []
    findings: list[Finding] = []
    count = 0
    shaped = settings.of == "shape" and bool(zone.laid)
    if settings.of == "shape" and not shaped:
        findings.append(no_shape(zone, "rings"))
    for piece in straight_pieces(pieces(zone), settings.follow):
        band = None if shaped else band_of(piece)
        if shaped:
            chains, stretch = _rows_of_shape(zone, piece, settings), 1.0
        elif band is not None:
            chains, stretch = _rows_of_band(zone, band, settings)
        else:
            chains, stretch = _rows_to_middle(zone, piece, settings)
        findings += stretched(zone, "rings", stretch) if chains and settings.rows is None else ()
        findings += () if shaped else _branches(zone, len(chains))
        drawn: list[Stroke] = []
        for chain in chains:
            entry: Literal["ends", "anywhere"] = "ends" if len(chain) > 1 else "anywhere"
            drawn += [Stroke(path, closed=closed, role=role, chain=count, entry=entry) for path, closed, role in chain]
            count += 1
        strokes += led_into_tips(drawn, piece, stretch * max(gaps), look="mitred") if settings.rows is None else drawn
    if not strokes:
        return too_small(zone, "rings", "the space is too narrow for one row at this spacing", "Ask for rows instead.")
    return Filled(strokes=tuple(strokes), findings=tuple(dict.fromkeys(findings)))


def _rows_of_shape(zone: Zone, piece: Polygon, settings: RingsSettings) -> list[Chain]:
    """Return rows parallel to the shape, the whole ones stepping from one to the next; others end on the edge."""
    roots, levels = mitred_rows(zone, piece, settings.spacing_mm, count=settings.rows)
    whole = chains_of(roots, max(settings.spacing_mm), enter=zone.enter)
    edge = np.vstack([curve.path for found in levels for curve in found[0]]) if whole else np.zeros((0, 2))
    chains = [_stepped(rows, _beside(edge, rows[0][0], STEP_OUT * max(settings.spacing_mm))) for rows in whole if rows]
    return chains + [[(path, False, "stitch")] for path in arcs_of(levels)]


def _branches(zone: Zone, chains: int) -> tuple[Finding, ...]:
    if chains <= 1:
        return ()
    text = f"rings: the rows part into {chains} groups that no step inside the space can join without a return"
    what = "Travel along the edge joins them; dividing the zone at its necks makes one line of each part."
    return (Finding(FindingCode.RINGS_PART, "note", zone.label, text, what),)


def _rows_of_band(zone: Zone, band: Band, settings: RingsSettings) -> tuple[list[Chain], float]:
    width, gaps = band.width_mm, settings.spacing_mm
    at = _mitre(zone, band)
    counted = settings.counted_mm
    if counted is not None:
        depths = rows_from(counted, width, count=settings.rows)
        if len(depths) == settings.rows:
            rows = [rotate_start(band.row(depth / width), at) for depth in depths]
            return [_stepped(rows, band.outer[at] if depths[0] <= STEP_OUT * max(counted) else None)], 1.0
    if settings.rows is not None:
        gaps = (width / settings.rows,)
    if width < NARROWEST * gaps[0] or width < LEAST_GAP_MM:
        return [], 1.0
    offsets, stretch = offsets_across(width, gaps, None)
    if stretch * min(gaps) < LEAST_GAP_MM:
        return [], 1.0
    rows = [rotate_start(band.row(offset / width), at) for offset in offsets]
    return [_stepped(rows, band.outer[at], band.inner[at])], stretch


def _mitre(zone: Zone, band: Band) -> int:
    # the mitre nearest to where she wants to come in, else the first one
    places = band.corners if len(band.corners) else np.arange(len(band.outer))
    if zone.enter is None:
        return int(places[0])
    far = np.hypot(*(band.outer[places] - np.asarray(zone.enter)).T)
    return int(places[int(np.argmin(np.round(far, 3)))])


def _stepped(rows: list[Path], outside: FloatArray | None, inside: FloatArray | None = None) -> Chain:
    """Return rows with the steps between them, and those to the edge: a line can then come and go at a seam."""
    chain: Chain = [(rows[0], True, "stitch")]
    if outside is not None:
        chain.insert(0, (as_path([outside, rows[0][0]]), False, "step"))
    for before, row in itertools.pairwise(rows):
        chain += [(as_path([before[0], row[0]]), False, "step"), (row, True, "stitch")]
    if inside is not None:
        chain.append((as_path([rows[-1][0], inside]), False, "step"))
    return chain


def _rows_to_middle(zone: Zone, piece: Polygon, settings: RingsSettings) -> tuple[list[Chain], float]:
    gaps = settings.spacing_mm
    _, radius = inscribed_circle(piece)
    depths, stretch = rows_from(gaps, radius, count=settings.rows), 1.0
    if settings.rows is None or (settings.counted_mm is None and len(depths) < settings.rows):
        depths, stretch = rows_to_middle(radius, gaps, settings.rows, ridges(piece, radius, least_mm=2.0 * sum(gaps)))
    nested = nested_rings(piece, depths)
    chains = chains_of(nested, stretch * max(gaps), enter=zone.enter)
    if len(chains) > 1 and len(gaps) == 1:
        lines = linked(every_ring(nested), stretch * gaps[0], rings(piece), rounded=False, enter=zone.enter)
        if lines is not None and len(lines) < len(chains):
            return [[(path, closed, "stitch")] for path, closed in lines], stretch
    edge = np.vstack(rings(piece))
    stepped = [_stepped(chain, _beside(edge, chain[0][0], STEP_OUT * stretch * max(gaps))) for chain in chains]
    return [part for chain in stepped for part in _parted(chain, stepped)], stretch


def _parted(chain: Chain, chains: list[Chain]) -> list[Chain]:
    """Return a chain, in two where a step of it would cross a row: beside a notch another branch lies between."""
    rows = [close_ring(path, closed) for other in chains for path, closed, role in other if role == "stitch"]
    parts: list[Chain] = [[]]
    for piece in chain:
        if piece[2] == "step" and len(crossings([piece[0]], rows)):
            parts.append([])
        else:
            parts[-1].append(piece)
    return [part for part in parts if part]


def _beside(edge: FloatArray, start: FloatArray, within_mm: float) -> FloatArray | None:
    """Return the corner of the edge that a ring's start lies beside, or None: a ring further in has none."""
    far = np.hypot(*(edge - start).T)
    nearest = int(np.argmin(far))
    return edge[nearest] if far[nearest] <= within_mm else None


FILL = Fill(
    name="rings",
    settings=RingsSettings,
    draw=draw,
    stage="ruler",
    description="rows that follow the edge, with mitred corners; for quilted frames and borders",
)
