"""One top written by every general tool at hand, and read back.

    python benchmarks/foreign_top.py --to tests/data/foreign [--tools FOLDER]

writes the top of ``tests/foreign_top.py`` (42 x 42 in, 117 patches) with each tool that is installed and by hand in
the habits of editors, reads each file and prints a table: patches, size and names against the truth. Tools that are
not installed are passed over; ``--tools`` is a folder of further Python packages. The files are kept as tests' data.

Figures: docs/top.md, "One top from every tool".
"""

from __future__ import annotations

import argparse
import gzip
import io
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests"))
from foreign_top import COLOURS, outlines, seam_lines

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
TRUE = 'width="42in" height="42in" viewBox="0 0 42 42"'


class Missing(Exception):
    """The tool is not installed."""


@dataclass(frozen=True)
class Tool:
    """A writer: its file's name and what makes it."""

    file: str
    make: Callable[[Path], None]


TOOLS: list[Tool] = []

PLAIN = ("outlines-only", "seams", "pstoedit", "graphviz")
"""Files that tell neither names nor colours, or name each patch apart."""

NAMED = ("editor-", "layer-ids", "one-path", "titles", "figured", "svgwrite", "ezdxf-r12", "ezdxf-lw", "ezdxf-loops",
         "ezdxf-hatches", "ezdxf-blocks")  # fmt: skip
"""Files that carry the names of the families."""


def tool(file: str) -> Callable[[Callable[[Path], None]], Callable[[Path], None]]:
    """Enter a writer into the list."""

    def enter(make: Callable[[Path], None]) -> Callable[[Path], None]:
        TOOLS.append(Tool(file, make))
        return make

    return enter


def points(ring: list[tuple[float, float]], scale: float = 1.0) -> str:
    """Return corners as an SVG list."""
    return " ".join(f"{x * scale:g},{y * scale:g}" for x, y in ring)


def data(ring: list[tuple[float, float]], scale: float = 1.0, shift: float = 0.0) -> str:
    """Return corners as path data."""
    return "M" + "L".join(f"{x * scale + shift:g},{y * scale + shift:g}" for x, y in ring) + "Z"


def run(*command: str | Path) -> None:
    """Run a program of the system."""
    if shutil.which(str(command[0])) is None:
        raise Missing(str(command[0]))
    subprocess.run([str(c) for c in command], check=True, capture_output=True, timeout=120)


def by_family() -> dict[str, list[list[tuple[float, float]]]]:
    """Return the outlines of each family."""
    out: dict[str, list[list[tuple[float, float]]]] = {}
    for name, ring in outlines():
        out.setdefault(name, []).append(ring)
    return out


# --- by hand, in the habits of editors -----------------------------------------------------------------------------


def layered(units: str, *, words: bool = True) -> str:
    """Return the top as an editor with labelled layers saves it; ``words``: with a line of text."""
    ink = 'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
    ink += 'xmlns:sodipodi="http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd" '
    scale = 25.4 if units == "mm" else 1.0
    side = 42 * scale
    body, k = [], 1000
    for name, rings in by_family().items():
        layer = f'inkscape:label="{name}" id="layer{len(body)}" transform="translate({scale})"'
        body.append(f'<g inkscape:groupmode="layer" {layer}>')
        for ring in rings:
            k += 7
            shifted = [(x - 1, y) for x, y in ring]
            style = f"fill:{COLOURS[name]};stroke:#000000;stroke-width:{0.01 * scale:g}"
            body.append(
                f'<path style="{style}" d="{data(shifted, scale)}" id="path{k}" inkscape:connector-curvature="0"/>'
            )
        body.append("</g>")
    body.append(
        '<g inkscape:groupmode="layer" inkscape:label="sketch" style="display:none" id="layer9">'
        f'<path d="M0 0H{9 * scale:g}V{9 * scale:g}Z" id="path9"/></g>'
    )
    body.append(words * f'<text x="{scale:g}" y="{side - scale:g}" id="text9"><tspan>mine</tspan></text>')
    head = f'width="{side:g}{units}" height="{side:g}{units}" viewBox="0 0 {side:g} {side:g}" inkscape:version="1.2"'
    view = '<sodipodi:namedview id="base" pagecolor="#ffffff" inkscape:document-units="in"/><defs id="defs1"/>'
    return f"{HEAD}{ink}{head}>{view}{''.join(body)}</svg>"


@tool("editor-layers-mm.svg")
def _(file: Path) -> None:
    file.write_text(layered("mm"))


