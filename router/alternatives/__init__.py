"""Alternatives of a route: the exact front of two terms, and sweeps over weights.

Public names: :func:`find_front`, :func:`find_sweep`, :class:`Found`, the records,
and what reads the two terms (:func:`two_terms`) and the weights (:func:`read_weights`).
"""

from router.alternatives.find import OWN, Found, find_front, find_sweep, route_name
from router.alternatives.records import Alternatives, Point, Weighed
from router.alternatives.sweep import read_weights
from router.alternatives.terms import BY_NAME, DEFAULT, TradeTerm, two_terms

__all__ = [
    "BY_NAME",
    "DEFAULT",
    "OWN",
    "Alternatives",
    "Found",
    "Point",
    "TradeTerm",
    "Weighed",
    "find_front",
    "find_sweep",
    "read_weights",
    "route_name",
    "two_terms",
]
