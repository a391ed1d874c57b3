"""One contract for all formats: same bytes twice, read back by another hand, nothing bad let through."""

from __future__ import annotations

import io
import re

import ezdxf
import numpy as np
import pytest
import svgelements

from plumeline.errors import EngineError, OutputError
from plumeline.model import Line, Machine, Needle, Span, as_path
from plumeline.output import (
    CAUTIONS,
    LineWriter,
    PointWriter,
    RecordingSink,
    Shape,
    Sheet,
    cautions_text,
    draw,
    find_writer,
    read_any,
    register,
    report_text,
    writer_for_file,
    writer_names,
)
from plumeline.output._pattern import Records, release
from plumeline.output.dst import read_dst, write_dst
from plumeline.output.exp import read_exp, write_exp
from plumeline.output.png import png_of
from plumeline.output.svg import svg_id, write_svg
from plumeline.stitches import stitch_lines
from sheets import POINTS, SHEETS, loop, needle_points, points_of, square, two_zones

LINES = [n for n in writer_names() if isinstance(find_writer(n), LineWriter)]
STITCHES = [n for n in writer_names() if isinstance(find_writer(n), PointWriter)]
KINDS = [kind.name.lower() for kind in Needle]


def record(sheet):
    return draw(sheet, RecordingSink())


# --- the registry ------------------------------------------------------------------------------------------------


def test_the_promised_formats_are_there():
    assert writer_names()[:6] == ("svg", "dst", "exp", "csv", "dxf", "gcode")


def test_an_unknown_format_lists_all_and_the_nearest():
    with pytest.raises(OutputError, match=rf"must be one of {', '.join(writer_names())}\. Did you mean 'dxf'"):
        find_writer("dfx")


def test_a_second_format_of_one_name_is_refused():
    with pytest.raises(ValueError, match="registered already"):
        register(find_writer("svg"))


def test_formats_by_suffix():
    assert writer_for_file("Plain and Star.DST").name == "dst"
    with pytest.raises(OutputError, match=r"plan\.toml: has no suffix we read"):
        writer_for_file("plan.toml")


# --- all formats -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("name", LINES)
def test_the_same_sheet_gives_the_same_bytes(name, sheet):
    writer = find_writer(name)
    assert writer.write(SHEETS[sheet]) == writer.write(SHEETS[sheet])


@pytest.mark.parametrize("points", POINTS)
@pytest.mark.parametrize("name", STITCHES)
def test_the_same_points_give_the_same_bytes(name, points):
    writer = find_writer(name)
    assert writer.write(POINTS[points], "Plain") == writer.write(POINTS[points], "Plain")


def same_path(a, b, tolerance=0.001):
    return a.shape == b.shape and np.abs(a - b).max(initial=0) <= tolerance


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("name", ["svg", "dxf"])
def test_drawings_read_back_as_they_were_told(name, sheet):
    writer, wanted = find_writer(name), record(SHEETS[sheet])
    found = writer.read(writer.write(SHEETS[sheet]))
    assert [(r.kind, r.line) for r in found.runs] == [(r.kind, r.line) for r in wanted.runs]
    assert all(same_path(f.path, w.path) for f, w in zip(found.runs, wanted.runs))
    key = lambda s: (s.kind, s.closed, *np.round(s.path[0], 3).tolist())  # noqa: E731 - SVG groups shapes by zone
    assert sorted(map(key, found.shapes)) == sorted(map(key, wanted.shapes))
    zone = {"svg": lambda n: n.replace("\x07", "\ufffd"), "dxf": lambda n: re.sub(r'["/,]', "-", n)}[name]
    named = lambda drawn: [drawn.names[r.zone] if r.zone >= 0 else None for r in drawn.runs]  # noqa: E731
    assert named(found) == [n and zone(n) for n in named(wanted)]
    if name == "svg":
        assert [r.zone for r in found.runs] == [r.zone for r in wanted.runs]
        assert found.names == tuple(n.replace("\x07", "\ufffd") for n in wanted.names)


