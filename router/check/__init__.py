"""The referee: judges a route from the scenario and its 3D pieces alone.

Public names: :func:`check_route`, :func:`rules_in_force`, :class:`Verdict`,
:class:`Finding`, :class:`RuleInForce`.
"""

from router.check.findings import Finding, RuleInForce, Verdict
from router.check.referee import check_route, rules_in_force

__all__ = ["Finding", "RuleInForce", "Verdict", "check_route", "rules_in_force"]
