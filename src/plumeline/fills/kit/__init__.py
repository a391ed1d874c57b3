"""What the fills share: their registry, settings and stack, and the helpers of more than one fill."""
