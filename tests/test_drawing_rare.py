"""What few drawings hold: entities, switches, masks, turned pages, layers that are off; each read or refused."""

from __future__ import annotations

import math

import ezdxf
import numpy as np
import pypdfium2
import pytest
from reportlab.pdfgen import canvas

from plumeline.drawing import read_svg
from plumeline.drawing import svg as svg_reader
from plumeline.drawing.colours import colour_hex, colour_word
from plumeline.drawing.dxf import dxf_sheet
from plumeline.drawing.pdf import pdf_sheet
from plumeline.errors import DrawingError
from plumeline.geometry import signed_area

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
PAGE = 'width="10in" height="10in" viewBox="0 0 10 10"'
SQUARE = '<rect id="a" width="2" height="2"/>'


@pytest.fixture
def read(tmp_path):
    def make(body, page=PAGE, before="", end="</svg>"):
        path = tmp_path / "top.svg"
        path.write_text(f"{before}{HEAD}{page}>{body}{end}", encoding="utf-8")
        return read_svg(path)

    return make


def places(drawing):
    """Where each shape lies, in inches: its name, and the least and greatest x and y."""
    found = {}
    for shape in drawing.shapes:
        (left, top), (right, bottom) = shape.shell.min(axis=0) / 25.4, shape.shell.max(axis=0) / 25.4
        found[shape.name] = tuple(round(float(v), 6) for v in (left, top, right, bottom))
    return found


def said(drawing):
    return " ".join(finding.text for finding in drawing.findings)


# ---- entities: XML 1.0, 4.4


def test_short_entities_are_written_out(read):
    before = '<!DOCTYPE svg [ <!ENTITY side "2"> <!ENTITY two "in"> ]>'
    drawing = read('<rect id="a" width="&side;" height="3"/>', before=before)
    assert places(drawing) == {"a": (0, 0, 2, 3)}


@pytest.mark.parametrize(
    "declared",
    [
        '<!ENTITY a "&b;"><!ENTITY b "2">',  # one in another grows without end
        '<!ENTITY a "<rect/>">',
        f'<!ENTITY a "{"2" * 5000}">',
        '<!ENTITY % a "2">',
        '<!ENTITY a SYSTEM "file:///etc/hostname">',
    ],
)
def test_entities_that_could_grow_or_lead_outside_are_refused(read, declared):
    with pytest.raises(DrawingError, match="declares entities or refers to something outside"):
        read(SQUARE + "&a;", before=f"<!DOCTYPE svg [{declared}]>")


def test_entities_that_grow_beyond_the_limit_are_refused(read, monkeypatch):
    monkeypatch.setattr("plumeline.drawing.xml_file.MOST_BYTES", 3000)
    body = SQUARE + "<desc>" + "&a;" * 200 + "</desc>"
    with pytest.raises(DrawingError, match="declares entities"):
        read(body, before=f'<!DOCTYPE svg [<!ENTITY a "{"2" * 20}">]>')


# ---- structure: SVG 1.1, 5.6, 5.8, 7.8


def test_a_switch_shows_the_first_that_asks_for_no_extension(read):
    body = (
        f'<switch><g requiredExtensions="urn:x">{SQUARE.replace("a", "b")}</g>{SQUARE}<rect id="c" width="1"/></switch>'
    )
    assert places(read(body)) == {"a": (0, 0, 2, 2)}


def test_copies_of_nothing_and_of_letters_are_left_out_and_told(read):
    body = SQUARE + '<use href="#gone"/><defs><path id="glyph-0-1" d="M0 0H1V1Z"/></defs><use href="#glyph-0-1"/>'
    drawing = read(body)
    assert places(drawing) == {"a": (0, 0, 2, 2)}
    assert "1 copies of what is not in the drawing were left out" in said(drawing)
    assert "1 drawn text were left out" in said(drawing)


def test_a_copied_picture_without_a_view_box_keeps_its_scale(read):
    body = f'<defs><symbol id="s">{SQUARE}</symbol></defs><use href="#s" x="3" y="4"/>'
    assert list(places(read(body)).values()) == [(3, 4, 5, 6)]


