"""The collector of cycles rests meanwhile and works again afterwards, whatever happens."""

from __future__ import annotations

import gc

import pytest

from router.building.collector import collector_paused


def test_it_rests_and_works_again() -> None:
    assert gc.isenabled()
    with collector_paused():
        assert not gc.isenabled()
        with collector_paused():
            assert not gc.isenabled()
        assert not gc.isenabled()
    assert gc.isenabled()


def test_it_works_again_after_a_fault() -> None:
    with pytest.raises(ValueError, match="this"), collector_paused():
        raise ValueError("this")
    assert gc.isenabled()


def test_whoever_has_switched_it_off_finds_it_off() -> None:
    gc.disable()
    try:
        with collector_paused():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
