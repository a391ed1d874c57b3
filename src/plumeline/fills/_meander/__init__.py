"""The meander: points of a tree, the walk round it, and the relaxing of that walk."""
