"""How many drawings that nobody made for plumeline are read, and whether as they are painted.

    python benchmarks/foreign_drawings.py FOLDER --sample 500 --seed 10 [--out rows.json] [--pictures DIR]

takes a sample of the SVG files below a folder (clip art, such as the public-domain collection that Debian carries as
``openclipart-svg``) and reads each as a top 20 in wide, in a process of its own that may take `SECONDS` of processor
time and `MOST_MB`. The patches are held against a picture of the file by another renderer (resvg), outlines, text and
blur left out of it:

* **missed**: the share of the painted places that lie in no patch; **extra**: the share that lies in a patch and is
  not painted (patches that are outlines only paint nothing, and are not counted);
* **colour**: in files without transparency and gradients, the share of the places in a patch whose colour in the
  picture is not the patch's.

A drawing is wrong when one of the three is over `WRONG`. Places within two pixels of an edge don't count.

Figures: docs/top.md, "How it was tried".
"""

from __future__ import annotations

import argparse
import gzip
import io
import json
import os
import random
import re
import resource
import time
import traceback
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.ndimage import binary_dilation, binary_erosion
from shapely import Polygon

from plumeline.drawing import Drawing, open_drawing
from plumeline.errors import InputError
from plumeline.model import Top
from plumeline.top import SaidSize, top_of_drawing
from plumeline.top.painting import laid_side_by_side
from plumeline.top.sizing import unit_of

WIDE_MM = 508.0
PIXELS = 500
SECONDS = 10
MOST_MB = 1000
WRONG = 0.02
FAINT = 25
"""Of 255: paint fainter than this is not looked for."""

TRANSPARENT = re.compile(r"opacity\s*[:=]\s*[\"']?\s*0?\.\d|Gradient\b|<pattern|<mask|<filter")
"""Where colours in the picture are not those that the file names."""

Mask = NDArray[np.bool_]
Row = dict[str, Any]


def read_one(file: Path, pictures: Path | None) -> Row:
    """Read one drawing and hold it against its picture."""
    begun = time.process_time()
    row: Row = {"file": file.name}
    try:
        opened = open_drawing(file)
        drawing = opened.read(unit_mm=unit_of(opened.extent(), SaidSize(width_mm=WIDE_MM), file=file.name))
        top = top_of_drawing(drawing, file=file.name)
    except InputError as error:
        return {**row, "refused": str(error), **_taken(begun)}
    row |= {"patches": len(top.patches), "notes": [f.code for f in top.findings], **_taken(begun)}
    data = file.read_bytes()
    text = (gzip.decompress(data) if data[:2] == b"\x1f\x8b" else data).decode("utf-8", "replace")
    row |= compared(text, drawing, top)
    if pictures is not None:
        beside(text, top, pictures / f"{file.stem}.png")
    return row


