"""Zones: patches joined across seams, shapes laid over them, spaces divided."""
