"""Every check of a rule fails once its rule is gone: this folder's checks, against tables with a mistake.

Each runs first on the table as it is, so that it is the mistake that fails it and nothing else. The venue
is an invented one with the demo venue's names, for a core of it is made sooner.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

import pytest

from signals.controller.layout import layout_of
from signals.core.forms import Table
from signals.core.machine import Core
from signals.core.table import TABLE
from signals.mqtt.access import Access, Grants, access_list
from signals.mqtt.topics import Topics
from signals.proof.small import small_layout
from signals.venue.model import Venue
from signals.words import Phase
from tests.standards import test_holding as holding
from tests.standards import test_karts as karts
from tests.standards import test_track as track
from tests.standards.conftest import Session

Check = Callable[[Session], None]

LAYOUT = small_layout(6, 9, 3, kart_class=dict.fromkeys(range(1, 9), "adult") | {9: "junior"})
SOUND = Core(LAYOUT)


def unguarded(*interlocks: str) -> Table:
    """No rule asks these interlocks any more."""
    rules = (replace(rule, needs=tuple(n for n in rule.needs if n not in interlocks)) for rule in TABLE.rules)
    return replace(TABLE, rules=tuple(rules))


def ruled(name: str, **wrong: Any) -> Table:
    """One rule with other parts."""
    return replace(TABLE, rules=tuple(replace(r, **wrong) if r.name == name else r for r in TABLE.rules))


def unmoved(name: str, machine: str) -> Table:
    """One rule leaves one machine where it is."""
    moves = next(rule.moves for rule in TABLE.rules if rule.name == name)
    return ruled(name, moves=tuple(move for move in moves if not move.target.startswith(machine)))


def unshown(says: str) -> Table:
    """Heads know nothing of one case."""
    return replace(TABLE, shows=tuple(show for show in TABLE.shows if show.says != says))


def uncapped(*because: str) -> Table:
    """Limits know nothing of some reasons."""
    return replace(TABLE, caps=tuple(cap for cap in TABLE.caps if cap.because not in because))


def all_adults() -> Table:
    """Every class may drive as fast as adults."""
    return replace(
        TABLE, caps=tuple(replace(c, limit="adult") if c.limit == "class" else c for c in TABLE.caps)
    )


def after_a_restart(fact: str, value: str) -> Table:
    """One fact is something else after a restart."""
    facts = (replace(each, on_restart=value) if each.name == fact else each for each in TABLE.facts)
    return replace(TABLE, facts=tuple(facts))


def straight_to_clear() -> Table:
    """The last lift of a stop skips recovery."""
    (move,) = next(rule.moves for rule in TABLE.rules if rule.name == "lift-stop")
    return ruled("lift-stop", moves=(replace(move, to="none"),))


def lifts_for_all() -> Table:
    """One lift of a stop ends everybody's."""
    (move,) = next(rule.moves for rule in TABLE.rules if rule.name == "lift-stop")
    return ruled("lift-stop", moves=(replace(move, when="True"),), sets={"stop[p] for p in holder": "none"})


available = holding.test_h2_a_stop_is_always_available_and_overrides
resets = holding.test_h2_its_reset_restarts_nothing
placer = holding.test_h1_only_its_placer_ends_a_hold
each_his_own = holding.test_h1_each_of_two_placers_ends_his_own
checked_first = holding.test_h1_the_area_is_checked_and_people_are_told_before_the_start
taken_over = holding.test_h1_a_hold_that_is_taken_over_is_no_longer_its_placers
latched = holding.test_h4_a_restart_from_the_record_clears_no_latch
restarted = holding.test_h8_a_restart_begins_with_the_most_restrictive_aspect
proved = holding.test_h8_no_proceed_without_proof_that_all_else_is_right
overtaking = track.test_s1_no_overtaking_from_the_first_yellow_until_the_green
call_ends = track.test_s1_a_yellow_ends_the_move_over_that_ran
green_again = track.test_s1_overtaking_is_back_with_the_green_after_the_incident_and_no_sooner
next_group = track.test_s3_the_next_group_waits_until_every_kart_is_off
raises = karts.test_k3_only_what_ends_the_reason_of_a_limit_raises_it
too_fast = karts.test_k3_whatever_is_called_no_kart_may_drive_faster_than_its_class
forgotten = karts.test_k3_what_the_desk_allows_in_a_test_is_forgotten_with_it
not_hired = karts.test_k3_k4_a_kart_nobody_hired_does_not_move

