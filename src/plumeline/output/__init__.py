"""Outputs: one file a format, the reader beside the writer."""
