"""One top of 117 patches as some 50 general tools write it (`benchmarks/foreign_top.py`), against how it is built."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from foreign_top import misses
from plumeline.top import SaidSize, from_drawing

FOLDER = Path(__file__).parent / "data" / "foreign"
FILES = sorted(p.name for p in FOLDER.iterdir())
WIDTH = SaidSize(width_mm=42 * 25.4)

SAYS_NO_SIZE = {
    "drawsvg.svg", "ezdxf-blocks-no-unit.dxf", "ezdxf-r12-polylines.dxf", "ezdxf-seams.dxf", "gnuplot.svg",
    "matplotlib-axes.svg", "pstoedit.dxf", "reportlab.svg", "shapely.svg", "skia.svg", "svgpathtools.svg",
    "toyplot.svg", "turtle.svg", "web-chart.svg",
}  # fmt: skip
"""Of charts, plots and plain DXF: they are as wide as she says."""

NAMED = {
    "editor-labels.svg", "editor-layers-in.svgz", "editor-layers-mm.svg", "ezdxf-blocks-no-unit.dxf",
    "ezdxf-hatches.dxf", "ezdxf-loops-of-lines.dxf", "ezdxf-lwpolylines-mm.dxf", "ezdxf-r12-polylines.dxf",
    "figured.svg", "layer-ids.svg", "one-path-a-colour.svg", "svgwrite.svg", "titles.svg",
}  # fmt: skip
"""Files with labels, layers, ids or titles; the others tell the families by their colours."""

NOTHING_TOLD = {"outlines-only.svg", "seams-only.svg", "ezdxf-seams.dxf", "pstoedit.dxf", "graphviz.svg"}
"""Neither names nor colours, or a name of its own for each patch."""


@pytest.mark.parametrize("name", FILES)
def test_every_tool_tells_the_same_top(name):
    top = from_drawing(FOLDER / name, size=WIDTH if name in SAYS_NO_SIZE else None, unit="cm")
    off_in = 0.03 if name == "drawn-by-eye.svg" else 0.01
    assert misses(top, names=name in NAMED, families=name not in NOTHING_TOLD, off_in=off_in) == []
    # what there is to say is said once for each kind, in the plan's unit
    assert len({f.code for f in top.findings}) == len(top.findings)
    assert [f.text for f in top.findings if re.search(r"\d (sq )?(in|mm)\b", f.text)] == []


def test_the_files_are_there():
    assert len(FILES) > 45
    assert set(FILES) >= SAYS_NO_SIZE | NAMED | NOTHING_TOLD
