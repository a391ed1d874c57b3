"""Ideas side by side: prices worked by hand, the page read by other readers, one line of what sets each apart."""

import io
from dataclasses import replace
from decimal import Decimal
from types import SimpleNamespace

import numpy as np
import pypdf
import pypdfium2
import pytest
from PIL import Image

import plumeline
from plumeline.cli import main
from plumeline.drawing.raster import png_bytes
from plumeline.errors import InputError
from plumeline.output.pdf import PdfPages
from plumeline.pipeline.compare import compared, options_to_compare
from plumeline.pipeline.price import price_of
from plumeline.plan import PricesTable, parse_plan, read_plan

IN2 = 25.4**2
PLAN = """
title = "Two squares"
[top.blocks]
size = 5
rows = [["left", "right"]]
[[zone]]
name = "left"
patches = ["left-*"]
[zone.fill]
kind = "channel"
spacing = 1
[[zone]]
name = "right"
patches = ["right-*"]
[zone.fill]
kind = "channel"
spacing = 1
[options.close.left]
kind = "channel"
spacing = "1/4"
[options.net.left]
kind = "crosshatch"
spacing = "1/2"
"""


def report(*rows, minutes=90.0):
    """A report of zones: fill, square inches, inches sewn, done."""
    zones = [
        SimpleNamespace(fill=fill, area_mm2=area * IN2, sewn_mm=sewn * 25.4, done=done)
        for fill, area, sewn, done in rows
    ]
    return SimpleNamespace(zones=zones, totals=SimpleNamespace(minutes=minutes))


def prices(minimum=0.0, currency="$", **fills):
    return PricesTable.model_validate(
        {"currency": currency, "minimum": minimum, "fills": {k.replace("rest", "*"): v for k, v in fills.items()}}
    )


def test_prices_worked_by_hand():
    asked = prices(feather={"per_square_inch": 0.05}, channel={"per_hour": 48.0}, rest={"per_square_inch": 0.02})
    # feather: 400 sq in at 0.05 = 20.00; channel: 100 of 300 in sewn, so a third of 1.5 h at 48 = 24.00;
    # meander, under "*": 150 sq in at 0.02 = 3.00
    told = report(("feather", 400, 150, False), ("channel", 100, 100, False), ("meander", 150, 50, False))
    assert price_of(told, asked).amount == Decimal("47.00")
    assert str(price_of(told, asked)) == "$47.00"


def test_a_stack_is_asked_for_once_by_the_fill_that_comes_to_most():
    asked = prices(motif={"per_square_inch": 0.10}, meander={"per_square_inch": 0.03})
    price = price_of(report(("motif + echo + meander", 81, 500, False)), asked)
    assert price.amount == Decimal("8.10")
    assert price.unpriced == ()


def test_a_minimum_and_what_has_no_rate():
    asked = prices(minimum=60, currency="CHF", feather={"per_square_inch": 0.05})
    price = price_of(report(("feather", 100, 10, False), ("spiral", 100, 10, False)), asked)
    assert (price.amount, price.is_minimum, price.unpriced) == (Decimal("60.00"), True, ("spiral",))
    assert str(price) == "CHF 60.00"
    assert price_of(report(("feather", 1, 1, False)), None) is None


