"""Draw every fill in random zones with holes, and measure what came out.

Run by hand: ``python benchmarks/random_zones.py [name ...] [--count 500] [--seed 1] [--worst]``. Prints a Markdown
table, one row for each fill; with ``--worst`` also the number and the figure of the zones that came out worst, to be
looked at. Feather, whose own benchmark measures more, is drawn only when named.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from shapely import Polygon

from plumeline.errors import PlumelineError
from plumeline.fills import fill_names, find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.geometry import close_ring, outside_mm, self_crossings, strand_spacing, widest_gap
from plumeline.lines import Work, join_works
from plumeline.model import Filled, Machine
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.single import zone_of

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))
from shapes import random_regions

TOLERANCE_MM = 0.05

GIVEN: dict[str, dict[str, object]] = {"crosshatch": {"spacing": 12.7}}
"""Settings given where those left out would be chosen to suit each zone, which leaves nothing to measure against."""

CROSS_BY_DESIGN = ("crosshatch", "chords", "motif", "edge-to-edge")
"""Fills whose lines are meant to cross."""

EVEN = ("spiral", "channel", "rings", "outline", "meander", "echo")
"""Fills whose lines are meant to lie evenly."""

SIZES = ("size_mm", "spacing_mm")
"""Settings that a gap is compared with, the first there is: the size of what is drawn, or the distance of lines."""


@dataclass(frozen=True, slots=True)
class Measure:
    """What one fill drew in one zone; nan where a figure does not apply."""

    ms: float
    strokes: int = 0
    lines: int = 0
    crossings: int = 0
    outside_mm: float = 0.0
    varies_percent: float = float("nan")
    gap: float = float("nan")
    failed: str = ""
    said: tuple[str, ...] = ()


def measure(name: str, region: Polygon) -> Measure:
    """Fill one zone and measure it."""
    fill, zone = find_fill(name), zone_of(region)
    settings = fill.settings.model_validate(GIVEN.get(name, {})).resolved(ZoneSources(zone))
    begun = time.process_time()
    try:
        filled = fill_zone(zone, [Layer(fill, settings)], tolerance_mm=TOLERANCE_MM)
    except (ArithmeticError, LookupError, PlumelineError, TypeError, ValueError) as error:
        return Measure(1e3 * (time.process_time() - begun), failed=f"{type(error).__name__}: {error}")
    ms = 1e3 * (time.process_time() - begun)
    said = tuple(sorted({f.code for f in filled.findings}))
    if not filled.strokes:
        return Measure(ms, said=said)
    paths, closed = [s.path for s in filled.strokes], [s.closed for s in filled.strokes]
    size = next((_first(value) for key in SIZES if (value := getattr(settings, key, None)) is not None), None)
    evenness = strand_spacing(paths, size, closed=closed) if size and name in EVEN else None
    return Measure(
        ms,
        strokes=len(paths),
        lines=len(join_works([Work(zone, filled.strokes, fill.stage)], seams=(), machine=Machine()).lines),
        crossings=0 if name in CROSS_BY_DESIGN else _crossings(filled),
        outside_mm=sum(outside_mm([p], region, tolerance_mm=TOLERANCE_MM, closed=c) for p, c in zip(paths, closed)),
        varies_percent=evenness.varies_percent if evenness else float("nan"),
        gap=widest_gap(paths, region, closed=closed).diameter_mm / size if size else float("nan"),
        said=said,
    )


def _first(value: float | Sequence[float]) -> float:
    return value[0] if isinstance(value, Sequence) else value


def _crossings(filled: Filled) -> int:
    return len(self_crossings([close_ring(s.path, s.closed) for s in filled.strokes]))


HEAD = (
    "| fill | zones | empty | failed | crossings | outside mm | strokes | in one line | CV % | gap | widest gap | ms | "
    "most ms |"
)


def row(name: str, measured: Sequence[Measure]) -> str:
    """Return the row of a fill: medians and means over the zones in which it drew something."""
    drawn = [m for m in measured if m.strokes]

    def over(pick: Callable[[Measure], float], summary: Callable[[Sequence[float]], float], digits: int) -> str:
        values = [v for m in drawn if (v := pick(m)) == v]
        return f"{summary(values):,.{digits}f}" if values else "-"

    failed = sum(bool(m.failed) for m in measured)
    cells = [
        name,
        str(len(measured)),
        str(len(measured) - len(drawn) - failed),
        str(failed),
        "by design" if name in CROSS_BY_DESIGN else over(lambda m: m.crossings, sum, 0),
        over(lambda m: m.outside_mm, sum, 2),
        over(lambda m: m.strokes, statistics.mean, 1),
        f"{100 * sum(m.lines == 1 for m in drawn) / max(len(drawn), 1):.1f} %",
        over(lambda m: m.varies_percent, statistics.median, 1),
        over(lambda m: m.gap, statistics.mean, 2),
        over(lambda m: m.gap, max, 2),
        f"{statistics.median(m.ms for m in measured):,.0f}",
        f"{max(m.ms for m in measured):,.0f}",
    ]
    return f"| {' | '.join(cells)} |"


def worst(measured: Sequence[Measure]) -> list[str]:
    """Return lines that name the zones that came out worst."""
    out = [f"  zone {k}: {m.failed}" for k, m in enumerate(measured) if m.failed]
    for what in ("crossings", "outside_mm", "lines", "gap", "ms"):
        found = sorted(((getattr(m, what), k) for k, m in enumerate(measured) if getattr(m, what) > 0), reverse=True)
        shown = [
            f"{k} ({value:.4g}{' ' + ','.join(measured[k].said) if measured[k].said else ''})" for value, k in found
        ]
        out.append(f"  {what}: {'; '.join(shown[:6])}")
    return out


def main() -> None:
    """Measure the fills named, or all but feather."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=[name for name in fill_names() if name != "feather"])
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--worst", action="store_true")
    asked = parser.parse_args()
    regions = list(random_regions(asked.count, seed=asked.seed))
    print(HEAD)
    print(f"|{'---|' * (HEAD.count('|') - 1)}")
    for name in asked.names:
        measured = [measure(name, region) for region in regions]
        print(row(name, measured), flush=True)
        if asked.worst:
            print("\n".join(worst(measured)), file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
