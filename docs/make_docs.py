"""Make the generated pages anew: `commands.md`, `fills/README.md`, and a picture of every fill.

Run it by hand after a command, a fill or a setting has changed::

    python docs/make_docs.py

The pages are derived from the commands and from the settings models of the fills; a test compares them with what this
script makes. `python docs/make_docs.py --pictures` draws the pictures too, which takes about a minute.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from importlib import import_module
from inspect import cleandoc
from io import BytesIO
from pathlib import Path
from typing import Annotated, Any, Literal, get_args, get_origin

import click
import numpy as np
from annotated_types import Ge, Gt, Le, Lt
from PIL import Image
from pydantic.fields import FieldInfo
from shapely import Polygon

from plumeline import fill
from plumeline.cli import COMMANDS
from plumeline.cli.fills import default_text, shown, toml_key
from plumeline.fills import fill_names, find_fill
from plumeline.geometry import close_ring, disc, rings
from plumeline.model import Path as Polyline
from plumeline.output.paper import KINDS, PaperSettings, find_kind, full_size_svg
from plumeline.output.png import png_of
from plumeline.pipeline.paper import paper_drawings
from plumeline.pipeline.single import try_fill
from plumeline.units import format_length

DOCS = Path(__file__).parent
IN = 25.4

EXAMPLES = {
    "demo": ["plumeline demo --to my-quilt", "plumeline demo --block --to my-block"],
    "new": [
        "plumeline new my-top.toml --drawing my-top.svg",
        'plumeline new my-top.toml --blocks 3x3 --block 12 --on-point --border "1,5 1/2"',
        'plumeline new my-top.toml --blocks 5x5 --block 9 --pieced "nine patch" --plain alternate --border "1 1/2,8"',
    ],
    "blocks": ["plumeline blocks --to blocks.png", 'plumeline blocks "ohio star" --json'],
    "photo": [
        "plumeline photo top.jpg --points points.csv --to my-quilt",
        "plumeline photo top.jpg --points points.csv --plan my-top.toml --to my-quilt",
    ],
    "map": ["plumeline map my-top.toml --to map.png", "plumeline map my-top.toml --to map.pdf"],
    "straight": ["plumeline straight my-top.toml --to straightness", "plumeline straight my-top.toml --json"],
    "set": ["plumeline set my-top.toml title=Mine machine.stitches_per_inch=11"],
    "check": ["plumeline check my-top.toml", "plumeline check my-top.toml --strict"],
    "stitch": [
        "plumeline stitch my-top.toml --to stitched",
        "plumeline stitch monday.toml tuesday.toml --to stitched",
        'plumeline stitch my-top.toml --to again --option rulers --zone "big star" --formats svg,dxf',
    ],
    "compare": [
        "plumeline compare my-top.toml --to ideas.pdf",
        'plumeline compare my-top.toml --option rulers --option feathers --zone "big star" --to star.png',
    ],
    "fill": [
        "plumeline fill feather --square 14 --to try.png",
        "plumeline fill channel --sides '14,14 1/8,13 7/8,14' --diagonals '19 3/4,19 7/8' --to try.svg"
        " --set spacing=1/2 --set angle=45",
    ],
    "fills": ["plumeline fills", "plumeline fills channel"],
    "continue": ["plumeline continue stitched/my-top.dst --line 3 --stitch 410 --back 1 --to rest.dst"],
    "refit": ['plumeline refit my-top.toml --reach 2 --marks "A=12 1/4,3 B=30 1/8,3 1/16" --to refitted'],
    "paper": (
        "plumeline paper my-top.toml --kind trace --to paper",
        "plumeline paper --fill feather --square 9 --kind cut --to paper",
    ),
    "ideas": ['plumeline ideas my-top.toml --zone "big star" --to ideas.png'],
    "show": ["plumeline show my-top.toml --to my-top.html"],
    "open": ["plumeline open my-top.toml", "plumeline open --sample"],
    "inspect": ["plumeline inspect stitched/my-top.dst --picture look.png"],
}
"""What one would type first, for each command."""

COMMANDS_HEAD = """# Commands

