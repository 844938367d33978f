"""Nodes against published values; the marks Q, R, M say how each source was read."""

from __future__ import annotations

from typing import Any

import pytest

from signals.cli.options import DEFAULT_VENUE
from signals.venue import load
from signals.words import Aspect
from tests.nodes.conftest import Bench, make_venue

PROCEED = {Aspect.GREEN, Aspect.DARK}


@pytest.fixture
def bench() -> Bench:
    return Bench(make_venue())


@pytest.mark.parametrize("mode", [{}, {"test": True}, {"epoch": 7}, {"boot": "bbbb"}], ids=str)
def test_h2_a_stop_overrides_every_mode_and_its_end_restarts_nothing(
    bench: Bench, mode: dict[str, Any]
) -> None:
    """H2 (Q): ISO 13850: always available, overrides every function; reset does not restart."""
    bench.beat()
    bench.caps()
    bench.aspect(Aspect.GREEN)
    bench.limit_to(45.0)
    bench.beat(stop=True, **mode)
    assert (bench.shows(), bench.limit) == (Aspect.RED, 0)
    bench.to(400)
    bench.beat(stop=False, epoch=8)
    assert bench.shows() not in PROCEED
    assert bench.limit == 0


def test_h4_loss_of_power_does_not_clear_what_was_latched(bench: Bench) -> None:
    """H4 (R): Ohio DOT 2010 C&MS 733.03. The broker keeps the monitor's latch and hands it over again."""
    bench.beat()
    bench.trip()
    bench.device.boot_up(bench.now_ms)
    bench.trip()
    bench.beat()
    bench.aspect(Aspect.GREEN)
    assert bench.shows() is Aspect.RED


@pytest.mark.parametrize("head", ["h1", "px1", "st1"])
def test_h8_a_dead_control_circuit_gives_a_restrictive_aspect(bench: Bench, head: str) -> None:
    """H8 (Q): 49 CFR 236.205: a de-energised control circuit gives the most restrictive aspect.

    A track head lights yellow-flash (the venue's choice), or keeps red once a stop was heard.
    """
    bench.beat()
    bench.aspect(Aspect.GREEN, head)
    assert bench.shows(head) is Aspect.GREEN
    bench.to(bench.device.node.lease_ms)
    assert bench.shows(head) is (Aspect.YELLOW_FLASH if head == "h1" else Aspect.RED)


def test_h9_silence_is_a_loss_long_before_streamed_lighting_data_would_call_it_one(bench: Bench) -> None:
    """H9 (M): ANSI E1.31: 2.5 s without packets is data loss. Not the only check of the lease."""
    assert all(node.lease_ms < 2_500 for node in load(DEFAULT_VENUE).nodes)
    bench.beat()
    bench.aspect(Aspect.GREEN)
    bench.to(2_500)
    assert bench.shows() not in PROCEED
