"""Things go wrong while a marshal works: nothing that may never be happens, and a planted defect is seen."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable
from typing import Any

import async_solipsism
import pytest

from benchmarks.faulting import FAULTS, Outcome, bench
from signals.controller import record, service
from signals.controller.restart import Beginning
from signals.nodes.head import Rules
from signals.nodes.lease import Lease
from tests.sequence.playing import core_for, venue

pytestmark = pytest.mark.gate


def run(seed: int, faults: int, *only: str) -> dict[str, Outcome]:
    with asyncio.Runner(loop_factory=async_solipsism.EventLoop) as runner:
        return runner.run(bench(venue(), seed=seed, faults=faults, only=only, make_core=core_for))


def bad(table: dict[str, Outcome]) -> Counter[str]:
    return +sum((outcome.bad for outcome in table.values()), Counter())


def test_nothing_that_may_never_be_happens() -> None:
    assert not bad(run(1, 6))


@pytest.mark.night
@pytest.mark.parametrize("name", FAULTS)
def test_each_fault_once(name: str) -> None:
    table = run(3, 1, name)
    assert table[name].while_green == 1, "it went wrong while nothing was at stake"
    assert not bad(table)


@pytest.mark.night
def test_the_same_seed_gives_the_same_faults() -> None:
    assert run(5, 3) == run(5, 3)


def patient(lease: Lease, lease_ms: float, draw: Any, begin: Callable[..., None] = Lease.__init__) -> None:
    begin(lease, 20 * lease_ms, draw)


def misnamed(post: str, _: Any) -> dict[str, Any]:
    return {"post": post, "id": "another"}


DEFECTS = {
    "a node waits twenty leases": ((Lease, "__init__", patient), "half the nodes cut off", "late green"),
    "answers are written under another id": ((record, "_answer", misnamed), "a slow screen", "unrecorded"),
}


@pytest.mark.parametrize("defect", DEFECTS)
def test_a_planted_defect_is_seen(defect: str, monkeypatch: pytest.MonkeyPatch) -> None:
    (owner, method, instead), fault, column = DEFECTS[defect]
    monkeypatch.setattr(owner, method, instead)
    assert any(bad(run(seed, 2, fault))[column] for seed in range(8))


def test_a_stop_that_heads_do_not_hear_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Rules, "due", _as_long_green(Rules.due))
    assert any(bad(run(seed, 2, "a slow screen"))["stop lost"] for seed in range(8))


def _as_long_green(due: Callable[[Rules], Any]) -> Callable[[Rules], Any]:
    """A head that once was green shows green for ever."""
    kept: dict[int, Any] = {}

    def stuck(rules: Rules) -> Any:
        wanted = due(rules)
        if wanted.aspect == "green":
            kept[id(rules)] = wanted
        return kept.get(id(rules), wanted)

    return stuck


def test_a_hold_that_is_forgotten_at_a_restart_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(service, "begin", lambda core, _, boot: Beginning(core.begin(boot)))
    assert any(bad(run(seed, 3, "controller killed"))["forgotten"] for seed in range(3))