@pytest.mark.parametrize(
    ("mask", "told"), [('fill="url(#weave)"', True), ('fill="none" stroke="#fff"', True), ('fill="none"', False)]
)
def test_a_mask_that_is_not_plain_paint_is_ignored_and_told(read, mask, told):
    body = (
        f'<defs><mask id="m"><rect width="9" height="9" fill="#fff"/><rect width="1" height="1" {mask}/></mask></defs>'
        '<rect id="a" width="2" height="2" fill="#123456" mask="url(#m)"/>'
    )
    drawing = read(body)
    assert places(drawing) == {"a": (0, 0, 2, 2)}
    assert ("masks or clips of a kind that is not read were ignored" in said(drawing)) == told


def test_too_many_elements_are_refused(read, monkeypatch):
    monkeypatch.setattr(svg_reader, "MOST_ELEMENTS", 20)
    assert len(read("<g>" + "".join(f'<path d="M{k} 0h1v1Z"/>' for k in range(5)) + "</g>").shapes) == 5
    with pytest.raises(DrawingError, match="more than 20 elements"):
        read("<g>" + '<path d="M0 0H1V1Z"/>' * 30 + "</g>")


@pytest.mark.parametrize(
    ("body", "page", "says"),
    [
        (f'<g transform="matrix({"1 " * 6000})">{SQUARE}</g>', PAGE, "has more than"),
        ('<path id="a" d="M0 0A1 1 0 2 0 3 3"/>', PAGE, "path data that can't be read"),
    ],
)
def test_what_can_not_be_meant_is_refused_by_name(read, body, page, says):
    with pytest.raises(DrawingError, match=says):
        read(body, page)


@pytest.mark.parametrize("said_side", ['width="5in"', 'height="10in"', 'width="5in" height="100%"'])
def test_the_view_box_says_the_side_that_is_missing(read, said_side):
    drawing = read(SQUARE, f'{said_side} viewBox="0 0 10 20"')
    assert np.array(drawing.size) / 25.4 == pytest.approx([5, 10])
    assert places(drawing) == {"a": (0, 0, 1, 1)}


@pytest.mark.parametrize(
    ("before", "page", "per_inch"),
    [
        ("<!-- Created with Sodipodi -->", "", 90),
        ("", 'xmlns:sodipodi="http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd" sodipodi:version="0.32"', 90),
        ("<!-- Generator: Adobe Illustrator 24 -->", "", 72),
        ("", "", 96),
    ],
)
def test_bare_pixels_are_those_of_the_maker(read, before, page, per_inch):
    drawing = read('<rect id="a" width="180" height="90"/>', f'{page} width="360" height="360"', before=before)
    assert places(drawing) == {"a": tuple(round(v / per_inch, 6) for v in (0, 0, 180, 90))}


def test_selectors_reach_inwards_and_what_is_no_selector_is_left(read):
    style = "<style>g > .in rect { fill: none } svg .far { display: none } a[href] rect { display: none } </style>"
    body = (
        style
        + f'<g><g class="in">{SQUARE}</g></g>'
        + '<g class="in"><rect id="b" x="3" width="1" height="1" fill="#102030"/></g>'
        + '<rect id="c" class="far" width="1" height="1"/>'
    )
    drawing = read(body)
    assert "c" not in places(drawing)
    assert {s.name: s.colour for s in drawing.shapes}["b"] == "#102030"


def test_colours_that_are_none_and_words_for_dark_orange():
    # CSS Color 3, 4.2: three numbers or percentages
    assert colour_hex("rgb(1, 2)") is None
    assert colour_hex("rgb(a, b, c)") is None
    assert colour_hex("rgb(255 0 0 / 50%)") == "#ff0000"
    assert colour_word("#8b4513") == "brown"  # CSS: saddlebrown
    assert colour_word("#ffa500") == "orange"


# ---- PDF


