"""Paper at true size: measured in the PDF by another library, laid together again, cut in one piece."""

import io

import numpy as np
import pypdfium2
import pytest
from pypdf import PdfReader
from shapely import Polygon

from plumeline.cli import main
from plumeline.errors import OutputError
from plumeline.geometry import corners_from_upper_left, erode, path_length
from plumeline.model import as_path
from plumeline.output.paper import PaperSettings, find_paper, sheet_count
from plumeline.output.paper.cut import stencil_of
from plumeline.output.paper.drawing import Mark, PaperDrawing
from plumeline.output.paper.pounce import DOT_EVERY_MM
from plumeline.output.paper.practice import steps_of
from plumeline.output.paper.ruler import ruler_moves, ruler_runs
from plumeline.output.paper.sheets import EDGE_MM, OVERLAP_MM, paper_pdf, tiling_of
from plumeline.output.sheet import Run
from plumeline.pipeline.single import try_fill
from shapes import random_regions
from sheets import loop

IN = 25.4
PX = 6
"""Pixels a mm of the pages that are looked at."""


@pytest.fixture
def paper(tmp_path, capsys):
    """Run the command and return its exit code, what it said, and the folder."""

    def call(*arguments):
        with pytest.raises(SystemExit) as leave:
            main(["paper", *arguments, "--to", str(tmp_path / "out")])
        told = capsys.readouterr()
        return leave.value.code, told.out, told.err, tmp_path / "out"

    return call


def pages(data, px=PX):
    """Return every page as an array of darkness, drawn by another library."""
    drawn = pypdfium2.PdfDocument(data)
    return [
        255 - np.asarray(p.render(scale=px * IN / 72, grayscale=True).to_numpy()).squeeze().astype(int) for p in drawn
    ]


# --- sizes -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "width", "height"), [("letter", 215.9, 279.4), ("a4", 210, 297), ("a3", 297, 420)])
def test_a_sheet_has_the_size_of_its_paper(paper, name, width, height):
    """ISO 216 for A3 and A4, ANSI/ASME Y14.1 for letter (from memory)."""
    code, _, _, folder = paper("--fill", "spiral", "--square", "6", "--kind", "trace", "--paper", name)
    assert code == 0
    for page in PdfReader(folder / "trace-shape.pdf").pages:
        size = sorted(float(v) * IN / 72 for v in page.mediabox[2:])
        assert size == pytest.approx(sorted([width, height]), abs=0.01)


def test_the_test_squares_are_true_to_a_twentieth_of_a_millimetre(paper):
    _, _, _, folder = paper("--fill", "spiral", "--square", "6", "--kind", "trace")
    px = 20
    first = pages((folder / "trace-shape.pdf").read_bytes(), px)[0]
    rows = first[int(26 * px) : int(75 * px)]
    columns = np.flatnonzero((rows > 60).mean(axis=0) > 0.45)  # the upright sides of both squares
    groups = np.split(columns, np.flatnonzero(np.diff(columns) > 2) + 1)
    weight = rows.sum(axis=0)
    sides = [float((g * weight[g]).sum() / weight[g].sum()) / px for g in groups]
    assert len(sides) == 4
    assert sides[1] - sides[0] == pytest.approx(25.4, abs=0.05)
    assert sides[3] - sides[2] == pytest.approx(50.0, abs=0.05)


def test_fonts_are_in_the_file(paper):
    _, _, _, folder = paper("--fill", "spiral", "--square", "6", "--kind", "trace")
    for page in PdfReader(folder / "trace-shape.pdf").pages:
        for font in page["/Resources"]["/Font"].values():
            found = font.get_object()
            assert "/FontFile2" in found["/FontDescriptor"].get_object(), found["/BaseFont"]


def test_two_runs_write_the_same_bytes():
    drawing = PaperDrawing("t", "trace", "z", (400, 300), (Mark(as_path(loop((200, 150), 90)), "stitch"),))
    assert paper_pdf(drawing, find_paper("a4")) == paper_pdf(drawing, find_paper("a4"))


