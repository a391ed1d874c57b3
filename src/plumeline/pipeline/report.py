"""The report of a quilt: its figures, the findings so far and those of the review, its reaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from .. import __version__, review
from ..geometry import Gap, close_ring, contains, path_length, rings, touching
from ..lines import Joined, marks_in, named_marks, origin_of
from ..model import Filled, Finding, FloatArray, Line, NeedlePoints, Relief, Top, Zone
from ..plan import Plan
from ..review import ZoneFigures, ZoneRow
from ..specs import FRAMED
from ..stitches import machine_plan
from ..top import crooked_seams
from .fill import Job
from .result import DoneRow, ReachRow, Report, ShownRow, Totals
from .top import limits_of

__all__ = ["make_report"]

BESIDE_MM = 1.0
"""Zones this near each other are neighbours."""

LEAST_MM2 = 4 * 25.4**2
"""Zones smaller than a 2 in square have no tightness of their own to the eye: a single line across makes them dense."""

KEPT = (
    "stitches",
    "trims",
    "minutes",
    "moving_minutes",
    "needle_thread_m",
    "bobbin_thread_m",
    "bobbins",
    "shortest_stitch_mm",
    "longest_stitch_mm",
)
"""What the report takes over from the machine plan; it counts lines and lengths itself."""


def make_report(
    plan: Plan,
    top: Top,
    jobs: Sequence[Job],
    filled: Sequence[Filled],
    figures: Sequence[ZoneFigures],
    joined: Joined,
    points: Sequence[NeedlePoints],
    findings: Sequence[Finding],
    *,
    relief: Relief,
    whole: bool = True,
) -> Report:
    """Return the report of what was stitched, with the findings so far and those of the review.

    Parameters
    ----------
    jobs, filled, figures : sequence
        One a zone; a job says whether it is on the cloth already. ``figures`` are what `review.zone_figures` gives.
    findings : sequence of Finding
        What was noticed before the lines were joined.
    relief : Relief
        How the whole top will stand up.
    whole : bool
        Whether every zone of the plan is there; else the widest gap is that of the zones alone.

    Returns
    -------
    Report
        The names of the files are added at writing.
    """
    zones, lines = [job.zone for job in jobs], joined.lines
    done = {i for i, job in enumerate(jobs) if job.done}
    rows = review.zone_rows(zones, filled, [job.fill for job in jobs], lines, points, figures, done=done)
    old = [s.path for i in sorted(done) for s in filled[i].strokes]
    sewn = [*(line.path for line in lines), *old]
    dense = review.dense_inches(sewn, most=review.MOST_PLACES)
    loft = review.loft_figures(relief, top.size, plan.batting, zones, filled)
    gap = review.top_gap(sewn, [patch.outline for patch in top.patches] if whole else [z.outline for z in zones])
    crooked = [(c.seam.path, c.off_mm, c.name) for c in crooked_seams(top, more_than_mm=limits_of(plan).least_mm)]
    shown = review.shown_seams([s for i, f in enumerate(filled) if i not in done for s in f.strokes], crooked)
    return Report(
        title=plan.title,
        plumeline=__version__,
        totals=_totals(plan, top, joined, points, widest_gap_mm=gap.diameter_mm, densest=dense[0][0]),
        zones=rows,
        done=DoneRow(len(done), sum(path_length(path) for path in old)),
        findings=(
            *findings,
            *joined.findings,
            *_findings(
                plan, top, zones, filled, rows, lines, gap=gap, dense=dense, shown=shown, loft=loft, whole=whole
            ),
        ),
        loft=loft,
        reaches=_reach_rows(joined),
        shown=tuple(_shown_row(seam) for seam in shown),
    )


def _totals(
    plan: Plan, top: Top, joined: Joined, points: Sequence[NeedlePoints], *, widest_gap_mm: float, densest: float
) -> Totals:
    """Return the figures of the whole quilt."""
    machine = asdict(machine_plan(points, plan.machine, plan.batting))
    by_kind = {
        kind: sum(review.span_length(line, span) for line in joined.lines for span in line.spans if span.kind == kind)
        for kind in ("backtrack", "seam", "edge", "step")
    }
    return Totals(
        **{key: machine[key] for key in KEPT},
        sewn_mm=sum(path_length(line.path) for line in joined.lines),
        backtracked_mm=by_kind["backtrack"],
        seam_travel_mm=by_kind["seam"],
        edge_travel_mm=by_kind["edge"],
        step_mm=by_kind["step"],
        **asdict(review.jump_figures(joined.lines)),
        busiest_passes=joined.busiest_passes,
        fewest_lines_possible=joined.fewest_possible,
        widest_gap_mm=widest_gap_mm,
        densest_inch=densest,
        square_inches=sum(patch.outline.area for patch in top.patches) / 25.4**2,
    )


def _findings(
    plan: Plan,
    top: Top,
    zones: Sequence[Zone],
    filled: Sequence[Filled],
    rows: Sequence[ZoneRow],
    lines: Sequence[Line],
    *,
    gap: Gap,
    dense: Sequence[tuple[float, tuple[float, float]]],
    shown: Sequence[review.ShownSeam],
    loft: review.LoftFigures,
    whole: bool,
) -> tuple[Finding, ...]:
    """Return what the review finds in the quilting; the weakest places come last."""
    ends = _ends_that_show(plan, top, lines)
    density, beside = _neighbours(zones, rows)
    weakest = (
        *review.weak_bald(zones, [f.barest for f in filled]),
        *review.weak_knots(zones, dense),
        *review.weak_neighbours([(zones[i], zones[j]) for i, j in beside], density),
        *review.weak_seams(shown),
        *review.weak_starts(ends),
    )
    return (
        *review.start_findings(ends, unit=plan.units),
        *review.crooked_seam_findings(shown, unit=plan.units),
        *review.gap_findings(gap, plan.batting, zone=_space_at(zones, gap.centre), unit=plan.units),
        *review.knot_findings(*dense[0], unit=plan.units),
        *review.balance_findings(density, sorted({_names(zones[i], zones[j]) for i, j in beside})),
        *(review.loft_findings(loft, unit=plan.units) if whole else ()),
        *review.weakest_findings(weakest, unit=plan.units),
    )


def _space_at(zones: Sequence[Zone], place: tuple[float, float]) -> str | None:
    """Return the label of the space that a place lies in, or None where there is none."""
    return next((zone.label for zone in zones if contains(zone.outline, [place]).all()), None)


def _ends_that_show(plan: Plan, top: Top, lines: Sequence[Line]) -> FloatArray:
    """Return where starts and stops show; none where the tails are buried, which is what the note on them advises.

    A shape that is tried alone has no seams: its edge stands for the seam that it will lie in.
    """
    buried = plan.machine.ties == "bury"
    seams = [seam.path for seam in top.seams]
    edges = [close_ring(ring) for patch in top.patches for ring in rings(patch.outline)]
    return review.ends_that_show(() if buried else lines, seams or edges)


def _neighbours(zones: Sequence[Zone], rows: Sequence[ZoneRow]) -> tuple[dict[str, float], list[tuple[int, int]]]:
    """Return how tight zones are as they are seen, those of one name together, and which of other names touch."""
    seen: dict[str, float] = {}
    area: dict[str, float] = {}
    for row in rows:
        if row.fill == "ditch":  # lies under the other zones of its patches, and is no look of its own
            continue
        seen[row.name] = seen.get(row.name, 0.0) + row.seen_mm
        area[row.name] = area.get(row.name, 0.0) + (row.area_mm2 if row.part != FRAMED else 0.0)
    density = {name: review.inches_per_square_inch(seen[name], area[name]) for name in seen if area[name] >= LEAST_MM2}
    beside = touching([zone.outline for zone in zones], within_mm=BESIDE_MM)
    named = [(i, j) for i, j in beside if zones[i].name != zones[j].name]
    return density, [(i, j) for i, j in named if zones[i].name in density and zones[j].name in density]


def _names(a: Zone, b: Zone) -> tuple[str, str]:
    return (a.name, b.name) if a.name < b.name else (b.name, a.name)


def _shown_row(seam: review.ShownSeam) -> ShownRow:
    def rounded(points: FloatArray | None) -> tuple[tuple[float, ...], ...]:
        return () if points is None else tuple(tuple(round(v, 2) for v in at) for at in points.tolist())

    return ShownRow(
        zone=seam.zone,
        fill=seam.fill,
        seam=seam.name,
        off_mm=seam.off_mm,
        away_mm=seam.away_mm,
        varies_mm=seam.varies_mm,
        score=seam.score,
        seam_mm=rounded(seam.seam),
        line_mm=rounded(seam.line),
    )


def _reach_rows(joined: Joined) -> tuple[ReachRow, ...]:
    """Return where each reach lies, what its files call 0, 0, and its marks; nothing when there is only one."""
    reaches = joined.reaches.reaches if joined.reaches else ()
    if len(reaches) < 2:
        return ()
    marks = named_marks(reaches)
    return tuple(
        ReachRow(
            number=reach.number,
            window_mm=tuple(reach.window),
            origin=origin_of(reach, marks)[0],
            origin_mm=tuple(origin_of(reach, marks)[1]),
            marks_mm={name: tuple(at) for name, at in marks_in(reach, marks).items()},
            lines=sum(line.reach == reach.number for line in joined.lines),
        )
        for reach in reaches
    )
