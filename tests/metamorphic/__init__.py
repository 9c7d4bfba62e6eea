"""Scenarios transformed: what must stay the same, and what may never get better or worse."""
