"""A photo squared up: against OpenCV's camera and its plane maps; bad points named; the photo behind the lines."""

from __future__ import annotations

import io
import json

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

import plumeline
from photos import Shot, corners_and_middles, painted, points_csv, printed, shot_of
from plumeline.cli import main
from plumeline.drawing import warping
from plumeline.errors import DrawingError, InputError, PlanError, TopError
from plumeline.geometry import plane_map
from plumeline.page.packing import pack
from plumeline.pipeline.mapping import map_file
from plumeline.pipeline.top import read_top
from plumeline.top import read_points, square_up

IN = 25.4
SIDE = 12 * IN
SHAPES = [
    ([(0, 0), (152.4, 0), (152.4, 152.4), (0, 152.4)], "#c04020"),
    ([(152.4, 0), (304.8, 0), (304.8, 152.4), (152.4, 152.4)], "#f0e8d0"),
    ([(152.4, 152.4), (304.8, 152.4), (304.8, 304.8), (152.4, 304.8)], "#2060a0"),
    ([(0, 152.4), (152.4, 152.4), (152.4, 304.8), (0, 304.8)], "#40a060"),
]
SHOT = Shot((1200, 900), (SIDE / 2, SIDE / 2), SIDE)
PLACES = corners_and_middles(SIDE, SIDE, 3 * IN)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("photo")
    flat, corner = painted(SHAPES, (SIDE, SIDE), 4.0)
    flat = printed(flat, 4.0)
    (where / "photo.jpg").write_bytes(shot_of(flat, 4.0, corner, SHOT))
    (where / "turned.jpg").write_bytes(shot_of(flat, 4.0, corner, SHOT, exif=6))
    (where / "points.csv").write_text(points_csv(SHOT, PLACES))
    return where


def run(*arguments):
    """Exit code, what is printed, what is complained of."""
    return CliRunner().invoke(_command(), [str(a) for a in arguments])


def _command():
    import click

    @click.command(context_settings={"ignore_unknown_options": True, "allow_interspersed_args": False})
    @click.argument("arguments", nargs=-1)
    def through(arguments):
        main(list(arguments))

    return through


def squared(tmp_path, text, size=SHOT.size):
    path = tmp_path / "points.csv"
    path.write_text(text)
    return square_up(read_points(path), size)


# --- the maps ------------------------------------------------------------------------------------------------------

square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


@given(st.lists(st.floats(-0.35, 0.35), min_size=8, max_size=8), st.floats(1, 5000))
@settings(max_examples=60, deadline=None)
def test_the_plane_map_of_four_points_is_opencvs(moved, size):
    onto = ((square + np.array(moved).reshape(4, 2) * 0.9) * size).astype(np.float32)
    theirs = cv2.getPerspectiveTransform(square.astype(np.float32), onto)
    ours = plane_map(square, onto.astype(float))
    inside = np.random.default_rng(0).uniform(0, 1, (20, 2))
    assert np.allclose(ours(square), onto.astype(np.float32), atol=1e-8 * size)
    if np.linalg.cond(theirs / theirs[2, 2]) < 1e7 and (ours.depth(inside) > 0.05 * ours.depth(inside).max()).all():
        assert np.allclose(ours(inside), cv2.perspectiveTransform(inside[None], theirs)[0], atol=2e-5 * size)
    assert np.allclose(ours.inverse()(ours(inside)), inside, atol=1e-7)


def test_the_plane_map_of_many_points_is_opencvs():
    rng = np.random.default_rng(3)
    places = rng.uniform(0, 1500, (30, 2))
    pixels = cv2.perspectiveTransform(places[None], np.array([[1.7, 0.2, 300], [-0.1, 1.5, 200], [1e-4, -5e-5, 1]]))[0]
    theirs, _ = cv2.findHomography(places, pixels, 0)
    assert np.allclose(plane_map(places, pixels)(places), cv2.perspectiveTransform(places[None], theirs)[0], atol=1e-6)


