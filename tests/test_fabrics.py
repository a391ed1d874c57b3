"""Fabrics by patch name: colours and pictures at true size; what can't be used is refused in one line."""

import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from plumeline.drawing.raster import pixels_of, png_bytes, read_picture
from plumeline.errors import DrawingError, InputError, PlanError
from plumeline.model import Batting
from plumeline.output.cloth import cloth_pixels
from plumeline.pipeline.cloth import relief_of_top
from plumeline.pipeline.top import read_top
from plumeline.plan import parse_plan

PLAN = """
units = "mm"
[top.blocks]
size = 100
rows = [["sky", "sea"]]
[fabrics]
"""


def halves(folder, name="halves.png", size=(40, 20)):
    """Write a picture whose left half is blue and whose right half is red."""
    picture = np.zeros((size[1], size[0], 3), dtype=np.uint8)
    picture[:, : size[0] // 2, 2] = 240
    picture[:, size[0] // 2 :, 0] = 240
    Image.fromarray(picture).save(folder / name)
    return picture


def top_of(text, folder):
    return read_top(parse_plan(PLAN + text, folder=folder))


def test_a_patch_s_own_name_goes_before_a_pattern_and_a_longer_pattern_before_a_shorter(tmp_path):
    top = top_of('"*" = "#111111"\n"s*" = "#222222"\n"sea-1-2" = "#333333"\n', tmp_path)
    assert {p.name: p.colour for p in top.patches} == {"sky-1-1": "#222222", "sea-1-2": "#333333"}


def test_a_print_is_repeated_at_its_true_size(tmp_path):
    halves(tmp_path)
    top = top_of('"s*" = { picture = "halves.png", width = 20 }\n', tmp_path)
    field = relief_of_top(top, [], Batting(), step_mm=0.5)
    seen = cloth_pixels(top, [], field, threads={}).astype(int)
    row = seen[100, 40:160]  # far from the edges and the seam; 10 mm blue, 10 mm red, and so on
    x = (np.arange(40, 160) + 0.5) * 0.5
    blue = (x % 20) < 10
    clear = np.abs((x + 5) % 10 - 5) > 1.0  # a millimetre about each change is mixed
    assert (row[clear & blue, 2] > 150).all()
    assert (row[clear & blue, 0] < 80).all()
    assert (row[clear & ~blue, 0] > 150).all()
    assert top.patches[0].colour == "#780078"


def test_jpeg_and_turned_pictures_are_read(tmp_path):
    picture = Image.fromarray(halves(tmp_path))
    exif = Image.Exif()
    exif[0x0112] = 6  # taken with the camera on its side: to be turned a quarter clockwise (EXIF 2.3, table 6)
    picture.save(tmp_path / "side.jpg", quality=95, exif=exif)
    turned = read_picture(tmp_path / "side.jpg")
    assert turned.shape == (40, 20, 3)
    assert turned[5, 10, 2] > 200  # its left half is at the top now
    assert turned[35, 10, 0] > 200


def test_clear_places_are_white(tmp_path):
    Image.new("RGBA", (4, 4), (0, 0, 0, 0)).save(tmp_path / "clear.png")
    assert (read_picture(tmp_path / "clear.png") == 255).all()


def test_pixels_come_back_as_they_were_written():
    pixels = np.random.default_rng(1).integers(0, 256, (7, 5, 3), dtype=np.uint8)
    assert (pixels_of(png_bytes(pixels, px_a_mm=2.0), name="x") == pixels).all()


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def bomb(width, height):
    """Return a small PNG file that says it is huge (the PNG specification, 11.2.1)."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    )


def cut_short():
    whole = png_bytes(np.random.default_rng(2).integers(0, 256, (64, 64, 3), dtype=np.uint8))
    return whole[: len(whole) // 2]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is no PNG or JPEG picture, or a broken one"),
        (b"GIF89a" + b"\0" * 40, "is no PNG or JPEG picture"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "is no PNG or JPEG picture"),
        (cut_short(), "a broken one"),
        (bomb(30_000, 30_000), "a broken one|must have at most 50,000,000"),
        (bomb(10_000, 9_000), "must have at most 50,000,000|a broken one"),
        (bomb(0, 5), "a broken one"),
    ],
)
def test_a_hostile_picture_is_refused(tmp_path, data, says):
    (tmp_path / "bad.png").write_bytes(data)
    with pytest.raises(DrawingError, match=says) as told:
        top_of('"s*" = { picture = "bad.png", width = 20 }\n', tmp_path)
    assert "bad.png" in str(told.value)
    assert "\n" not in str(told.value)


def test_a_missing_or_huge_file_is_refused(tmp_path, monkeypatch):
    with pytest.raises(DrawingError, match=r"^gone.png: fabrics.s\*.picture: is not there. Put the picture beside"):
        top_of('"s*" = { picture = "gone.png", width = 20 }\n', tmp_path)
    (tmp_path / "folder.png").mkdir()
    with pytest.raises(DrawingError, match="can't be read"):
        top_of('"s*" = { picture = "folder.png", width = 20 }\n', tmp_path)
    halves(tmp_path)
    monkeypatch.setattr("plumeline.drawing.raster.MOST_BYTES", 50)
    with pytest.raises(DrawingError, match="must have at most 50"):
        top_of('"s*" = { picture = "halves.png", width = 20 }\n', tmp_path)


@pytest.mark.parametrize("name", ["../halves.png", "/etc/halves.png", "C:\\\\halves.png", "a/../../halves.png"])
def test_a_picture_stays_in_the_plan_s_folder(tmp_path, name):
    with pytest.raises(PlanError, match="must stay within the plan's folder"):
        top_of(f'"s*" = {{ picture = "{name}", width = 20 }}\n', tmp_path)


def test_a_link_out_of_the_folder_is_not_followed(tmp_path):
    inside = tmp_path / "plan"
    inside.mkdir()
    halves(tmp_path)
    (inside / "link.png").symlink_to(tmp_path / "halves.png")
    with pytest.raises(PlanError, match="must stay within the plan's folder"):
        top_of('"s*" = { picture = "link.png", width = 20 }\n', inside)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('"s*" = "teal"', r"fabrics.*'teal'; must be a colour such as"),
        ('"s*" = { picture = "a.png" }', "must say the width"),
        ('"s*" = { width = 3 }', "must have either a colour or a picture"),
        ('"s*" = { colour = "#112233", width = 3 }', "has no picture"),
        ('"s*" = { picture = "a.png", width = 0 }', "must be at least"),
        ('"s*" = { picture = "a.png", width = 9000 }', "must be at most"),
        ('"ski-*" = "#112233"', "is the name of no patch; there are sky-1-1, sea-1-2"),
    ],
)
def test_a_fabric_that_can_t_be_used(tmp_path, text, says):
    with pytest.raises(InputError, match=says) as told:
        top_of(text, tmp_path)
    assert "\n" not in str(told.value)