def test_half_a_cent_is_rounded_up_and_what_is_stitched_already_takes_no_hour():
    asked = prices(feather={"per_square_inch": 0.005}, channel={"per_hour": 40.0})
    assert price_of(report(("feather", 1, 10, False)), asked).amount == Decimal("0.01")
    told = report(("channel", 10, 1000, True), ("channel", 10, 10, False), minutes=30.0)
    assert price_of(told, asked).amount == Decimal("20.00")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "[prices.fills]\nfeather = 0.04",
            "is 0.04, without a unit; must be a table such as { per_square_inch = 0.04 }",
        ),
        ("[prices.fills.feather]", "must say either per_square_inch or per_hour"),
        ("[prices.fills]\nfeather = { per_square_inch = 1, per_hour = 2 }", "must say either"),
        ("[prices.fills]\nfeather = { per_square_inch = -1 }", "must be at least 0"),
        ("[prices.fills]\nfether = { per_hour = 1 }", "is not known here; .* Did you mean 'feather'?"),
        ("[prices]\nminimum = 5", "fills: is missing"),
        ("[prices]\ncurrency = ''\n[prices.fills]\n'*' = { per_hour = 1 }", "currency"),
    ],
)
def test_prices_that_can_t_be_used(tmp_path, text, says):
    (tmp_path / "p.toml").write_text(PLAN + text)
    with pytest.raises(InputError, match=says) as told:
        plumeline.read_plan(tmp_path / "p.toml")
    assert "\n" not in str(told.value)
    assert "p.toml" in str(told.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("loft = 0", r"loft: is 0 in; must be at least 0.0118 in \(0.3 mm\)"),
        ("loft = 12", r"loft: is 12 in; must be at most 0.984 in \(25 mm\)"),
        ('loft = "1 ft"', "loft: is '1 ft'; must be a length such as"),
        ('kind = "feathers"', "kind: is 'feathers'; must be one of"),
        (
            'loft = "2 mm"\nsample = { quilted = "channel", spacing = 1, before = 12, after = 11 }',
            "must have one of them",
        ),
        ('sample = { quilted = "channel", spacing = 1, before = 12, after = 12 }', "must be smaller than before"),
        ('sample = { quilted = "channel", spacing = 1, before = 12, after = 3 }', "and at least 80 %"),
        ('sample = { quilted = "spiral", spacing = 1, before = 12, after = 11 }', "must be one of"),
    ],
)
def test_a_batting_that_can_t_be(text, says):
    with pytest.raises(InputError, match=says) as told:
        parse_plan(f"[batting]\n{text}\n" + PLAN.replace('title = "Two squares"', ""), file="p.toml")
    assert "\n" not in str(told.value)


def test_which_options_are_compared():
    plan = parse_plan(PLAN)
    assert options_to_compare(plan, ()) == ["close", "net"]
    assert options_to_compare(plan, ("net", "net")) == [None, "net"]
    assert options_to_compare(plan, ("net", "close")) == ["net", "close"]
    with pytest.raises(InputError, match=r"has no option 'nett'; its options are close, net\. Did you mean 'net'\?"):
        options_to_compare(plan, ("nett",))
    with pytest.raises(InputError, match="has no options to compare"):
        options_to_compare(replace(plan, options={}), ())
    many = replace(plan, options={f"o{k}": plan.options["net"] for k in range(5)})
    with pytest.raises(InputError, match="has 5 options to compare; must be 2 to 4"):
        options_to_compare(many, ())


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("compare")
    rates = (
        '[prices]\ncurrency = "€"\n[prices.fills]\n"*" = { per_square_inch = 0.5 }\ncrosshatch = { per_hour = 60 }\n'
    )
    (where / "two.toml").write_text(PLAN + rates)
    return where


def test_the_page_read_by_other_readers(folder, capsys):
    with pytest.raises(SystemExit) as leave:
        main(["compare", str(folder / "two.toml"), "--to", str(folder / "two.pdf")])
    assert leave.value.code == 0
    page = pypdf.PdfReader(folder / "two.pdf").pages[0]
    assert [float(v) for v in page.mediabox[2:]] == [11 * 72, 8.5 * 72]
    fonts = [f.get_object() for f in page["/Resources"]["/Font"].values()]
    assert fonts
    assert any("/FontFile2" in f["/FontDescriptor"].get_object() for f in fonts if "/FontDescriptor" in f)
    text, said = page.extract_text(), capsys.readouterr().out
    for words in ("Two squares", "close", "net", "draw-in, about", "tightness", "price", "widest gap"):
        assert words in text
        assert words in said or words == "Two squares"
    assert "€" in text
    # both cloths at one scale, side by side: two pictures of one size
    picture = np.asarray(pypdfium2.PdfDocument(folder / "two.pdf")[0].render(scale=1).to_pil().convert("L"))
    cloth = (picture < 250)[int(0.2 * picture.shape[0]) : int(0.5 * picture.shape[0])].mean(axis=0) > 0.5
    edges = np.flatnonzero(np.diff(cloth.astype(int)))
    widths = np.diff(edges)[::2]
    assert len(widths) == 2
    assert abs(int(widths[0]) - int(widths[1])) <= 1


def test_png_of_one_zone_and_nothing_is_written_over(folder, capsys):
    arguments = [
        "compare",
        str(folder / "two.toml"),
        "--option",
        "net",
        "--zone",
        "left",
        "--to",
        str(folder / "l.png"),
    ]
    for code in (0, 2):
        with pytest.raises(SystemExit) as leave:
            main(arguments)
        assert leave.value.code == code
    said = capsys.readouterr()
    assert "as the plan stands" in said.out
    assert "exists already" in said.err
    assert Image.open(io.BytesIO((folder / "l.png").read_bytes())).width == round(279.4 * 6)
    with pytest.raises(SystemExit) as leave:
        main(["compare", str(folder / "two.toml"), "--to", str(folder / "l.gif")])
    assert leave.value.code == 2
    assert "must end in .png or .pdf" in capsys.readouterr().err