# --- sheets ----------------------------------------------------------------------------------------------------------


def test_sheets_laid_cross_on_cross_are_the_whole():
    """The same drawing on one large sheet, drawn by the same library, is what the small sheets must add up to."""
    marks = [Mark(as_path(loop((260, 210), r)), "stitch", width_mm=0.6) for r in (60, 130, 190)]
    drawing = PaperDrawing("t", "trace", "z", (520.0, 420.0), tuple(marks))
    small, large = find_paper("letter"), find_paper("roll:700mm")
    tiling = tiling_of(drawing.size, small)
    whole = pages(paper_pdf(drawing, large))[1]
    edge = round(EDGE_MM * PX)
    found = np.zeros_like(whole)
    for page, k in zip(pages(paper_pdf(drawing, small))[1:], range(tiling.columns * tiling.rows)):
        row, column = divmod(k, tiling.columns)
        x, y = (round(v * PX) for v in tiling.corner(column, row))
        w, h = (round(v * PX) - 1 for v in tiling.window_mm)
        part = page[edge : edge + h, edge : edge + w]
        part = part[: max(found.shape[0] - edge - y, 0), : max(found.shape[1] - edge - x, 0)]
        here = found[edge + y : edge + y + part.shape[0], edge + x : edge + x + part.shape[1]]
        np.maximum(here, part, out=here)
    # every dark point of the whole lies within 0.2 mm of a dark point of the sheets
    near = max(1, int(0.2 * PX))
    padded = np.pad(found, near)
    spread = np.max(
        [
            padded[i : i + found.shape[0], j : j + found.shape[1]]
            for i in range(2 * near + 1)
            for j in range(2 * near + 1)
        ],
        axis=0,
    )
    # the foot lines of the large sheet lie below the drawing
    inside = np.zeros_like(whole, dtype=bool)
    inside[: round((EDGE_MM + 420) * PX)] = True
    assert (spread[(whole > 150) & inside] > 60).all()
    assert tiling.columns * tiling.rows == 6


def test_the_fewest_sheets_are_chosen():
    letter = find_paper("letter")
    wide = tiling_of((260.0, 150.0), letter)
    assert (wide.columns * wide.rows, wide.sheet_mm[0] > wide.sheet_mm[1]) == (1, True)
    window = letter.width_mm - 2 * EDGE_MM
    two = tiling_of((window + window - OVERLAP_MM, 100.0), letter)
    assert two.columns * two.rows <= 2


def test_many_sheets_are_asked_for(tmp_path, paper):
    code, _, err, folder = paper("--fill", "channel", "--square", "80", "--set", "spacing=4", "--kind", "trace")
    assert code == 2
    assert "sheets" in err and "--many" in err
    assert not folder.exists()


# --- a cut stencil ---------------------------------------------------------------------------------------------------

SETTINGS = PaperSettings()
FILLS = ("feather", "spiral", "crosshatch", "echo", "meander", "curl", "rays", "rings")


@pytest.mark.parametrize("number", range(12))
def test_a_stencil_is_one_sheet(number):
    region = list(random_regions(12, seed=5, holes=number % 2 == 0))[number]
    settings = {"spacing": "3/4 in"} if FILLS[number % 8] in ("spiral", "crosshatch", "echo", "meander", "rays") else {}
    tried = try_fill(FILLS[number % 8], region, settings)
    paths = [line.path for line in tried.lines]
    if not paths:
        pytest.skip("the fill draws nothing here, and says so")
    made = stencil_of(paths, SETTINGS)
    low, high = np.vstack(paths).min(axis=0) - 12.7, np.vstack(paths).max(axis=0) + 12.7
    board = float(np.prod(high - low))
    assert isinstance(made.sheet, Polygon) and made.sheet.is_valid
    # sheet and slots make up the board: no piece fell out
    assert made.sheet.area + sum(s.area for s in made.slots) == pytest.approx(board, rel=2e-4)
    assert all(made.sheet.intersection(s).area < 1e-3 for s in made.slots)
    assert len(erode(made.sheet, 0.3, sliver_mm2=0.5)) == 1
    cut = sum(path_length(p) for p in made.cut_lines)
    drawn = sum(path_length(p) for p in made.uncut)
    assert cut + drawn > 0.3 * sum(path_length(p) for p in paths) / 2


