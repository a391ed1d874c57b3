"""One small top as several programs write it; the truth is computed from how it is built."""

import gzip
import json

import ezdxf
import numpy as np
import pytest
from ezdxf import units
from reportlab.pdfgen import canvas

from plumeline.cli import main
from plumeline.errors import InputError, PlanError
from plumeline.plan import parse_plan
from plumeline.top import Known, SaidSize, from_drawing

IN = 25.4
SIDE, COUNT = 6, 3
# 3 x 3 squares of 6 in in two colours, as a chequer board: 5 plain, 4 star; the middle one halved: 10 patches
SQUARES = [
    (6 * c, 6 * r, "plain" if (r + c) % 2 == 0 else "star")
    for r in range(COUNT)
    for c in range(COUNT)
    if (r, c) != (1, 1)
]
HALVES = [[(6, 6), (12, 6), (6, 12)], [(12, 6), (12, 12), (6, 12)]]
COLOURS = {"plain": "#f4ead0", "star": "#1f3a8a"}
OUTLINES = [([(x, y), (x + 6, y), (x + 6, y + 6), (x, y + 6)], n) for x, y, n in SQUARES] + [
    (half, "plain") for half in HALVES
]
SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
INK = 'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '


def points(outline, scale=1.0, shift=0.0):
    return " ".join(f"{x * scale + shift:g},{y * scale + shift:g}" for x, y in outline)


def polygons(scale=1.0, shift=0.0, more=""):
    return "".join(f'<polygon points="{points(o, scale, shift)}" fill="{COLOURS[n]}" {more}/>' for o, n in OUTLINES)


def check(top, *, names=None, size=18.0):
    assert top.size == pytest.approx((size * IN, size * IN), abs=0.05)
    share = (size / 18) ** 2
    areas = sorted(p.outline.area / IN**2 / share for p in top.patches)
    assert areas == pytest.approx([18.0] * 2 + [36.0] * 8, abs=0.02)
    if names:
        found = {}
        for p in top.patches:
            found.setdefault(p.name.rsplit("-", 1)[0], []).append(p)
        assert {name: len(alike) for name, alike in found.items()} == names


def web(body, head='viewBox="0 0 400 400"'):
    return f"{SVG}{INK}{head}>{body}</svg>"


