"""What the approved figures of commands are taken of: small plans that touch many keys, and commands run on them.

A number between tildes, ``~12~``, is made larger by some millionths of a millionth when it is tried how steady the
figures are.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

__all__ = ["SCENES", "Scene", "nudged"]


@dataclass(frozen=True)
class Scene:
    """Files in a folder of their own, and the commands that are run there, one after another."""

    files: dict[str, str]
    commands: tuple[str, ...]
    changes: dict[str, tuple[str, str, str]] = field(default_factory=dict)
    """Before a command: in which file which words become which others."""


def nudged(text, nudge):
    """Return a text with its marked numbers made so many billionths larger."""
    return re.sub(r"~([\d.]+)~", lambda m: repr(float(m[1]) * (1 + nudge * 1e-9)) if nudge else m[1], text)


LAKE_SVG = """<svg xmlns="http://www.w3.org/2000/svg" width="~30~in" height="~24~in" viewBox="0 0 300 240">
<style>.plain { fill: #f1e8d6 } .dark { fill: #3f6d70; stroke: none }</style>
<g id="blocks">
<rect id="plain-1-1" class="plain" x="0" y="0" width="100" height="99.6"/>
<polygon id="sail-1" points="100,0 200,0 150,60" fill="rgb(164, 82, 60)"/>
<path id="sail-2" d="M100 0 L150 60 L100 100 Z" style="fill:#d6a54a"/>
<path id="sail-3" d="M200,0 v100 l-50,-40 z" class="dark"/>
<path id="hull" d="M100 100 H200 L150 60 Z" fill="hsl(30, 50%, 40%)"/>
<rect id="plain-1-3" class="plain" width="100" height="100" transform="translate(200 0)"/>
<polygon id="crooked" points="0,99.6 100,100 101.5,171 97,240 0,238.5" fill="#7b8f5a"/>
<rect id="field" x="101" y="100" width="99" height="140" fill="#e6dac0"/>
<path id="cove" d="M200 100 H300 V240 H200 Z" fill="oklch(0.7 0.1 200)"/>
</g>
<ellipse id="pebble" cx="250" cy="170" rx="28" ry="18" fill="#556" transform="rotate(20 250 170)"/>
<circle id="label" cx="40" cy="215" r="9" fill="#fff"/>
<g fill="none" stroke="#00c">
<path id="fence-1" d="M105 180 C130 160 170 200 199 170"/>
<path id="spine-1" d="M120 235 Q150 170 125 110"/>
<polyline id="fold" points="200,200 240,225 300,205"/>
</g>
</svg>
"""

LAKE = """title = "Lake"
units = "in"
chance = 11
[top]
drawing = "lake.svg"
close_gaps = "1/16"
guides = ["fence-*", "spine-*", "fold"]
[machine]
stitches_per_inch = 9
least_stitch = "1.4 mm"
chord = "0.3 mm"
reach = [18, 14]
trimmer = true
ties = "back"
order = "rows"
bobbin_yards = 18
stitches_a_minute = 900
[batting]
widest_gap = 3
kind = "wool"
thickness = "3 mm"
[prices]
currency = "£"
minimum = 20
fills = { spiral = { per_square_inch = 0.05 }, "*" = { per_hour = 24 } }
[thread.gold]
colour = "#c9a227"
[fabrics]
"plain-*" = "#f4ecd8"
crooked = { picture = "dots.png", width = 4 }
[straight]
bow = "1/8"
miss = "1/32"
[[zone]]
name = "plains"
patches = ["plain-*"]
each = "patch"
inset = "1/4"
framed = { rows = 2, spacing = "1/8" }
[zone.fill]
kind = "spiral"
spacing = "5/8"
[[zone]]
name = "sails"
patches = ["sail-*", "hull"]
travel = "any-seam"
[zone.fill]
kind = "continuous-curve"
[[zone]]
name = "crooked"
patches = ["crooked", "label"]
leave_open = ["label", { centre = [8, 12], radius = 1 }]
thread = "gold"
divide = [{ by = "frame", width = "1 1/4" }]
[zone.fill.frame]
kind = "rings"
rows = 3
[zone.fill.inside]
kind = "meander"
spacing = "3/4"
[[zone]]
name = "field"
patches = ["field"]
fences = ["fence-1", { line = [[11, 12], [19, 13]], soft = "1/4" }]
enter = [11, 23]
[zone.fill]
kind = "feather"
spines = "spine-1"
[[zone]]
name = "cove"
patches = ["cove"]
divide = [{ by = "line", line = "fold" }]
[[zone.fill.side-1]]
kind = "echo"
count = 2
[[zone.fill.side-1]]
kind = "channel"
angle = 30
spacing = 1
[zone.fill.side-2]
kind = "crosshatch"
spacing = "3/4"
[[zone]]
name = "pebble"
patches = ["pebble"]
travel = "none"
[zone.fill]
kind = "pebble"
size = "3/4"
[options.quick."field"]
kind = "channel"
spacing = "1 1/2"
along = true
[options.quick."plains"]
kind = "rays"
[options.other.crooked.inside]
kind = "curl"
"""

POINT = """title = "On point"
chance = 3
[quilt]
density = "even"
[top.blocks]
setting = "on-point"
size = ~5~
rows = [["star", "dash"], ["turned", "cut"]]
between = "plain"
borders = [{ name = "teeth", width = 1, pieced = "sawtooth" }, { name = "outer", width = "2 1/2", corners = "mitred" }]
[top.blocks.pieces]
star = "ohio star"
dash = "churn dash"
turned = { block = "log cabin", turn = 90 }
cut = { lines = [[[0, 3], [5, 3]], [[3, 0], [3, 3]]], names = { 1 = "post", 3 = "board" } }
[machine]
guided = "hand"
frame = true
throat = 12
ties = "bury"
start_stop_seconds = 30
order = "centre-out"
[batting]
loft = "4 mm"
[[guide]]
name = "vine"
block = "plain"
points = [[0, 0], [2, 1.5], [3.5, 4], [5, 5]]
[[guide]]
name = "bone"
patch = "side-*"
spine = { corner = "squarest", bow = 8, length = 4 }
[[guide]]
name = "ripple"
wave = { from = [2, 4], to = [18, 5], height = 1, waves = 3 }
[[guide]]
name = "bow"
arc = { from = [4, 16], to = [17, 16], rise = 2 }
[[guide]]
name = "loop"
closed = true
straight = true
points = [[10, 10], [14, 10], [12, 14]]
[[measured]]
block = "plain-1-1"
sides = ["5 1/16", 5, "4 15/16", 5]
diagonals = { 1 = "7 1/8" }
bows = { B = "1/16" }
[[zone]]
name = "plains"
patches = ["plain-*"]
[zone.fill]
kind = "feather"
spines = "vine"
[[zone]]
name = "stars"
patches = ["star-*-star-*", "star-*-center"]
each = "joined"
[zone.fill]
kind = "chords"
[[zone]]
name = "setting triangles"
patches = ["side-*", "corner-*"]
each = "patch"
least = "1/2"
vary = true
[zone.fill]
kind = "motif"
art = "fan-triangle"
[[zone]]
name = "cabins"
patches = ["turned", "cut"]
each = "patch"
inset = 0
[zone.fill]
kind = "ditch"
[[zone]]
name = "dash"
patches = ["dash-*"]
each = "patch"
least = "1/2"
[zone.fill]
kind = "channel"
density = "80 %"
[[zone]]
name = "outer border"
patches = ["outer"]
order = "last"
[zone.fill]
kind = "channel"
piano_keys = true
"""

ALIKE = """title = "Alike"
units = "cm"
chance = 5
[top.blocks]
size = ~14~
rows = [["a", "b", "a"], ["b", "a", "b"]]
sashing = { width = 2, outer = true, cornerstones = true }
borders = [
    { name = "rim", width = 4, corners = "cornerstones" },
    { name = "keys", width = 3, pieced = "geese", count = [6, 4] },
]
[top.blocks.pieces]
b = { grid = 2 }
[[measured]]
patch = "a-1-3"
sides = [14, 14.4, 14, 13.8]
[[measured]]
top = 56.6
[machine]
throat = 30
[[zone]]
name = "a"
patches = ["a-*"]
each = "patch"
alike = true
alike_within = 1
mirror = [false, true]
turn = [[0], [90, 180]]
[zone.fill]
kind = "motif"
art = "tulip"
[[zone]]
name = "b"
patches = ["b-*"]
each = "joined"
alike = "any-size"
divide = [{ by = "on-point", as = "tip", apart = true }]
[zone.fill."tip-*"]
kind = "echo"
[zone.fill.inside]
kind = "spiral"
look = "round"
[[zone]]
name = "over"
shape = { kind = "on-point", size = 9, at = "a-2-2" }
framed = "twice"
[zone.fill]
kind = "curl"
size = 1.5
[[zone]]
name = "sashes"
patches = ["sash-*", "cornerstone-*"]
each = "joined"
[zone.fill]
kind = "outline"
[[zone]]
name = "rim"
patches = ["rim-*", "!rim-corner-*"]
each = "patch"
mirror = "left-right"
alike = "any-size"
[zone.fill]
kind = "feather"
spines = "wave"
[[zone]]
name = "geese"
patches = ["keys-*"]
each = "patch"
least = 4
[zone.fill]
kind = "rays"
at = "corner"
"""

BLOCK = """title = "One block"
chance = 2
[top.measured]
sides = [~10~, "10 1/8", "9 7/8", 10]
diagonals = ["14 1/8", "14 1/4"]
[machine]
guided = "ruler"
reach = [7, 7]
order = "any"
[batting]
kind = "high loft"
sample = { quilted = "channel", spacing = 1, before = 20, after = "19 1/4" }
[[zone]]
name = "block"
patches = ["block"]
divide = [{ by = "circle", fit = 80 }, { by = "wedges", count = 6, as = "ray" }]
[zone.fill.outside]
kind = "crosshatch"
follow = "corners"
[zone.fill."ray-*"]
kind = "rings"
[zone.fill.ray-2]
kind = "feather"
[options.grid."block".outside]
kind = "meander"
[options.mixed."block"."ray-*"]
kind = "rays"
"""

SHAPES = """title = "Shapes"
[top.blocks]
size = ~20~
rows = [["ground"]]
[[zone]]
name = "ground"
patches = ["ground"]
divide = [{ by = "grid", rows = 2, cols = 2 }]
[zone.fill.cell-1-1]
kind = "echo"
of = "shape"
[zone.fill.cell-1-2]
kind = "rings"
of = "shape"
spacing = "1/2"
[zone.fill.cell-2-1]
kind = "channel"
of = "shape"
spacing = "1/2"
[zone.fill.cell-2-2]
kind = "edge-to-edge"
height = 2
[[zone]]
name = "oval"
shape = { kind = "oval", width = 7, height = 4, at = [6, 5], turn = 20 }
[zone.fill]
kind = "motif"
art = "leaf"
[[zone]]
name = "kite"
shape = { kind = "polygon", points = [[12, 2], [17, 4], [14, 8]] }
[zone.fill]
kind = "spiral"
[[zone]]
name = "disc"
shape = { kind = "circle", radius = 2, at = [5, 15] }
divide = [{ by = "line", lines = [[[3, 14.5], [7, 14.5]], [[3, 15.5], [7, 15.5]]] }]
[zone.fill.side-2]
kind = "channel"
spacing = "1/4"
[[zone]]
name = "box"
shape = { kind = "rectangle", width = 5, height = 3, at = [15, 15], turn = 10 }
[zone.fill]
kind = "pebble"
"""

BARE = """title = "Bare"
[top.blocks]
size = 4
rows = [["a", "b"]]
[[zone]]
name = "a"
patches = ["a-*"]
[zone.fill]
kind = "{kind}"
[[zone]]
name = "b"
patches = ["b-*"]
"""

OPTIONS = """
[prices]
minimum = 5
fills = { "*" = { per_square_inch = 0.3 } }
[options.rays.a]
kind = "rays"
[options.motif.b]
kind = "motif"
art = "clover"
"""

LAKE_FILES = {"lake.toml": LAKE, "lake.svg": LAKE_SVG}
POINT_FILES, ALIKE_FILES = {"point.toml": POINT}, {"alike.toml": ALIKE}
BLOCK_FILES, SHAPE_FILES = {"block.toml": BLOCK}, {"shapes.toml": SHAPES}
DONE = '[[zone]]\nname = "kite"', '[[zone]]\nname = "kite"\ndone = true', "shapes.toml"
TWO = {"two.toml": BARE.format(kind="spiral") + OPTIONS}
SMALL = {"small.toml": BARE.format(kind="spiral")}
SIDES = "--sides '9,9 1/8,8 7/8,9' --diagonals '12 3/4,12 7/8'"

SCENES = {
    "lake: map, straightness, check": Scene(
        LAKE_FILES,
        (
            "map lake.toml --to map.svg",
            "map lake.toml --to map.pdf",
            "straight lake.toml --to straight",
            "straight lake.toml --json",
            "check lake.toml --json --option other",
        ),
    ),
    "lake: all formats": Scene(
        LAKE_FILES,
        (
            "stitch lake.toml --to out --formats svg,dst,exp,csv,dxf,gcode",
            "inspect out/lake-reach-1of4.dst --picture look.svg",
            "inspect out/lake-reach-2of4.csv --json",
            "inspect out/lake.svg --units cm",
            "inspect lake.svg",
        ),
    ),
    "lake: other options": Scene(
        LAKE_FILES,
        (
            "stitch lake.toml --to quick --option quick --json",
            "stitch lake.toml --to one --zone field --zone pebble",
            "refit lake.toml --reach 2 --marks 'A=3,4 B=9,4 1/8' --to refitted",
        ),
    ),
    "side by side": Scene(
        TWO,
        (
            "compare two.toml --to ideas.pdf",
            "show two.toml --to two.html",
            "ideas two.toml --zone b --to ideas.svg",
            "ideas two.toml --price 12 --to set.svg",
        ),
    ),
    "point: map, straightness": Scene(
        POINT_FILES, ("map point.toml --to map.svg", "straight point.toml --to straight")
    ),
    "point: stitched": Scene(POINT_FILES, ("stitch point.toml --to out --formats csv,svg",)),
    "alike: stitched": Scene(
        ALIKE_FILES, ("straight alike.toml --json", "stitch alike.toml --to out --formats svg,exp")
    ),
    "block: stitched, continued": Scene(
        BLOCK_FILES,
        (
            "check block.toml --map map.svg",
            "stitch block.toml --to out --formats dst,csv",
            "continue out/block-reach-1of4.csv --line 1 --stitch 40 --back 1 --to rest.csv",
            "continue out/block-reach-2of4.dst --line 3 --to rest.dst",
        ),
    ),
    "shapes: stitched, then done": Scene(
        SHAPE_FILES,
        ("stitch shapes.toml --to out", "stitch shapes.toml --to again --stitched out/shapes.svg"),
        {"stitch shapes.toml --to again --stitched out/shapes.svg": ("shapes.toml", *DONE[:2])},
    ),
    **{
        f"paper: {kind}": Scene(
            BLOCK_FILES | TWO,
            (f"paper {'two' if kind in ('measure', 'customer') else 'block'}.toml --kind {kind} --to p{extra}",),
        )
        for kind, extra in {
            "trace": " --zone block",
            "through": " --mirror",
            "pounce": " --paper a4",
            "ruler": " --ruler 8 --foot '3/4'",
            "practice": " --paper roll:24in",
            "marks": " --option grid --grid-every 2",
            "measure": "",
            "customer": "",
        }.items()
    },
    "paper: one fill": Scene(
        {},
        (
            "paper --fill feather --square 5 --kind cut --slot 1/8 --to cut",
            "paper --fill spiral --circle 6 --kind trace --set spacing=3/4 --paper a3 --to trace",
        ),
    ),
    "one fill on one shape": Scene(
        LAKE_FILES,
        (
            "fill channel --sides '9,9 1/8,8 7/8,9' --diagonals '12 3/4,12 7/8' --set angle=45 --to a.svg",
            "fill rays --triangle 7 --to b.svg --json",
            "fill rings --rect 12x3 --units cm --to c.png",
            "fill pebble lake.svg --patch cove-1 --to d.svg",
            "fill motif --circle 5 --set art=knot --chance 9 --to e.svg",
        ),
    ),
    "what there is": Scene(
        {},
        (
            "fills",
            *(f"fills {kind}" for kind in ("feather", "channel", "motif", "rays", "crosshatch")),
            "fills spiral --units mm",
            "blocks",
            "blocks --to blocks.svg",
            "blocks 'ohio star' 'monkey wrench' --json",
        ),
    ),
    "plans begun": Scene(
        {"lake.svg": LAKE_SVG},
        (
            "new a.toml --drawing lake.svg",
            "new b.toml --blocks 3x2 --block 9 --pieced 'nine patch' --plain alternate --sashing 1 --border '1,4'",
            "new c.toml --blocks 2x2 --block 20 --on-point --units cm --border 5",
            "new d.toml --drawing lake.svg --width 60 --read lines --close-gaps 1/16",
            "check b.toml",
            "check c.toml --json",
            "check d.toml",
            "set b.toml title=Mine machine.stitches_per_inch=12 chance=9",
            "set b.toml machine.stitches_per_inch= units=cm",
        ),
    ),
    "what can't be used": Scene(
        LAKE_FILES | SMALL | {"typo.toml": BARE.format(kind="spirall"), "torn.toml": "title = [1,\n"},
        (
            "check nowhere.toml",
            "check typo.toml",
            "check torn.toml",
            "check lake.toml --option slow",
            "stitch lake.toml --to out --formats dst,dsx",
            "stitch lake.toml --to out --zone felid",
            "set small.toml chance=-3",
            "set small.toml batting.kind=woolen",
            "set small.toml top.blocks.size=0",
            "set small.toml a.inset=9in",
            "fill channel --to a.svg",
            "fill channel --square 4 --set spacing=0.001 --to a.svg",
            "fill channel --square 4 --set angel=45 --to a.svg",
            "fill spirall --square 4 --to a.svg",
            "fill spiral --square 4 --to a.gif",
            "fill feather --square 4 --set belly=0.1 --to a.svg",
            "fill channel --sides '9,9,30' --to a.svg",
            "fill channel --rect 12 --to a.svg",
            "paper small.toml --kind trase --to p",
            "paper small.toml --kind trace --paper b7 --to p",
            "ideas small.toml --zone c --to i.svg",
            "blocks 'ohyo star'",
            "new x.toml --blocks 3by3 --block 9",
            "compare small.toml --to c.png",
            "inspect small.toml",
            "check small.toml --strict",
        ),
    ),
}
