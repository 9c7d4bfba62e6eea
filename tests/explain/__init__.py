"""Reasons; what they are checked with stands in tests/oracle and tests/takeoffs."""
