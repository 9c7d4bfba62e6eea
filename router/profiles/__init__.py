"""Levels, and the layered graph in which a run's profile is a path."""
