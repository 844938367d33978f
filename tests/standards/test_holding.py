"""Holding, stopping and failing safe against published values; R read in the source's own text, Q quoted.

What concerns a node or the monitor stands in `test_nodes.py` and `test_monitor.py`.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from signals.venue.model import Venue
from signals.words import Aspect, Because, Condition, HeadRole, Phase
from tests.controller.made import where
from tests.controller.wire import wired
from tests.nodes.conftest import Bench, make_venue
from tests.standards.conftest import Session, core_of
from tests.virtual import virtual

ROOT = Path(__file__).parents[2]
POSTS = ("desk", "p1", "p2")
PROCEED = {Aspect.GREEN, Aspect.DARK, Aspect.BLUE_FLASH, Aspect.NUMBER}


def closed(_: Session) -> None:
    pass


def lent(session: Session) -> None:
    session.ok("lend")
    session.ok("show", head="h1", aspect="green")
    session.ok("allow", kart=1, limit_kmh=15)


def staging(session: Session) -> None:
    session.stage(1, 2)


def armed(session: Session) -> None:
    session.stage(1, 2)
    session.ok("arm")


def racing(session: Session) -> None:
    session.race(1, 2)


def finishing(session: Session) -> None:
    session.race(1, 2)
    session.ok("finish")


PHASES: dict[Phase, Callable[[Session], None]] = {
    Phase.CLOSED: closed,
    Phase.TEST: lent,
    Phase.STAGING: staging,
    Phase.ARMED: armed,
    Phase.RACING: racing,
    Phase.FINISHING: finishing,
}
TROUBLE: dict[str, dict[str, Any]] = {
    "journal-failed": {},
    "monitor-lost": {},
    "monitor-tripped": {"reason": "h1 green, red due"},
    "head-lost": {"head": "h2"},
    "kart-lost": {"kart": 1},
}


@pytest.mark.parametrize("post", POSTS)
@pytest.mark.parametrize("phase", Phase)
def test_h2_a_stop_is_always_available_and_overrides(session: Session, phase: Phase, post: str) -> None:
    """H2 (Q): ISO 13850: available at all times, overrides every function in every mode."""
    PHASES[phase](session)
    assert session.picture.phase is phase
    for word, fields in TROUBLE.items():
        session.equipment(word, **fields)
    decision = session.call("stop", post, seen=None, id="same")
    assert decision.accepted
    picture = session.picture
    assert {shown[0] for shown in picture.aspects.values()} == {Aspect.RED}
    assert {kart.limit_kmh for kart in picture.karts.values()} == {0}
    assert session.call("stop", post, seen=None, id="same").accepted


def test_h2_every_phase_is_covered() -> None:
    """H2 (Q): ISO 13850. A phase that is added must come here too."""
    assert set(PHASES) == set(Phase)


@pytest.mark.parametrize("phase", Phase)
def test_h2_its_reset_restarts_nothing(session: Session, phase: Phase) -> None:
    """H2 (Q): ISO 13850: the reset of an emergency stop does not restart anything."""
    PHASES[phase](session)
    session.ok("stop", "p1")
    for kart in (1, 2):
        session.equipment("kart-stands", kart=kart)
    phase_then = session.picture.phase
    session.ok("lift", "p1", hold="stop:p1")
    picture = session.picture
    assert picture.phase is phase_then
    assert picture.condition is Condition.CAUTION
    assert not PROCEED & {shown[0] for shown in picture.aspects.values()}
    pit_kmh = session.core.layout.limits_kmh["dry"]["return"]
    assert all(kart.limit_kmh <= pit_kmh for kart in picture.karts.values())
    session.wait(3_600_000)
    assert session.picture.condition is Condition.CAUTION, "time alone restarts nothing either"


@pytest.mark.parametrize("hold", ["stop", "caution"])
def test_h1_only_its_placer_ends_a_hold(session: Session, hold: str) -> None:
    """H1 (R): 29 CFR 1910.147(e)(3): a lockout is removed by the person who applied it.

    The exception there (the employer, by a procedure of his own) is here a supervisor with a reason.
    """
    session.race(1, 2)
    session.ok(hold, "p1", **({"where": "s2"} if hold == "caution" else {}))
    for kart in (1, 2):
        session.equipment("kart-stands", kart=kart)
    (standing,) = session.picture.holds
    ends = {"hold": standing.key, "checked": True}
    assert session.refused("lift", "p2", **ends) == {"not-your-hold"}
    assert session.refused("lift", "p2", **ends, reason="it is over") == {"not-your-hold"}
    assert session.refused("lift", "desk", **ends) == {"not-your-hold"}
    session.ok("lift", "p1", **ends)


@pytest.mark.parametrize("hold", ["stop", "caution"])
def test_h1_each_of_two_placers_ends_his_own(session: Session, hold: str) -> None:
    """H1 (R): 29 CFR 1910.147(e)(3), and (f)(3) for groups: as many locks as persons."""
    session.race(1)
    where = {"where": "s2"} if hold == "caution" else {}
    session.ok(hold, "p1", **where)
    session.ok(hold, "p2", **where)
    session.equipment("kart-stands", kart=1)
    first, second = session.picture.holds
    session.ok("lift", str(first.post), hold=first.key, checked=True)
    assert session.picture.condition is Condition(hold)
    assert [each.key for each in session.picture.holds] == [second.key]


def test_h1_a_hold_that_is_taken_over_is_no_longer_its_placers(session: Session) -> None:
    """H1 (R): 29 CFR 1910.147(e)(3): a change of hands leaves no moment without a hold, and one holder."""
    session.race(1)
    session.ok("stop", "p1")
    session.equipment("kart-stands", kart=1)
    decision = session.ok("hand-over", "p2", hold="stop:p1")
    assert (decision.placed, decision.ended) == (("stop:p2",), ("stop:p1",))
    assert session.picture.condition is Condition.STOP
    assert session.refused("lift", "p1", hold="stop:p2") == {"not-your-hold"}
    session.ok("lift", "p2", hold="stop:p2")


def test_h1_the_area_is_checked_and_people_are_told_before_the_start(session: Session) -> None:
    """H1 (R): 29 CFR 1910.147(e)(1) and (2): area inspected, people notified, and only then the start."""
    session.race(1)
    session.ok("caution", "p1", where="s2")
    assert session.refused("lift", "p1", hold="caution:s2:p1") == {"track-not-checked"}
    session.ok("lift", "p1", hold="caution:s2:p1", checked=True)
    session.ok("stop", "p1")
    session.equipment("kart-stands", kart=1)
    session.ok("lift", "p1", hold="stop:p1")
    assert session.picture.aspects["h1"][0] is Aspect.YELLOW_FLASH, "told by a yellow that it goes on soon"
    assert session.refused("clear") == {"track-not-checked"}
    session.ok("clear", checked=True)


SENTENCES = re.compile(r"(?<=[.!?:|])\s+|\n\s*\n|\n[-|]")
CLAIM = re.compile(r"emergency stop|safety-rated|fail-?safe", re.IGNORECASE)
DENIED = re.compile(r"\b(no|not|never|hard-wired|nothing)\b", re.IGNORECASE)


def test_h3_safety_says_first_that_this_is_no_emergency_stop() -> None:
    """H3 (Q): IEC 60204-1 (older): a category-0 stop must not depend on electronic logic or a network."""
    text = (ROOT / "docs" / "safety.md").read_text(encoding="utf-8")
    first = text.split("\n## ")[1]
    said = " ".join(first.replace("**", "").split())
    assert said.startswith("What this is not")
    assert "kerblight is not an emergency stop and not a safety-rated function" in said
    assert "electronic logic or a network" in said
    assert "IEC 60204-1" in said


def test_h3_nothing_that_people_read_suggests_otherwise() -> None:
    """H3 (Q): IEC 60204-1 (older). Wherever the words fall, they are denied in the same sentence."""
    pages = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
    sources = [path for folder in ("signals", "sim") for path in sorted((ROOT / folder).rglob("*.py"))]
    found = [
        f"{path.relative_to(ROOT)}: {sentence.strip()}"
        for path in (*pages, *sources)
        for sentence in SENTENCES.split(path.read_text(encoding="utf-8"))
        if CLAIM.search(sentence) and not DENIED.search(sentence)
    ]
    assert found == []
    assert len([page for page in pages if CLAIM.search(page.read_text(encoding="utf-8"))]) >= 2


@virtual
async def test_h4_loss_of_power_clears_no_latch_of_the_controller(tmp_path: Path) -> None:
    """H4 (R): Ohio DOT 2010 C&MS 733.03: only an explicit reset clears a latched fault."""
    async with wired(tmp_path) as (wire, _):
        wire.hear("kart/1/where", where("s1", button=True))
        wire.call("p1", "stop", kind="fire", reason="smoke")
        wire.call("p2", "caution", where="s4", reason="cone")
        await asyncio.sleep(0.05)  # virtual: until all is answered
        latched = {(hold.what, hold.where, hold.post) for hold in wire.state.holds}
        assert {("stop", None, "p1"), ("caution", "s4", "p2"), ("caution", "s1", "E")} <= latched
        assert wire.state.karts["1"].button
    for _ in range(2):
        async with wired(tmp_path) as (wire, _):
            assert latched <= {(hold.what, hold.where, hold.post) for hold in wire.state.holds}
            assert wire.state.karts["1"].button
            assert wire.state.karts["1"].limit_kmh == 0


def test_h4_a_restart_from_the_record_clears_no_latch(session: Session) -> None:
    """H4 (R): Ohio DOT 2010 C&MS 733.03, on every latch that a snapshot carries."""
    session.race(1, 2)
    session.ok("disqualify-one", kart=2)
    session.equipment("kart-pressed", kart=1)
    session.equipment("head-lost", head="h5")
    session.equipment("monitor-tripped", reason="h1 green, red due")
    session.ok("stop", "p1", kind="fire")
    session.ok("caution", "p2", where="s4")
    before = session.picture
    latched = set(session.state.notes)
    assert {"stop:p1", "stop:E", "caution:s4:p2", "caution:s1:E"} <= latched
    for boot in ("boot2", "boot3"):
        session.state = session.core.load(session.core.dump(session.state), boot)
        session.equipment("restart")
        after = session.picture
        assert latched <= set(session.state.notes)
        assert (after.monitor, after.heads) == (before.monitor, before.heads)
        assert after.karts[1].button
        assert after.karts[2].call == "disqualified"


def test_h5_flash_mode_does_not_end_because_the_controller_is_gone() -> None:
    """H5 (Q): MUTCD 11th ed. section 4G.01: a head left alone flashes on, ten minutes later too."""
    bench = Bench(make_venue())
    bench.beat()
    bench.aspect(Aspect.GREEN)
    for ms in (600, 60_000, 600_000):
        bench.to(ms)
        assert bench.shows() is Aspect.YELLOW_FLASH


def test_h8_whatever_loses_its_controller_falls_to_the_restrictive_side(each_venue: Venue) -> None:
    """H8 (Q): 49 CFR 236.205: a control circuit without energy gives the most restrictive aspect.

    Most restrictive where karts are let go; on the track at least a yellow, for red there stops karts
    in blind bends: the venue's choice, between red and yellow-flash only.
    """
    fails = each_venue.choices.fail_aspect
    assert {fails[role] for role in (HeadRole.START, HeadRole.PIT_EXIT)} == {Aspect.RED}
    assert set(fails.values()) <= {Aspect.RED, Aspect.YELLOW_FLASH}


@pytest.mark.parametrize("phase", [Phase.STAGING, Phase.ARMED, Phase.RACING, Phase.FINISHING])
def test_h8_a_restart_begins_with_the_most_restrictive_aspect(session: Session, phase: Phase) -> None:
    """H8 (Q): 49 CFR 236.205."""
    PHASES[phase](session)
    session.state = session.core.load(session.core.dump(session.state), "boot2")
    session.equipment("restart")
    assert "stop:E" in session.state.notes, "held by a hold that a person must lift"
    assert {shown[0] for shown in session.picture.aspects.values()} == {Aspect.RED}
    assert {kart.limit_kmh for kart in session.picture.karts.values()} == {0}


@pytest.mark.parametrize(
    ("word", "fields", "reason"),
    [
        ("head-lost", {"head": "h3"}, "head-fault"),
        ("kart-lost", {"kart": 1}, "kart-unreachable"),
        ("limit-missed", {"kart": 1}, "limit-not-taken"),
        ("monitor-lost", {}, "monitor-absent"),
        ("monitor-tripped", {"reason": "h1 green, red due"}, "monitor-tripped"),
        ("kart-at", {"kart": 5, "where": "s3"}, "track-occupied"),
    ],
)
def test_h8_no_proceed_without_proof_that_all_else_is_right(
    session: Session, word: str, fields: dict[str, Any], reason: str
) -> None:
    """H8 (Q): 49 CFR 236.311: a proceed aspect needs what conflicts with it proved safe.

    Here: heads, karts, limits, monitor and an empty track, each of which alone forbids the start.
    """
    session.stage(1, 2)
    session.equipment(word, **fields)
    assert reason in session.refused("arm")
    assert Aspect.GREEN not in {shown[0] for shown in session.picture.aspects.values()}


def test_h10_no_integrity_level_is_claimed() -> None:
    """H10 (Q, M): IEC 61508, ISO 13849-1: levels are earned by a process this project did not go through."""
    said = " ".join((ROOT / "docs" / "safety.md").read_text(encoding="utf-8").split())
    assert "No claim is made of a safety integrity level or a performance level" in said


def test_a_button_pressed_by_a_driver_is_reset_at_the_kart_by_a_person(session: Session) -> None:
    """H4 (R): Ohio DOT 2010 C&MS 733.03, on a kart's button: neither time nor the kart clears it."""
    session.race(1)
    session.equipment("kart-pressed", kart=1)
    session.wait(3_600_000)
    session.equipment("kart-at", kart=1, where="pit")
    assert session.picture.karts[1].because is Because.BUTTON
    assert session.refused("button-reset", kart=1) == {"track-not-checked"}
    session.ok("button-reset", kart=1, checked=True)
    assert not session.picture.karts[1].button


def test_the_demo_venue_has_all_posts_that_are_tried() -> None:
    assert core_of("harbour-loop").layout.posts == POSTS
