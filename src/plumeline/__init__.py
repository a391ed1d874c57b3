"""plumeline: quilting lines that fit the open spaces of a pieced top.

Importing this package is cheap: heavy libraries load with the first call.
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

_HOME = {
    "fill": "plumeline.pipeline.single",
    "join": "plumeline.lines",
    "needle_points": "plumeline.stitches",
    "read_plan": "plumeline.quilt",
    "stitch": "plumeline.quilt",
}

__all__ = ["__version__", "fill", "join", "needle_points", "read_plan", "stitch"]


def __getattr__(name: str) -> Any:
    """Load a public function from the room that holds it, on first use."""
    if name not in _HOME:
        raise AttributeError(f"module 'plumeline' has no attribute {name!r}")
    return getattr(importlib.import_module(_HOME[name]), name)
