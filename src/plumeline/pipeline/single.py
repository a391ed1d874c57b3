"""One fill on one shape, without a plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path as FilePath
from typing import Any

from numpy.typing import ArrayLike
from shapely import Polygon

from ..errors import FillError
from ..fills import find_fill
from ..fills.kit.stack import fill_zone
from ..geometry import as_region, close_ring, rings
from ..lines import Work, join_works
from ..model import Batting, Filled, Finding, Frame, Machine, Patch, Top, Way, Zone, as_path
from ..plan import Plan, TopTable
from ..review import zone_figures
from ..stitches import stitch_lines
from ..units import Unit
from .cloth import relief_of_top
from .fill import Job, Progress
from .layers import checked_layer
from .lookup import ZoneSources
from .report import make_report
from .waiting import wait_said
from .writing import Quilt

__all__ = ["fill", "try_fill", "zone_of"]

LEAST_MM2 = 1.0
"""A smaller shape holds no stitch."""

EDGE_FACTOR = 2.0
"""Travel along the edge of a single shape is seen, so it weighs twice."""


def fill(kind: str, outline: Polygon | ArrayLike, *, chance: int = 7, **settings: Any) -> Filled:
    """Fill one shape.

    Parameters
    ----------
    kind : str
        Name of the fill.
    outline : shapely.Polygon or (n, 2) array
        The shape in mm, y down.
    chance : int
        Seed of what is left to chance.
    **settings : any
        As in a plan; bare numbers are mm.

    Returns
    -------
    Filled
        Strokes in mm; none, with a finding, when the shape is too small.

    Raises
    ------
    FillError, PlanError
        No such fill, or a setting that can't be used.

    Examples
    --------
    >>> filled = fill("spiral", [(0, 0), (200, 0), (200, 200), (0, 200)], spacing="1/2 in")
    >>> len(filled.strokes), filled.strokes[0].closed
    (1, False)
    """
    layer = checked_layer(find_fill(kind), settings, units="mm", prefix=kind)
    zone = zone_of(outline, chance=chance)
    return fill_zone(zone, [layer.resolved(ZoneSources(zone))])


def zone_of(outline: Polygon | ArrayLike, *, name: str = "shape", chance: int = 7, unit: Unit = "in") -> Zone:
    """Return a zone of one shape, its frame at its middle and its edge a way for travel.

    Raises
    ------
    FillError
        The shape is not one plain outline, or smaller than `LEAST_MM2`.
    """
    try:
        region = as_region(outline)
    except ValueError as error:
        raise FillError(
            str(error), zone=name, what_to_do="Draw one closed outline that does not cross itself."
        ) from None
    if region.area < LEAST_MM2:
        raise FillError(
            f"encloses {region.area:.2g} sq mm; must be at least {LEAST_MM2:g} sq mm",
            zone=name,
            what_to_do="Give a larger shape; its measures may lack a unit.",
        )
    middle = region.centroid
    edge = tuple(Way(ring, "edge", factor=EDGE_FACTOR) for ring in (as_path(close_ring(r)) for r in rings(region)))
    return Zone(name, "", 1, region, region, ways=edge, frame=Frame((middle.x, middle.y)), chance=chance, unit=unit)


def try_fill(
    kind: str,
    outline: Polygon | ArrayLike,
    settings: Mapping[str, Any],
    *,
    units: Unit = "in",
    chance: int = 7,
    findings: Sequence[Finding] = (),
    progress: Progress | None = None,
) -> Quilt:
    """Try one fill on one shape: its strokes joined, placed and measured, as a quilt of one zone without a plan.

    Parameters
    ----------
    settings : mapping
        As in a plan, in ``units``.
    findings : sequence of Finding
        What was noted as the shape was read; the report begins with it.
    progress : callable, optional
        Told before a fill that takes long.

    Raises
    ------
    FillError, PlanError
        No such fill, a setting or shape that can't be used.
    """
    checked = checked_layer(find_fill(kind), settings, units=units, prefix=kind)
    zone = zone_of(outline, chance=chance, unit=units)
    layer = checked.resolved(ZoneSources(zone, folder=FilePath.cwd()))
    said = wait_said(zone, [layer])
    if progress and said:
        progress(said, 0, 0)
    filled = fill_zone(zone, [layer])
    plan = _plan_of(kind, units, chance)
    joined = join_works([Work(zone, filled.strokes, layer.fill.stage)], seams=(), machine=plan.machine)
    points = stitch_lines(joined.lines, plan.machine, names=[zone.name])
    _, _, right, bottom = zone.region.bounds
    top = Top((Patch("shape", zone.region),), (), {}, (right, bottom))
    job = Job(zone, (layer,), "main", layer.fill.stage)
    figures = [zone_figures(zone, filled, job.spacing_mm)]
    relief = relief_of_top(top, joined.lines, plan.batting)
    noted = (*findings, *filled.findings)
    report = make_report(plan, top, [job], [filled], figures, joined, [points], noted, relief=relief)
    return Quilt(plan, top, (zone,), (filled,), joined.lines, (points,), report)


def _plan_of(title: str, units: Unit, chance: int) -> Plan:
    """Return the plan of a trial: machine and batting as they come, and no top, for the shape is all there is."""
    return Plan(
        file="",
        folder=FilePath.cwd(),
        title=title,
        units=units,
        chance=chance,
        top=TopTable.model_construct(),
        machine=Machine(),
        batting=Batting(),
        threads={},
        zones=(),
        fills={},
        options={},
    )
