"""What must agree between the rooms: the report, the lines, the needle points and the files of one quilt.

Every figure is counted here anew, from the hand-over or file it speaks of; nothing is taken from the code that made it.
"""

import csv
import io
import json
import random
import xml.etree.ElementTree as ET
from itertools import pairwise

import numpy as np
import pytest
import shapely

from plumeline.tolerances import DOUBLED_MM, MEET_MM, SAME_MM

IN = 25.4
SVG = "{http://www.w3.org/2000/svg}"
SEWN_CLASSES = ("stitch", "backtrack", "step", "seam-travel", "edge-travel")
STITCH, TIE = 0, 1
SPOT_MM = 2.0
"""From one looked-at place of a stroke to the next."""

FILLS = (
    'kind = "channel"\nspacing = 1\nangle = {angle}',
    'kind = "crosshatch"\nspacing = "1 1/2"',
    'kind = "rings"\nrows = 2',
    'kind = "spiral"\nspacing = 1',
    'kind = "echo"\nspacing = "3/4"',
    'kind = "meander"\nspacing = "3/4"',
    'kind = "rays"\nspacing = 1',
    'kind = "outline"',
    'kind = "outline"\ntimes = 2',
    'kind = "continuous-curve"',
    'kind = "chords"\ncount = 6',
    'kind = "feather"\nplume = 1',
)


def random_plan(number):
    """Return the text of a small plan by its number: a table of blocks, a few zones, any fill, machine and order."""
    rng = random.Random(number)
    columns, rows = rng.randint(1, 3), rng.randint(1, 2)
    reach = rng.choice(["", "reach = [9, 8]\n", "reach = [20, 9]\n"])
    bobbin = rng.choice(["", "bobbin_yards = 8\n", "bobbin_yards = 60\n"])
    text = [
        f'title = "Plan {number}"\nunits = "in"\nchance = {number}',
        f'[top.blocks]\nsetting = "straight"\nsize = {rng.choice([5, 6, 7])}',
        f"rows = {json.dumps([['block'] * columns] * rows)}",
        *(['borders = [{ name = "edge", width = 2 }]'] if rng.random() < 0.5 else []),
        f'[machine]\n{reach}{bobbin}order = "{rng.choice(["rows", "centre-out", "any"])}"',
        f"trimmer = {rng.choice(['true', 'false'])}",
    ]
    for k in range(columns * rows):
        row, column = divmod(k, columns)
        divide = rng.choice(["", 'divide = [{ by = "frame", width = 1 }]\n', ""])
        fence = rng.choice(["", "", "fences = [[[1, 0], [3, 4]]]\n"]) if not divide else ""
        text.append(
            f'[[zone]]\nname = "zone {k}"\npatches = ["block-{row + 1}-{column + 1}"]\ninset = "1/8"\n{divide}{fence}'
        )
        fills = [rng.choice(FILLS).format(angle=rng.choice([0, 30, 45, 90])) for _ in range(2)]
        if divide:
            text.append(f"[zone.fill.frame]\n{fills[0]}\n[zone.fill.inside]\n{fills[1]}")
        else:
            text.append(f"[zone.fill]\n{fills[0]}")
    return "\n".join(text) + "\n"


def length(path):
    return float(np.hypot(*np.diff(path, axis=0).T).sum())


def check_report(quilt):
    """Check the report against zones, lines and needle points."""
    report = quilt.report
    totals, rows = report.totals, report.zones
    assert [(r.name, r.part, r.number) for r in rows] == [(z.name, z.part, z.number) for z in quilt.zones]
    for row, zone in zip(rows, quilt.zones):
        assert row.area_mm2 == pytest.approx(zone.region.area)
    sewn = sum(length(line.path) for line in quilt.lines)
    assert totals.sewn_mm == pytest.approx(sewn)
    for kind, figure in (
        ("backtrack", "backtracked_mm"),
        ("seam", "seam_travel_mm"),
        ("edge", "edge_travel_mm"),
        ("step", "step_mm"),
    ):
        spans = [
            length(line.path[span.start : span.end + 1])
            for line in quilt.lines
            for span in line.spans
            if span.kind == kind
        ]
        assert getattr(totals, figure) == pytest.approx(sum(spans), abs=1e-6), kind
        assert sum(getattr(r, figure) for r in rows) <= sum(spans) + 1e-6  # travel between zones is nobody's
    # what a fill wants to go over again is gone over again; where a reach cuts its zone, lines are paired anew
    for zone, (row, filled) in enumerate(zip(rows, quilt.filled)):
        again = [s for s in filled.strokes if s.role == "backtrack"]
        wanted = sum(length(np.vstack([s.path, s.path[:1]]) if s.closed else s.path) for s in again)
        cut = len({line.reach for line in quilt.lines for span in line.spans if span.zone == zone}) > 1
        assert cut or row.backtracked_mm >= wanted * (1 - 1e-3) - 1e-6
    between = _between_zones(quilt)
    assert sum(r.sewn_mm for r in rows if not r.done) == pytest.approx(sewn - between, rel=1e-9, abs=1e-6)
    needle = [p.kind <= TIE for p in quilt.points]
    stitches = sum(
        int((np.diff(p.line[n]) == 0).sum()) for p, n in zip(quilt.points, needle)
    )  # one less than the points of each line
    assert totals.stitches == stitches
    assert sum(r.stitches for r in rows) <= stitches
    assert totals.lines == len(quilt.lines)
    gaps = [
        float(np.hypot(*(b.path[0] - a.path[-1])))
        for a, b in pairwise(quilt.lines)
        if a.reach == b.reach and a.thread == b.thread
    ]
    assert totals.jumps == len(gaps)
    assert totals.jump_mm == pytest.approx(sum(gaps))
    assert totals.longest_line_mm == pytest.approx(max(length(line.path) for line in quilt.lines))
    for line in quilt.lines:  # spans cover their line without a hole, in order
        assert line.spans[0].start == 0
        assert line.spans[-1].end == len(line.path) - 1
        assert all(0 <= s.start < s.end < len(line.path) for s in line.spans)
        assert all(a.end == b.start for a, b in pairwise(line.spans))
    _check_spans(quilt)