def _taken(begun: float) -> Row:
    return {
        "seconds": time.process_time() - begun,
        "mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def bare(text: str, *, opaque: bool = False) -> str:
    """Return an SVG without what is no patch: outlines, text, pictures, blur; ``opaque``: gradients that fade don't."""
    text = re.sub(r"stroke\s*:\s*[^;\"'}]+", "stroke:none", text)
    text = re.sub(r"\bstroke\s*=\s*([\"'])[^\"']*\1", 'stroke="none"', text)
    text = re.sub(r"\bfilter\s*:\s*url[^;\"'}]+", "", text)
    text = re.sub(r"\bfilter\s*=\s*([\"'])[^\"']*\1", "", text)
    text = re.sub(r"<((?:\w+:)?(?:text|flowRoot))\b[^>]*?(?:/>|>.*?</\1\s*>)", "", text, flags=re.DOTALL)
    text = re.sub(r"<(?:\w+:)?image\b[^>]*?(?:/>|>.*?</(?:\w+:)?image\s*>)", "", text, flags=re.DOTALL)
    if opaque:
        text = re.sub(r"stop-opacity\s*:\s*[\d.e-]+", "stop-opacity:1", text)
        text = re.sub(r"stop-opacity\s*=\s*([\"'])[^\"']*\1", 'stop-opacity="1"', text)
    return text


def picture_of(text: str, width: int) -> Image.Image:
    """Return the picture another renderer makes."""
    png = bytes(resvg_py.svg_to_bytes(svg_string=text, width=width, dpi=96))
    return Image.open(io.BytesIO(png)).convert("RGBA")


def compared(text: str, drawing: Drawing, top: Top) -> Row:
    """Hold the patches against the picture."""
    if not any(s.filled for s in drawing.shapes):
        return {"compared": "outlines only"}
    if "viewBox" not in text and not re.search(r"<svg[^>]*\swidth\s*=", text):
        return {"compared": "has no page"}
    try:
        image = picture_of(bare(text), PIXELS)
    except (ValueError, RuntimeError) as error:
        return {"compared": f"no picture: {str(error)[:60]}"}
    laid = laid_side_by_side(drawing.shapes, [], within_mm=25.4 / 32).shapes or drawing.shapes
    low = np.min([s.shell.min(axis=0) for s in laid], axis=0)
    scale = image.width / drawing.size[0]

    def mask_of(region: Polygon, shift: NDArray[np.float64]) -> Image.Image:
        mask = Image.new("1", image.size)
        pen = ImageDraw.Draw(mask)
        for k, ring in enumerate([region.exterior, *region.interiors]):
            xy = (np.asarray(ring.coords) + shift) * scale - 0.5
            pen.polygon([(float(x), float(y)) for x, y in xy], fill=not k)
        return mask

    union, free = Image.new("1", image.size), Image.new("1", image.size)
    paint = Image.new("RGB", image.size)
    for patch in top.patches:
        mask = mask_of(patch.outline, low)
        union.paste(1, mask=mask)
        if patch.colour:
            paint.paste(patch.colour, mask=mask)
        else:
            free.paste(1, mask=mask)
    for shape in drawing.shapes:
        if not shape.filled:
            free.paste(1, mask=mask_of(Polygon(shape.shell), np.zeros(2)))
    mine, allowed = np.asarray(union), np.asarray(free)
    row: Row = {"compared": "yes" if all(s.filled for s in drawing.shapes) else "partly outlines"}
    row |= _differ(image, mine, allowed)
    if row["extra"] > WRONG and "stop-opacity" in text:
        whole = _differ(picture_of(bare(text, opaque=True), PIXELS), mine, allowed)
        row["fading"] = whole["extra"] <= WRONG
    if not TRANSPARENT.search(text) and "read-as-lines" not in (f.code for f in top.findings):
        far = np.abs(np.asarray(image.convert("RGB"), dtype=int) - np.asarray(paint, dtype=int)).max(axis=2) > 40
        inner = mine & ~allowed & (np.asarray(image)[:, :, 3] > 250)
        row["colour"] = float((binary_erosion(far & inner, iterations=2)).sum()) / max(int(inner.sum()), 1)
    return row


def _differ(image: Image.Image, mine: Mask, allowed: Mask) -> Row:
    alpha = np.asarray(image)[:, :, 3] > FAINT
    missed = binary_erosion(alpha & ~binary_dilation(mine, iterations=1), iterations=2)
    extra = binary_erosion(mine, iterations=2) & ~binary_dilation(alpha, iterations=1) & ~allowed
    painted = max(int(alpha.sum()), 1)
    return {"missed": float(missed.sum()) / painted, "extra": float(extra.sum()) / painted}


def beside(text: str, top: Top, file: Path) -> None:
    """Write a picture of the file and, beside it, of the patches that were read."""
    side = 600
    shown = picture_of(text, side)
    shown.thumbnail((side, side))
    sheet = Image.new("RGBA", (2 * side + 20, side + 20), "white")
    sheet.paste(shown, (5, 10), shown)
    pen = ImageDraw.Draw(sheet)
    scale = side / max(top.size)

    def at(ring: object) -> list[tuple[float, float]]:
        return [(side + 15 + x * scale, 10 + y * scale) for x, y in np.asarray(ring.coords)]  # type: ignore[attr-defined]

    for patch in top.patches:
        mask = Image.new("L", sheet.size, 0)
        inner = ImageDraw.Draw(mask)
        for k, ring in enumerate([patch.outline.exterior, *patch.outline.interiors]):
            inner.polygon(at(ring), fill=0 if k else 255)
        sheet.paste(patch.colour or "#eeeecc", mask=mask)
    for patch in top.patches:
        for ring in [patch.outline.exterior, *patch.outline.interiors]:
            pen.line(at(ring), fill="red", width=1)
    file.parent.mkdir(parents=True, exist_ok=True)
    sheet.convert("RGB").save(file)


def in_a_process(file: Path, pictures: Path | None) -> Row:
    """Read one drawing in a process of its own, so that a slow or greedy one harms no other."""
    out, into = os.pipe()
    child = os.fork()
    if not child:
        os.close(out)
        try:
            # some more than the limits: what is over them is told with its figure
            resource.setrlimit(resource.RLIMIT_CPU, (4 * SECONDS, 4 * SECONDS))
            resource.setrlimit(resource.RLIMIT_DATA, (3 * MOST_MB * 2**20,) * 2)
            row = read_one(file, pictures)
        except Exception:  # noqa: BLE001  whatever happens to one drawing is told of it
            row = {"file": file.name, "crashed": traceback.format_exc()[-700:]}
        with os.fdopen(into, "w") as pipe:
            pipe.write(json.dumps(row))
        os._exit(0)
    os.close(into)
    with os.fdopen(out) as pipe:
        said = pipe.read()
    _, status = os.waitpid(child, 0)
    row = json.loads(said) if said else {"file": file.name, "crashed": f"ended by signal {status & 127}"}
    return dict(row)


def reason(text: str) -> str:
    """Return a refusal without the names and numbers of its file."""
    text = text.partition(": ")[2]
    text = re.sub(r"'[^']*'", "'...'", text)
    return re.sub(r"\d[\d,./ ]*", "N ", text)[:110]


def report(rows: list[Row]) -> None:
    """Print the figures."""
    read = [r for r in rows if "patches" in r]
    wrong = [r for r in read if max(r.get("missed", 0), r.get("extra", 0), r.get("colour", 0)) > WRONG]
    fading = [r for r in wrong if r.get("fading") and max(r["missed"], r.get("colour", 0)) <= WRONG]
    print(f"{len(rows)} drawings: {len(read)} read ({100 * len(read) / len(rows):.1f} %)")
    print(f"compared: {dict(Counter(str(r.get('compared'))[:60] for r in read))}, colours of {_with(read, 'colour')}")
    grounds = [r for r in wrong if "page-ground" in r["notes"] and max(r["extra"], r.get("colour", 0)) <= WRONG]
    print(f"wrong: {len(wrong)}, of which {len(fading)} only where a gradient fades out", end=" ")
    print(f"and {len(grounds)} only in the page's ground, which is told and no patch")
    for r in wrong:
        figures = " ".join(f"{k} {r[k]:.3f}" for k in ("missed", "extra", "colour") if k in r)
        print(f"   {r['file']}: {figures} {'FADES ' if r in fading else ''}{r['compared']} {r['patches']} {r['notes']}")
    for text, count in Counter(reason(r["refused"]) for r in rows if "refused" in r).most_common():
        print(f"   {count:3d} refused: {text}")
    for r in rows:
        if "crashed" in r:
            print("   CRASHED", r["file"], r["crashed"])
    timed = sorted((r for r in rows if "seconds" in r), key=lambda r: -float(r["seconds"]))
    print(f"over {SECONDS} s: {sum(r['seconds'] > SECONDS for r in timed)}, over {MOST_MB} MB:", end=" ")
    print(f"{sum(r['mb'] > MOST_MB for r in timed)}; most {max(r['mb'] for r in timed):.0f} MB; slowest:")
    for r in timed[:6]:
        print(f"   {r['seconds']:5.1f} s {r['mb']:4.0f} MB {r['file']} {str(r.get('refused', ''))[:90]}")


def _with(rows: list[Row], key: str) -> int:
    return sum(key in r for r in rows)


def main() -> None:
    """Run the sample and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--sample", type=int, default=500)
    parser.add_argument("--seed", type=int, default=10)
    parser.add_argument("--part", default=":", help="Only these of the sample, as 80:160.")
    parser.add_argument("--only", default="", help="Only files of the sample whose name holds one of these, by commas.")
    parser.add_argument("--pictures", type=Path, default=None)
    parser.add_argument("--out", type=Path, default=None, help="Where the rows go, as JSON.")
    said = parser.parse_args()
    files = sorted(p for p in said.folder.rglob("*.svg*") if p.suffix in (".svg", ".svgz"))
    files = random.Random(said.seed).sample(files, min(said.sample, len(files)))
    if said.only:
        files = [f for f in files if any(word in f.name for word in said.only.split(","))]
    begin, _, end = said.part.partition(":")
    rows = [in_a_process(file, said.pictures) for file in files[int(begin or 0) : int(end) if end else None]]
    if said.out:
        said.out.write_text(json.dumps(rows, indent=1))
    report(rows)


if __name__ == "__main__":
    main()
