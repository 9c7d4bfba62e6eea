"""The tree of runs: what is solved together, in which order, in how many processes."""
