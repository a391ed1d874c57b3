"""One real quilt from drawing to stitch file, looked at from outside: with shapely, and with DST's published table.

The drawing has an editor's habits (nested groups, copies, matrices, mm and inches, a hidden layer); the plan has
joined, divided and overlaid zones and most of the fills. See tests/data/harbour-windows.svg and .toml.
"""

from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import Point

import plumeline
from plumeline.output.dst import write_dst

PLAN = Path(__file__).parent / "data" / "harbour-windows.toml"
IN = 25.4
STITCH, TIE, JUMP = 0, 1, 2


@pytest.fixture(scope="module")
def quilt():
    return plumeline.stitch(plumeline.read_plan(PLAN))


def outline(quilt, *names):
    found = [p.outline for p in quilt.top.patches if p.name in names]
    assert len(found) == len(names)
    return shapely.union_all([p.buffer(1e-6) for p in found])


# --- the drawing ---------------------------------------------------------------------------------------------------


def test_the_drawing_is_read_at_true_size(quilt):
    """Every figure is taken from the drawing by hand: blocks of 9 in, arches of 4 in, an oval of 2.6 x 1.6 in."""
    assert quilt.top.size == pytest.approx((40 * IN, 52 * IN), abs=0.01)
    area = {p.name: p.outline.area / IN**2 for p in quilt.top.patches}
    middle = {p.name: np.array(p.outline.centroid.coords[0]) / IN for p in quilt.top.patches}
    assert len(area) == 4 + 23 + 4 * 6 + 2 * 4 + len(["oval", "sun", "sun-sky", "porthole", "porthole-ground"]) + 4
    assert sum(area.values()) == pytest.approx(40 * 52, abs=0.01)
    assert area["border-left"] == pytest.approx(4 * 52, abs=1e-3)
    assert area["sash-across-2-2"] == pytest.approx(27, abs=1e-3)
    assert area["sun"] == pytest.approx(np.pi * 2.25**2, rel=2e-3)
    assert area["oval"] == pytest.approx(np.pi * 2.6 * 1.6, rel=2e-3)
    assert area["porthole"] == pytest.approx(20 - (4 - np.pi) * 1.25**2, rel=2e-3)
    assert area["window-1-spandrel-left"] == pytest.approx((1 - np.pi / 4) * 16, rel=0.01)
    assert middle["window-3-top-left"] == pytest.approx(np.array([4 + 9, 3.5 + 57]) - middle_of_copy(middle), abs=0.02)
    assert middle["boat-2-sail-aft"][0] > middle["boat-2-sail-fore"][0]  # the second boat is mirrored
    assert "old-border" not in area
    assert set(quilt.top.guides) == {"spine-tide", "spine-tide-2", "fence-quay", "fence-haze", "fold"}
    assert {f.code for f in quilt.top.findings} >= {"not-read", "patch-over"}


def middle_of_copy(middle):
    # window-3 is window-1 moved down by 24 in and turned by half about the middle of its block
    x, y = middle["window-1-top-left"]
    return np.array([x - 4, y - 3.5 + 24])


# --- the stitches --------------------------------------------------------------------------------------------------


def test_every_stitch_lies_on_the_quilt(quilt):
    whole = shapely.union_all([p.outline for p in quilt.top.patches]).buffer(0.05)
    for points in quilt.points:
        sewn = points.xy[points.kind <= TIE]
        assert len(sewn) > 50_000
        assert shapely.contains_xy(whole, sewn[:, 0], sewn[:, 1]).all()


def test_no_zone_is_stitched_outside_its_own_space(quilt):
    for zone, filled in zip(quilt.zones, quilt.filled):
        room = zone.outline.buffer(0.05)
        for stroke in filled.strokes:
            assert room.covers(shapely.linestrings(stroke.path)), zone.label


def test_stitches_are_even(quilt):
    for points in quilt.points:
        step = np.hypot(*np.diff(points.xy, axis=0).T)
        sewn = points.kind[1:] <= TIE
        assert step[sewn].max() <= 1.2 * 2.54 + 1e-9
        full = step[(points.kind[1:] == STITCH) & sewn]
        assert np.median(full) > 0.9 * 2.54


