"""Time of making zones on a 108 x 108 in top; run by hand: ``python benchmarks/zones.py``."""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from plumeline.specs import DivideStep, ZoneSpec
from plumeline.zones import make_zones
from tops import IN, squares


def main() -> None:
    """Print seconds for undivided, framed and jointly filled tops of growing size."""
    framed = (DivideStep("frame"), DivideStep("on-point"))
    for rows in (7, 14, 28):
        top = squares(rows, rows, 108 * IN / rows)
        for what, spec, count in (
            ("each patch", ZoneSpec("z", ("*",), each="patch"), rows * rows),
            ("frame and on point", ZoneSpec("z", ("*",), each="patch", divide=framed), 6 * rows * rows),
            ("all joined", ZoneSpec("z", ("*",)), 1),
        ):
            times = []
            for _ in range(2):
                start = time.process_time()
                zones, _ = make_zones(top, [spec])
                times.append(time.process_time() - start)
                if len(zones) != count:
                    raise SystemExit(f"{what}: {len(zones)} zones instead of {count}")
            ways = sum(len(zone.ways) for zone in zones)
            print(f"{rows * rows:4} patches, {what:18} {count:5} zones {ways:6} ways {min(times):6.2f} s")


if __name__ == "__main__":
    main()
