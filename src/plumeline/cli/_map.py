"""Write the map of a plan, for the commands that do."""

from __future__ import annotations

from pathlib import Path

from ..output import check_targets, write_files
from ..pipeline.mapping import map_file
from ..plan import Plan, files_read

__all__ = ["draw_map"]


def draw_map(plan: Plan, target: Path, *, force: bool) -> None:
    """Write the map of a plan's top, never over a file that the plan reads."""
    keep = files_read(plan)
    check_targets(target.parent, [target.name], force=force, keep=keep)
    write_files(target.parent, {target.name: map_file(plan, target.suffix.lower())}, force=force, keep=keep)