`plumeline COMMAND --help` says the same on the screen. A length is a number or a fraction, in inches unless `--units`
or the length itself says otherwise: `14`, `"1 1/2"`, `"6 mm"`.

| the command leaves with | when |
|---|---|
| 0 | all is done |
| 1 | plumeline itself failed: one line says what to send us, and `--trace` behind the command shows all of it |
| 2 | something you gave it can't be used: one line says what, where, and the way out, and nothing is written |
| 3 | done, but there are warnings, and `--strict` was given |
| 130 | you (or the system) stopped it; nothing is left half-written |

Nothing that a command is made from is ever written over, not even with `--force`: the plan, its drawing, artwork, the
drawing that `--stitched` names. All names are looked at before the long work begins. Two runs into one folder take
turns. A file that is no plain file (a pipe, a device), or larger than any of its kind needs to be, is not opened.
"""

FILLS_HEAD = """# Fills

A fill is one way of filling a space. In the plan it is a table with a `kind` and that fill's settings:

```toml
[zone.fill]
kind    = "channel"
spacing = "1/2"
```

Try one without a plan: `plumeline fill channel --square 12 --to try.png --set spacing=1/2`. `plumeline fills` lists
what is listed here. A setting that is left out has the value in the second column; "chosen to suit" means that the
space decides. Bare numbers are in the unit of your plan.

The pictures show each fill with its settings left out in shapes 9 in across: a square, a triangle, an L, a ring, a
block out of true, a circle. The pale line is the edge of the space, which is not stitched.

