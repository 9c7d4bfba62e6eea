"""What the look-ups need to know of a system, a head and the rules.

The trade stands below the scenario (whose fields are read with
``router.trade.sizes``), so it says what it needs instead of importing it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


class SystemFacts(Protocol):
    """Of ``router.scenario.model.System``. Pitch in mm per m."""

    @property
    def kind(self) -> str: ...
    @property
    def water(self) -> str: ...
    @property
    def heated(self) -> bool: ...
    @property
    def refrigerated(self) -> bool: ...
    @property
    def pitch_branch(self) -> float | None: ...
    @property
    def pitch_main(self) -> float | None: ...


class HeadFacts(Protocol):
    """Of ``router.scenario.model.Head``. K-factor in gpm/psi^0.5 (5.6 is metric 80)."""

    @property
    def kind(self) -> str: ...
    @property
    def k_factor(self) -> float: ...
    @property
    def dry(self) -> bool: ...


class RuleFacts(Protocol):
    """Of ``router.scenario.model.Rules``."""

    @property
    def allow_cross(self) -> bool: ...
    @property
    def allow_shared_nipple(self) -> bool: ...
    @property
    def allow_flexible(self) -> bool: ...
    @property
    def styles(self) -> Sequence[str] | None: ...


class JoiningRange(Protocol):
    """Of ``router.scenario.model.JoiningUpTo``. ``up_to``: DN; ``None`` for all larger sizes."""

    @property
    def up_to(self) -> int | None: ...
    @property
    def joining(self) -> str: ...


class CostFacts(Protocol):
    """Of ``router.scenario.model.Cost``. ``price``: in the currency; ``minutes``: of labour."""

    @property
    def price(self) -> float: ...
    @property
    def minutes(self) -> float: ...


class PriceFacts(Protocol):
    """Of ``router.scenario.model.PriceTable``. ``minute``: price of one minute of labour."""

    @property
    def currency(self) -> str: ...
    @property
    def minute(self) -> float: ...
    @property
    def pipe(self) -> Mapping[str, CostFacts]: ...
    @property
    def fittings(self) -> Mapping[str, Mapping[str, CostFacts]]: ...
    @property
    def hanger(self) -> CostFacts: ...
    @property
    def drain(self) -> CostFacts: ...
    @property
    def large_drain(self) -> CostFacts: ...
    @property
    def wet_drain(self) -> CostFacts: ...
    @property
    def hose(self) -> CostFacts: ...
