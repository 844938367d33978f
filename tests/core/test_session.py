"""A session from staging to the walk home, and what is refused on the way."""

from __future__ import annotations

from typing import Any

import pytest

from signals.core.state import Member
from signals.words import Aspect, Because, Condition, Phase


def test_an_arm_is_refused_with_every_reason(session: Any) -> None:
    session.ok("stage", entries=(Member(1, "A", "adult"), Member(2, "B", "junior")))
    session.ok("caution", "p1", where="s2", reason="spin")
    session.equipment("kart-lost", kart=2)
    session.equipment("limit-missed", kart=1)
    session.equipment("journal-failed")
    assert session.refused("arm") == {
        "journal-fault", "caution-holds", "kart-unreachable", "limit-not-taken", "classes-mixed",
        "checklist-open", "opening-check-missing",
    }  # fmt: skip


def test_a_refusal_says_what_where_who_since_when_and_why(session: Any) -> None:
    session.stage()
    session.ok("caution", "p1", where="s2", reason="spin")
    (refusal,) = session.call("arm").refusals
    assert refusal.rule == "caution-holds"
    assert refusal.sentence == "Yellow stands in 2 Bend, placed by post p1 at 12:00 (spin)."


def test_green_comes_only_with_start_and_only_while_racing(session: Any) -> None:
    session.stage()
    session.ok("arm")
    assert session.picture.aspects["h1"][0] is Aspect.DARK
    session.ok("start")
    assert {shown[0] for shown in session.picture.aspects.values()} == {Aspect.GREEN}
    session.ok("finish")
    assert session.picture.aspects["h1"][0] is Aspect.RED_YELLOW
    assert session.picture.aspects["px1"][0] is Aspect.RED


def test_armed_expires_by_itself(session: Any) -> None:
    session.stage()
    session.ok("arm")
    assert session.core.next_deadline(session.state) == session.now_ms + 60_000
    session.wait(59_999)
    assert session.picture.phase is Phase.ARMED
    decision = session.wait(1)
    assert decision.happened == ("armed-expired",)
    assert session.picture.phase is Phase.STAGING


def test_the_last_lift_gives_recovery_and_a_clear_is_needed(session: Any) -> None:
    session.race()
    session.ok("stop", "p1", reason="smoke")
    session.ok("stop", "p2", reason="smoke")
    epoch = session.state.epoch
    assert session.picture.condition is Condition.STOP
    assert session.picture.karts[1].limit_kmh == 0
    for kart in (1, 2):
        session.equipment("kart-stands", kart=kart)
    session.ok("lift", "p1", hold="stop:p1")
    assert session.state.epoch == epoch
    session.ok("lift", "p2", hold="stop:p2")
    assert session.state.epoch == epoch + 1
    assert session.picture.condition is Condition.CAUTION
    assert session.picture.karts[1].because is Because.RECOVERY
    assert session.refused("clear") == {"track-not-checked"}
    session.ok("clear", checked=True)
    assert session.picture.condition is Condition.CLEAR


def test_a_stop_is_never_refused(session: Any) -> None:
    session.equipment("journal-failed")
    for post, kind in (("p1", "nonsense"), ("p1", "fire"), ("p1", "incident")):
        assert session.call("stop", post, kind=kind, id="same").accepted
    assert session.picture.holds[0].kind == "fire"  # a stop only goes up
    session.equipment("monitor-tripped", reason="h1 green, red due")
    assert session.picture.holds[1].post == "E"


def test_a_stop_called_again_is_a_change_too(session: Any) -> None:
    session.ok("stop", "p1", reason="smoke")
    before = session.state
    assert session.ok("stop", "p1", reason="smoke").changed
    assert (session.state.epoch, session.state.serial) == (before.epoch + 1, before.serial + 1)
    assert session.state.notes == before.notes


def test_the_gap_between_karts(session: Any) -> None:
    session.stage()
    session.ok("arm")
    session.ok("start")
    session.ok("let-out", kart=1)
    assert session.refused("let-out", kart=2) == {"gap-running"}
    session.wait(5_000)
    session.ok("let-out", kart=2)
    assert session.refused("let-out", kart=3) == {"gap-running", "not-in-group"}


def test_a_kart_that_came_home_must_be_let_out_again(session: Any) -> None:
    session.race()
    session.equipment("kart-at", kart=1, where="pit")
    assert session.picture.karts[1].because is Because.PIT_LANE
    session.equipment("kart-stands", kart=1)
    session.wait(2_999)
    assert session.picture.karts[1].limit_kmh == 8
    session.wait(1)
    assert session.picture.karts[1].because is Because.NOT_LET_OUT