def test_a_ring_keeps_its_middle():
    """By hand: a ring of 2 in has at least one bridge, or its disc falls out; at 1 3/4 in each, 6.28 / 1.75 gives 4."""
    angle = np.linspace(0, 2 * np.pi, 200)
    circle = IN * np.column_stack([np.cos(angle), np.sin(angle)])
    made = stencil_of([circle], SETTINGS)
    assert made.bridges == 4
    assert len(made.slots) == 4
    each = 2 * np.pi * IN / 4 - SETTINGS.bridge_mm
    assert made.longest_slot_mm == pytest.approx(each, rel=0.05)
    assert made.thinnest_mm >= SETTINGS.slot_mm - 0.1


def test_a_bridge_as_wide_as_the_design_is_refused():
    with pytest.raises(OutputError, match="as wide as the whole design"):
        stencil_of([np.array([(0.0, 0), (10, 0)])], PaperSettings(bridge_mm=12))


# --- rulers, dots, steps, measures -----------------------------------------------------------------------------------


def test_a_ruler_moves_by_its_length_less_an_inch():
    """By hand: a 12 in ruler does 11 in at a lie; 22 in are two, 22 1/4 three."""
    assert [ruler_moves(n * IN, 12 * IN) for n in (1, 11, 22, 22.25, 33)] == [1, 1, 2, 3, 3]


def test_a_line_is_cut_at_its_corners():
    square = np.array([(0.0, 0), (50, 0), (100, 0), (100, 80), (0, 80)])
    runs = ruler_runs(square)
    assert [r.length_mm for r in runs] == [100, 80, 100]
    assert all(r.straight for r in runs)
    arc = np.array([(100 * np.cos(a), 100 * np.sin(a)) for a in np.linspace(0, 1.5, 60)])
    assert [r.straight for r in ruler_runs(arc)] == [False]


def test_dots_stand_apart_and_follow_the_line(paper):
    _, _, _, folder = paper("--fill", "crosshatch", "--square", "5", "--set", "spacing=1", "--kind", "pounce")
    text = (folder / "pounce-shape.svg").read_text()
    at = np.array(
        [
            [float(part.split('"')[1]) for part in (row.split("cx=")[1], row.split("cy=")[1])]
            for row in text.split("<circle")[1:]
        ]
    )
    gaps = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    np.fill_diagonal(gaps, np.inf)
    assert gaps.min() >= DOT_EVERY_MM / 2 - 0.02
    assert gaps.min(axis=1).max() <= DOT_EVERY_MM * 1.1


def test_steps_hold_every_stretch_once_and_in_order():
    runs = [Run(as_path(loop((0, 0), 40)), "stitch", 0, 0), Run(as_path(loop((300, 0), 90)), "backtrack", 0, 0)]
    steps = steps_of(runs)
    assert 4 <= len(steps) <= 8
    lengths = [sum(path_length(r.path) for r in step) for step in steps]
    total = sum(path_length(r.path) for r in runs)
    assert sum(lengths) == pytest.approx(total, rel=1e-9)
    assert max(lengths) == pytest.approx(total / len(steps), rel=1e-6)
    joined = np.vstack([r.path for step in steps for r in step if r.kind == "stitch"])
    assert joined[0] == pytest.approx(runs[0].path[0])
    assert joined[-1] == pytest.approx(runs[0].path[-1])


def test_corners_are_lettered_clockwise_from_the_upper_left():
    crooked = np.array([(100.0, 3), (102, 99), (-1, 101), (0, 0)])
    assert corners_from_upper_left(crooked).tolist() == [[0, 0], [100, 3], [102, 99], [-1, 101]]


