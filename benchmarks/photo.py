"""How true a photo tells a top: five tops with known faults of piecing, three cameras each; points, seams, blocks.

Run from the project's folder: ``python benchmarks/photo.py [--seed 1]``. The photos are made (`tests/photos.py`):
OpenCV's camera with two lens terms, of which the program knows one; printed fabrics; uneven light and a soft shadow;
noise; JPEG.
Twelve points are measured, taps unsure by 1.5 px and the tape by 0.8 mm (standard deviations). The table is in
docs/photo.md.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from pieced_tops import CAMERAS, faulty_tops, judged, photographed


def main() -> None:
    """Print a row for each top and camera; every seam wrong by over 2 mm must be marked."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--exact", action="store_true", help="points without the errors of finger and tape")
    parser.add_argument("--seed", type=int, default=0, help="other faults, prints, noise, taps and tapes")
    told = parser.parse_args()
    exact, seed = told.exact, told.seed
    heads = ("top", "camera", "points: median / worst", "seams: median / 90 % / worst", "blocks: median / worst")
    print("|", " | ".join((*heads, "unsure", "far", "wrong")), "|")
    print("|---|---|---|---|---|---|---|---|")
    seams, wrong, unsure, far, good, spent = [], 0, 0, 0, 0, 0.0
    for top in faulty_tops(seed=seed):
        for camera in CAMERAS:
            with tempfile.TemporaryDirectory() as name:
                folder = Path(name)
                errors = {"tap_px": 0.0, "tape_mm": 0.0} if exact else {}
                shot = photographed(top, folder, camera=camera, seed=seed, **errors)
                start = time.process_time()
                told = judged(top, folder, shot)
                spent += time.process_time() - start
            p, s, b = told.points, told.seams, told.sides
            print(
                f"| {top.name} | {camera} | {np.median(p):.1f} / {p.max():.1f} | {np.median(s):.1f} / "
                f"{np.quantile(s, 0.9):.1f} / {s.max():.1f} | {np.median(b):.1f} / {b.max():.1f} | "
                f"{told.unsure} of {len(told.found.seen)} | {told.far} | {told.wrong} |",
                flush=True,
            )
            seams.append(s)
            wrong += told.wrong
            unsure += told.unsure
            far += told.far
            good += told.far_good
    every = np.concatenate(seams)
    print(
        f"sure seams: {np.median(every):.2f} / {np.quantile(every, 0.9):.2f} / {every.max():.2f} mm, {wrong} wrong by "
        f"more than 2 mm and not marked; of {len(every) + unsure + far}, {unsure} not seen for sure, {far} marked as "
        f"far from measured points ({good} of them not out by 2 mm); {spent / 15:.1f} s of processor a photo"
    )


if __name__ == "__main__":
    main()
