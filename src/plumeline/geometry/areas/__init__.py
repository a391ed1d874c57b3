"""Regions: cleaned, grown, shrunk, divided, fitted."""