PLANTED: dict[str, tuple[Table, tuple[Check, ...]]] = {
    "H1 anybody lifts a stop": (unguarded("not-your-hold/stop"), (partial(placer, hold="stop"), taken_over)),
    "H1 anybody lifts a caution": (unguarded("not-your-hold/caution"), (partial(placer, hold="caution"),)),
    "H1 one lift ends all stops": (lifts_for_all(), (partial(each_his_own, hold="stop"),)),
    "H1 nobody looks": (unguarded("track-not-checked"), (checked_first,)),
    "H1, H2, S1 clear at once after the last lift": (
        straight_to_clear(),
        (checked_first, partial(resets, phase=Phase.RACING), green_again),
    ),
    "H2 not while closed": (
        ruled("stop", phases=("staging", "armed", "racing", "finishing")),
        (partial(available, phase=Phase.CLOSED, post="p1"),),
    ),
    "H2 only a supervisor stops": (
        ruled("stop", needs=("supervisor-only",)),
        (partial(available, phase=Phase.RACING, post="p1"),),
    ),
    "H2 no stop beside a dead head": (
        ruled("stop", needs=("head-fault",)),
        (partial(available, phase=Phase.RACING, post="desk"),),
    ),
    "H2 heads stay green": (
        unshown("a stop stands"),
        (partial(available, phase=Phase.RACING, post="p2"),),
    ),
    "H2 karts go on": (
        uncapped("stop", "fire-or-medical"),
        (partial(available, phase=Phase.RACING, post="p2"),),
    ),
    "H2, K3 yellow slows nobody": (
        uncapped("recovery", "caution", "approach"),
        (partial(resets, phase=Phase.RACING), partial(raises, begin=karts.cautioned)),
    ),
    "H4 a stop is forgotten": (after_a_restart("stop", "equipment if a == E else none"), (latched,)),
    "H4 a caution is forgotten": (after_a_restart("caution", "equipment if b == E else none"), (latched,)),
    "H4 a button is forgotten": (after_a_restart("button", "False"), (latched,)),
    "H4 a disqualification is forgotten": (after_a_restart("call", "none"), (latched,)),
    "H4 a trip is forgotten": (after_a_restart("monitor", "ok"), (latched,)),
    "H4 a dead head is forgotten": (after_a_restart("head", "ok"), (latched,)),
    "H8 a restart goes on": (after_a_restart("latch", "latch"), (partial(restarted, phase=Phase.RACING),)),
    "H8 a dead head is no matter": (
        unguarded("head-fault"),
        (partial(proved, word="head-lost", fields={"head": "h3"}, reason="head-fault"),),
    ),
    "H8 nobody need watch": (
        unguarded("monitor-absent"),
        (partial(proved, word="monitor-lost", fields={}, reason="monitor-absent"),),
    ),
    "S1 overtaking under yellow and red": (
        unguarded("no-overtaking-here"),
        (overtaking, call_ends, green_again),
    ),
    "S1 no yellow": (unshown("a sector it protects is under caution"), (overtaking, green_again)),
    "S1 the call runs on": (unmoved("caution", "call"), (call_ends,)),
    "S3 a kart is out there": (
        unguarded("track-occupied"),
        (
            partial(next_group, phase="finishing", where="s6"),
            partial(next_group, phase="racing", where="lost"),
            track.test_s3_the_start_itself_asks_again,
        ),
    ),
    "K3 a kart nobody hired is let out": (
        unguarded("not-in-group"),
        (partial(raises, begin=karts.racing), not_hired),
    ),
    "K3 a kart nobody hired may move": (uncapped("not-let-out"), (not_hired,)),
    "K3 a class is no matter": (all_adults(), (partial(too_fast, phase=Phase.TEST),)),
    "K3 a test leaves its speeds behind": (ruled("give-back", sets={}), (forgotten,)),
    "K3 speeds are allowed in a race": (
        ruled("allow", phases=("test", "racing")),
        (lambda _: karts.test_k3_no_word_but_allow_in_a_test_names_a_speed(),),
    ),
}


@pytest.mark.parametrize(("table", "checks"), PLANTED.values(), ids=PLANTED)
def test_a_check_fails_once_its_rule_is_gone(
    table: Table, checks: tuple[Check, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    for check in checks:
        check(Session(SOUND))
    mistaken = Core(LAYOUT, table)
    monkeypatch.setattr(karts, "TABLE", table)
    for check in checks:
        with pytest.raises(AssertionError):
            check(Session(mistaken))


def test_s1_fails_where_a_head_protects_the_wrong_sector(
    venue: Venue, monkeypatch: pytest.MonkeyPatch
) -> None:
    wrong = Core(replace(layout_of(venue, now_ms=0), protects=_swapped(venue)))
    monkeypatch.setattr(track, "core_of", lambda _: wrong)
    with pytest.raises(AssertionError):
        track.test_s1_yellow_is_shown_immediately_before_the_hazard(venue)


def _swapped(venue: Venue) -> dict[str, tuple[str, ...]]:
    """What each head protects, h2's and h3's exchanged."""
    protects = {head.id: head.protects for head in venue.heads}
    return protects | {"h2": protects["h3"], "h3": protects["h2"]}


def test_k3_fails_where_a_post_may_tell_a_kart_its_limit(
    venue: Venue, monkeypatch: pytest.MonkeyPatch
) -> None:
    karts.test_k3_only_the_controller_tells_a_kart_its_limit(venue)
    grants = access_list(venue).grants
    post = grants["post-p1"]
    topic = Topics.of(venue.id, simulated=venue.simulated).name("kart", "+", "limit")
    more = Grants((*post.publishes, topic), post.reads)
    monkeypatch.setattr(karts, "access_list", lambda _: Access({**grants, "post-p1": more}))
    with pytest.raises(AssertionError):
        karts.test_k3_only_the_controller_tells_a_kart_its_limit(venue)
