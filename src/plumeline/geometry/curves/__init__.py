"""Polylines and smooth curves."""
