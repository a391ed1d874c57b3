"""One colour for each kind of stitching, in the drawing, the path picture and the sheets alike."""

from __future__ import annotations

__all__ = ["ASIDE", "LINES", "REST", "SHOWN", "START", "STOP"]

LINES = {
    "stitch": "#22304a",
    "backtrack": "#b1443a",
    "step": "#2f7d4f",
    "seam-travel": "#3b78b5",
    "edge-travel": "#d0861d",
    "jump": "#9a4fb0",
}
"""By class of the drawing."""

ASIDE, REST = "#a89f92", "#22304a"
"""What is on the cloth already; places to rest."""

SHOWN = {"shown-seam": "#e8590c", "shown-by": "#f2b705"}
"""A crooked seam that shows, and the straight line that shows it: broad bands below the stitching."""

START, STOP = "#1f7a3d", "#a3212a"