FILES = {
    "no size, white page": (web('<rect width="100%" height="100%" fill="#fff"/>' + polygons(20, 20)), 18.0),
    "fill and outline copies": (
        web(polygons(20, 20) + polygons(20, 20).replace("fill=", 'stroke="red" fill="none" data-was=')), 18.0
    ),
    "unpainted boxes": (web(polygons(20, 20) + '<rect width="99" height="99" fill="none"/>'), 18.0),
    "hidden by class": (
        web("<style>.H{DISPLAY:NONE}</style>" + polygons(20) + '<rect class="h" width="9" height="9"/>'), 18.0
    ),
    "faint": (web(polygons(20) + '<g opacity="0"><rect width="99" height="99"/></g>'), 18.0),
    "clipped": (
        web('<clipPath id="c"><rect width="360" height="360"/></clipPath><g clip-path="url(#c)">'
            + polygons(20) + '<circle cx="700" cy="90" r="9"/></g>'), 18.0
    ),
    "masked": (
        web('<mask id="m"><rect width="360" height="360" fill="white"/></mask><g mask="url(#m)">'
            + polygons(20) + '<circle cx="700" cy="90" r="9"/></g>', 'viewBox="0 0 900 900"'), 18.0
    ),
    "swatches beside the page": (web(polygons(20) + '<rect x="450" width="30" height="30" fill="red"/>'), 18.0),
    "covered": (web('<circle cx="60" cy="60" r="20"/>' + polygons(20)), 18.0),
    "selectors": (
        web("<style>*{stroke:none} g>rect{display:none} POLYGON.a{fill:green}</style>"
            + polygons(20) + '<g><rect width="900" height="20"/></g>'), 18.0
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", FILES)
def test_a_drawing_without_a_size_is_as_wide_as_she_says(tmp_path, kind):
    body, width = FILES[kind]
    (tmp_path / "top.svg").write_text(body)
    top = from_drawing(tmp_path / "top.svg", size=SaidSize(width_mm=width * IN))
    check(top)
    (tmp_path / "packed.svgz").write_bytes(gzip.compress(body.encode()))
    known = Known((0, 0), (120, 0), 6 * IN)  # 20 units are an inch
    check(from_drawing(tmp_path / "packed.svgz", size=SaidSize(known=known)))
    with pytest.raises(InputError, match=r"says no true size.*width = 42"):
        from_drawing(tmp_path / "top.svg")


def test_names_come_from_labels_layers_and_colours(tmp_path):
    file = tmp_path / "top.svg"
    page = 'width="18in" height="18in" viewBox="0 0 18 18"'
    file.write_text(web(polygons(), page))
    check(from_drawing(file))
    layers = "".join(
        f'<g id="layer{k}" inkscape:groupmode="layer" inkscape:label="{name}">'
        + "".join(f'<polygon id="path{k}{i}" points="{points(o)}"/>' for i, (o, n) in enumerate(OUTLINES) if n == name)
        + "</g>"
        for k, name in enumerate(COLOURS)
    )
    file.write_text(web(layers, page))
    check(from_drawing(file), names={"plain": 6, "star": 4})
    first = min(from_drawing(file).patches, key=lambda p: (p.outline.bounds[1], p.outline.bounds[0]))
    assert first.name == "plain-1"  # numbered as one reads


@pytest.mark.parametrize(("maker", "per_inch"), [("", 96), ('inkscape:version="0.48.4 r9939"', 90)])
def test_pixels_are_counted_as_the_maker_does(tmp_path, maker, per_inch):
    file = tmp_path / "top.svg"
    file.write_text(web(polygons(90), f'{maker} width="1620" height="1620"'))
    top = from_drawing(file)
    check(top, size=18 * 90 / per_inch)
    (note,) = [f for f in top.findings if f.code == "size-in-pixels"]
    assert all(f"at {n}" in note.text or per_inch == n for n in (72, 90, 96))


def dxf(path, loose):
    document = ezdxf.new()
    document.units = units.IN
    space = document.modelspace()
    for outline, name in OUTLINES:
        if name not in document.layers:
            document.layers.add(name)
        if not loose:
            space.add_lwpolyline(outline, close=True, dxfattribs={"layer": name})
    if loose:
        for k in range(4):
            space.add_line((0, 6 * k), (18, 6 * k))
            space.add_line((6 * k, 0), (6 * k, 18))
        space.add_line((12, 6), (6, 12))
    space.add_text("not a patch")
    document.saveas(path)


def test_dxf(tmp_path):
    dxf(tmp_path / "top.dxf", loose=False)
    check(from_drawing(tmp_path / "top.dxf"), names={"plain": 6, "star": 4})
    dxf(tmp_path / "loose.dxf", loose=True)
    check(from_drawing(tmp_path / "loose.dxf"))


def test_one_page_of_a_pdf(tmp_path):
    file = tmp_path / "top.pdf"
    sheet = canvas.Canvas(str(file), pagesize=(24 * 72, 24 * 72))
    sheet.drawString(30, 30, "cover")
    sheet.showPage()
    for outline, name in OUTLINES:
        path = sheet.beginPath()
        path.moveTo(*(72 * (v + 3) for v in outline[0]))
        for x, y in outline[1:]:
            path.lineTo(72 * (x + 3), 72 * (y + 3))
        path.close()
        sheet.setFillColor(COLOURS[name])
        sheet.drawPath(path, stroke=1, fill=1)
    sheet.save()
    check(from_drawing(file, page=2))
    with pytest.raises(InputError, match=r"has 2 pages\. .*page = 1"):
        from_drawing(file)
    with pytest.raises(InputError, match="no page 3"):
        from_drawing(file, page=3)


def test_line_art_and_the_gap_that_would_do(tmp_path):
    gap = 0.1  # of an inch: 1/8 closes it; 4 uprights end short, and so do both ends of the top line at the corners
    lines = [f"M0 {6 * k}H18" for k in range(4)] + [f"M{6 * k} {gap}V18" for k in range(4)] + ["M12 6L6 12"]
    body = f'<g fill="none" stroke="#000">{"".join(f"""<path d="{d}"/>""" for d in lines)}</g>'
    file = tmp_path / "top.svg"
    file.write_text(web(body, 'width="18in" height="18in" viewBox="0 0 18 18"'))
    with pytest.raises(InputError, match=r"read = \"lines\" and close_gaps = \"1/8 in\".* all 6 gaps .* 10 patches"):
        from_drawing(file)
    top = from_drawing(file, read="lines", close_gaps_mm=IN / 8)
    assert len(top.patches) == 10
    areas = sorted(p.outline.area / IN**2 for p in top.patches)
    np.testing.assert_allclose(areas, [18.0] * 2 + [36.0] * 8, atol=0.8)


def test_all_faults_come_in_one_go(tmp_path):
    file = tmp_path / "top.svg"
    file.write_text(web('<path id="one" d="M0 0 L"/><rect id="two" width="x" height="1"/>'))
    with pytest.raises(InputError, match=r"has 2 faults: .*path 'one'.*rect 'two'"):
        from_drawing(file)


def test_files_that_are_not_read_say_the_way(tmp_path):
    (tmp_path / "top.png").write_bytes(b"x")
    with pytest.raises(InputError, match="trace it"):
        from_drawing(tmp_path / "top.png")


def test_rows_from_a_table(tmp_path):
    (tmp_path / "b.csv").write_text("star;plain\nplain;star\n", encoding="utf-8-sig")
    plan = parse_plan('[top.blocks]\nsize = 6\nrows = "b.csv"\n', folder=tmp_path)
    assert plan.top.blocks.rows == (("star", "plain"), ("plain", "star"))
    (tmp_path / "b.csv").write_text("star,\nplain\n")
    with pytest.raises(PlanError, match=r"line 1, cell 2 is empty; line 2 has 1 cells"):
        parse_plan('[top.blocks]\nsize = 6\nrows = "b.csv"\n', folder=tmp_path)
    with pytest.raises(PlanError, match="within the plan's folder"):
        parse_plan('[top.blocks]\nsize = 6\nrows = "../b.csv"\n', folder=tmp_path)


def test_new_and_inspect(tmp_path, capsys):
    (tmp_path / "top.svg").write_text(FILES["no size, white page"][0])
    with pytest.raises(SystemExit) as leave:
        main(["new", str(tmp_path / "p.toml"), "--drawing", str(tmp_path / "top.svg"), "--width", "42"])
    out = capsys.readouterr().out
    assert not leave.value.code
    assert "42 in x 42 in, 10 patches:" in out
    assert "width = 42" in (tmp_path / "p.toml").read_text()
    with pytest.raises(SystemExit):
        main(["inspect", str(tmp_path / "top.svg")])
    assert "not said; 400 x 400 units" in capsys.readouterr().out


def test_inspect_says_where_a_drawing_lies(tmp_path, capsys):
    """A square of 18 in drawn on a page and, as CAD does, with y upwards from a corner of its own."""
    (tmp_path / "top.svg").write_text(web(polygons(shift=3), 'width="24in" height="30in" viewBox="0 0 24 30"'))
    document = ezdxf.new()
    document.units = units.IN
    document.modelspace().add_lwpolyline([(10, 5), (28, 5), (28, 23), (10, 23)], close=True)
    document.modelspace().add_text("a")
    document.saveas(tmp_path / "top.dxf")
    canvas_of = canvas.Canvas(str(tmp_path / "top.pdf"), pagesize=(72 * 24, 72 * 30))
    canvas_of.rect(72 * 3, 72 * 9, 72 * 18, 72 * 18)  # y up from the page's foot
    canvas_of.save()
    for name, across, down in [
        ("top.svg", "3 in to 21 in", "3 in to 21 in"),
        ("top.dxf", "10 in to 28 in", "-23 in to -5 in"),
        ("top.pdf", "3 in to 21 in", "3 in to 21 in"),
    ]:
        with pytest.raises(SystemExit) as leave:
            main(["inspect", str(tmp_path / name)])
        said = " ".join(capsys.readouterr().out.split())
        assert not leave.value.code
        assert f"drawn 18 in x 18 in from 0, 0 to the right {across} from 0, 0 downwards {down} closed" in said
        with pytest.raises(SystemExit):
            main(["inspect", str(tmp_path / name), "--json"])
        figures = json.loads(capsys.readouterr().out)
        corners = [float(f"{v / IN:.3f}") for v in (*figures["low_mm"], *figures["high_mm"])]
        assert corners == {"top.dxf": [10, -23, 28, -5]}.get(name, [3, 3, 21, 21])
    canvas_of = canvas.Canvas(str(tmp_path / "two.pdf"), pagesize=(72 * 24, 72 * 30))
    canvas_of.showPage()
    canvas_of.rect(72 * 3, 72 * 9, 72 * 6, 72 * 18)
    canvas_of.save()
    with pytest.raises(SystemExit):
        main(["inspect", str(tmp_path / "two.pdf")])
    assert "has 2 pages" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["inspect", str(tmp_path / "two.pdf"), "--page", "2", "--units", "cm"])
    assert "15.2 cm x 45.7 cm" in capsys.readouterr().out
    look = tmp_path / "look.svg"
    with pytest.raises(SystemExit):
        main(["inspect", str(tmp_path / "top.svg"), "--picture", str(look)])
    # the page and ten patches as they are painted; nothing is stitched, so that nothing starts or stops
    picture = look.read_text()
    assert picture.count('fill-rule="evenodd"') == 11
    assert "start" not in picture
    assert "stitching" not in picture
    capsys.readouterr()
    (tmp_path / "bare.svg").write_text(web("", 'width="24in" height="30in" viewBox="0 0 24 30"'))
    with pytest.raises(SystemExit):
        main(["inspect", str(tmp_path / "bare.svg")])
    assert "nothing" in capsys.readouterr().out