@pytest.mark.parametrize("sheet", SHEETS)
def test_gcode_reads_back_line_by_line(sheet):
    writer, wanted = find_writer("gcode"), record(SHEETS[sheet])
    found = writer.read(writer.write(SHEETS[sheet])).runs
    left, _, _, bottom = SHEETS[sheet].bounds()
    for run in found:
        parts = [r.path for r in wanted.runs if r.line == run.line and r.kind != "jump"]
        path = np.vstack([parts[0], *(p[1:] for p in parts[1:])])
        assert same_path(run.path, path - [left, bottom], 0.0011)
    assert len(found) == len(SHEETS[sheet].lines)


@pytest.mark.parametrize("points", POINTS)
@pytest.mark.parametrize("name", STITCHES)
def test_stitches_read_back(name, points):
    writer, wanted = find_writer(name), POINTS[points]
    needle = wanted.kind <= 1
    start = wanted.xy[needle][0] + (1.0, -2.0) if needle.any() else np.zeros(2)
    found = writer.read(writer.write(wanted, "Plain", origin=tuple(start)))
    back = found.kind <= 1
    assert same_path(found.xy[back], wanted.xy[needle] - start, 0.0501 if name in ("dst", "exp") else 0.0006)
    for command in ("trim", "stop"):
        assert (found.kind == KINDS.index(command)).sum() == (wanted.kind == KINDS.index(command)).sum()


def test_a_table_counts_from_the_corner_of_the_top_unless_stated():
    wanted = POINTS["left of the origin"]
    found = find_writer("csv").read(find_writer("csv").write(wanted, ""))
    assert same_path(found.xy, wanted.xy, 0.0006)


@pytest.mark.parametrize("bad", [np.nan, np.inf])
@pytest.mark.parametrize("name", writer_names())
def test_what_is_not_finite_is_refused(name, bad):
    writer = find_writer(name)
    path = np.array([(0.0, 0.0), (1.0, bad)])
    with pytest.raises(OutputError, match="not finite"):
        if isinstance(writer, LineWriter):
            writer.write(Sheet(title="", lines=(Line(path, (Span(0, 1, "stitch"),)),)))
        else:
            writer.write(needle_points(path, ["stitch", "stitch"]), "")


