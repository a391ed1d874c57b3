"""How many drawings that nobody made for plumeline are read, and whether as they are painted.

    python benchmarks/drawings.py FOLDER --sample 150 --seed 1 [--pictures DIR]

takes a sample of the SVG files below a folder (clip art, such as the public-domain collection that Debian carries as
``openclipart-svg``), reads each as a top 20 in wide in a process of its own, and compares the patches with a picture
of the file made by another renderer (resvg): the share of the painted places (outlines left out) that lie in a patch,
and the share of the patches' area that is painted. Prints what is refused and with which words, time and memory.

Figures: see docs/top.md, "How it was tried".
"""

from __future__ import annotations

import argparse
import json
import random
import resource
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

WIDE_MM = 508.0
PIXELS = 500
SECONDS = 30


def one(file: Path, picture: Path | None) -> dict[str, object]:
    """Read one drawing and measure it."""
    from plumeline.errors import InputError
    from plumeline.top import SaidSize, from_drawing

    start = time.process_time()
    try:
        top = from_drawing(file, size=SaidSize(width_mm=WIDE_MM))
    except InputError as error:
        return {"file": file.name, "refused": str(error), "seconds": time.process_time() - start, **memory()}
    seconds = time.process_time() - start
    result = {
        "file": file.name,
        "patches": len(top.patches),
        "seconds": seconds,
        "notes": [f.code for f in top.findings],
        **memory(),
    }
    result.update(compared(file, top, picture))
    return result


def memory() -> dict[str, object]:
    """Return the most memory taken so far."""
    return {"mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}


def compared(file: Path, top: object, picture: Path | None) -> dict[str, object]:
    """Compare the patches with what another renderer paints inside the outlines."""
    import gzip
    import io
    import re

    import resvg_py
    from PIL import Image, ImageDraw

    from plumeline.drawing import read_drawing

    data = file.read_bytes()
    text = (gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data).decode("utf-8", "replace")
    before = read_drawing(file)
    if not any(s.filled for s in before.shapes):
        return {"compared": "outlines only"}
    # strokes have no place in patches: the picture is made without them
    bare = re.sub(r"stroke\s*:\s*[^;\"'}]+", "stroke:none", text)
    bare = re.sub(r"\bstroke\s*=\s*([\"'])[^\"']*\1", 'stroke="none"', bare)
    try:
        png = bytes(resvg_py.svg_to_bytes(svg_string=bare, width=PIXELS))
    except (ValueError, RuntimeError) as error:
        return {"compared": f"no picture: {error}"}
    image = Image.open(io.BytesIO(png)).convert("RGBA")
    alpha = np.asarray(image)[:, :, 3] > 25
    scale = image.width / before.size[0]
    filled = [s for s in before.shapes if s.filled]
    low = np.min([s.shell.min(axis=0) for s in before.shapes], axis=0)
    wide = max(float(s.shell[:, 0].max()) for s in before.shapes) - low[0]
    grow = wide / WIDE_MM
    ours = Image.new("1", image.size)
    pen = ImageDraw.Draw(ours)
    for patch in top.patches:  # type: ignore[attr-defined]
        rings = [patch.outline.exterior, *patch.outline.interiors]
        mask = Image.new("1", image.size)
        at = ImageDraw.Draw(mask)
        for k, ring in enumerate(rings):
            xy = (np.asarray(ring.coords) * grow + low) * scale
            at.polygon([(float(x) - 0.5, float(y) - 0.5) for x, y in xy], fill=not k)
        ours.paste(1, mask=mask)
    del pen
    mine = np.asarray(ours)
    from scipy.ndimage import binary_dilation, binary_erosion

    core = binary_erosion(alpha, iterations=2)
    missed = core & ~binary_dilation(mine, iterations=1)
    extra = binary_erosion(mine, iterations=2) & ~binary_dilation(alpha, iterations=1)
    painted = max(int(alpha.sum()), 1)
    if picture is not None:
        beside(file, image, top, picture, text)
    return {
        "compared": "yes" if len(filled) == len(before.shapes) else "partly outlines",
        "missed": float(missed.sum()) / painted,
        "extra": float(extra.sum()) / painted,
        "ground": "page-ground" in [f.code for f in before.findings],
    }


def beside(file: Path, _image: object, top: object, folder: Path, text: str) -> None:
    """Write a picture of the file and, beside it, of the patches that were read."""
    import io

    import resvg_py
    from PIL import Image, ImageDraw

    shown = Image.open(io.BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=text, width=600)))).convert("RGBA")
    width, height = top.size  # type: ignore[attr-defined]
    scale = 600 / max(width, height)
    sheet = Image.new("RGBA", (1220, 620), "white")
    shown.thumbnail((600, 600))
    sheet.paste(shown, (5, 10), shown)
    pen = ImageDraw.Draw(sheet)
    for patch in top.patches:  # type: ignore[attr-defined]
        mask = Image.new("L", sheet.size, 0)
        at = ImageDraw.Draw(mask)
        for k, ring in enumerate([patch.outline.exterior, *patch.outline.interiors]):
            points = [(615 + x * scale, 10 + y * scale) for x, y in np.asarray(ring.coords)]
            at.polygon(points, fill=0 if k else 255)
        sheet.paste(patch.colour or "#eeeecc", mask=mask)
    for patch in top.patches:  # type: ignore[attr-defined]
        for ring in [patch.outline.exterior, *patch.outline.interiors]:
            pen.line([(615 + x * scale, 10 + y * scale) for x, y in np.asarray(ring.coords)], fill="red", width=1)
    folder.mkdir(parents=True, exist_ok=True)
    sheet.convert("RGB").save(folder / f"{file.stem}.png")


