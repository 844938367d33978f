from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from signals.mqtt.contract import Inject
from signals.nodes.device import BACK, LOST
from signals.nodes.organ import Rejected
from signals.words import Aspect


def fault(bench: Any, event: str, **more: Any) -> str:
    came, said = bench.device.inject(Inject(id="i1", event=event, **more), bench.now_ms)
    bench._keep(said)
    return str(came)


def green(bench: Any) -> None:
    bench.beat()
    bench.aspect(Aspect.GREEN)
    assert bench.shows() is Aspect.GREEN


GOOD = b'{"boot":"aaaa","seq":9,"epoch":1,"inc":"%s","aspect":"red","flash":null,"number":null,"lamps":null}'


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"\xff\xfe",
        b'{"boot":"aaaa"}',
        GOOD.replace(b'"red"', b'"violet"'),
        GOOD.replace(b":9", b":0"),
        GOOD.replace(b":9", b':"9"'),
        GOOD.replace(b":9", b":9.5"),
        GOOD.replace(b"aaaa", b"A"),
        GOOD.replace(b"null}", b'null,"more":"' + b"x" * 240 + b'"}'),
    ],
)
def test_a_malformed_order_is_counted_and_changes_nothing(bench: Any, payload: bytes) -> None:
    green(bench)
    bench.send("head", "h1", "aspect", payload=payload.replace(b"%s", bench.inc.encode()))
    assert bench.shows() is Aspect.GREEN
    bench.to(130)
    status = bench.last("node", "n1", "status")
    assert status.rejects == 1
    assert status.last_reject.startswith("head/h1/aspect: ")


def test_an_unknown_field_does_not_make_a_head_refuse_red(bench: Any) -> None:
    green(bench)
    more = GOOD.replace(b"null}", b'null,"brightness":3}').replace(b"%s", bench.inc.encode())
    bench.send("head", "h1", "aspect", payload=more)
    assert bench.shows() is Aspect.RED
    assert bench.device.status.rejects == 0


def test_a_flood_of_rejects_does_not_become_a_flood_of_status(bench: Any) -> None:
    bench.to(200)
    before = len(bench.said)
    for _ in range(50):
        bench.send("beat", payload=b"?")
    bench.to(500)
    told = [say for _, say in bench.said[before:] if say.levels == ("node", "n1", "status")]
    assert [say.message.rejects for say in told] == [50]


def test_a_retained_beat_is_old_and_renews_nothing(bench: Any) -> None:
    bench.beat(retained=True)
    bench.aspect(Aspect.GREEN)
    assert bench.shows() is Aspect.YELLOW_FLASH
    assert bench.device.status.rejects == 1


def test_it_listens_to_the_beat_its_own_topics_and_the_trip_and_never_to_the_state(bench: Any) -> None:
    assert {"/".join(levels) for levels in bench.device.subscriptions} == {
        "beat",
        "monitor/trip",
        "head/h1/aspect",
        "head/px1/aspect",
        "head/st1/aspect",
        "kart/7/limit",
        "kart/7/caps",
        "inject/n1",
    }


def test_a_lost_node_neither_hears_nor_speaks_and_falls_at_its_own_lease(bench: Any) -> None:
    green(bench)
    fault(bench, "head-lost")
    before = len(bench.said)
    for at_ms in (100, 200, 300):
        bench.to(at_ms)
        bench.beat()
    bench.to(499)
    assert bench.shows() is Aspect.GREEN
    bench.to(500)
    assert bench.shows() is Aspect.YELLOW_FLASH
    assert len(bench.said) == before


def test_a_node_that_is_back_speaks_again_and_stays_at_its_fail_aspect(bench: Any) -> None:
    green(bench)
    old = bench.inc
    fault(bench, "head-lost")
    bench.to(700)
    fault(bench, "head-back")
    assert bench.device.returning
    bench._keep(bench.device.join(bench.now_ms))
    bench.beat()
    assert bench.last("node", "n1", "status").inc != old
    assert bench.last("head", "h1", "shown").aspect is Aspect.YELLOW_FLASH


def test_a_fault_with_a_duration_ends_by_itself(bench: Any) -> None:
    fault(bench, "kart-lost", for_ms=2000)
    bench.to(1999)
    assert bench.device.lost
    bench.to(2000)
    assert not bench.device.lost


