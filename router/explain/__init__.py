"""Why a route is as it is: other ways, what binds a run's profile, what would make a head work.

Public names: :func:`explain_head`, :func:`explain_run`, :func:`explain_route`, and the records.
"""

from router.explain.head import explain_head
from router.explain.part import KEPT
from router.explain.quick import explain_route
from router.explain.records import (
    Binding,
    Explained,
    HeadReasons,
    Limit,
    OtherWay,
    Relaxation,
    RunReasons,
)
from router.explain.run import explain_run

__all__ = [
    "KEPT",
    "Binding",
    "Explained",
    "HeadReasons",
    "Limit",
    "OtherWay",
    "Relaxation",
    "RunReasons",
    "explain_head",
    "explain_route",
    "explain_run",
]
