"""Draw the pictures of the first quilt from the plan on its page; run: python docs/first_quilt_pictures.py."""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path

from PIL import Image

from plumeline.output.png import png_of
from plumeline.pipeline.mapping import map_file
from plumeline.pipeline.pictures import cloth_picture, path_picture
from plumeline.plan import parse_plan
from plumeline.quilt import stitch

DOCS = Path(__file__).parent
WIDE_PX = 700
COLOURS = 64


def small(png: bytes) -> bytes:
    """Return a picture at the width of a page of docs, in few colours."""
    image = Image.open(BytesIO(png)).convert("RGB")
    image = image.resize((WIDE_PX, round(image.height * WIDE_PX / image.width)), Image.Resampling.LANCZOS)
    out = BytesIO()
    image.quantize(COLOURS, method=Image.Quantize.MEDIANCUT).save(out, "PNG", optimize=True)
    return out.getvalue()


def main() -> None:
    """Write the map of the plan before it has fills, then cloth and path of the stitched quilt."""
    page = (DOCS / "first-quilt.md").read_text(encoding="utf-8")
    text = re.findall(r"```toml\n(.*?)```", page, flags=re.DOTALL)[0]
    empty = re.sub(r"\[zone\.fill\]\n(?:\w.*\n)+", "", text)
    quilt = stitch(parse_plan(text))
    pictures = {
        "map": map_file(parse_plan(empty), ".png"),
        "cloth": cloth_picture(quilt),
        "path": png_of(path_picture(quilt), 2 * WIDE_PX),
    }
    for name, png in pictures.items():
        (DOCS / "pictures" / f"first-quilt-{name}.png").write_bytes(small(png))


if __name__ == "__main__":
    main()