def test_travel_never_lies_in_a_seam_inside_a_joined_zone(quilt):
    """Inside: the four panes and two spandrels of a window, the lattice of the sashing, all that a shape lies on."""
    windows = [
        outline(quilt, *(p.name for p in quilt.top.patches if p.name.startswith(f"window-{k}-"))) for k in (1, 2, 3, 4)
    ]
    compass = Point(*(np.array([14.25, 26]) * IN)).buffer(8 * IN / 2**0.5, quad_segs=1)
    moon = Point(*(np.array([25.75, 38]) * IN)).buffer(3.5 * IN, quad_segs=64)
    sashes = [p.name for p in quilt.top.patches if p.name.startswith(("sash-", "cornerstone-"))]
    joined = shapely.union_all([s.buffer(-0.5) for s in (*windows, compass, moon, outline(quilt, *sashes))])
    hidden = [
        shapely.linestrings(line.path[span.start : span.end + 1])
        for line in quilt.lines
        for span in line.spans
        if span.kind == "seam"
    ]
    assert shapely.length(hidden).sum() > 5 * 1000  # there is something to look at
    assert shapely.length(shapely.intersection(hidden, joined)).sum() < 1e-6
    seams = shapely.union_all([shapely.linestrings(s.path) for s in quilt.top.seams]).buffer(0.6)
    assert shapely.length(shapely.difference(hidden, seams)).sum() < 1e-6


def test_threads_are_not_mixed_and_every_zone_is_stitched(quilt):
    thread_of = {zone.name: "main" for zone in quilt.zones} | dict.fromkeys(
        ("oval", "skies", "porthole", "moon"), "sea"
    )
    strokes = [(zone.name, s.thread) for zone, f in zip(quilt.zones, quilt.filled) for s in f.strokes]
    assert set(strokes) == set(thread_of.items())
    for line in quilt.lines:
        used = {strokes[span.stroke][1] for span in line.spans if span.stroke is not None}
        assert used == {line.thread}
    assert all(row["stitches"] > 0 for row in quilt.report["zones"] if row["fill"] != "rays")


# --- the stitch file -----------------------------------------------------------------------------------------------

# What each bit of a record's three bytes adds, bit 7 first: (axis, 0.1 mm). The published table of the format.
DST_BITS = (
    ("y", 1), ("y", -1), ("y", 9), ("y", -9), ("x", -9), ("x", 9), ("x", -1), ("x", 1),
    ("y", 3), ("y", -3), ("y", 27), ("y", -27), ("x", -27), ("x", 27), ("x", -3), ("x", 3),
    ("", 0), ("", 0), ("y", 81), ("y", -81), ("x", -81), ("x", 81), ("", 0), ("", 0),
)  # fmt: skip


def decode(data):
    """Return positions in mm (y up), and of each record whether it is a jump, a stop, the end."""
    records = np.frombuffer(data[512:], dtype=np.uint8)
    records = records[: len(records) // 3 * 3].reshape(-1, 3)
    bits = np.unpackbits(records, axis=1).astype(int)
    step = [bits @ np.array([value if axis == a else 0 for a, value in DST_BITS]) for axis in "xy"]
    last = records[:, 2]
    end = int(np.flatnonzero(last == 0xF3)[0])
    return (
        np.cumsum(np.column_stack(step), axis=0)[:end] / 10,
        (last[:end] & 0xC0) == 0x80,
        (last[:end] & 0xC0) == 0xC0,
        end + 1,
    )


def test_the_stitch_file_by_the_published_table(quilt):
    (points,) = quilt.points
    data = write_dst(points, "Harbour windows")
    at, jump, stop, records = decode(data)
    needle = at[~jump & ~stop]
    sewn = points.xy[points.kind <= TIE]
    assert len(needle) == len(sewn)
    # the same drawing, the right way up, wherever its origin lies; no drift over 60,000 stitches
    wanted = sewn * (1, -1)
    shift = needle[0] - wanted[0]
    assert np.abs(needle - wanted - shift).max() <= 0.1 + 1e-9
    # between two needle points of one line there is no jump; and every other line begins with one
    place = np.flatnonzero(~jump & ~stop)
    jumps = np.diff(np.concatenate([[0], np.cumsum(jump)])[place])
    another = np.diff(points.line[points.kind <= TIE]) != 0
    assert another.sum() == len(quilt.lines) - 1
    assert (jumps[~another] == 0).all()
    assert (jumps[another] > 0).all()
    header = dict(field.split(":", 1) for field in data[:512].decode("ascii").split("\x1a")[0].split("\r") if field)
    assert int(header["ST"]) == records
    assert int(header["CO"]) == stop.sum()
    low, high = np.minimum(at.min(axis=0), 0), np.maximum(at.max(axis=0), 0)
    extents = [int(header[k]) for k in ("+X", "-X", "+Y", "-Y")]
    assert extents == [round(v * 10) for v in (high[0], -low[0], high[1], -low[1])]