@tool("editor-layers-in.svgz")
def _(file: Path) -> None:
    file.write_bytes(gzip.compress(layered("in").encode(), mtime=0))


@tool("editor-labels.svg")
def _(file: Path) -> None:
    ink = 'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" '
    body = "".join(
        f'<path id="path{k}" inkscape:label="{name}" style="fill:{COLOURS[name]}" d="{data(ring)}"/>'
        for k, (name, ring) in enumerate(outlines(), 100)
    )
    file.write_text(
        f'{HEAD}{ink}{TRUE}><g id="g7" transform="matrix(0,1,-1,0,42,0) rotate(-90 21 21)">{body}</g></svg>'
    )


@tool("office-export.svg")
def _(file: Path) -> None:
    # hundredths of a millimetre, a box without paint round each shape, its fill and its outline apart
    shapes = []
    for k, (name, ring) in enumerate(outlines(), 3):
        xs, ys = [round(x * 2540) for x, _ in ring], [round(y * 2540) for _, y in ring]
        rgb = tuple(int(COLOURS[name][i : i + 2], 16) for i in (1, 3, 5))
        d = "M " + " L ".join(f"{x},{y}" for x, y in zip(xs, ys)) + " Z"
        shapes.append(
            f'<g class="com.sun.star.drawing.PolyPolygonShape"><g id="id{k}"><rect class="BoundingBox" stroke="none" '
            f'fill="none" x="{min(xs)}" y="{min(ys)}" width="{max(xs) - min(xs) + 1}" '
            f'height="{max(ys) - min(ys) + 1}"/>'
            f'<path fill="rgb{rgb}" stroke="none" d="{d}"/><path fill="none" stroke="rgb(0,0,0)" d="{d}"/></g></g>'
        )
    side = 42 * 2540
    clip = (
        f'<defs class="ClipPathGroup"><clipPath id="presentation_clip_path" clipPathUnits="userSpaceOnUse">'
        f'<rect x="0" y="0" width="{side}" height="{side}"/></clipPath></defs>'
    )
    file.write_text(
        f'{HEAD}version="1.2" width="1066.8mm" height="1066.8mm" viewBox="0 0 {side} {side}" '
        f'preserveAspectRatio="xMidYMid" fill-rule="evenodd" stroke-width="28.222">{clip}'
        f'<g class="SlideGroup"><g><g id="container-id1"><g id="id1" class="Slide" '
        f'clip-path="url(#presentation_clip_path)"><g class="Page">{"".join(shapes)}</g></g></g></g></g></svg>'
    )


@tool("web-chart.svg")
def _(file: Path) -> None:
    # no size, a view box with margins, a white ground, the drawing moved in by a group, ticks and words beside it
    body = "".join(f'<path d="{data(r, 20)}" style="fill: {COLOURS[n]};"></path>' for n, r in outlines())
    ticks = "".join(f'<g class="tick" transform="translate({20 * k},0)"><text y="-9">{k}</text></g>' for k in range(43))
    file.write_text(
        f'{HEAD}viewBox="0 0 900 900"><rect width="100%" height="100%" fill="#fff"></rect>'
        f'<g transform="translate(30,30)">{body}<g class="axis" fill="none">{ticks}</g></g></svg>'
    )


@tool("artboard.svg")
def _(file: Path) -> None:
    # a clipped frame with a white ground, pixels at 96 to the inch, fills only
    body = "".join(f'<path d="{data(r, 96, 48)}" fill="{COLOURS[n]}"/>' for n, r in outlines())
    file.write_text(
        f'{HEAD}width="4128" height="4128" viewBox="0 0 4128 4128" fill="none"><g clip-path="url(#clip0_1_2)">'
        f'<rect width="4128" height="4128" fill="white"/>{body}</g><defs><clipPath id="clip0_1_2">'
        '<rect width="4128" height="4128" fill="white"/></clipPath></defs></svg>'
    )


@tool("style-classes.svg")
def _(file: Path) -> None:
    # points as pixels, 72 to the inch, and colours by class
    rules = "".join(f".st{k}{{fill:{c};stroke:#000;stroke-miterlimit:10;}}" for k, c in enumerate(COLOURS.values()))
    order = list(COLOURS)
    body = "".join(f'<polygon class="st{order.index(n)}" points="{points(r, 72)}"/>' for n, r in outlines())
    file.write_text(
        '<?xml version="1.0" encoding="utf-8"?>\n<!-- Generator: Adobe Illustrator 27.0, SVG Export Plug-In -->\n'
        f'{HEAD}version="1.1" id="Layer_1" x="0px" y="0px" viewBox="0 0 3024 3024" width="3024px" height="3024px" '
        f'style="enable-background:new 0 0 3024 3024;" xml:space="preserve"><style type="text/css">{rules}</style>'
        f"{body}</svg>"
    )