@pytest.mark.parametrize("bend", [-0.2, -0.06, 0.0, 0.05])
@pytest.mark.parametrize("tilt", [(0, 0), (14, -9), (-25, 18)])
def test_points_seen_through_opencvs_camera_are_squared_up_exactly(tmp_path, bend, tilt):
    shot = Shot((4000, 3000), (700.0, 500.0), 1400.0, tilt=tilt, lens=(bend, 0.0), fill=0.6)
    at = corners_and_middles(1400.0, 1000.0, 200.0)
    path = tmp_path / "points.csv"
    rows = [f"{x!r},{y!r},{r!r} mm,{d!r} mm" for (x, y), (r, d) in zip(shot.seen(at).tolist(), at.tolist())]
    path.write_text("x_px,y_px,right,down\n" + "\n".join(rows))
    camera = square_up(read_points(path), shot.size).camera
    between = np.random.default_rng(1).uniform((0, 0), (1400, 1000), (300, 2))
    assert np.abs(camera.to_top(shot.seen(between)) - between).max() < 1e-3
    assert np.abs(camera.to_photo(between) - shot.seen(between)).max() < 1e-3
    # OpenCV counts the lens from the focal length, we from half the diagonal: the terms are the same up to its square
    assert camera.bend == pytest.approx(bend * (np.hypot(4000, 3000) / 2 / shot.matrix[0, 0]) ** 2, abs=1e-6)


def test_there_and_back(tmp_path):
    camera = squared(tmp_path, points_csv(SHOT, PLACES, tap_px=1, tape_mm=0.5)).camera
    at = np.random.default_rng(5).uniform(0, SIDE, (200, 2))
    assert np.abs(camera.to_top(camera.to_photo(at)) - at).max() < 1e-9 * SIDE


# --- good and bad points -------------------------------------------------------------------------------------------


def test_an_outlier_is_named_and_left_out(tmp_path):
    rows = points_csv(SHOT, PLACES, tap_px=0.5, tape_mm=0.3).splitlines()
    x, y, right, down = rows[10].split(",")
    rows[10] = f"{x},{y},{float(right) + 1},{down}"
    found = squared(tmp_path, "\n".join(rows))
    assert np.flatnonzero(~found.used).tolist() == [9]
    (said,) = (f for f in found.findings if f.code == "photo-outlier")
    assert "point 10 (row 11" in said.text
    good = squared(tmp_path, "\n".join(rows[:10] + rows[11:]))
    assert np.allclose(found.camera.even.matrix, good.camera.even.matrix)
    assert 22 < found.misses[9] < 30


@pytest.mark.parametrize("seed", range(12))
def test_good_points_are_not_called_outliers(tmp_path, seed):
    found = squared(tmp_path, points_csv(SHOT, PLACES, tap_px=1.5, tape_mm=0.8, seed=seed))
    assert found.used.all()
    assert 0.2 < found.residual_mm < 2.5


@pytest.mark.parametrize("count", [4, 8, 12])
def test_two_points_swapped_are_named(tmp_path, count):
    at = PLACES[[0, 2, 4, 6]] if count == 4 else PLACES[:count]
    rows = points_csv(SHOT, at).splitlines()
    one, other = rows[2].split(","), rows[3].split(",")
    rows[2], rows[3] = ",".join(one[:2] + other[2:]), ",".join(other[:2] + one[2:])
    with pytest.raises(TopError, match="swapped") as error:
        squared(tmp_path, "\n".join(rows))
    assert "2" in str(error.value) and "3" in str(error.value)


def line(count):
    return "x_px,y_px,right,down\n" + "\n".join(f"{100 + 90 * k},{200 + 50 * k},{2 * k},{k}" for k in range(count))


HEAD = "x_px,y_px,right,down\n"
FOUR = "100,100,0,0\n900,100,12,0\n900,800,12,12\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (line(6), "on one line on the top"),
        (line(5) + "\n300,700,3,9", "on one line on the top"),
        (HEAD + FOUR, "has 3 points; must have 4"),
        (HEAD + FOUR + "100,5000,0,12\n", "outside the photo; it has 1200 x 900 px"),
        (HEAD + FOUR + "100,800,0,\n", "row 5: down: is missing"),
        (HEAD + FOUR + "100,800,0\n", "row 5: has 3 cells"),
        (HEAD + FOUR + "100,800,0,a foot\n", "must be a length"),
        (HEAD + FOUR + "nan,800,0,12\n", "must be finite"),
        (HEAD + FOUR + "100,800,12,12\n", "lie at the same place on the top"),
        ("x,y,right,down\n" + FOUR, "must begin with x_px,y_px,right,down"),
        ("", "must begin with x_px"),
        (HEAD + "100,100,0,0\n900,100,0,12\n900,800,12,12\n100,800,12,0\n", "the other way round"),
    ],
)
def test_points_that_cant_be_used_are_refused_in_one_line(tmp_path, text, said):
    with pytest.raises(TopError, match=said) as error:
        squared(tmp_path, text)
    assert "\n" not in str(error.value)
    assert str(error.value).startswith("points.csv")