def test_a_fabric_s_picture_is_never_written_over(tmp_path, capsys):
    Image.new("RGB", (8, 8), (90, 120, 60)).save(tmp_path / "dots.png")
    (tmp_path / "two.toml").write_text(PLAN + '[fabrics]\n"left-*" = { picture = "dots.png", width = 1 }\n')
    before = (tmp_path / "dots.png").read_bytes()
    with pytest.raises(SystemExit) as leave:
        main(["compare", str(tmp_path / "two.toml"), "--to", str(tmp_path / "dots.png"), "--force"])
    assert leave.value.code == 2
    assert "dots.png" in capsys.readouterr().err
    assert (tmp_path / "dots.png").read_bytes() == before


def test_what_sets_ideas_apart(folder):
    plan = read_plan(folder / "two.toml")
    stitched = [(name, plumeline.stitch(plan, option=name)) for name in ("close", "net")]
    close, net = compared(stitched)
    # lines 1/4 in apart, and two sets of lines 1/2 in apart, are 4 in for each square inch; beside them 1 in apart
    assert close.tightness == pytest.approx((4 + 1) / 2, rel=0.12)
    assert net.tightness == pytest.approx((4 + 1) / 2, rel=0.12)
    assert close.apart != net.apart
    assert close.apart == "Costs most."  # close quilting never draws in less
    same = compared([("a", stitched[0][1]), ("b", stitched[0][1])])
    assert {idea.apart for idea in same} == {"Much like the others."}
    by_hand = 25 * 0.5  # the right square, 5 in by 5 in less its clearance, at 0.50
    assert float(close.price.amount) < 2 * by_hand


def test_a_pdf_page_is_true_size_and_the_same_each_time():
    def made():
        pages = PdfPages("Test")
        for size in ((215.9, 279.4), (100.0, 50.0)):
            pages.page(*size)
            pages.path(np.array([(10.0, 10.0), (60.0, 10.0), (60.0, 40.0), (10.0, 40.0)]), closed=True, width_mm=0.2)
            pages.words(20, 30, "Żółw Ж at 100 % €", 4.0)
            pages.picture(png_bytes(np.full((10, 20, 3), (200, 0, 0), dtype=np.uint8)), 70.0, 10.0, 20.0, 10.0)
        return pages.finish()

    assert made() == made()
    document = pypdfium2.PdfDocument(made())
    assert [round(v * 25.4 / 72, 2) for v in document[1].get_size()] == [100.0, 50.0]
    dots = np.asarray(document[1].render(scale=10 * 25.4 / 72).to_pil())  # ten pixels a millimetre
    red = (dots[..., 0] > 150) & (dots[..., 1] < 60)
    rows, cols = np.flatnonzero(red.any(axis=1)), np.flatnonzero(red.any(axis=0))
    assert (cols[0] / 10, (cols[-1] + 1) / 10) == pytest.approx((70, 90), abs=0.11)
    assert (rows[0] / 10, (rows[-1] + 1) / 10) == pytest.approx((10, 20), abs=0.11)
    dark = dots[:, :650].max(axis=2) < 90
    upright = np.flatnonzero(dark[120:380].mean(axis=0) > 0.9)
    assert (upright[0] / 10, upright[-1] / 10) == pytest.approx((10, 60), abs=0.2)
    page = pypdf.PdfReader(io.BytesIO(made())).pages[0]
    assert "Zółw ? at 100 % €" in page.extract_text()  # what the font lacks is written as near as plain letters come


def test_a_line_sewn_again_is_seen_once(tmp_path):
    text = PLAN.split("[[zone]]")[0] + '[[zone]]\nname = "both"\npatches = ["left-*", "right-*"]\neach = "patch"\n'
    text += '[zone.fill]\nkind = "outline"\ndistance = 1\ntimes = {times}\n'
    found = []
    for times in (1, 2):
        plan = parse_plan(text.replace("{times}", str(times)))
        (idea,) = compared([("one", plumeline.stitch(plan))])
        found.append(idea)
    once, twice = found
    assert once.tightness == pytest.approx(twice.tightness)
    area = once.quilt.report.zones[0].area_mm2 / IN2
    assert once.tightness == pytest.approx(4 * (area**0.5 - 2) / area, rel=1e-3)  # a square's outline 1 in inside it
    assert twice.thread_m > 1.5 * once.thread_m