What the fills do in ragged spaces with holes has been [measured](measured.md).
"""


# ---- commands


def commands_page() -> str:
    """Return `commands.md`."""
    index = [f"| [`{name}`](#{name}) | {says} |" for name, says in COMMANDS.items()]
    parts = [COMMANDS_HEAD, "\n".join(["| command | does |", "|---|---|", *index]) + "\n"]
    return "\n".join([*parts, *map(_command_part, COMMANDS)])


def _command_part(name: str) -> str:
    command: click.Command = import_module(f"plumeline.cli.{name}").command
    context = click.Context(
        command, info_name=name, parent=click.Context(click.Group("plumeline"), info_name="plumeline")
    )
    lines = [f"## {name}", "", cleandoc(command.help or ""), "", "```sh", *EXAMPLES[name], "```", ""]
    lines += [f"`{' '.join(command.get_usage(context).removeprefix('Usage: ').split())}`", ""]
    options = [_option_row(p) for p in command.params if isinstance(p, click.Option)]
    return "\n".join([*lines, "| option | what it is | left out |", "|---|---|---|", *options, ""])


def _option_row(option: click.Option) -> str:
    takes = "" if option.is_flag else f" {option.metavar or _takes(option.type)}"
    if option.is_flag:
        default = ""
    elif option.required:
        default = "must be given"
    else:
        default = f"`{option.default}`" if option.show_default else ""
    return f"| `{option.opts[-1]}{takes}` | {(option.help or '').replace('|', chr(92) + '|')} | {default} |"


def _takes(kind: click.ParamType[Any]) -> str:
    return "/".join(map(str, kind.choices)) if isinstance(kind, click.Choice) else kind.name.upper()


# ---- fills


def fills_page() -> str:
    """Return `fills/README.md`."""
    index = [f"| [`{name}`](#{name}) | {find_fill(name).description} |" for name in fill_names()]
    head = "\n".join([FILLS_HEAD, "| fill | what it is |", "|---|---|", *index]) + "\n"
    return "\n".join([head, *map(_fill_part, fill_names())])


def _fill_part(name: str) -> str:
    found = find_fill(name)
    says = f"{found.description[:1].upper()}{found.description[1:]}."
    lines = [f"## {name}", "", says, "", f"![{name} in six shapes](pictures/{name}.png)", ""]
    rows = [_setting_row(field_name, field) for field_name, field in shown(found.settings)]
    if rows:
        lines += ["| setting | left out | may be | what it is |", "|---|---|---|---|", *rows, ""]
    else:
        lines += ["It has no settings.", ""]
    if (DOCS / "fills" / f"{name}.md").is_file():
        lines += [f"[More about {name}]({name}.md)", ""]
    return "\n".join(lines)


def _setting_row(name: str, field: FieldInfo) -> str:
    default = default_text(name, field, "in")
    return f"| `{toml_key(name, field)}` | {default} | {may_be(name, field)} | {field.description or ''} |"


def may_be(name: str, field: FieldInfo) -> str:
    """Return what a setting may be: its choices, its limits."""
    is_length = name.endswith("_mm") or (field.json_schema_extra or {}) == {"unit": "length"}
    said = [", ".join(f"`{choice}`" for choice in _choices(field.annotation))]
    kinds = set(_kinds(field.annotation))
    if _is_point(field.annotation):
        said.append("a point `[x, y]`")
    elif kinds & {int, float}:
        limits = [*field.metadata, *_limits(field.annotation)]
        said.append(_range_text(limits, length=is_length, whole=float not in kinds))
    if bool in kinds:
        said.append("`true`, `false`")
    if str in kinds:
        said.append("a name")
    return " or ".join(filter(None, said))


def _choices(annotation: Any) -> list[str]:
    if get_origin(annotation) is Literal:
        return [str(choice) for choice in get_args(annotation)]
    return [choice for inner in get_args(annotation) for choice in _choices(inner)]


def _is_point(annotation: Any) -> bool:
    inner = get_args(annotation)
    pair = get_origin(annotation) is tuple and len(inner) == 2 and Ellipsis not in inner
    return pair or any(map(_is_point, inner))


def _kinds(annotation: Any) -> Iterator[type]:
    if isinstance(annotation, type) and not get_args(annotation):
        yield annotation
    if get_origin(annotation) is not Literal:
        for inner in get_args(annotation):
            yield from _kinds(inner)


def _limits(annotation: Any) -> Iterator[Any]:
    if get_origin(annotation) is Annotated:
        for told in annotation.__metadata__:
            yield from getattr(told, "metadata", [told])
    for inner in get_args(annotation):
        yield from _limits(inner)


MOST_SAID_MM = 10_000.0
"""An upper limit of lengths from here on only guards against slips; it is not worth a word."""


def _range_text(limits: list[Any], *, length: bool, whole: bool) -> str:
    low = next((m.ge if isinstance(m, Ge) else m.gt for m in limits if isinstance(m, Ge | Gt)), None)
    high = next((m.le if isinstance(m, Le) else m.lt for m in limits if isinstance(m, Le | Lt)), None)
    kind = "a length" if length else "a whole number" if whole else "a number"
    if length and high is not None and high >= MOST_SAID_MM:
        high = None
    text = [_limit_text(limit, length) for limit in (low, high) if limit is not None]
    if low is not None and high is not None:
        return f"{text[0]} to {text[1]}"
    if low is not None:
        return f"{kind}, {text[0]} or more" if low else kind
    return f"{kind}, at most {text[0]}" if text else kind


def _limit_text(limit: float, length: bool) -> str:
    if not length or not limit:
        return f"{limit:g}"
    thirty_seconds = limit / IN * 32
    return format_length(limit) if abs(thirty_seconds - round(thirty_seconds)) < 1e-6 else f"{limit:g} mm"


# ---- pictures

WIDE_PX = 600
"""Width of a picture: three shapes side by side, sharp enough to tell lines 1/4 in apart."""

COLOURS = 8
"""Colours of a picture: enough for smooth lines, and a third of the bytes."""

CELL_IN = 10.0
"""Side of the square that each shape is drawn in."""

SHAPES: tuple[tuple[list[tuple[float, float]], list[tuple[float, float]]], ...] = (
    ([(0.5, 0.5), (9.5, 0.5), (9.5, 9.5), (0.5, 9.5)], []),
    ([(5, 0.8), (9.8, 9.2), (0.2, 9.2)], []),
    ([(0.5, 0.5), (5, 0.5), (5, 5), (9.5, 5), (9.5, 9.5), (0.5, 9.5)], []),
    ([(0.5, 0.5), (9.5, 0.5), (9.5, 9.5), (0.5, 9.5)], [(3, 3), (7, 3), (7, 7), (3, 7)]),
    ([(0.3, 0.9), (9.4, 0.4), (9.8, 9.2), (0.8, 9.7)], []),
)
"""Square, triangle, L, ring, block out of true, in inches within one cell; the circle is drawn by itself."""


def shapes() -> list[Polygon]:
    """Return the shapes that every fill is shown in, in mm, each within its own cell."""
    drawn = [Polygon(np.array(shell) * IN, [np.array(hole) * IN] if hole else []) for shell, hole in SHAPES]
    return [*drawn, disc((CELL_IN * IN / 2, CELL_IN * IN / 2), 4.5 * IN)]


def picture(name: str) -> bytes:
    """Return the picture of a fill in every shape, as PNG."""
    cell = CELL_IN * IN
    parts = []
    for k, shape in enumerate(shapes()):
        across, down = k % 3 * cell, k // 3 * cell
        edges = "".join(_path(ring, closed=True) for ring in rings(shape))
        lines = "".join(_path(s.path, closed=s.closed) for s in fill(name, shape).strokes)
        parts.append(
            f'<g transform="translate({across:.0f} {down:.0f})"><path d="{edges}" stroke="#b0a89a" stroke-width="0.8"/>'
            f'<path d="{lines}" stroke="#27364a" stroke-width="1.5"/></g>'
        )
    size = f'width="{3 * cell}mm" height="{2 * cell}mm" viewBox="0 0 {3 * cell} {2 * cell}"'
    style = 'fill="none" stroke-linejoin="round" stroke-linecap="round"'
    png = png_of(f'<svg xmlns="http://www.w3.org/2000/svg" {size} {style}>{"".join(parts)}</svg>', WIDE_PX)
    small = BytesIO()
    Image.open(BytesIO(png)).convert("RGB").quantize(COLOURS).save(small, "PNG", optimize=True)
    return small.getvalue()


def _path(path: Polyline, *, closed: bool) -> str:
    points = close_ring(path) if closed else path
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


PAPER_PX = 420
"""Width of a picture of paper."""


def paper_picture(name: str) -> bytes:
    """Return a PNG of one kind of paper: a feather, or for straight lines a crosshatch, in a square of 7 in."""
    kind, settings = ("crosshatch", {"spacing": 1}) if name in ("ruler", "marks") else ("feather", {})
    quilt = try_fill(kind, Polygon(np.array([(0, 0), (7, 0), (7, 7), (0, 7)]) * IN), settings)
    (drawing,) = paper_drawings(quilt, find_kind(name), (), PaperSettings())
    image = Image.open(BytesIO(png_of(full_size_svg(drawing).decode(), PAPER_PX))).convert("RGB")
    small = BytesIO()
    image.quantize(COLOURS, method=Image.Quantize.MEDIANCUT).save(small, "PNG", optimize=True)
    return small.getvalue()


def main() -> None:
    """Write the pages, and the pictures when asked to."""
    (DOCS / "commands.md").write_text(commands_page(), encoding="utf-8")
    (DOCS / "fills" / "README.md").write_text(fills_page(), encoding="utf-8")
    if "--pictures" in sys.argv:
        folder = DOCS / "fills" / "pictures"
        folder.mkdir(exist_ok=True)
        for name in fill_names():
            (folder / f"{name}.png").write_bytes(picture(name))
        for name in KINDS:
            (DOCS / "pictures").mkdir(exist_ok=True)
            (DOCS / "pictures" / f"paper-{name}.png").write_bytes(paper_picture(name))


if __name__ == "__main__":
    main()
