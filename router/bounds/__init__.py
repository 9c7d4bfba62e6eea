"""The dynamic programme: bounds on a run's cost and the least cost through each candidate."""
