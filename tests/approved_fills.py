"""What the approved figures of fills are taken of: every fill in shapes of many kinds, each setting turned once."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from shapely.affinity import scale

from plumeline import fill
from plumeline.fills import find_fill
from plumeline.fills.kit.stack import fill_zone
from plumeline.geometry import as_region, disc
from plumeline.model import Fence, as_path
from plumeline.pipeline.layers import checked_layer
from plumeline.pipeline.lookup import ZoneSources
from plumeline.pipeline.single import zone_of
from shapes import IN, NAMED, polygon, random_regions, rectangle, regular, star

RAGGED, PIECED = (list(random_regions(7, seed=11))[place] for place in (0, 5))
SHAPES = {
    "square": rectangle(6, 6),
    "ragged with holes": scale(RAGGED, 0.7, 0.7),
    "pieced": scale(PIECED, 0.7, 0.7),
    "strip": rectangle(14, 1.3),
    "l": scale(NAMED["l12"], 0.6, 0.6),
    "star": star(5, 4.4, 1.9),
    "triangle": polygon([(0, 0), (6, 0.2), (0.3, -5)]),
    "frame": polygon([(0, 0), (9, 0), (9.2, 8.8), (0, 9)], [[(1.5, 1.5), (1.5, 7.5), (7.6, 7.4), (7.5, 1.5)]]),
}
"""The shapes that every fill is drawn in as it comes."""

OTHERS = {
    "disc": disc((0.0, 0.0), 3.2 * IN),
    "wobbly": scale(NAMED["wobbly"], 0.6, 0.6),
    "hexagon": regular(6, 4, 11.0),
    "cross": scale(NAMED["plus12"], 0.7, 0.7),
    "two holes": scale(NAMED["two holes"], 0.7, 0.7),
    "border": polygon([(0, 0), (24, 0), (24, 3), (0, 3)]),
    "tee": polygon([(0, 0), (9, 0), (9, 2.5), (6, 2.5), (6, 8), (3, 8), (3, 2.5), (0, 2.5)]),
    "kite": polygon([(0, -4.5), (3.4, 0), (0, 5.5), (-3.4, 0)]),
    "trapezium": polygon([(0, 0), (10, 0), (7.5, 4), (2.5, 4)]),
    "big": rectangle(11, 10),
}
SETTINGS = {
    "feather": [
        ("square", {"spines": "corners"}),
        ("square", {"spines": "sides", "centre": "rosette"}),
        ("hexagon", {"spines": "corners", "centre": "meet"}),
        ("wobbly", {"spines": "diagonal", "bow": 0.15}),
        ("border", {"spines": "along"}),
        ("border", {"spines": "wave", "waves": 3}),
        ("border", {"spines": "wave", "plume": "1/2 in", "variation": 0.3}),
        ("disc", {"spines": "wreath"}),
        ("frame", {"spines": "wave", "run": "from-middle"}),
        ("frame", {"spines": "along", "run": "to-middle"}),
        ("tee", {"spines": "branching"}),
        ("cross", {"spines": "auto"}),
        ("trapezium", {"spines": "from-corner", "corner": "bottom-left"}),
        ("triangle", {"spines": "fan"}),
        ("kite", {"spines": "fan", "corner": "top"}),
        ("square", {"style": "apart", "gap": "1/4 in"}),
        ("square", {"style": "apart", "belly": 0.15}),
        ("square", {"plume": "3/4 in"}),
        ("square", {"lean": 0.2}),
        ("square", {"stretch": 2.0, "variation": 0.0}),
        ("wobbly", {"clearance": "1/4 in"}),
        ("star", {"double_where_wide": True}),
        ("big", {"at": [120.0, 110.0], "spines": "corners"}),
        ("trapezium", {"density": 2}),
        ("two holes", {"spines": "branching"}),
    ],
    "spiral": [
        ("square", {"way": "to-the-middle"}),
        ("wobbly", {"look": "follow"}),
        ("wobbly", {"look": "straight"}),
        ("hexagon", {"look": "round", "spacing": "3/8 in"}),
        ("cross", {"corners": "sharp"}),
        ("square", {"density": 3}),
        ("kite", {"way": "to-the-middle", "look": "follow"}),
    ],
    "curl": [
        ("square", {"size": "1 in"}),
        ("square", {"spacing": "1/8 in"}),
        ("wobbly", {"variation": 0.0}),
        ("big", {"variation": 0.7}),
    ],
    "pebble": [("square", {"size": "1/2 in"}), ("kite", {"density": 3}), ("two holes", {"size": "3/4 in"})],
    "channel": [
        ("square", {"spacing": ["1/4 in", "3/4 in"]}),
        ("wobbly", {"angle": 30}),
        ("wobbly", {"edge": "half"}),
        ("square", {"edge": "full"}),
        ("two holes", {"run_on": True}),
        ("trapezium", {"along": True}),
        ("frame", {"piano_keys": True}),
        ("wobbly", {"along": True, "follow": "seam"}),
        ("square", {"density": 1.5, "angle": 45}),
        ("border", {"piano_keys": True, "spacing": "1 in"}),
    ],
    "crosshatch": [
        ("square", {"spacing": "5/8 in"}),
        ("wobbly", {"angle": 20}),
        ("square", {"on_point": False}),
        ("two holes", {"run_on": True}),
        ("wobbly", {"follow": "corners"}),
        ("square", {"density": 2}),
    ],
    "rings": [
        ("square", {"spacing": ["1/4 in", "1/2 in"]}),
        ("hexagon", {"rows": 4}),
        ("wobbly", {"follow": "straight"}),
        ("two holes", {"spacing": "1/2 in"}),
    ],
    "rays": [
        ("square", {"at": "corner"}),
        ("square", {"at": [30.0, 40.0], "count": 12}),
        ("border", {"middles": 3}),
        ("wobbly", {"spacing": "3/4 in", "least": "1/4 in"}),
        ("hexagon", {"radius": "1 in", "rim": True}),
        ("hexagon", {"stop_short": False}),
        ("two holes", {"count": 24}),
    ],
    "chords": [
        ("square", {"from": "thirds", "to": "quarters"}),
        ("hexagon", {"from": "middles", "to": "middles"}),
        ("wobbly", {"count": 6}),
    ],
    "outline": [
        ("wobbly", {"distance": "1/2 in"}),
        ("hexagon", {"rows": 3, "spacing": "3/8 in"}),
        ("square", {"times": 2}),
        ("wobbly", {"follow": "straight"}),
    ],
    "continuous-curve": [("hexagon", {"depth": "1/2 in"}), ("wobbly", {"depth": "1/8 in"})],
    "meander": [
        ("square", {"spacing": "3/4 in"}),
        ("square", {"wander": 2.5}),
        ("wobbly", {"density": 3}),
        ("two holes", {"wander": 1.5}),
    ],
    "echo": [
        ("square", {"spacing": ["1/4 in", "1/2 in"]}),
        ("hexagon", {"count": 3}),
        ("two holes", {"of": "hole"}),
        ("cross", {"corners": "sharp"}),
        ("wobbly", {"follow": "straight"}),
        ("square", {"density": 2}),
    ],
    "motif": [
        *(("square", {"art": art}) for art in ("clover", "scroll", "plume", "fan", "tulip", "star", "knot")),
        *(("triangle", {"art": f"{art}-triangle"}) for art in ("leaf", "clover", "scroll", "plume", "fan", "tulip")),
        *(("triangle", {"art": f"{art}-triangle"}) for art in ("star", "knot")),
        *(("frame", {"art": f"{art}-border"}) for art in ("leaf", "clover", "plume", "fan", "tulip", "star", "knot")),
        ("wobbly", {"fit": "inscribed-circle"}),
        ("wobbly", {"fit": "inscribed-square"}),
        ("kite", {"fit": "outline"}),
        ("big", {"fit": "70 %", "turn": 30}),
        ("hexagon", {"enlarge": "60 %"}),
        ("big", {"margin": "1/2 in"}),
        ("big", {"closest": "3/8 in", "art": "scroll"}),
        ("square", {"density": 1.5}),
    ],
    "edge-to-edge": [
        *(("big", {"art": f"{art}-border"}) for art in ("leaf", "clover", "plume", "fan", "tulip", "star", "knot")),
        ("big", {"height": "2 in"}),
        ("wobbly", {"gap": "1/2 in"}),
        ("big", {"stagger": "none"}),
    ],
    "ditch": [],
}
"""Every setting of every fill turned once, in a shape where it does something."""

STACKS = {
    "motif, echoes, meander": (
        "big",
        [{"kind": "motif", "art": "clover"}, {"kind": "echo", "count": 2}, {"kind": "meander", "spacing": "3/8 in"}],
    ),
    "motif with background inside": (
        "big",
        [
            {"kind": "motif", "art": "fan", "inside": "background", "fit": "80 %"},
            {"kind": "pebble", "size": "1 1/4 in"},
        ],
    ),
    "motif with echoes inside": (
        "big",
        [{"kind": "motif", "art": "plume", "inside": "echo"}, {"kind": "echo", "count": 1}, {"kind": "meander"}],
    ),
    "outline, then curls": ("wobbly", [{"kind": "outline", "rows": 2, "spacing": "1/4 in"}, {"kind": "curl"}]),
    "echoes of a motif": ("hexagon", [{"kind": "motif", "art": "star"}, {"kind": "echo", "of": "motif"}]),
    "channels of a density behind a motif": ("big", [{"kind": "motif"}, {"kind": "channel", "density": 3}]),
}
FENCED = ("feather", "spiral", "channel", "meander", "rings", "echo", "rays", "pebble")
TINY = ("feather", "spiral", "curl", "motif", "meander", "echo", "crosshatch", "edge-to-edge", "rays", "pebble")


def cases():
    """Return the cases by name: how each is drawn in a space so many millionths of a millimetre larger."""
    found = {}
    for kind, turned in SETTINGS.items():
        for shape in SHAPES:
            found[f"{kind} in {shape}"] = _drawn(kind, shape, {})
        for shape, settings in turned:
            said = ", ".join(f"{key} {value}" for key, value in settings.items())
            found[f"{kind} in {shape}: {said}"] = _drawn(kind, shape, settings)
    found |= {f"{name} (a stack)": _stacked(*stack) for name, stack in STACKS.items()}
    found |= {f"{kind} between fences": _stacked("big", [{"kind": kind}], fenced=True) for kind in FENCED}
    found |= {f"{kind} where there is hardly room": _drawn(kind, "tiny", {}) for kind in TINY}
    return found


@cache
def shape_of(name, nudge):
    tiny = polygon([(0, 0), (1.1, 0), (1.0, 0.6), (0.1, 0.7)])
    region = (SHAPES | OTHERS | {"tiny": tiny})[name]
    return as_region(scale(region, 1 + nudge * 1e-9, 1 + nudge * 1e-9, origin=(0, 0))) if nudge else as_region(region)


def _drawn(kind, shape, settings):
    return lambda nudge: fill(kind, shape_of(shape, nudge), **settings)


def _stacked(shape, stack, *, fenced=False):
    def draw(nudge):
        zone = zone_of(shape_of(shape, nudge))
        layers = [
            checked_layer(
                find_fill(said["kind"]), {k: v for k, v in said.items() if k != "kind"}, units="mm", prefix=""
            )
            for said in stack
        ]
        if fenced:
            middle = as_path(np.array([(5.0, -1.0), (5.6, 4.0), (4.4, 7.0), (5.0, 11.0)]) * IN)
            soft = as_path(np.array([(5.5, 6.0), (12.0, 6.5)]) * IN)
            hole = disc((8 * IN, 3 * IN), IN)
            zone = replace(
                zone,
                region=as_region(zone.region.difference(hole)),
                fences=(Fence(middle), Fence(soft, 6.0)),
                left_open=(hole,),
                enter=(0.0, 0.0),
                leave=(11 * IN, 10 * IN),
            )
        return fill_zone(zone, [layer.resolved(ZoneSources(zone)) for layer in layers])

    return draw