def test_entering_against_red_stops_everything(session: Any) -> None:
    session.stage()
    session.equipment("kart-at", kart=1, where="s1")
    assert session.picture.stopped
    assert session.picture.holds[0].post == "E"
    assert "kart 1" in session.picture.holds[0].hold.reason


def test_a_lost_kart_is_yellow_everywhere_and_home_without_it_is_possible(session: Any) -> None:
    session.race()
    session.equipment("kart-lost", kart=2)
    assert set(session.picture.sectors.values()) == {Condition.CAUTION}
    session.ok("finish")
    assert "track-occupied" in session.refused("close")
    session.equipment("kart-at", kart=1, where="pit")
    assert session.refused("account", kart=2, where="aside") == {"seen-on-track"}
    session.ok("account", kart=2, where="aside", checked=True)
    for sector in session.core.layout.sectors:
        session.ok("lift", "p1", hold=f"caution:{sector}:E", checked=True)
    session.ok("close")
    assert session.picture.aspects["h1"][0] is Aspect.DARK


def test_nobody_lifts_over_a_person_on_the_track(session: Any) -> None:
    session.race()
    session.ok("caution", "p1", where="s2", kind="person-on-track", partner="p2", reason="pushing kart 2")
    assert session.picture.karts[1].because is Because.PERSON_ON_TRACK
    hold = "caution:s2:p1"
    assert session.refused("lift", "desk", hold=hold, checked=True, reason="in a hurry") == {
        "person-on-track"
    }
    assert session.refused("hand-over", "desk", hold=hold) == {"person-on-track"}
    session.ok("lift", "p2", hold=hold, checked=True)
    assert session.picture.karts[1].because is Because.CLASS


def test_the_driver_is_barred_not_the_kart(session: Any) -> None:
    session.race()
    session.ok("disqualify-one", kart=1)
    assert session.picture.karts[1].because is Because.DISQUALIFIED
    assert session.picture.aspects["h1"][:2] == (Aspect.NUMBER, 1)
    session.equipment("kart-at", kart=1, where="pit")
    session.equipment("kart-at", kart=2, where="pit")
    session.ok("finish")
    assert session.refused("stage", entries=(Member(3, "driver 1", "adult"),)) == {"barred-driver"}
    session.ok("stage", entries=(Member(1, "somebody else", "adult"),))


def test_a_swap_takes_the_call_along(session: Any) -> None:
    session.race()
    session.ok("disqualify-one", kart=1)
    assert session.refused("swap", kart=1, to=3) == {"not-in-pit"}
    session.equipment("kart-at", kart=1, where="pit")
    session.ok("swap", kart=1, to=3)
    assert session.picture.karts[3].call == "disqualified"
    assert session.picture.karts[1].call == "none"
    assert [member.kart for member in session.state.beside.group.members] == [3, 2]


def test_a_late_driver_opens_the_checklist_again(session: Any) -> None:
    session.race(1)
    session.ok("join", entries=(Member(3, "late", "adult"),))
    assert session.refused("let-out", kart=3) == {"checklist-open"}
    for item in session.core.layout.checklist:
        session.ok("confirm", item=item)
    session.ok("let-out", kart=3)


def test_move_over_ends_by_time_by_caution_and_by_finish(session: Any) -> None:
    session.race()
    for end in (
        lambda: session.wait(20_000),
        lambda: session.ok("caution", "p1", where="s1"),
    ):
        session.ok("move-over-one", kart=1)
        assert session.picture.aspects["h1"][:2] == (Aspect.BLUE_FLASH, 1)
        end()
        assert session.picture.karts[1].call == "none"
    assert session.refused("move-over-one", kart=1) == {"no-overtaking-here"}


def test_a_stale_view_widens_nothing(session: Any) -> None:
    session.stage()
    seen = (session.state.boot, session.state.serial)
    session.ok("caution", "p1", where="s1")
    session.ok("lift", "p1", hold="caution:s1:p1", checked=True)
    assert session.refused("arm", seen=seen) == {"stale-view"}
    assert session.refused("arm", seen=None) == {"stale-view"}
    assert session.refused("arm", seen=("other", 10**6)) == {"stale-view"}
    session.ok("arm")


def test_an_id_names_one_call(session: Any) -> None:
    session.ok("verdict", verdict="open", until=1, checked=True, id="x")
    again = session.call("verdict", verdict="open", until=1, checked=True, id="x")
    assert again.accepted
    assert not again.changed
    assert session.refused("verdict", verdict="do-not-open", until=1, id="x") == {"id-reused"}