@pytest.mark.parametrize("name", writer_names())
@pytest.mark.parametrize("data", [b"", b"\x00", b"LA:", b"<svg/>", b"\x80\x01", b"\xff" * 700, b"  0\nSECTION\n"])
def test_readers_say_what_is_wrong_with_other_files(tmp_path, name, data):
    writer = find_writer(name)
    file = tmp_path / f"other{writer.suffix}"
    file.write_bytes(data)
    if name == "exp" and len(data) % 2 == 0 and data[:1] != b"\x80":
        assert read_any(file).stitches == max(len(data) // 2 - 1, 0)  # without a header any pairs of bytes are EXP
        return
    with pytest.raises(OutputError, match=re.escape(file.name)):
        read_any(file)


@pytest.mark.parametrize("name", ["svg", "gcode"])
def test_cautions_stand_in_files_that_hold_words(name):
    text = find_writer(name).write(SHEETS["one zone"]).decode()
    plain = re.sub(r"\)\n\(", " ", text).replace("&apos;", "'")
    for caution in CAUTIONS:
        assert caution.replace("(", "[") in plain


def test_cautions_go_beside_files_that_hold_none():
    text = cautions_text("Plain and Star", ("a.dst",))
    assert "a.dst" in text
    assert all(caution in text for caution in CAUTIONS)


# --- SVG ---------------------------------------------------------------------------------------------------------


def test_svg_is_true_size_for_another_reader():
    """svgelements reads px at 96 an inch (CSS); the patch of 100 mm must be 100 mm for it, where it was put."""
    drawing = svgelements.SVG.parse(io.BytesIO(write_svg(two_zones())))
    mm = 96 / 25.4
    patch = next(p for p in drawing.elements() if getattr(p, "values", {}).get("class") == "patch")
    left, top, right, bottom = patch.bbox()
    assert (right - left) / mm == pytest.approx(100, rel=1e-5)
    assert (bottom - top) / mm == pytest.approx(100, rel=1e-5)


@pytest.mark.parametrize("sheet", ["one zone", "two zones", "left of the origin"])
def test_svg_stitching_is_where_another_reader_finds_it(sheet):
    drawing = svgelements.SVG.parse(io.BytesIO(write_svg(SHEETS[sheet])))
    mm = 96 / 25.4
    paths = [p for p in drawing.elements() if isinstance(p, svgelements.Path) and "data-order" in p.values]
    paths.sort(key=lambda p: int(p.values["data-order"]))
    wanted = record(SHEETS[sheet]).runs
    left, top, _, _ = SHEETS[sheet].bounds()
    assert len(paths) == len(wanted)
    for path, run in zip(paths, wanted):
        found = np.array([(p.x, p.y) for p in path.as_points()]) / mm
        ends = found[[0, -1]] + [left - 5, top - 5]  # the page begins a margin of 5 mm before the drawing
        assert np.abs(ends - run.path[[0, -1]]).max() < 0.01
        assert path.length() / mm == pytest.approx(np.hypot(*np.diff(run.path, axis=0).T).sum(), rel=1e-4)
        assert path.values["class"] == run.kind


def test_svg_groups_ids_and_titles():
    text = write_svg(two_zones()).decode()
    ids = re.findall(r'<g id="([^"]*)">', text)
    assert ids == ["top", "Stern--------", "big-star--inside-2", "between-zones", "scale-check"]
    assert '<title>Stern "ä" / ☂</title>' in text
    between = text[text.index('<g id="between-zones">') : text.index('<g id="scale-check">')]
    assert re.findall('class="([^"]*)"', between) == ["seam-travel", "jump"]
    star = text[text.index('<g id="big-star--inside-2">') : text.index('<g id="between-zones">')]
    assert re.findall('class="([^"]*)"', star) == ["fence", "stitch", "edge-travel", "stitch"]


def test_svg_ids_are_unique_whatever_the_names():
    text = write_svg(SHEETS["same names"]).decode()
    ids = re.findall(r'<g id="([^"]*)">', text)
    assert len(set(ids)) == len(ids)
    assert ids == ["a", "a-2", "A-3", "top", "scale-check"]


@pytest.mark.parametrize(
    ("name", "wanted"), [("big star", "big-star"), ("a.b_c-1", "a.b_c-1"), ("ä☂", "--"), ("", "zone")]
)
def test_svg_id(name, wanted):
    assert svg_id(name) == wanted


def test_a_fill_s_file_has_one_path_a_line_where_no_class_changes():
    path = as_path(loop((0, 0), 30))
    spans = tuple(Span(i, i + 1, "stitch", i, zone=0) for i in range(len(path) - 1))
    sheet = Sheet(title="", names=("z",), lines=(Line(path, spans),))
    assert write_svg(sheet).decode().count('class="stitch"') == 1


def test_every_svg_holds_a_ruler_of_100_mm_and_a_square_of_1_in():
    drawing = svgelements.SVG.parse(io.BytesIO(write_svg(SHEETS["one zone"])))
    marks = [p for p in drawing.elements() if getattr(p, "values", {}).get("class") == "mark"]
    widths = sorted((p.bbox()[2] - p.bbox()[0]) * 25.4 / 96 for p in marks)
    assert widths == pytest.approx([25.4, 100], rel=1e-5)


def test_a_colour_that_is_none_is_left_out():
    shape = Shape(square(0, 0, 9), True, "patch", -1, 'red" onload="x')
    assert b"onload" not in write_svg(Sheet(title="", shapes=(shape,)))


def test_png_is_as_wide_as_asked():
    data = png_of(write_svg(SHEETS["two zones"]).decode(), 321)
    assert data.startswith(b"\x89PNG")
    assert int.from_bytes(data[16:20], "big") == 321
    for bad in (0, 10**6):
        with pytest.raises(OutputError, match="must be from 1"):
            png_of("<svg/>", bad)
    with pytest.raises(OutputError, match="can't be drawn"):
        png_of("no svg", 10)


# --- DXF ---------------------------------------------------------------------------------------------------------


def test_dxf_is_written_as_the_library_writes_it(monkeypatch):
    from ezdxf.entities.lwpolyline import LWPolylinePoints

    from plumeline.drawing import dxf_files

    ours = find_writer("dxf").write(two_zones())
    monkeypatch.setattr(dxf_files, "_PlainPoints", LWPolylinePoints)  # which makes an object for every number
    assert ours == find_writer("dxf").write(two_zones())
    path = np.array([(-0.0, 1 / 3), (1e-9, -1e9), (2.5, 1e16)])
    written = "".join(tag.dxfstr() for tag in LWPolylinePoints([(*p, 0, 0, 0) for p in path.tolist()]).dxftags())
    monkeypatch.undo()
    assert "".join(tag.dxfstr() for tag in dxf_files.polyline_points(path).dxftags()) == written


def test_dxf_for_the_library_itself(tmp_path):
    (tmp_path / "x.dxf").write_bytes(find_writer("dxf").write(two_zones()))
    document = ezdxf.readfile(tmp_path / "x.dxf")
    assert document.dxfversion == "AC1015"
    assert document.header["$INSUNITS"] == 4  # 4 is mm in the published list of $INSUNITS
    assert document.header["$MEASUREMENT"] == 1
    assert not document.audit().errors
    space = document.modelspace()
    patch = space.query('LWPOLYLINE[layer=="patch"]').first
    assert patch.closed
    assert [(x, y) for x, y in patch.get_points("xy")] == [(0, 0), (100, 0), (100, -100), (0, -100)]
    bar = max(space.query("LINE"), key=lambda e: (e.dxf.end - e.dxf.start).magnitude)
    assert (bar.dxf.end - bar.dxf.start).magnitude == pytest.approx(100)
    used = {e.dxf.layer for e in space}
    assert used <= {layer.dxf.name for layer in document.layers}
    assert "Stern -ä- - \\U+2602 - stitch" in used  # how DXF R2000 writes what its code page lacks


# --- DST and EXP by another hand ---------------------------------------------------------------------------------

# The published table of a DST record (three bytes, bit 7 first; y up), written out again here.
TABLE = [
    ["y+1", "y-1", "y+9", "y-9", "x-9", "x+9", "x-1", "x+1"],
    ["y+3", "y-3", "y+27", "y-27", "x-27", "x+27", "x-3", "x+3"],
    [".", ".", "y+81", "y-81", "x-81", "x+81", ".", "."],
]


def decoded_dst(data):
    """(dx, dy up, third byte) of each record until the end."""
    out = []
    for i in range(512, len(data), 3):
        record = data[i : i + 3]
        if record == b"\x00\x00\xf3":
            return out
        step = {"x": 0, "y": 0, ".": 0}
        for byte, row in zip(record, TABLE):
            for bit, cell in enumerate(row):
                if byte >> (7 - bit) & 1 and cell != ".":
                    step[cell[0]] += int(cell[1:])
        out.append((step["x"], step["y"], record[2]))
    raise AssertionError("no end record")


def decoded_exp(data):
    out, i = [], 0
    signed = lambda b: b - 256 if b > 127 else b  # noqa: E731
    while i < len(data):
        if data[i] == 0x80:
            code = data[i + 1]
            step = (0, 0) if code == 0x80 else (signed(data[i + 2]), signed(data[i + 3]))
            out.append((*step, code))
            i += 4
        else:
            out.append((signed(data[i]), signed(data[i + 1]), 0))
            i += 2
    return out


def long_work(count=100_000):
    path = np.column_stack([np.linspace(0, 2000, count), 300 * np.sin(np.arange(count) / 300)])
    return stitch_lines(
        [Line(as_path(path + np.array([0, 700 * k])), (Span(0, count - 1, "stitch"),)) for k in range(4)],
        Machine(trimmer=True, stitch_mm=1.9),
    )


def test_dst_test_vectors_of_the_published_table():
    # A8 12 23 is y+64 x-12 as a stitch, A8 12 A3 the same as a jump, 00 00 C3 a colour change (published examples).
    head = b"LA:x".ljust(512)
    found = read_dst(head + bytes.fromhex("A81223 A812A3 0000C3 A81223 0000F3"))
    assert [KINDS[k] for k in found.kind] == ["stitch", "jump", "stop", "stitch", "end"]
    np.testing.assert_allclose(found.xy[[0, 1, 3]] * 10, [(-12, -64), (-24, -128), (-36, -192)])


def test_exp_test_file_of_a_published_description():
    # A rectangle of 38.1 x 25.4 mm; it writes its moves 80 02 and ends where it began.
    data = bytes.fromhex("007F007F7F0080027F007F00800100810081810080028100 8100")
    found = read_exp(data)
    assert np.ptp(found.xy, axis=0).tolist() == pytest.approx([38.1, 25.4])
    assert found.xy[-1].tolist() == [0, 0]


@pytest.mark.parametrize("write", [write_dst, write_exp])
def test_100000_stitches_without_drift(write):
    points = long_work()
    needle = points.xy[points.kind <= 1]
    data = write(points, "long")
    records = decoded_dst(data) if write is write_dst else decoded_exp(data)
    at = np.cumsum([(x, -y) for x, y, _ in records], axis=0) / 10
    flag = np.array([f for _, _, f in records])
    drops = at[(flag & 0x80) == 0] if write is write_dst else at[flag == 0]
    assert len(drops) == len(needle) > 100_000
    off = np.abs(drops - (needle - needle[0]))
    assert off[:, 0].max() <= 0.0501
    assert off[:, 1].max() <= 0.0501
    assert abs(off[-1000:].mean() - off[:1000].mean()) < 0.01


@pytest.mark.parametrize("points", ["one zone", "two zones", "far away", "no trimmer", "bobbin stops"])
def test_no_jump_inside_a_line_and_no_stitch_inside_a_move(points):
    work = POINTS[points]
    records = decoded_dst(write_dst(work, "x"))
    flags = "".join("j" if f & 0xC0 == 0x80 else "c" if f & 0xC0 == 0xC0 else "s" for _, _, f in records)
    assert len(re.findall("s[sc]*", re.sub("c(?=j|$)", "", flags))) == len(SHEETS.get(points, two_zones()).lines)
    steps = np.array([(x, y) for x, y, f in records if not f & 0x80])
    assert np.abs(steps).max() <= 1.2 * 25.4 + 1


def test_dst_header_says_what_the_records_say():
    points = POINTS["left of the origin"]
    data = write_dst(points, "Große Étoile im Hof ☂", origin=(0.0, 0.0))
    records = decoded_dst(data)
    at = np.vstack([(0, 0), np.cumsum([(x, y) for x, y, _ in records], axis=0)])
    head = dict(field.split(":", 1) for field in data[: data.index(b"\x1a")].decode("ascii").split("\r") if field)
    assert head["LA"] == "Gro?e Etoile im "
    assert len(head["LA"]) == 16
    assert int(head["ST"]) == len(records) + 1
    assert int(head["+X"]) == at[:, 0].max()
    assert int(head["-X"]) == -at[:, 0].min()
    assert int(head["+Y"]) == at[:, 1].max()
    assert int(head["-Y"]) == -at[:, 1].min()
    assert int(head["AX"].replace(" ", "")) == at[-1, 0]
    assert int(head["AY"].replace(" ", "")) == at[-1, 1]
    assert int(head["CO"]) == sum(f & 0xC0 == 0xC0 for *_, f in records)
    assert (len(data) - 512) % 3 == 0
    assert data[data.index(b"\x1a") + 1 : 512].strip(b" ") == b""
    assert [len(v) for v in head.values()] == [16, 7, 3, 5, 5, 5, 5, 6, 6, 6, 6, 6]


def test_the_origin_is_the_first_drop_unless_stated():
    points = POINTS["far away"]
    assert decoded_dst(write_dst(points, ""))[0][:2] == (0, 0)
    first = points.xy[points.kind <= 1][0]
    stated = decoded_dst(write_dst(points, "", origin=(first[0] - 3.0, first[1] - 1.0)))
    assert stated[0] == (30, -10, stated[0][2])
    assert stated[0][2] & 0x80


@pytest.mark.parametrize(("write", "longest"), [(write_dst, 12.1), (write_exp, 12.7)])
def test_a_stitch_too_long_for_the_format_is_refused(write, longest):
    fits = needle_points([(0, 0), (longest, -longest)], ["stitch", "stitch"])
    assert write(fits, "")
    over = needle_points([(0, 0), (longest + 0.1, 0)], ["stitch", "stitch"])
    with pytest.raises(OutputError, match=rf"holds at most {longest} mm"):
        write(over, "")


@pytest.mark.parametrize(("write", "read"), [(write_dst, read_dst), (write_exp, read_exp)])
@pytest.mark.parametrize("move", [(0.1, 0), (12.1, 12.1), (12.2, -0.1), (36.3, 1), (-500, 777.7)])
def test_moves_of_any_length(write, read, move):
    points = needle_points([(0, 0), move, move, (move[0] + 1, move[1])], ["stitch", "jump", "stitch", "stitch"])
    found = read(write(points, ""))
    assert [KINDS[k] for k in found.kind] == ["stitch", "jump", "stitch", "stitch", "end"]
    np.testing.assert_allclose(found.xy[1], move, atol=1e-9)
    assert found.line.tolist()[2:] == [1, 1, 1]


def test_a_file_that_does_not_read_back_is_not_let_out():
    wanted = Records(np.zeros(3, np.uint8), np.array([(0, 0), (5, 5), (9, 9)]))
    other = Records(np.zeros(3, np.uint8), np.array([(0, 0), (5, 5), (9, 8)]))
    assert release(b"data", wanted, lambda _: wanted, ".dst") == b"data"
    with pytest.raises(EngineError, match=r"DST file did not read back .* difference at record 3"):
        release(b"data", wanted, lambda _: other, ".dst")


@pytest.mark.parametrize("cut", [511, 512, 515])
def test_a_dst_file_cut_off(cut):
    with pytest.raises(OutputError, match="cut off"):
        read_dst(write_dst(POINTS["one zone"], "")[:cut])


# --- summary -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", writer_names())
def test_inspecting_a_file(tmp_path, name):
    writer, sheet = find_writer(name), two_zones()
    file = tmp_path / f"x{writer.suffix}"
    file.write_bytes(writer.write(sheet) if isinstance(writer, LineWriter) else writer.write(points_of(sheet), "x"))
    found = read_any(file)
    every = np.vstack([line.path for line in sheet.lines])
    assert found.format == name
    assert found.lines == 2
    assert found.jumps == 1
    assert found.size_mm == pytest.approx(np.ptp(every, axis=0).tolist(), abs=0.3)
    # DST and EXP count from the first needle point, G-code from the lower left corner of the sheet, others from its top
    zeros = {"dst": sheet.lines[0].path[0], "exp": sheet.lines[0].path[0], "gcode": np.array((0.0, 200.0))}
    zero = zeros.get(name, np.zeros(2))
    assert found.low_mm == pytest.approx((every.min(axis=0) - zero).tolist(), abs=0.3)
    assert found.high_mm == pytest.approx((every.max(axis=0) - zero).tolist(), abs=0.3)
    assert found.sewn_mm == pytest.approx(
        sum(np.hypot(*np.diff(x.path, axis=0).T).sum() for x in sheet.lines), rel=0.01
    )
    if isinstance(writer, PointWriter):
        assert found.trims == 2
        assert found.stitches == int((points_of(sheet).kind <= 1).sum()) - 2
        assert found.longest_stitch_mm == pytest.approx(2.54, abs=0.45)


def test_a_missing_file(tmp_path):
    with pytest.raises(OutputError, match=r"none\.dst: is not there"):
        read_any(tmp_path / "none.dst")


# --- report ------------------------------------------------------------------------------------------------------


def test_the_report_is_the_same_text_for_the_same_numbers():
    text = report_text({"b": np.float64(1.23456789), "a": [np.int32(4), None, True, "ä"], "c": {"d": -0.0}})
    assert (
        text
        == '{\n  "b": 1.2346,\n  "a": [\n    4,\n    null,\n    true,\n    "ä"\n  ],\n  "c": {\n    "d": 0.0\n  }\n}\n'
    )


@pytest.mark.parametrize(("value", "message"), [(float("nan"), "finite"), (np.inf, "finite"), ({1, 2}, "is a set")])
def test_the_report_holds_no_other_things(value, message):
    with pytest.raises(EngineError, match=rf"report\.totals\[0\].*{message}"):
        report_text({"totals": [value]})


def test_the_test_square_is_named_only_where_one_is_printed():
    """A stitch file alone carries no square; the full-size drawing does (group ``scale-check``)."""
    assert "test square" not in cautions_text("x", ("a.dst", "a.exp"))
    assert "test square" in cautions_text("x", ("a.dst", "a.svg"))