# --- the command ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["photo.jpg", "turned.jpg"])
def test_the_picture_is_true_size_and_every_colour_in_its_place(folder, tmp_path, name):
    out = run("photo", folder / name, "--points", folder / "points.csv", "--to", tmp_path, "--json")
    assert out.exit_code == 0, out.output
    said = json.loads(out.stdout)
    assert said["files"] == ["squared.png"] and said["outliers"] == [] and said["residual_mm"] < 0.1
    picture = Image.open(tmp_path / "squared.png")
    assert picture.size == (610, 610) and picture.info["dpi"] == pytest.approx((50.8, 50.8))
    pixels = np.asarray(picture).astype(float)
    for corners, colour in SHAPES:
        (left, top), (right, bottom) = np.array(corners).min(axis=0) * 2, np.array(corners).max(axis=0) * 2
        part = pixels[int(top) + 8 : int(bottom) - 8, int(left) + 8 : int(right) - 8].mean(axis=(0, 1))
        paint = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)])
        assert np.abs(part / part.sum() - paint / paint.sum()).max() < 0.02  # the hue; the light is uneven
    # the seam between rust and cream lies at 6 in, to a quarter of a millimetre
    row = pixels[100:200, :, 2].mean(axis=0)
    assert abs(np.abs(np.diff(row[200:400])).argmax() + 201 - 304.8) < 1.01


def test_photos_that_cant_be_used_are_refused_and_nothing_is_written(folder, tmp_path):
    (tmp_path / "no.jpg").write_bytes(b"not a photo at all")
    # 20,000 x 20,000 pixels of one colour: a small file that unfolds to 400 megapixels
    big = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(big, "PNG")
    (tmp_path / "big.png").write_bytes(big.getvalue())
    most = "must have at most 50,000,000"
    for name, said in (("no.jpg", "is no PNG or JPEG"), ("big.png", most), ("gone.jpg", "not there")):
        out = run("photo", tmp_path / name, "--points", folder / "points.csv", "--to", tmp_path / "out")
        assert out.exit_code == 2 and said in out.stderr and out.stderr.count("\n") == 1, out.stderr
    out = run("photo", folder / "photo.jpg", "--points", tmp_path / "none.csv", "--to", tmp_path / "out")
    assert out.exit_code == 2 and "none.csv: is not there" in out.stderr
    assert not (tmp_path / "out").exists()


def test_it_writes_over_nothing_without_force(folder, tmp_path):
    (tmp_path / "squared.png").write_bytes(b"hers")
    out = run("photo", folder / "photo.jpg", "--points", folder / "points.csv", "--to", tmp_path)
    assert out.exit_code == 2 and "exists already" in out.stderr
    assert (tmp_path / "squared.png").read_bytes() == b"hers"


def test_without_the_extra_the_way_to_it_is_told(monkeypatch, folder, tmp_path):
    monkeypatch.setitem(__import__("sys").modules, "cv2", None)
    with pytest.raises(DrawingError, match=r"pip install 'plumeline\[photo\]'"):
        warping.check_photo_extra()


# --- behind the lines ----------------------------------------------------------------------------------------------


@pytest.fixture
def plans(folder, tmp_path):
    run("photo", folder / "photo.jpg", "--points", folder / "points.csv", "--to", tmp_path)
    (tmp_path / "plan.toml").write_text(
        '[top]\nphoto = "squared.png"\n[[zone]]\nname = "all"\npatches = ["top"]\n'
        '[zone.fill]\nkind = "channel"\nspacing = 3\n'
    )
    (tmp_path / "blocks.toml").write_text(
        '[top]\nphoto = "squared.png"\n[top.blocks]\nsize = 6\nrows = [["a", "b"], ["c", "d"]]\n'
    )
    return tmp_path


