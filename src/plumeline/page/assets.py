"""The page's own files as they are sent."""

from __future__ import annotations

from pathlib import Path

__all__ = ["KINDS", "static_files"]

STATIC = Path(__file__).parent / "static"
KINDS = {".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css"}


def static_files() -> dict[str, bytes]:
    """Return the page's own files by name; nothing else is ever served from there."""
    return {path.name: path.read_bytes() for path in sorted(STATIC.iterdir()) if path.suffix in KINDS}
