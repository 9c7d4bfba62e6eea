"""Fronts and sweeps; what they are checked with stands in tests/oracle."""
