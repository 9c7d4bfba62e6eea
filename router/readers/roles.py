"""Pipes without a role get one: what is a main, a branch line, an arm to a head."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from router.readers.drawn import Drawn


def with_roles(drawn: Drawn, notes: list[str]) -> Drawn:
    """Give each pipe its role and line, each head its line, by how they hang together."""
    raise NotImplementedError
