"""A head is lost when it is not heard, says so itself, or does not do its work."""

from __future__ import annotations

import pytest

from signals.controller.heads import Heads
from signals.controller.nodes import Nodes
from signals.words import Aspect
from tests.controller.made import harbour, picture, shown, status, words

SETTLE_S = harbour().timing.settle / 1000
LEASE_S = 0.5


class Bench:
    """The heads of node n1 (h1, h3, h5), heard and addressed at 0 s; the others start up still."""

    def __init__(self) -> None:
        self.nodes = Nodes(harbour())
        self.heads = Heads(harbour(), self.nodes)
        self.nodes.address("n1", status("n1", "inc1"), 0.0)
        self.hear_all(Aspect.GREEN, 0.0)

    def hear_all(self, aspect: Aspect, sent_at_s: float | None) -> None:
        for head in ("h1", "h3", "h5"):
            self.heads.hear(head, shown(aspect), sent_at_s)

    def sweep(self, now_s: float, *, settling: bool = True, **more: object) -> list[str]:
        return words(self.heads.sweep(picture(**more), now_s, settling=settling))  # type: ignore[arg-type]


@pytest.fixture
def bench() -> Bench:
    return Bench()


def test_a_head_within_its_lease_is_well(bench: Bench) -> None:
    assert bench.sweep(LEASE_S) == []


def test_a_head_whose_echo_is_older_than_its_lease_is_lost(bench: Bench) -> None:
    bench.heads.hear("h3", shown(Aspect.GREEN), 0.3)
    assert bench.sweep(LEASE_S + 0.001) == ["head-lost h1", "head-lost h5"]


def test_an_echo_of_an_old_beat_heard_late_does_not_count_as_new(bench: Bench) -> None:
    bench.heads.hear("h1", shown(Aspect.GREEN), 0.4)
    bench.heads.hear("h1", shown(Aspect.GREEN), 0.1)
    assert "head-lost h1" not in bench.sweep(0.8)


def test_an_echo_of_a_beat_never_sent_does_not_count(bench: Bench) -> None:
    bench.hear_all(Aspect.GREEN, None)
    assert bench.sweep(0.6) == ["head-lost h1", "head-lost h3", "head-lost h5"]


def test_a_head_never_heard_is_lost_only_once_the_start_is_over(bench: Bench) -> None:
    assert bench.sweep(0.1, settling=True) == []
    lost = bench.sweep(0.1, settling=False)
    assert "head-lost h2" in lost
    assert "head-lost h1" not in lost


def test_a_lost_head_comes_back_once_heard_and_addressed(bench: Bench) -> None:
    gone = {"h1": "lost"}
    assert bench.sweep(0.3, heads=gone) == ["head-back h1"]
    bench.nodes.address("n1", status("n1", "inc2"), 0.4)
    assert bench.sweep(0.45, heads=gone) == []  # it has heard nothing since it is addressed
    bench.hear_all(Aspect.GREEN, 0.5)
    assert bench.sweep(0.6, heads=gone) == ["head-back h1"]


def test_a_lost_head_never_heard_stays_lost(bench: Bench) -> None:
    assert bench.sweep(0.1, heads={"h2": "lost"}) == []


def test_a_darker_head_is_given_time_then_lost_with_the_reason(bench: Bench) -> None:
    bench.hear_all(Aspect.RED, 0.0)
    assert bench.sweep(0.0) == []
    bench.hear_all(Aspect.RED, SETTLE_S)
    assert bench.sweep(SETTLE_S) == []
    later_s = SETTLE_S + 0.01
    (first, *_) = bench.heads.sweep(picture(), later_s, settling=True)
    assert first.word == "head-lost"
    assert first.fields["reason"] == "shows red where green is due"


def test_a_head_that_does_not_obey_does_not_come_back(bench: Bench) -> None:
    bench.hear_all(Aspect.RED, 0.2)
    assert bench.sweep(0.3, heads={"h1": "lost"}) == []


def test_a_less_restrictive_head_is_left_to_the_monitor(bench: Bench) -> None:
    for now_s in (0.1, 0.2, 0.4):
        bench.hear_all(Aspect.GREEN, now_s)
        assert bench.sweep(now_s, due=Aspect.RED) == []


def test_a_head_showing_one_lamp_in_a_test_is_not_compared(bench: Bench) -> None:
    bench.hear_all(Aspect.RED, 0.0)
    assert bench.sweep(0.0, lamp="green") == []
    bench.hear_all(Aspect.RED, 0.9)
    assert bench.sweep(0.9, lamp="green") == []


def test_a_head_out_of_service_is_left_alone(bench: Bench) -> None:
    assert "head-lost h1" not in bench.sweep(9.0, heads={"h1": "out-of-service"})


def test_a_node_that_says_it_is_gone_loses_its_heads(bench: Bench) -> None:
    bench.nodes.address("n1", status("n1", "inc1", "gone"), 0.1)
    assert bench.sweep(0.1) == ["head-lost h1", "head-lost h3", "head-lost h5"]


@pytest.mark.parametrize("says", ["gone", "fault"])
def test_the_loss_is_reported_at_once_with_the_status(bench: Bench, says: str) -> None:
    events = bench.nodes.lost_with("n1", status("n1", "inc1", says), settling=False)
    assert words(events) == ["head-lost h1", "head-lost h3", "head-lost h5"]


def test_a_new_incarnation_loses_first(bench: Bench) -> None:
    assert words(bench.nodes.lost_with("n1", status("n1", "inc2"), settling=False)) == [
        "head-lost h1",
        "head-lost h3",
        "head-lost h5",
    ]
    assert bench.nodes.of_head("h1") == "inc1"


def test_the_same_incarnation_loses_nothing(bench: Bench) -> None:
    assert words(bench.nodes.lost_with("n1", status("n1", "inc1"), settling=False)) == []


def test_while_starting_nothing_permissive_is_commanded_and_a_new_incarnation_needs_no_hold(
    bench: Bench,
) -> None:
    for node, inc in (("k7", "inc1"), ("n1", "inc2")):
        assert words(bench.nodes.lost_with(node, status(node, inc), settling=True)) == []
    assert words(bench.nodes.lost_with("k7", status("k7", "inc1"), settling=False)) == ["kart-lost 7"]
