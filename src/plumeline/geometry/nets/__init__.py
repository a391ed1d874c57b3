"""Lines that meet: noded, snapped, faces between them, neighbours."""