# --- a plan ----------------------------------------------------------------------------------------------------------

PLAN = """title = "Four"
units = "in"
[top.blocks]
setting = "straight"
size = 5
rows = [["a", "a"], ["a", "b"]]
[[zone]]
name = "squares"
patches = ["a-*"]
each = "patch"
inset = "1/8"
[zone.fill]
kind = "spiral"
spacing = "1/2"
[[zone]]
name = "last"
patches = ["b-*"]
[zone.fill]
kind = "crosshatch"
spacing = 1
"""


@pytest.fixture
def plan(tmp_path):
    (tmp_path / "four.toml").write_text(PLAN, encoding="utf-8")
    return tmp_path / "four.toml"


def test_alike_spaces_print_once(plan, paper):
    code, out, _, folder = paper(str(plan), "--kind", "trace")
    assert code == 0
    assert {p.name for p in folder.iterdir()} == {
        "trace-squares.pdf", "trace-squares.svg", "trace-last.pdf", "trace-last.svg"
    }  # fmt: skip
    assert "3 spaces, 1 of them different" in out
    assert "3 alike" in (folder / "trace-squares.svg").read_text()


def test_a_mirrored_print_is_the_print_seen_from_the_back(plan, paper, tmp_path):
    paper(str(plan), "--kind", "through", "--zone", "last")
    text = (tmp_path / "out" / "through-last.svg").read_text()
    paper(str(plan), "--kind", "through", "--zone", "last", "--mirror", "--force")
    flipped = (tmp_path / "out" / "through-last.svg").read_text()
    a, b = _outline(text), _outline(flipped)
    wide = float(text.split('width="')[1].split("mm")[0])
    drawn = a[:, 0].min() + a[:, 0].max()  # about its own middle, in a drawing with equal margins
    assert np.sort(drawn - b[:, 0]) == pytest.approx(np.sort(a[:, 0]), abs=0.02)
    assert wide > 0


def _outline(svg):
    data = svg.split('class="outline"')[1].split(' d="M')[1].split("Z")[0]
    return np.array([[float(v) for v in xy.split(",")] for xy in data.split("L")])


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--kind", "trase"), "Did you mean 'trace'"),
        (("--kind", "trace", "--zone", "lats"), "Did you mean 'last'"),
        (("--kind", "trace", "--paper", "roll"), "roll"),
        (("--kind", "trace", "--paper", "roll:2in"), "must have a width"),
        (("--kind", "trace", "--paper", "lettre"), "Did you mean 'letter'"),
        (("--kind", "cut", "--bridge", "9"), "--bridge"),
        (("--kind", "cut", "--slot", "wide"), "--slot"),
        (("--kind", "ruler", "--ruler", "0"), "--ruler"),
    ],
)
def test_bad_input_is_one_line_and_nothing_is_written(plan, paper, arguments, says):
    code, _, err, folder = paper(str(plan), *arguments)
    assert code == 2
    assert says in err
    assert len(err.strip().splitlines()) == 1
    assert not folder.exists()


def test_a_zone_larger_than_any_sheet_and_one_with_many_holes():
    big = PaperDrawing("t", "trace", "z", (3000.0, 2000.0), (Mark(as_path([(0, 0), (3000, 2000)]), "stitch"),))
    letter = find_paper("letter")
    reader = PdfReader(io.BytesIO(paper_pdf(big, letter)))
    assert len(reader.pages) == sheet_count(big, letter) > 100
    holes = [[(x, y), (x + 4, y), (x + 4, y + 4), (x, y + 4)] for x in range(10, 90, 10) for y in range(10, 60, 10)]
    tried = try_fill("channel", Polygon([(0, 0), (100, 0), (100, 70), (0, 70)], holes), {"spacing": "12 mm"})
    made = stencil_of([line.path for line in tried.lines], SETTINGS)
    assert len(erode(made.sheet, 0.3, sliver_mm2=0.5)) == 1