def test_a_photo_alone_is_a_top(plans):
    top = read_top(plumeline.read_plan(plans / "plan.toml"))
    assert [p.name for p in top.patches] == ["top"]
    assert top.size == pytest.approx((305.0, 305.0))


def test_the_photo_lies_behind_the_lines_in_every_picture(plans):
    quilt = plumeline.stitch(plumeline.read_plan(plans / "plan.toml"))
    cloth = np.asarray(Image.open(io.BytesIO(plumeline.pipeline.pictures.cloth_picture(quilt))).convert("RGB"))
    _middle_has_colours(cloth)
    path = plumeline.pipeline.pictures.path_picture(quilt)
    assert path.count("<image") == 1
    drawn = Image.open(io.BytesIO(plumeline.output.png.png_of(path, 600)))
    _middle_has_colours(np.asarray(drawn.convert("RGB")))
    for suffix in (".svg", ".png", ".pdf"):
        data = map_file(plumeline.read_plan(plans / "blocks.toml"), suffix)
        assert b"image/jpeg" in data if suffix == ".svg" else len(data) > 20_000
    head = pack(quilt.top, None, quilt)
    photo = json.loads(head[4 : 4 + int.from_bytes(head[:4], "little")])["photo"]
    assert photo["size"] == [305.0, 305.0] and photo["source"].startswith("data:image/jpeg;base64,")


def test_the_map_of_how_straight_it_is_lies_on_the_photo(plans, tmp_path):
    for name, shown in (("blocks.toml", 1), ("bare.toml", 0)):
        if not shown:
            (plans / name).write_text((plans / "blocks.toml").read_text().replace('photo = "squared.png"\n', ""))
        out = run("straight", plans / name, "--to", tmp_path / f"{name}.svg")
        assert out.exit_code == 0, out.stderr
        svg = (tmp_path / f"{name}.svg").read_text()
        assert svg.count("<image") == shown and svg.count('class="patch"') == 4 * (1 - shown)
    out = run("straight", plans / "blocks.toml", "--to", tmp_path / "map.png")
    assert out.exit_code == 0, out.stderr
    drawn = np.asarray(Image.open(tmp_path / "map.png").convert("RGB")).astype(float)
    # the photo's four colours, not the white of the page: rust above on the left, blue below on the right
    rows, cols = drawn.shape[:2]
    rust, blue = drawn[rows // 3, cols // 6], drawn[3 * rows // 4, cols // 2]
    assert rust[0] > rust[2] + 40 and blue[2] > blue[0] + 15


def _middle_has_colours(picture):
    """Rust upper left, blue lower right, as the photo has them."""
    rows, cols = picture.shape[:2]
    one = np.median(picture[rows // 5 : rows // 4, cols // 5 : cols // 4].reshape(-1, 3), axis=0)
    other = np.median(
        picture[int(0.5 * rows) : int(0.55 * rows), int(0.6 * cols) : int(0.7 * cols)].reshape(-1, 3), axis=0
    )
    assert one[0] > one[2] + 15
    assert other[2] > other[0] + 15


def test_a_photo_of_another_size_is_warned_of(plans):
    (plans / "other.toml").write_text(
        '[top]\nphoto = "squared.png"\n[top.blocks]\nsize = 7\nrows = [["a", "b"], ["c", "d"]]\n'
    )
    codes = [f.code for f in read_top(plumeline.read_plan(plans / "other.toml")).findings]
    assert "photo-size" in codes
    assert "photo-size" not in [f.code for f in read_top(plumeline.read_plan(plans / "blocks.toml")).findings]


def test_a_photo_without_a_size_is_refused(plans):
    Image.new("RGB", (50, 50)).save(plans / "plain.png")
    (plans / "bad.toml").write_text('[top]\nphoto = "plain.png"\n')
    with pytest.raises(InputError, match=r"bad.toml: top.photo: plain.png says no size"):
        read_top(plumeline.read_plan(plans / "bad.toml"))
    (plans / "out.toml").write_text('[top]\nphoto = "../squared.png"\n')
    with pytest.raises(PlanError, match="must stay within the plan's folder"):
        plumeline.read_plan(plans / "out.toml")
