"""Meshes, fields solved on them, levels and middle lines."""
