"""Exact distances and frames: a pipe is a capsule, an obstruction a prism; no trade knowledge."""