@pytest.mark.parametrize("turned", [0, 90, 180, 270])
def test_a_turned_page_lies_as_another_reader_shows_it(tmp_path, turned):
    """ISO 32000-1, 7.7.3.3: Rotate turns the page clockwise when it is shown."""
    file = tmp_path / "top.pdf"
    sheet = canvas.Canvas(str(file), pagesize=(300, 500))
    sheet.setPageRotation(turned)
    sheet.setFillColorRGB(0.1, 0.2, 0.3)
    sheet.circle(80, 120, 40, stroke=0, fill=1)
    sheet.save()
    with pypdfium2.PdfDocument(file) as document:
        picture = np.asarray(document[0].render(scale=2).to_pil().convert("L"))
    rows, columns = np.nonzero(picture < 128)
    found = pdf_sheet(file, unit_mm=None, page=None)
    point = 25.4 / 72
    assert np.array(found.page) / point == pytest.approx(np.array(picture.shape[::-1]) / 2, abs=0.01)
    ((track,),) = [mark.tracks for mark in found.marks]
    assert track.path.min(axis=0) / point == pytest.approx([columns.min() / 2, rows.min() / 2], abs=1.0)
    assert track.path.max(axis=0) / point == pytest.approx([columns.max() / 2, rows.max() / 2], abs=1.0)
    assert abs(signed_area(track.path)) / point**2 == pytest.approx(math.pi * 40**2, rel=0.005)


def test_what_a_pdf_page_paints_and_what_it_does_not(tmp_path):
    file = tmp_path / "top.pdf"
    sheet = canvas.Canvas(str(file), pagesize=(300, 300))
    sheet.rect(10, 10, 100, 50, stroke=0, fill=1)
    sheet.setFillAlpha(0)
    sheet.rect(150, 10, 100, 50, stroke=0, fill=1)  # paint that lets all through
    sheet.setFillAlpha(1)
    sheet.beginForm("inner")
    sheet.rect(0, 0, 30, 40, stroke=1, fill=0)
    sheet.endForm()
    sheet.translate(100, 150)
    sheet.doForm("inner")
    sheet.save()
    found = pdf_sheet(file, unit_mm=None, page=None)
    boxes = [np.vstack([m.tracks[0].path.min(axis=0), m.tracks[0].path.max(axis=0)]) * 72 / 25.4 for m in found.marks]
    assert boxes[0] == pytest.approx(np.array([(10, 240), (110, 290)]), abs=0.01)
    assert boxes[1] == pytest.approx(np.array([(100, 110), (130, 150)]), abs=0.01)
    assert [(m.filled, m.stroked) for m in found.marks] == [(True, False), (False, True)]


# ---- DXF


def test_a_dxf_shows_what_its_layers_show_in_their_colours(tmp_path):
    document = ezdxf.new()
    document.header["$INSUNITS"] = 1
    document.layers.add("seen", color=1)
    document.layers.add("hidden").off()
    space = document.modelspace()
    square = [(0, 0), (2, 0), (2, 2), (0, 2)]
    space.add_lwpolyline(square, close=True, dxfattribs={"layer": "seen"})
    exact = space.add_lwpolyline([(x + 5, y) for x, y in square], close=True, dxfattribs={"layer": "seen"})
    exact.rgb = (18, 52, 86)
    space.add_lwpolyline(square, close=True, dxfattribs={"layer": "hidden"})
    space.add_lwpolyline(square, close=True, dxfattribs={"layer": "seen", "invisible": 1})
    block = document.blocks.new("both")
    for layer in ("hidden", "0"):
        block.add_lwpolyline([(x, y + 5) for x, y in square], close=True, dxfattribs={"layer": layer})
    space.add_blockref("both", (0, 0))
    document.saveas(tmp_path / "top.dxf")
    found = dxf_sheet(tmp_path / "top.dxf", unit_mm=None)
    boxes = sorted(tuple(m.tracks[0].path.min(axis=0).round(6).tolist()) for m in found.marks)
    assert np.array(boxes) / 25.4 == pytest.approx(np.array([(0, 0), (0, 5), (5, 5)]))  # y down from the highest
    assert {"#ff0000", "#123456"} <= {m.stroke for m in found.marks}


@pytest.mark.parametrize(("side", "says"), [(1e12, "km large"), (math.inf, "not finite")])
def test_a_dxf_that_can_not_be_meant_is_refused(tmp_path, side, says):
    document = ezdxf.new()
    document.header["$INSUNITS"] = 6
    document.modelspace().add_lwpolyline([(0, 0), (side, 0), (side, 1)], close=True)
    document.saveas(tmp_path / "top.dxf")
    with pytest.raises(DrawingError, match=says):
        dxf_sheet(tmp_path / "top.dxf", unit_mm=None)
