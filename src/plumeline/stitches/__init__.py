"""Stitches: needle points, ties, limits, time, thread and bobbins."""