def _check_spans(quilt):
    """Check that a span sews a stretch of its own stroke, and that all spans together sew every stroke.

    Points between a span's ends are the stroke's own; its ends lie where it was split, or where lines meet: half a
    thread away at most. A stretch on another stroke is sewn once.
    """
    strokes = [(k, s) for k, f in enumerate(quilt.filled) for s in f.strokes]
    drawn = [shapely.LineString(np.vstack([s.path, s.path[:1]]) if s.closed else s.path) for _, s in strokes]
    sewn = []
    for line in quilt.lines:
        for span in line.spans:
            stretch = line.path[span.start : span.end + 1]
            if span.stroke is None:
                assert span.kind in ("seam", "edge", "step")
                continue
            assert span.zone == strokes[span.stroke][0]
            off = shapely.distance(shapely.points(stretch), drawn[span.stroke])
            assert off[1:-1].max(initial=0) < SAME_MM, span
            assert off.max() < MEET_MM, span
            sewn.append(stretch)
    tree = shapely.STRtree([shapely.LineString(path) for path in sewn])
    for (zone, stroke), line in zip(strokes, drawn):
        if zone in quilt.done or line.length == 0:
            continue
        spots = line.interpolate(np.linspace(0, line.length, max(int(line.length / SPOT_MM), 8)))
        pairs = tree.query_nearest(spots, all_matches=False, return_distance=True)
        assert pairs[1].max() < MEET_MM + DOUBLED_MM, (stroke.fill, pairs[1].max())


def _between_zones(quilt):
    """Length of the travel that leads from one zone to another; a stop for the bobbin on its way changes nothing."""
    zone_of = dict(enumerate(i for i, f in enumerate(quilt.filled) for _ in f.strokes))
    sewn = []  # the spans of each stretch that is sewn without a move, with their lengths
    for number, line in enumerate(quilt.lines):
        before = quilt.lines[number - 1]
        if not (number and before.reach == line.reach and np.array_equal(before.path[-1], line.path[0])):
            sewn.append([])
        sewn[-1] += [(zone_of.get(s.stroke), length(line.path[s.start : s.end + 1])) for s in line.spans]
    between = 0.0
    for spans in sewn:
        known = [zone for zone, _ in spans]
        for k, (_, far) in enumerate(spans):
            before = next((z for z in reversed(known[: k + 1]) if z is not None), None)
            after = next((z for z in known[k:] if z is not None), None)
            between += far if before is not None and after is not None and before != after else 0.0
    return between


def check_files(quilt, folder, names, *, printed=""):
    """Check the drawing, the stitch list and ``report.json`` against the quilt, and what was printed."""
    data = json.loads((folder / "report.json").read_text(encoding="utf-8"))
    assert data["files"] == list(names)
    assert all((folder / name).is_file() for name in names)
    assert [f["code"] for f in data["findings"]] == [f.code for f in quilt.report.findings]
    for found in quilt.report.findings:
        assert not printed or " ".join(found.text.split())[:40] in " ".join(printed.split()), found.code
    drawing = next(
        n
        for n in names
        if n.endswith(".svg") and not n.endswith(("preview.svg", "path.svg", "up.svg")) and "sheet" not in n
    )
    root = ET.fromstring((folder / drawing).read_text(encoding="utf-8"))
    paths = list(root.iter(SVG + "path"))
    count = {kind: sum(p.get("class") == kind for p in paths) for kind in ("patch", "seam", "fence", "outline")}
    assert count["patch"] == sum(1 + len(p.outline.interiors) for p in quilt.top.patches)
    assert count["seam"] == len(quilt.top.seams)
    assert count["outline"] == sum(
        1 + len(z.region.interiors) for i, z in enumerate(quilt.zones) if i not in quilt.done
    )
    assert count["fence"] == sum(len(z.fences) + len(f.fences) for z, f in zip(quilt.zones, quilt.filled))
    kinds = {
        "backtrack": "backtracked_mm",
        "step": "step_mm",
        "seam-travel": "seam_travel_mm",
        "edge-travel": "edge_travel_mm",
    }
    drawn = {kind: sum(_drawn_mm(p) for p in paths if p.get("class") == kind) for kind in SEWN_CLASSES}
    for kind, figure in kinds.items():
        assert drawn[kind] == pytest.approx(data["totals"][figure], rel=1e-3, abs=0.5), kind
    assert sum(drawn.values()) == pytest.approx(data["totals"]["sewn_mm"], rel=1e-3)
    table = [n for n in names if n.endswith(".csv")]
    rows = [row for n in table for row in csv.reader(io.StringIO((folder / n).read_text(encoding="utf-8")))]
    if rows:
        sewn = sum(("stitch" in row) or ("tie" in row) for row in rows)
        assert sewn == sum(int((p.kind <= TIE).sum()) for p in quilt.points)


def _drawn_mm(path):
    numbers = path.get("d").replace("M", " ").replace("L", " ").replace("Z", " ").replace(",", " ").split()
    return length(np.array(numbers, dtype=float).reshape(-1, 2))
