"""Plans that tests share."""

PLAIN_AND_STAR = """
title  = "Plain and Star"
units  = "in"                         # "in", "mm" or "cm"
chance = 7                            # another number, another drawing

[top]
drawing    = "plain-and-star.svg"     # beside this file; closed shapes are patches
close_gaps = "1/32"                   # corners and edges closer than this are the same
guides     = ["fence-*", "spine-*"]   # open lines that cut no patch
pressed    = "to-one-side"            # "open": seams are never ditched

[machine]                             # all optional
guided = "computer"
stitches_per_inch = 10
reach = [22, 14]
trimmer = false
ties = "tiny"
start_stop_seconds = 45
order = "rows"
bobbin_yards = 100                    # no default: hers
[batting]
widest_gap = 4                        # from the batting's label
[thread.main]
colour = "#e9dfc8"

[[zone]]
name       = "big star"
patches    = ["plain-2-2", "point-*"] # joined: the seams inside are ignored
inset      = "1/8"
fences     = ["fence-1", { line = "fence-2", soft = "3/8" }]
leave_open = ["label"]
travel     = "outer-seams"            # "any-seam", "none"
thread     = "main"
divide     = [ { by = "frame", width = "1 1/4" }, { by = "on-point" } ]
[zone.fill.frame]                     # one table a part
kind = "rings"
rows = 3
[zone.fill.inside]
kind = "feather"
spines = "corners"
[[zone.fill.corner]]                  # a stack: each takes what the one before left
kind = "motif"
art = "leaf"
[[zone.fill.corner]]
kind = "echo"
count = 2
[[zone.fill.corner]]
kind = "meander"
spacing = "1/4"

[[zone]]
name    = "plain squares"
patches = ["plain-*", "!plain-2-2"]
each    = "patch"                     # one zone a patch
[zone.fill]                           # undivided: one fill
kind = "spiral"
spacing = "1/2"

[[zone]]
name  = "point frame"
shape = { kind = "on-point", size = 14, at = "cornerstone-2-2" }   # laid over the seams
[zone.fill]
kind = "rings"

[options.rulers."big star".inside]      # an option replaces the fill of a zone's part
kind = "crosshatch"
[options.rulers."plain squares"]
kind = "channel"
spacing = 1
angle = 45
"""

BLOCKS = """
title = "Blocks"
[top.blocks]                          # instead of a drawing
setting = "on-point"                  # or "straight"
size    = 12                          # finished side of a block
rows    = [ ["star", "star", "star"], ["star", "star", "star"], ["star", "star", "star"] ]
between = "plain"                     # on point: the blocks between the rows
sashing = { width = "2 1/2", outer = true, cornerstones = true }   # optional
borders = [ { name = "inner", width = 1 }, { name = "outer", width = "5 1/2", corners = "mitred" } ]
[top.blocks.pieces]
star = { lines = [[[0,0],[6,6]]] }    # lines or a grid that cut the block
"""

MEASURED = """
title = "One block"
units = "in"
[top.measured]                        # from a tape measure
sides = [14, "14 1/8", "13 7/8", 14]
diagonals = ["19 3/4", "19 7/8"]
[[zone]]
name = "block"
patches = ["block"]
enter = [1, 1]
leave = ["13", "13 1/2"]
vary = true
divide = [ { by = "wedges", count = 8, as = "ray" } ]
[zone.fill."ray-*"]
kind = "spiral"
[zone.fill.ray-1]
kind = "meander"
"""

METRIC = """
title = "Metrisch"
units = "cm"
[top]
drawing = "art/top.svg"
[[zone]]
name = "all"
patches = ["*"]
each = "joined"
inset = "3 mm"
leave_open = [{ centre = [30, "30"], radius = 2 }]
fences = [[[0, 0], [10, 10]], { line = [[1, 0], ["5 mm", 3]], soft = 1 }]
divide = [ { by = "circle", fit = 90 }, { by = "grid", rows = 2, cols = 3 } ]
[[zone]]
name = "oval"
shape = { kind = "oval", width = 20, height = 10, at = ["a", "b", "c"], turn = 30 }
[[zone]]
name = "kite"
shape = { kind = "polygon", points = [[0, 0], [5, 5], [0, 5]] }
[[zone]]
name = "disc"
shape = { kind = "circle", radius = 3, at = ["10", 20] }
divide = [ { by = "line", line = "spine-1" } ]
"""

EXAMPLES = {"plain and star": PLAIN_AND_STAR, "blocks": BLOCKS, "measured": MEASURED, "metric": METRIC}