@tool("layer-ids.svg")
def _(file: Path) -> None:
    # groups whose ids are the layers' names, relative path data without spaces, points as the unit
    body = ""
    for name, rings in by_family().items():
        body += f'<g id="{name}">'
        for ring in rings:
            x, y = ring[0]
            d = f"m{x * 72:g},{y * 72:g}"
            for (a, b), (p, q) in pairwise(ring):
                d += f"l{(p - a) * 72:g} {(q - b) * 72:g}".replace(" -", "-")
            body += f'<path class="cls-{len(name)}" fill="{COLOURS[name]}" d="{d}z"/>'
        body += "</g>"
    file.write_text(f'{HEAD}width="3024pt" height="3024pt" viewBox="0 0 3024 3024"><title>top</title>{body}</svg>')


@tool("symbols.svg")
def _(file: Path) -> None:
    # each block a symbol that is used again and again, in cm
    one = [("plain", [(0, 0), (6, 0), (6, 6), (0, 6)])]
    star = [("star", [(3, 0), (6, 3), (3, 6), (0, 3)])]
    star += [("sky", [(a, b), (3, b), (a, 3)]) for a, b in ((0, 0), (6, 0), (6, 6), (0, 6))]
    symbols = "".join(
        f'<symbol id="block{k}" viewBox="0 0 6 6">'
        + "".join(f'<path d="{data(r)}" fill="{COLOURS[n]}"/>' for n, r in shapes)
        + "</symbol>"
        for k, shapes in enumerate((one, star))
    )
    uses = "".join(
        f'<use xlink:href="#block{(r + c) % 2}" x="{3 + 6 * c}" y="{3 + 6 * r}" width="6" height="6"/>'
        for r in range(6)
        for c in range(6)
    )
    rest = "".join(f'<path d="{data(r)}" fill="{COLOURS[n]}"/>' for n, r in outlines() if n in ("border", "corner"))
    file.write_text(
        f'{HEAD}width="106.68cm" height="106.68cm" viewBox="0 0 42 42"><defs>{symbols}</defs>{rest}{uses}</svg>'
    )


@tool("one-path-a-colour.svg")
def _(file: Path) -> None:
    body = "".join(
        f'<path id="{n}" fill="{COLOURS[n]}" d="{"".join(data(r) for r in rings)}"/>'
        for n, rings in by_family().items()
    )
    file.write_text(f"{HEAD}{TRUE}>{body}</svg>")


@tool("titles.svg")
def _(file: Path) -> None:
    body = "".join(
        f'<polygon id="a{k:08x}" points="{points(r)}" fill="{COLOURS[n]}"><title>{n}</title></polygon>'
        for k, (n, r) in enumerate(outlines())
    )
    file.write_text(f"{HEAD}{TRUE}>{body}</svg>")


@tool("outlines-only.svg")
def _(file: Path) -> None:
    body = "".join(f'<path d="{data(r)}"/>' for _, r in outlines())
    file.write_text(f'{HEAD}{TRUE}><g fill="none" stroke="#000" stroke-width=".02">{body}</g></svg>')


@tool("seams-only.svg")
def _(file: Path) -> None:
    body = "".join(f'<line x1="{a:g}" y1="{b:g}" x2="{c:g}" y2="{d:g}"/>' for (a, b), (c, d) in seam_lines())
    file.write_text(f'{HEAD}{TRUE}><g fill="none" stroke="#000" stroke-width=".02">{body}</g></svg>')


@tool("figured.svg")
def _(file: Path) -> None:
    # fabrics as patterns and gradients, swatches of them beside the page
    makes = []
    for k, (name, colour) in enumerate(COLOURS.items()):
        if k % 2:
            makes.append(
                f'<linearGradient id="{name}-cloth"><stop offset="0" stop-color="{colour}"/>'
                '<stop offset="1" stop-color="#fff"/></linearGradient>'
            )
        else:
            makes.append(
                f'<pattern id="{name}-cloth" width="1" height="1" patternUnits="userSpaceOnUse">'
                f'<rect width="1" height="1" fill="{colour}"/><circle cx=".5" cy=".5" r=".2"/></pattern>'
            )
    body = "".join(
        f'<g id="{n}" fill="url(#{n}-cloth)">{"".join(f"""<path d="{data(r)}"/>""" for r in rings)}</g>'
        for n, rings in by_family().items()
    )
    swatches = "".join(
        f'<rect x="44" y="{3 * k}" width="2" height="2" fill="{c}"/>' for k, c in enumerate(COLOURS.values())
    )
    file.write_text(f"{HEAD}{TRUE}><defs>{''.join(makes)}</defs>{body}{swatches}</svg>")


