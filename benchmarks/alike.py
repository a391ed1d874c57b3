"""One design in 100 alike blocks: what it costs against one, and whether it lies right in blocks out of true.

Run from the project's folder: ``python benchmarks/alike.py [--blocks N] [FILL...]``. 12 in blocks, the corners of all
but one off by up to 1/2 in in any direction (`tests/crooked_blocks.py`). For each fill: CPU time of filling and
measuring one block, and of finding the blocks alike, filling one and laying it into all; what lies more than 0.05 mm
outside; pairs of pieces of line that cross where the model's do not; spaces whose strokes are fewer, more or in another
order. The same for blocks that are exactly alike. The table is in docs/alike.md.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

from shapely.affinity import translate

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from crooked_blocks import crooked_blocks, crossing_pieces
from plumeline.fills import fill_names, find_fill
from plumeline.fills.kit.stack import Layer, fill_zone
from plumeline.geometry import densify, outside_mm
from plumeline.pipeline.alike import CHORD_MM, designs_of, lays
from plumeline.pipeline.lookup import ZoneSources
from plumeline.review import zone_figures
from plumeline.specs import AlikeSpec

DEEPER_MM = 0.05
"""Lines that go beyond each other by less are taken to touch."""


def main() -> None:
    """Print a row for each fill; nothing may lie outside, cross anew, or change its order."""
    parser = argparse.ArgumentParser()
    parser.add_argument("fills", nargs="*")
    parser.add_argument("--blocks", type=int, default=100)
    said = parser.parse_args()
    crooked = crooked_blocks(said.blocks)
    first = crooked[0]
    exact = [
        replace(
            first,
            number=k + 1,
            region=translate(first.region, 330.0 * k, 0),
            outline=translate(first.outline, 330.0 * k, 0),
        )
        for k in range(said.blocks)
    ]
    print("| fill | one, s | exact, times one | fitted, times one | outside, mm | new crossings | other order |")
    print("|---|---|---|---|---|---|---|")
    for kind in said.fills or fill_names():
        fill = find_fill(kind)
        given = {"art": "leaf"} if kind == "motif" else {}
        layers = (Layer(fill, fill.settings.model_validate(given).resolved(ZoneSources(first))),)
        one = min(_cost(first, layers) for _ in range(3))
        copies = _laid(exact, layers)[0] / one
        spent, model, out = _laid(crooked, layers)
        outside, crossing, other = _judged(crooked, fill.within, model, out)
        print(
            f"| {kind} | {one:.2f} | {copies:.1f} | {spent / one:.1f} | {outside:.2f} | {crossing} | {other} |",
            flush=True,
        )
        if outside or crossing or other or len(out) < said.blocks - 1:
            raise SystemExit(f"{kind} does not lie right")


def _cost(zone, layers):
    start = time.process_time()
    zone_figures(zone, fill_zone(zone, layers), None)
    return time.process_time() - start


def _laid(zones, layers):
    start = time.process_time()
    (design,) = designs_of(zones, [layers] * len(zones), {"block": AlikeSpec()}, "in")
    model = zones[design.model]
    drawn = fill_zone(model, layers)
    out = list(lays(design, zones, (drawn, zone_figures(model, drawn, None))))
    return time.process_time() - start, drawn, out


def _judged(zones, within, model, out):
    before = [densify(s.path, CHORD_MM, closed=s.closed) for s in model.strokes]
    meet = crossing_pieces(before)
    order = [(s.chain, s.role, s.closed) for s in model.strokes]
    outside = crossing = other = 0
    for k, filled, _ in out:
        paths = [s.path for s in filled.strokes]
        bound = zones[k].outline if within == "outline" else zones[k].region
        outside += outside_mm(paths, bound, tolerance_mm=DEEPER_MM)
        crossing += len(crossing_pieces(paths, deeper_mm=DEEPER_MM) - meet)
        other += [(s.chain, s.role, s.closed) for s in filled.strokes] != order
    return outside, crossing, other


if __name__ == "__main__":
    main()