def test_lamps_are_lent_shown_and_given_back(session: Any) -> None:
    session.ok("lend")
    session.ok("show", head="h2", aspect="green")
    assert session.picture.aspects["h2"][0] is Aspect.GREEN
    session.wait(9_000)
    session.ok("show", head="h2", aspect="green")
    session.wait(9_000)
    assert session.picture.aspects["h2"][0] is Aspect.GREEN
    session.wait(1_000)
    assert session.picture.aspects["h2"][0] is Aspect.DARK
    session.ok("allow", kart=1, limit_kmh=15)
    assert (session.picture.karts[1].limit_kmh, session.picture.karts[1].because) == (15, Because.TEST)
    session.ok("stop", "p1")
    assert session.picture.phase is Phase.CLOSED
    assert session.picture.karts[1].limit_kmh == 0


def test_a_single_lamp_goes_back_with_what_it_was_shown_under_and_is_not_lent_anew(session: Any) -> None:
    session.ok("lend")
    session.ok("show", head="h2", aspect="red", lamp="red")
    assert session.picture.aspects["h2"] == (Aspect.RED, None, "red")
    session.wait(10_000)
    assert session.picture.aspects["h2"] == (Aspect.DARK, None, None)
    session.ok("show", head="h2", aspect="red", lamp="red")
    session.ok("give-back")
    session.ok("lend")
    assert session.picture.aspects["h2"] == (Aspect.DARK, None, None)


def test_a_number_display_is_tried_with_a_number(session: Any) -> None:
    able = next(iter(session.core.layout.numbers))
    session.ok("lend")
    session.ok("show", head=able, aspect="number", kart=88)
    assert session.picture.aspects[able] == (Aspect.NUMBER, 88, None)
    session.ok("show", head=able, aspect="blue-flash", kart=2)
    assert session.picture.aspects[able] == (Aspect.BLUE_FLASH, 2, None)
    session.ok("show", head=able, aspect="red", kart=2)
    assert session.picture.aspects[able] == (Aspect.RED, None, None)


def test_out_of_service_needs_a_flag_and_a_twin(session: Any) -> None:
    session.equipment("head-lost", head="px1")
    assert "head-fault" in session.refused("arm")
    assert session.refused("out-of-service", "p1", head="px1") == {"supervisor-only", "no-flag-marshal"}
    session.ok("out-of-service", head="px1", by="Kim with a flag", reason="lamp dead")
    assert session.refused("out-of-service", head="h2", by="Kim", reason="x") == {"no-other-head"}
    session.equipment("day-ended")
    assert session.picture.heads["px1"] == "lost"


def test_a_restart_loses_nothing_and_stops(session: Any, core: Any) -> None:
    session.race()
    session.ok("caution", "p1", where="s2", reason="spin", partner="p2")
    session.ok("disqualify-one", kart=2)
    session.equipment("kart-pressed", kart=1)
    state = core.load(core.dump(session.state), "boot2")
    assert state.facts == session.state.facts
    assert state.notes == session.state.notes
    session.state = state
    decision = session.equipment("restart")
    assert decision.changed
    assert session.picture.stopped
    assert {kart.place for kart in session.picture.karts.values()} == {"unknown"}
    assert session.picture.karts[2].call == "disqualified"
    assert session.picture.karts[1].button
    assert "caution:s2:p1" in session.state.notes
    assert session.refused("lift", hold="stop:E", reason="x") == {"karts-moving", "kart-button-pressed"}


@pytest.mark.parametrize(
    "dumped", [{}, {"facts": []}, {"facts": {"stop": {"nobody": "incident"}}, "notes": {}}]
)
def test_an_unreadable_snapshot_is_said(core: Any, dumped: Any) -> None:
    with pytest.raises(ValueError, match="snapshot"):
        core.load(dumped, "boot2")


def test_inputs_place_holds_and_their_fault_must_end_first(session: Any) -> None:
    session.equipment("input-active", input="gate")
    assert session.refused("lift", "p1", hold="caution:pit:E", checked=True) == {"fault-stands"}
    session.equipment("input-normal", input="gate")
    assert session.picture.sectors["pit"] is Condition.CAUTION
    session.ok("lift", "p1", hold="caution:pit:E", checked=True)
    session.equipment("input-active", input="alarm")
    assert session.picture.stopped
    assert session.refused("lift", hold="stop:E", reason="false alarm") == {"fault-stands"}


def test_unknown_targets_are_told_apart(session: Any) -> None:
    for word, fields in (
        ("caution", {"where": "nowhere"}),
        ("let-out", {"kart": 99}),
        ("lift", {"hold": "everything"}),
        ("confirm", {"item": "shoes"}),
        ("account", {"kart": 1, "where": "s1"}),
        ("stage", {"entries": (Member(77, "x", "adult"),)}),
        ("stage", {"entries": (Member(1, "x", "royal"),)}),
        ("fly", {}),
    ):
        assert session.refused(word, **fields) == {"unknown-target"}
    assert session.refused("arm", post="roof") == {"unknown-target"}
