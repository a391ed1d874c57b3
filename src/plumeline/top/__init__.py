"""The top: patches and the seams between them, from a drawing, a block table or a tape measure."""