def main() -> None:
    """Run the sample and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--sample", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--pictures", type=Path)
    parser.add_argument("--one", action="store_true")
    parser.add_argument("--out", type=Path)
    said = parser.parse_args()
    if said.one:
        print(json.dumps(one(said.folder, said.pictures)))
        return
    files = sorted(p for p in said.folder.rglob("*.svg*") if p.suffix in (".svg", ".svgz"))
    files = random.Random(said.seed).sample(files, min(said.sample, len(files)))
    rows = []
    for file in files:
        command = [sys.executable, __file__, str(file), "--one"]
        command += ["--pictures", str(said.pictures)] if said.pictures else []
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=SECONDS * 4, check=False)
            row = json.loads(done.stdout) if done.stdout else {"file": file.name, "crashed": done.stderr[-300:]}
        except subprocess.TimeoutExpired:
            row = {"file": file.name, "crashed": "took too long"}
        rows.append(row)
    if said.out:
        said.out.write_text(json.dumps(rows, indent=1))
    report(rows)


def report(rows: list[dict]) -> None:
    """Print the figures."""
    read = [r for r in rows if "patches" in r]
    wrong = [r for r in read if r.get("missed", 0) > 0.02 or r.get("extra", 0) > 0.02]
    print(f"{len(rows)} drawings: {len(read)} read ({100 * len(read) / len(rows):.0f} %)")
    print(f"compared: {Counter(str(r.get('compared'))[:40] for r in read)}")
    print(f"wrong (2 % of the painted area missed or extra): {len(wrong)}")
    for r in wrong:
        print(f"   {r['file']}: missed {r['missed']:.3f} extra {r['extra']:.3f} {r['compared']} {r['notes']}")
    for r in rows:
        if "refused" in r:
            print("   refused", r["refused"][:230])
        elif "crashed" in r:
            print("   CRASHED", r["file"], r["crashed"][-300:])
    seconds = [r["seconds"] for r in rows if "seconds" in r]
    print(f"slowest {max(seconds):.1f} s, over 10 s: {sum(s > 10 for s in seconds)}; most memory", end=" ")
    print(f"{max(r['mb'] for r in rows if 'mb' in r):.0f} MB")
    for r in sorted((r for r in rows if "seconds" in r), key=lambda r: -r["seconds"])[:5]:
        print(f"   {r['seconds']:.1f} s {r['mb']:.0f} MB {r['file']}")


if __name__ == "__main__":
    main()
