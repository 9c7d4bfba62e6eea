"""Hangers of a finished route: where run pipe and arms hang, and from what."""
