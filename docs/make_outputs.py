"""Make `outputs/` anew: what the demo makes, without the large drawings and with smaller pictures.

Run it by hand after a change that shows::

    python docs/make_outputs.py
"""

from __future__ import annotations

import shutil
import tempfile
from io import BytesIO
from pathlib import Path

from PIL import Image

from plumeline.cli import main

OUTPUTS = Path(__file__).parents[1] / "outputs"

LARGEST = 700_000
"""Files over this size stay out: the demo makes them in a minute."""

COLOURS = 256
"""Colours of a picture kept here: shades of cloth need few."""


def demo(folder: Path, *options: str) -> None:
    """Run the demo into a folder."""
    try:
        main(["demo", "--to", str(folder), *options])
    except SystemExit as leave:
        if leave.code:
            raise


def smaller(path: Path) -> bytes:
    """Return a file as it is kept here."""
    if path.suffix != ".png":
        return path.read_bytes()
    out = BytesIO()
    with Image.open(path) as picture:
        picture.convert("RGB").quantize(COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE).save(
            out, "PNG", optimize=True
        )
    return out.getvalue()


def make() -> None:
    """Make the folder anew."""
    with tempfile.TemporaryDirectory() as made:
        demo(Path(made))
        demo(Path(made) / "block", "--block")
        shutil.rmtree(OUTPUTS, ignore_errors=True)
        for path in sorted(p for p in Path(made).rglob("*") if p.is_file()):
            data = smaller(path)
            if len(data) <= LARGEST:
                target = OUTPUTS / path.relative_to(made)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(data)


if __name__ == "__main__":
    make()
