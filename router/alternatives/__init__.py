"""Alternatives of a route: the front of two terms, sweeps over weights."""