@tool("drawn-by-eye.svg")
def _(file: Path) -> None:
    # corners that miss each other by up to 1/100 in
    state = 12345
    body = ""
    for name, ring in outlines():
        moved = []
        for x, y in ring:
            state = state * 1103515245 + 12345 & 0x7FFFFFFF
            moved.append((x + (state % 201 - 100) / 1e4, y + (state // 201 % 201 - 100) / 1e4))
        d = "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in moved) + "Z"
        body += f'<path fill="{COLOURS[name]}" d="{d}"/>'
    file.write_text(f"{HEAD}{TRUE}>{body}</svg>")


@tool("diagram-editor.svg")
def _(file: Path) -> None:
    # pixels, half a pixel's margin in the view box, each shape in a group that lets the mouse through
    body = "".join(
        f'<g><path d="{data(r, 96)}" fill="{COLOURS[n]}" stroke="rgb(0, 0, 0)" pointer-events="all"/></g>'
        for n, r in outlines()
    )
    file.write_text(
        f'{HEAD}version="1.1" width="4033px" height="4033px" viewBox="-0.5 -0.5 4033 4033"><defs/><g>{body}</g></svg>'
    )


# --- libraries that write SVG ---------------------------------------------------------------------------------------


@tool("svgwrite.svg")
def _(file: Path) -> None:
    import svgwrite

    drawing = svgwrite.Drawing(str(file), size=("42in", "42in"), viewBox="0 0 42 42", debug=False)
    for name, rings in by_family().items():
        group = drawing.add(drawing.g(id=name, fill=COLOURS[name]))
        for ring in rings:
            group.add(drawing.polygon(ring))
    drawing.save()


@tool("drawsvg.svg")
def _(file: Path) -> None:
    import drawsvg

    drawing = drawsvg.Drawing(840, 840, origin=(0, 0))
    for name, ring in outlines():
        drawing.append(
            drawsvg.Lines(*(v * 20 for p in ring for v in p), close=True, fill=COLOURS[name], stroke="black")
        )
    drawing.save_svg(str(file))


@tool("svg-elements-library.svg")
def _(file: Path) -> None:
    import svg

    shapes: list[svg.Element] = [
        svg.Polygon(points=[v for p in ring for v in p], fill=COLOURS[name], class_=[name]) for name, ring in outlines()
    ]
    box = svg.ViewBoxSpec(0, 0, 42, 42)
    file.write_text(str(svg.SVG(width=svg.Length(42, "in"), height=svg.Length(42, "in"), viewBox=box, elements=shapes)))


@tool("svgpathtools.svg")
def _(file: Path) -> None:
    import svgpathtools

    paths = [svgpathtools.parse_path(data(ring, 10)) for _, ring in outlines()]
    attributes = [{"fill": COLOURS[name], "stroke": "none"} for name, _ in outlines()]
    svgpathtools.wsvg(paths, attributes=attributes, filename=str(file), margin_size=0)


def plotted(file: Path) -> None:
    """Write the top as a plot in a chart's axes."""
    import matplotlib

    matplotlib.use("svg")
    matplotlib.rcParams["svg.hashsalt"] = "top"
    from matplotlib import pyplot
    from matplotlib.patches import Polygon

    figure = pyplot.figure(figsize=(42, 42))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set(xlim=(0, 42), ylim=(42, 0))
    axes.axis("off")
    for name, ring in outlines():
        axes.add_patch(Polygon(ring, facecolor=COLOURS[name], edgecolor="black", linewidth=0.5))
    figure.savefig(file, metadata={"Date": None} if file.suffix == ".svg" else {"CreationDate": None})
    pyplot.close(figure)


@tool("matplotlib.svg")
def _(file: Path) -> None:
    plotted(file)


@tool("matplotlib.pdf")
def _(file: Path) -> None:
    plotted(file)


@tool("matplotlib-axes.svg")
def _(file: Path) -> None:
    # the same with axes, ticks and a title beside it, as a notebook shows it: the plot's size is not the quilt's
    import matplotlib

    matplotlib.rcParams["svg.hashsalt"] = "top"
    from matplotlib import pyplot
    from matplotlib.collections import PolyCollection

    figure, axes = pyplot.subplots()
    axes.add_collection(
        PolyCollection([r for _, r in outlines()], facecolors=[COLOURS[n] for n, _ in outlines()], edgecolors="none")
    )
    axes.set(xlim=(-1, 43), ylim=(43, -1), title="my top", aspect="equal")
    figure.savefig(file, metadata={"Date": None})
    pyplot.close(figure)


@tool("shapely.svg")
def _(file: Path) -> None:
    from shapely import Polygon

    body = "".join(Polygon(r).svg(scale_factor=0.02, fill_color=COLOURS[n]) for n, r in outlines())
    file.write_text(f'{HEAD}viewBox="-1 -1 44 44">{body}</svg>')


@tool("toyplot.svg")
def _(file: Path) -> None:
    import toyplot
    import toyplot.svg

    canvas = toyplot.Canvas(900, 900)
    axes = canvas.cartesian(show=False, bounds=(30, 870, 30, 870), padding=0, xmin=0, xmax=42, ymin=0, ymax=42)
    for name, ring in outlines():
        xs, ys = [x for x, _ in ring], [42 - y for _, y in ring]
        axes.fill([*xs, xs[0]], [*ys, ys[0]], color=COLOURS[name], opacity=1)
    toyplot.svg.render(canvas, str(file))


def turtle_like(file: Path) -> None:
    """Write the top with a turtle."""
    import svg_turtle

    turtle = svg_turtle.SvgTurtle(900, 900)
    turtle.speed(0)
    for name, ring in outlines():
        turtle.penup()
        turtle.goto(ring[0][0] * 20 - 420, 420 - ring[0][1] * 20)
        turtle.pendown()
        turtle.fillcolor(COLOURS[name])
        turtle.begin_fill()
        for x, y in (*ring[1:], ring[0]):
            turtle.goto(x * 20 - 420, 420 - y * 20)
        turtle.end_fill()
    turtle.save_as(str(file))


@tool("turtle.svg")
def _(file: Path) -> None:
    turtle_like(file)


@tool("reportlab.svg")
def _(file: Path) -> None:
    file.write_text(_reportlab_drawing("svg"))


def _reportlab_drawing(kind: str) -> str:
    from reportlab.graphics import renderSVG
    from reportlab.graphics.shapes import Drawing, Polygon
    from reportlab.lib.colors import HexColor

    drawing = Drawing(42 * 72, 42 * 72)
    for name, ring in outlines():
        flat = [v for x, y in ring for v in (x * 72, (42 - y) * 72)]
        drawing.add(Polygon(flat, fillColor=HexColor(COLOURS[name]), strokeWidth=0.5))
    return str(renderSVG.drawToString(drawing))


# --- cairo and skia -------------------------------------------------------------------------------------------------


def cairo_surface(file: Path, kind: str) -> None:
    """Write the top through cairo."""
    import cairocffi

    surface = getattr(cairocffi, f"{kind}Surface")(str(file), 42 * 72, 42 * 72)
    pen = cairocffi.Context(surface)
    pen.scale(72, 72)
    for name, ring in outlines():
        pen.move_to(*ring[0])
        for x, y in ring[1:]:
            pen.line_to(x, y)
        pen.close_path()
        pen.set_source_rgb(*(int(COLOURS[name][i : i + 2], 16) / 255 for i in (1, 3, 5)))
        pen.fill_preserve()
        pen.set_source_rgb(0, 0, 0)
        pen.set_line_width(0.01)
        pen.stroke()
    surface.finish()


@tool("cairo.svg")
def _(file: Path) -> None:
    cairo_surface(file, "SVG")


@tool("cairo.pdf")
def _(file: Path) -> None:
    cairo_surface(file, "PDF")


def _skia_draw(canvas: object) -> None:
    import skia

    for name, ring in outlines():
        path = skia.Path()
        path.addPoly([skia.Point(x * 72, y * 72) for x, y in ring], True)
        colour = [int(COLOURS[name][i : i + 2], 16) for i in (1, 3, 5)]
        canvas.drawPath(path, skia.Paint(Color=skia.Color(*colour)))  # type: ignore[attr-defined]


@tool("skia.svg")
def _(file: Path) -> None:
    import skia

    stream = skia.DynamicMemoryWStream()
    canvas = skia.SVGCanvas.Make((42 * 72, 42 * 72), stream)
    _skia_draw(canvas)
    del canvas
    file.write_bytes(bytes(stream.detachAsData()))


@tool("skia.pdf")
def _(file: Path) -> None:
    import skia

    stream = skia.FILEWStream(str(file))
    with skia.PDF.MakeDocument(stream) as document, document.page(42 * 72, 42 * 72) as canvas:
        _skia_draw(canvas)


# --- PDF ------------------------------------------------------------------------------------------------------------


@tool("reportlab.pdf")
def _(file: Path) -> None:
    from reportlab.pdfgen import canvas

    sheet = canvas.Canvas(str(file), pagesize=(44 * 72, 44 * 72), invariant=1)
    for name, ring in outlines():
        path = sheet.beginPath()
        path.moveTo((ring[0][0] + 1) * 72, (43 - ring[0][1]) * 72)
        for x, y in ring[1:]:
            path.lineTo((x + 1) * 72, (43 - y) * 72)
        path.close()
        sheet.setFillColor(COLOURS[name])
        sheet.drawPath(path, stroke=1, fill=1)
    sheet.drawString(72, 20, "my top")
    sheet.save()


@tool("fpdf.pdf")
def _(file: Path) -> None:
    import datetime

    import fpdf

    sheet = fpdf.FPDF(unit="in", format=(42, 42))
    sheet.set_creation_date(datetime.datetime(2020, 1, 1, tzinfo=datetime.UTC))
    sheet.set_auto_page_break(False)
    sheet.add_page()
    for name, ring in outlines():
        sheet.set_fill_color(*(int(COLOURS[name][i : i + 2], 16) for i in (1, 3, 5)))
        sheet.polygon(ring, style="F")
    sheet.output(str(file))


@tool("pyx.pdf")
def _(file: Path) -> None:
    import pyx

    canvas = pyx.canvas.canvas()
    pyx.unit.set(defaultunit="inch")
    for name, ring in outlines():
        corners = [(x, 42 - y) for x, y in ring]
        lines = [pyx.path.moveto(*corners[0]), *(pyx.path.lineto(*p) for p in corners[1:]), pyx.path.closepath()]
        rgb = pyx.color.rgb(*(int(COLOURS[name][i : i + 2], 16) / 255 for i in (1, 3, 5)))
        canvas.fill(pyx.path.path(*lines), [rgb])
    canvas.writePDFfile(str(file))


# --- converters -----------------------------------------------------------------------------------------------------


def _source(file: Path, suffix: str) -> Path:
    """Return the top in a kind of file that a converter takes."""
    source = file.with_name(f"source{suffix}")
    if suffix == ".svg":
        source.write_text(layered("mm", words=False))  # converters make shapes of letters
    else:
        cairo_surface(source, {".pdf": "PDF", ".ps": "PS"}[suffix])
    return source


@tool("svg-to-pdf-by-cairo.pdf")
def _(file: Path) -> None:
    import cairosvg

    cairosvg.svg2pdf(url=str(_source(file, ".svg")), write_to=str(file))


@tool("svg-to-pdf-by-reportlab.pdf")
def _(file: Path) -> None:
    from reportlab.graphics import renderPDF
    from svglib.svglib import svg2rlg

    renderPDF.drawToFile(svg2rlg(str(_source(file, ".svg"))), str(file), invariant=1)


@tool("rsvg-convert.pdf")
def _(file: Path) -> None:
    run("rsvg-convert", "-f", "pdf", "-o", file, _source(file, ".svg"))


@tool("rsvg-convert.svg")
def _(file: Path) -> None:
    run("rsvg-convert", "-f", "svg", "-o", file, _source(file, ".svg"))


@tool("pdftocairo.svg")
def _(file: Path) -> None:
    run("pdftocairo", "-svg", _source(file, ".pdf"), file)


@tool("mutool.svg")
def _(file: Path) -> None:
    run("mutool", "convert", "-o", file, _source(file, ".pdf"))
    written = file.with_name(f"{file.stem}1.svg")
    if written.exists():
        written.replace(file)


@tool("pstoedit.dxf")
def _(file: Path) -> None:
    run("pstoedit", "-f", "dxf:-polyaslines", _source(file, ".ps"), file)


@tool("fig2dev.svg")
def _(file: Path) -> None:
    run("fig2dev", "-L", "svg", _fig(file), file)


def _fig(file: Path) -> Path:
    # 1,200 units to the inch
    head = "#FIG 3.2\nLandscape\nCenter\nInches\nLetter\n100.00\nSingle\n-2\n1200 2\n"
    head += "".join(f"0 {32 + k} {c}\n" for k, c in enumerate(COLOURS.values()))
    order = list(COLOURS)
    rows = []
    for name, ring in outlines():
        corners = " ".join(f"{x * 1200:.0f} {y * 1200:.0f}" for x, y in (*ring, ring[0]))
        rows.append(f"2 3 0 1 0 {32 + order.index(name)} 50 -1 20 0.0 0 0 -1 0 0 {len(ring) + 1}\n\t{corners}\n")
    source = file.with_name("source.fig")
    source.write_text(head + "".join(rows))
    return source


def _gnuplot(file: Path, terminal: str) -> None:
    text = [f"set terminal {terminal}", f"set output '{file}'", "unset key; unset tics; unset border"]
    text += ["set margins 0,0,0,0", "set xrange [0:42]; set yrange [42:0]", "set size ratio -1"]
    for k, (name, ring) in enumerate(outlines(), 1):
        corners = " to ".join(f"{x:g},{y:g}" for x, y in (*ring, ring[0]))
        text.append(f"set object {k} polygon from {corners} fillcolor rgb '{COLOURS[name]}' fillstyle solid border -1")
    source = file.with_name("source.gp")
    source.write_text("\n".join([*text, "plot NaN notitle"]))
    run("gnuplot", source)


@tool("gnuplot.svg")
def _(file: Path) -> None:
    _gnuplot(file, "svg size 840,840")


@tool("graphviz.svg")
def _(file: Path) -> None:
    # boxes of a graph where they are; what lies over the sky is drawn after it
    nodes = []
    for k, (name, ring) in enumerate(outlines()):
        xs, ys = [x for x, _ in ring], [y for _, y in ring]
        shape = "diamond" if name == "star" else "box"
        if name == "sky":
            continue
        nodes.append(
            f'n{k} [shape={shape} pos="{(min(xs) + max(xs)) / 2 * 72:g},{-(min(ys) + max(ys)) / 2 * 72:g}!" '
            f'width={max(xs) - min(xs):g} height={max(ys) - min(ys):g} fillcolor="{COLOURS[name]}"]'
        )
        if name == "star":
            under = (
                nodes.pop().replace(f"n{k} ", f"s{k} ").replace("diamond", "box").replace(COLOURS[name], COLOURS["sky"])
            )
            nodes += [
                under,
                under.replace(f"s{k} ", f"n{k} ").replace("box", "diamond").replace(COLOURS["sky"], COLOURS["star"]),
            ]
    source = file.with_name("source.dot")
    source.write_text('graph { node [fixedsize=true style=filled label="" penwidth=0] ' + ";".join(nodes) + "}")
    run("neato", "-n2", "-Tsvg", "-o", file, source)


# --- DXF ------------------------------------------------------------------------------------------------------------


def _dxf(file: Path, version: str, unit: int, draw: Callable[..., None], scale: float = 1.0) -> None:
    import ezdxf

    with ezdxf.options_for_tests() if hasattr(ezdxf, "options_for_tests") else io.StringIO():
        document = ezdxf.new(version)
        document.units = unit
        for k, name in enumerate(COLOURS, 1):
            document.layers.add(name, color=k)
        draw(document, document.modelspace(), scale)
        document.saveas(file)


def _up(ring: list[tuple[float, float]], scale: float) -> list[tuple[float, float]]:
    return [(x * scale, -y * scale) for x, y in ring]


def _closed_lines(_document: object, space: object, scale: float) -> None:
    for name, ring in outlines():
        space.add_lwpolyline(_up(ring, scale), close=True, dxfattribs={"layer": name})  # type: ignore[attr-defined]


def _old_lines(_document: object, space: object, scale: float) -> None:
    for name, ring in outlines():
        space.add_polyline2d(_up(ring, scale), close=True, dxfattribs={"layer": name})  # type: ignore[attr-defined]


def _loops(_document: object, space: object, scale: float) -> None:
    for name, ring in outlines():
        up = _up(ring, scale)
        for p, q in zip(up, up[1:] + up[:1]):
            space.add_line(p, q, dxfattribs={"layer": name})  # type: ignore[attr-defined]


def _seams(_document: object, space: object, scale: float) -> None:
    for pair in seam_lines():
        space.add_line(*_up(list(pair), scale))  # type: ignore[attr-defined]


def _hatches(_document: object, space: object, scale: float) -> None:
    for k, (name, ring) in enumerate(outlines()):
        hatch = space.add_hatch(color=1 + k % 6, dxfattribs={"layer": name})  # type: ignore[attr-defined]
        hatch.paths.add_polyline_path(_up(ring, scale), is_closed=True)


def _inserts(document: object, space: object, scale: float) -> None:
    block = document.blocks.new("star-block")  # type: ignore[attr-defined]
    block.add_lwpolyline(_up([(3, 0), (6, 3), (3, 6), (0, 3)], scale), close=True, dxfattribs={"layer": "star"})
    for a, b in ((0, 0), (6, 0), (6, 6), (0, 6)):
        block.add_lwpolyline(_up([(a, b), (3, b), (a, 3)], scale), close=True, dxfattribs={"layer": "sky"})
    for name, ring in outlines():
        if name == "star":
            at = (min(x for x, _ in ring) * scale, -min(y for _, y in ring) * scale)
            space.add_blockref("star-block", at)  # type: ignore[attr-defined]
        elif name != "sky":
            space.add_lwpolyline(_up(ring, scale), close=True, dxfattribs={"layer": name})  # type: ignore[attr-defined]


for _file, _version, _unit, _draw, _scale in (
    ("ezdxf-r12-polylines.dxf", "R12", 1, _old_lines, 1.0),
    ("ezdxf-lwpolylines-mm.dxf", "R2010", 4, _closed_lines, 25.4),
    ("ezdxf-loops-of-lines.dxf", "R2000", 1, _loops, 1.0),
    ("ezdxf-seams.dxf", "R12", 1, _seams, 1.0),
    ("ezdxf-hatches.dxf", "R2000", 1, _hatches, 1.0),
    ("ezdxf-blocks-no-unit.dxf", "R2000", 0, _inserts, 1.0),
):
    TOOLS.append(
        Tool(_file, lambda file, v=_version, u=_unit, d=_draw, s=_scale: _dxf(file, v, u, d, s))  # type: ignore[misc]
    )


@tool("ezdxf-drawing.svg")
def _(file: Path) -> None:
    import ezdxf
    from ezdxf.addons.drawing import Frontend, RenderContext, layout
    from ezdxf.addons.drawing.svg import SVGBackend

    document = ezdxf.new("R2000")
    document.units = 1
    space = document.modelspace()
    for name, ring in outlines():
        hatch = space.add_hatch()
        hatch.rgb = tuple(int(COLOURS[name][i : i + 2], 16) for i in (1, 3, 5))
        hatch.paths.add_polyline_path(_up(ring, 1.0), is_closed=True)
    backend = SVGBackend()
    Frontend(RenderContext(document), backend).draw_layout(space)
    file.write_text(backend.get_string(layout.Page(42, 42, layout.Units.inch)))


def main() -> None:
    """Write, read, print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--to", type=Path, required=True)
    parser.add_argument("--tools", type=Path, default=None)
    parser.add_argument("--only", default="")
    said = parser.parse_args()
    if said.tools:
        sys.path.append(str(said.tools))
    said.to.mkdir(parents=True, exist_ok=True)
    for made in TOOLS:
        if said.only not in made.file:
            continue
        with tempfile.TemporaryDirectory() as folder:
            written = Path(folder) / made.file
            try:
                made.make(written)
            except (Missing, ImportError) as error:
                print(f"{made.file:32} not installed: {error}")
                continue
            shutil.copyfile(written, said.to / made.file)
    table(said.to)


def table(folder: Path) -> None:
    """Read each file and print how it differs from the truth."""
    from foreign_top import misses
    from plumeline.errors import InputError
    from plumeline.top import SaidSize, from_drawing

    right = 0
    files = sorted(p for p in folder.iterdir() if p.suffix in (".svg", ".svgz", ".dxf", ".pdf"))
    for file in files:
        plain = any(word in file.name for word in PLAIN)
        named = any(word in file.name for word in NAMED)
        said = "as the file says"
        try:
            try:
                top = from_drawing(file)
                if abs(top.size[0] - 42 * 25.4) > 1:
                    said = f"width = 42 (else {top.size[0] / 25.4:.2f})"
                    top = from_drawing(file, size=SaidSize(width_mm=42 * 25.4))
            except InputError as error:
                if "no true size" not in str(error):
                    raise
                said, top = "width = 42 (says none)", from_drawing(file, size=SaidSize(width_mm=42 * 25.4))
        except InputError as error:
            print(f"{file.name:32} REFUSED {str(error)[:150]}")
            continue
        off = 0.03 if "by-eye" in file.name else 0.01
        wrong = misses(top, names=named, families=not plain, off_in=off)
        right += not wrong
        names = sorted({p.name.rpartition("-")[0] for p in top.patches})
        print(f"{file.name:32} {said:24} {len(top.patches):4d} {'; '.join(wrong) or 'right'}  {names[:6]}"[:300])
    print(f"{right} of {len(files)} right")


if __name__ == "__main__":
    main()
