"""Stencils of random spaces: how many are one sheet, how much could not be cut, how long it takes.

Run: python benchmarks/paper.py [COUNT]. Every stencil is proved again here on its polygons.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))

from plumeline.geometry import erode, path_length
from plumeline.output.paper import PaperSettings
from plumeline.output.paper.cut import stencil_of
from plumeline.pipeline.single import try_fill
from shapes import random_regions

FILLS = ("feather", "spiral", "crosshatch", "echo", "meander", "curl", "rays", "rings", "pebble", "channel")
SPACED = ("spiral", "crosshatch", "echo", "meander", "rays", "channel")


def main(count: int) -> None:
    """Cut ``count`` random fills and print the table."""
    whole, refused, uncut, sewn, seconds, thin = 0, 0, 0.0, 0.0, 0.0, []
    for number, region in enumerate(random_regions(count, seed=11)):
        kind = FILLS[number % len(FILLS)]
        paths = [line.path for line in try_fill(kind, region, {"spacing": "3/4 in"} if kind in SPACED else {}).lines]
        if not paths:
            refused += 1
            continue
        start = time.process_time()
        made = stencil_of(paths, PaperSettings())
        seconds += time.process_time() - start
        one = len(erode(made.sheet, 0.3, sliver_mm2=0.5)) == 1
        whole += one
        thin.append(made.thinnest_mm)
        uncut += sum(path_length(p) for p in made.uncut)
        sewn += sum(path_length(p) for p in paths)
    done = count - refused
    print(f"{done} stencils, one sheet: {whole}; nothing to cut: {refused}; uncut {uncut / sewn:.1%} of the line")
    print(
        f"thinnest place: median {np.median(thin):.2f} mm, least {min(thin):.2f} mm; {seconds / done:.2f} s each (CPU)"
    )
    assert whole == done


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
