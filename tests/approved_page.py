"""What the approved figures of the page are taken of: a plan, and what is asked and changed there in turn."""

from __future__ import annotations

PAGE_PLAN = """title = "Page"
chance = 4
[prices.fills]
"*" = { per_hour = 30 }
[top.blocks]
size = ~5~
rows = [["a", "b"]]
borders = [{ name = "rim", width = 2 }]
[top.blocks.pieces]
b = "half square triangle"
[batting]
widest_gap = 4
[[guide]]
name = "bone"
patch = "a-1-1"
spine = { corner = "top-left" }
[[zone]]
name = "a"
patches = ["a-*"]
each = "patch"
[zone.fill]
kind = "spiral"
spacing = "5/8"
[[zone]]
name = "b"
patches = ["b-*"]
each = "joined"
[zone.fill]
kind = "rays"
[[zone]]
name = "rim"
patches = ["rim"]
[zone.fill]
kind = "channel"
spacing = 1
[options.two.a]
kind = "rings"
spacing = "3/4"
"""

MARKS = [
    {"kind": "spine", "points": [[55.0, 60.0], [110.0, 120.0], [170.0, 165.0]]},
    {"kind": "fence", "points": [[60.0, 150.0], [150.0, 70.0]], "soft_mm": 4.0},
    {"kind": "open", "points": [[150.0, 150.0]], "radius_mm": 9.0},
]
A = {"zone": "a", "part": "", "number": 1}
ASKED = (
    ("GET", "/state", None),
    ("GET", "/data", None),
    ("GET", "/fills", None),
    ("GET", "/zones", None),
    ("GET", "/space?zone=a&part=&number=1", None),
    ("GET", "/ideas?zone=b", None),
    ("GET", "/beside?option=two", None),
    ("POST", "/try", {**A, "stack": [{"kind": "curl", "size": 1}]}),
    ("POST", "/grow", {**A, "marks": MARKS}),
    ("POST", "/edit", {"do": "film", **A, "marks": MARKS}),
    ("GET", "/space?zone=a&part=&number=1", None),
    ("POST", "/edit", {"do": "choose", "zone": "b", "stack": [{"kind": "rays", "spacing": "3/4"}], "also": ["rim"]}),
    ("POST", "/edit", {"do": "divide", "zone": "b", "steps": [{"by": "frame", "width": "1/2"}]}),
    ("POST", "/edit", {"do": "part-off", **A, "name": "alone"}),
    ("POST", "/edit", {"do": "keep", "name": "mine"}),
    ("POST", "/edit", {"do": "set", "key": ["machine", "stitches_per_inch"], "value": 12}),
    ("POST", "/edit", {"do": "join", "name": "both", "patches": ["b-1-2-*", "rim-top"]}),
    ("GET", "/text", None),
    ("POST", "/edit", {"do": "undo"}),
    ("POST", "/edit", {"do": "undo"}),
    ("POST", "/edit", {"do": "redo"}),
    ("POST", "/edit", {"do": "option", "option": "two"}),
    ("GET", "/zones", None),
    ("GET", "/text", None),
    ("GET", "/data", None),
    ("POST", "/edit", {"do": "choose", "zone": "nobody", "stack": []}),
    ("POST", "/edit", {"do": "set", "key": ["chance"], "value": "x"}),
)
"""Requests in their order; after each change the page waits until the quilt is joined and measured."""