def test_a_wrong_lamp_is_reported_as_it_is(bench: Any) -> None:
    fault(bench, "wrong-lamp", head="h1", aspect=Aspect.GREEN)
    bench.beat(stop=True)
    assert bench.last("head", "h1", "shown").aspect is Aspect.GREEN
    fault(bench, "wrong-lamp", head="h1", lamp="red")
    assert bench.shows() is Aspect.RED
    fault(bench, "head-back")
    bench.beat(stop=False)
    assert bench.shows() is Aspect.YELLOW_FLASH


def test_a_stuck_head_keeps_what_it_shows(bench: Any) -> None:
    green(bench)
    fault(bench, "stuck", head="h1")
    bench.beat(stop=True)
    bench.to(2000)
    assert bench.shows() is Aspect.GREEN


def test_a_slow_head_follows_late_and_says_how_late(bench: Any) -> None:
    fault(bench, "slow", head="h1", for_ms=300)
    bench.to(100)
    bench.beat(stop=True)
    bench.to(399)
    assert bench.shows() is Aspect.YELLOW_FLASH
    bench.to(400)
    shown = bench.last("head", "h1", "shown")
    assert (shown.aspect, shown.after_ms) == (Aspect.RED, 300)


def test_a_stuck_limiter_says_what_it_really_obeys(bench: Any) -> None:
    bench.beat()
    bench.caps()
    bench.limit_to(45.0)
    fault(bench, "limiter-stuck")
    bench.beat(stop=True)
    assert bench.last("kart", "7", "taken").limit_kmh == 45
    fault(bench, "kart-back")
    assert bench.last("kart", "7", "taken").limit_kmh == 0


def test_a_contact_reports_on_change_and_between_and_can_fall_silent(bench: Any) -> None:
    topic = ("input", "gate", "state")
    fault(bench, "input-active")
    assert bench.last(*topic).state == "active"
    fault(bench, "input-fault")
    assert bench.last(*topic).state == "fault"
    before = bench.last(*topic).seq
    bench.to(500)
    assert bench.last(*topic).seq >= before + 3
    fault(bench, "input-silent")
    silent = bench.last(*topic).seq
    bench.to(2000)
    assert bench.last(*topic).seq == silent
    fault(bench, "input-normal")
    assert bench.last(*topic).state == "normal"


def test_a_contact_is_published_to_be_kept(bench: Any) -> None:
    bench.to(200)
    kept = {"/".join(say.levels): (say.qos, say.retain) for _, say in bench.said}
    assert kept["input/gate/state"] == (1, True)
    assert kept["node/n1/status"] == (1, True)
    assert kept["head/h1/shown"] == kept["kart/7/taken"] == (0, False)


@pytest.mark.parametrize(
    ("node", "event", "more", "says"),
    [
        ("n1", "spin", {}, "n1 cannot do spin, only head-back"),
        ("n1", "stuck", {}, "needs one of h1, px1, st1"),
        ("n1", "stuck", {"head": "h9"}, "needs one of h1, px1, st1"),
        ("n1", "slow", {"head": "h1"}, "for_ms"),
        ("n1", "wrong-lamp", {"head": "h1"}, "an aspect or a lamp"),
        ("n1", "wrong-lamp", {"head": "h1", "aspect": Aspect.YELLOW}, "cannot show yellow"),
        ("n1", "wrong-lamp", {"head": "h1", "lamp": "violet"}, "no aspect with violet"),
        ("box", "stuck", {}, "box cannot do stuck"),
        ("box", "input-active", {}, "needs one of b1, b2"),
    ],
)
def test_a_fault_that_does_not_fit_is_refused_with_what_would(
    make_bench: Any, node: str, event: str, more: dict[str, Any], says: str
) -> None:
    bench = make_bench(node=node)
    with pytest.raises(Rejected, match=says):
        fault(bench, event, **more)


def test_the_documentation_names_every_fault_and_no_other(bench: Any) -> None:
    page = (Path(__file__).parents[2] / "docs" / "nodes.md").read_text()
    table = page.split("| event | what happens |")[1].split("##")[0]
    first = [row.split("|")[1] for row in table.splitlines() if row.startswith("| `")]
    named = {word for cell in first for word in re.findall(r"`([a-z-]+)`", cell)}
    can = {*LOST, *BACK, "reboot"}.union(*(organ.faults for organ in bench.device.organs))
    assert named - {"aspect", "lamp", "for_ms"} == can
