"""Lines: strokes joined into the fewest continuous lines, over the ways where travel may go."""
