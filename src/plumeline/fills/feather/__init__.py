"""The fill ``feather``: plumes that grow from a spine and stretch to fill the space."""
