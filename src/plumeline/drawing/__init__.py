"""Drawings: SVG files read into named shapes, lines and colours, in mm."""
