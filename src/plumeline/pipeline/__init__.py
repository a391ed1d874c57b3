"""The stages of the main job, each in a file of its own; `plumeline.quilt` tells their story."""
