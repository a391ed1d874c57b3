"""Review: measures of what will be stitched."""
