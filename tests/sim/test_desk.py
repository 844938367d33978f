"""What the desk makes of messages."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import pytest

from signals.look import IDLE, OF_CONDITION
from signals.mqtt import contract as c
from signals.mqtt.link import Arrived
from signals.picture import Level
from signals.words import PIT, Aspect, Because, Condition, Phase, Word
from sim.view.explain import explain
from sim.view.ribbon import TRACK
from sim.view.trackmap import between
from tests.sim.story import Story


@pytest.fixture
def racing(story: Story) -> Story:
    story.group_in()
    story.race()
    story.tell()
    return story


def test_missing_beats_are_told_within_a_second(racing: Story) -> None:
    racing.later(0.6)
    assert not racing.desk.lost(racing.now_s)
    racing.later(0.3)
    assert racing.desk.lost(racing.now_s)
    racing.beat()
    assert not racing.desk.lost(racing.now_s)


def test_a_link_that_is_down_is_lost_at_once(racing: Story) -> None:
    racing.desk.linked(up=False)
    assert racing.desk.lost(racing.now_s)
    racing.desk.linked(up=True)
    assert racing.desk.lost(racing.now_s), "up again, but nothing heard yet"


def test_heads_are_shown_as_they_show_not_as_due(racing: Story) -> None:
    racing.shown = {"h2": Aspect.RED}
    racing.tell()
    assert racing.desk.shows("h2", racing.now_s) is Aspect.RED
    assert not racing.desk.differs("h2", racing.now_s), "it may take a moment"
    racing.later(0.5)
    racing.tell()
    assert racing.desk.differs("h2", racing.now_s)
    assert not racing.desk.differs("h1", racing.now_s)
    said = explain("head:h2", racing.desk, racing.hands, racing.now_s)
    assert said == "Head h2: shows RED, due GREEN. It stands before 2 Anchor."


def test_a_head_that_is_not_heard_shows_nothing_we_know(racing: Story) -> None:
    racing.later(1.0)
    racing.beat()
    assert racing.desk.shows("h1", racing.now_s) is None
    assert explain("head:h1", racing.desk, racing.hands, racing.now_s).startswith(
        "Head h1: not heard, due GREEN"
    )


@pytest.mark.parametrize(
    ("place", "limit", "level"),
    [
        ("s1", 45, Level.FULL),
        ("s1", 28, Level.FULL),
        ("s1", 15, Level.CAUTION),
        ("s1", 12, Level.CAUTION),
        ("s1", 5, Level.CREEP),
        ("s1", 0, Level.STOPPED),
        (PIT, 0, Level.WAITING),
        ("aside", 0, Level.WAITING),
        ("unknown", 0, Level.STOPPED),
    ],
)
def test_a_ring_tells_the_limit(story: Story, place: str, limit: float, level: Level) -> None:
    story.put(1, place, limit, Because.CLASS)
    story.tell()
    assert story.desk.picture.level(1) is level


def test_a_refusal_stays_until_the_next_call(racing: Story) -> None:
    racing.press("S", "Enter")
    racing.answer(("wrong-phase", "Racing already."), ("caution-holds", "Yellow stands in 3 Hairpin."))
    for _ in range(40):
        racing.later(0.5)
        racing.tell()
    outcome = racing.desk.outcome
    assert outcome is not None
    assert (outcome.action, outcome.title) == ("start", "Start refused.")
    assert outcome.lines == ("Racing already.", "Yellow stands in 3 Hairpin.")
    racing.press("3", "Y")
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.title == "Yellow 3 Hairpin …"


def test_an_answer_that_was_not_recorded_says_so(racing: Story) -> None:
    racing.press("Space")
    racing.answer(recorded=False)
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.title == "Red: done."
    assert racing.desk.outcome.lines == ("Not recorded: the journal fails.",)


def test_silence_for_a_second_is_told(racing: Story) -> None:
    racing.press("3", "Y")
    racing.later(0.9)
    racing.desk.tick(racing.now_s)
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.accepted is None
    racing.later(0.2)
    racing.desk.tick(racing.now_s)
    assert racing.desk.outcome.title == "Yellow 3 Hairpin was not answered."


def test_another_posts_answer_is_not_ours(racing: Story) -> None:
    racing.press("Space")
    answer = c.Answer(id=racing.calls[-1].id, accepted=False, recorded=True, refusals=[], seq=1)
    racing.say("answer/p1", answer)
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.accepted is None


def test_the_ribbon_keeps_two_minutes_of_every_sector(racing: Story) -> None:
    racing.hold("caution", "s3")
    racing.tell()
    racing.later(10)
    racing.holds = []
    racing.tell()
    racing.later(30)
    racing.tell()
    ribbon, now_s = racing.desk.ribbon, racing.now_s
    yellow = OF_CONDITION[Condition.CAUTION]
    assert [
        (round(now_s - start), round(now_s - end))
        for start, end, dress in ribbon.stretches("s3", now_s)
        if dress is yellow
    ] == [(40, 30)]
    assert not [1 for *_, dress in ribbon.stretches("s2", now_s) if dress is yellow]
    assert [1 for *_, dress in ribbon.stretches(TRACK, now_s) if dress is yellow]
    racing.later(200)
    racing.tell()
    assert not [1 for *_, dress in ribbon.stretches("s3", racing.now_s) if dress is yellow]


def test_the_ribbon_is_green_only_while_racing_and_blank_while_the_link_is_lost(story: Story) -> None:
    story.tell()
    assert set(story.desk.dresses().values()) == {IDLE}
    story.group_in()
    story.race()
    story.tell()
    assert set(story.desk.dresses().values()) == {OF_CONDITION[Condition.CLEAR]}
    story.later(1)
    story.desk.tick(story.now_s)
    story.later(5)
    last = list(story.desk.ribbon.stretches("s1", story.now_s))[-1]
    assert story.now_s - last[1] == pytest.approx(5.0)


def test_every_call_and_answer_is_marked_also_other_posts(racing: Story) -> None:
    racing.press("3", "Y")
    racing.answer()
    racing.press("S", "Enter")
    racing.answer(("wrong-phase", "Racing already."))
    racing.say("call/p1", c.Call(id="p1-1", call=Word.CAUTION, where="s2"))
    racing.say("answer/p1", c.Answer(id="p1-1", accepted=True, recorded=True, refusals=[], seq=3))
    racing.say("call/p2", c.Call(id="p2-1", call=Word.LIFT, hold="caution:s4:p2"))
    racing.say("call/desk", racing.calls[0])
    racing.say("call/desk", c.Call(id="phone-1", call=Word.ARM))
    marks = [(entry.row, entry.letter, entry.accepted) for entry in racing.desk.ribbon.entries]
    assert marks == [
        ("s3", "Y", True),
        (TRACK, "S", False),
        ("s2", "Y", True),
        ("s4", "L", None),
        (TRACK, "A", None),
    ]
    said = explain(f"entry:{racing.calls[1].id}", racing.desk, racing.hands, racing.now_s)
    assert said == "Start refused. Racing already."
    said = explain("entry:p1-1", racing.desk, racing.hands, racing.now_s)
    assert said == "Post 1 calls Yellow 2 Anchor: done."


def test_a_retained_call_of_another_post_is_ignored(racing: Story) -> None:
    payload = b'{"id":"x","call":"stop"}'
    racing.desk.hear(Arrived(racing.topics.name("call", "p1"), payload, retained=True), racing.now_s)
    assert not racing.desk.ribbon.entries


@pytest.mark.parametrize(
    "payload", [b"", b"{", b"[]", b'{"boot":1}', b"\xff", b'{"boot":"k3v9","seq":1,"more":2}']
)
@pytest.mark.parametrize(
    "level", ["beat", "state", "group", "head/h1/shown", "world", "monitor/trip", "answer/desk"]
)
def test_what_cannot_be_read_is_counted_and_changes_nothing(
    racing: Story, level: str, payload: bytes
) -> None:
    before = (racing.desk.state, racing.desk.group, dict(racing.desk.shown), racing.desk.outcome)
    racing.desk.hear(Arrived(racing.topics.name(*level.split("/")), payload), racing.now_s)
    assert racing.desk.rejects == 1
    assert (racing.desk.state, racing.desk.group, racing.desk.shown, racing.desk.outcome) == before


def test_another_venues_messages_are_not_ours(racing: Story) -> None:
    racing.desk.hear(Arrived("kerblight-sim/1/elsewhere/beat", b"{}"), racing.now_s)
    assert racing.desk.rejects == 0


def test_the_gravest_is_told_first(racing: Story) -> None:
    racing.desk.banner("Nodes ended; starting again", racing.now_s)
    racing.say("monitor/status", c.MonitorStatus(status="lost"))
    racing.say("controller/status", c.ControllerStatus(status="gone", boot="k3v9x2"))
    racing.say(
        "monitor/trip",
        c.Trip(tripped=True, what="less restrictive", where="h2", due="red", shown="green", at=1),
    )
    racing.tell(journal="failed", faults=["Head h4 is lost since 14:02."])
    starts = [line.split()[0:2] for line in racing.desk.warnings(racing.now_s)]
    assert starts == [
        ["Monitor", "tripped:"],
        ["The", "controller"],
        ["The", "monitor"],
        ["The", "journal"],
        ["Nodes", "ended;"],
        ["Head", "h4"],
    ]
    racing.later(20)
    assert not any(line.startswith("Nodes") for line in racing.desk.warnings(racing.now_s))


def test_a_restarted_controller_is_told(racing: Story) -> None:
    racing.beat(boot="other1")
    assert racing.desk.warnings(racing.now_s)[0].startswith("The controller was restarted")


def test_the_session_clock_runs_down_and_over(racing: Story) -> None:
    left_s = racing.desk.left_s()
    assert left_s is not None
    assert round(left_s) == 385
    racing.phase = Phase.CLOSED
    racing.tell()
    assert racing.desk.left_s() is None


def test_the_session_clock_stands_once_chequered_is_shown(racing: Story) -> None:
    racing.phase = Phase.FINISHING
    racing.tell()
    assert racing.desk.left_s() is None


def test_an_answer_that_comes_late_is_told(racing: Story) -> None:
    racing.press("3", "Y")
    racing.later(1.2)
    racing.desk.tick(racing.now_s)
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.title == "Yellow 3 Hairpin was not answered."
    racing.answer()
    assert racing.desk.outcome.title == "Yellow 3 Hairpin: done, answered late."
    assert racing.desk.ribbon.entries[-1].accepted is True


def test_a_late_answer_does_not_cover_a_newer_call(racing: Story) -> None:
    racing.press("3", "Y")
    late = racing.calls[-1]
    racing.later(1.2)
    racing.desk.tick(racing.now_s)
    racing.press("4", "Y")
    racing.say("answer/desk", c.Answer(id=late.id, accepted=True, recorded=True, refusals=[], seq=1))
    assert racing.desk.outcome is not None
    assert racing.desk.outcome.title == "Yellow 4 Slipway …"


def test_nothing_follows_a_late_answer_by_itself(story: Story) -> None:
    story.tell()
    story.press("G")
    story.later(1.2)
    story.desk.tick(story.now_s)
    story.answer()
    assert story.words() == [Word.PREPARE]


def test_a_kart_that_is_not_heard_is_shown_as_old_with_its_age(racing: Story) -> None:
    racing.put(2, "unknown", 15, Because.CAUTION, link=False)
    racing.tell()
    racing.later(12)
    racing.tell()
    assert racing.desk.silent_s(2, racing.now_s) == pytest.approx(12)
    assert racing.desk.why(2, racing.now_s) == "silent 12 s"
    assert explain("kart:2", racing.desk, racing.hands, racing.now_s).endswith("all this is old.")
    racing.put(2, "s2", 45, Because.CLASS, link=True)
    racing.tell()
    assert racing.desk.silent_s(2, racing.now_s) is None
    assert racing.desk.why(2, racing.now_s) == "full speed"


def test_the_age_of_a_picture_counts_from_the_last_that_was_heard(racing: Story) -> None:
    assert racing.desk.age_s(racing.now_s) == 0
    racing.later(9)
    assert racing.desk.age_s(racing.now_s) == pytest.approx(9)
    assert racing.desk.world_age_s(racing.now_s) == pytest.approx(9)


def finding(number: int, where: str = "s3") -> c.WorldFinding:
    return c.WorldFinding(
        id=number, at_ms=1, rule="overtaking", karts=[4, 3], where=where, at_m=150.0, said=f"Seen {number}"
    )


def test_what_the_referee_saw_is_taken_in_once_and_marked_on_the_ribbon(racing: Story) -> None:
    for seen in ([finding(1)], [finding(1), finding(2, "pit")], [], [finding(1), finding(2, "pit")]):
        racing.say("world", c.WorldView(at_ms=1, karts=[], incidents=[], seen=seen))
    assert [each.id for each in racing.desk.seen] == [1, 2]
    marks = [(entry.row, entry.letter, entry.seen) for entry in racing.desk.ribbon.entries]
    assert marks == [("s3", "!", True), (PIT, "!", True)]
    assert explain("entry:seen-1", racing.desk, racing.hands, racing.now_s) == "Seen: Seen 1"


def test_a_world_that_began_anew_is_believed(racing: Story) -> None:
    for seen in ([finding(1), finding(2)], [finding(1)]):
        racing.say("world", c.WorldView(at_ms=1, karts=[], incidents=[], seen=seen))
    assert [each.id for each in racing.desk.seen] == [1]


def test_karts_move_evenly_though_reports_come_unevenly(racing: Story) -> None:
    began_s, places = racing.now_s, []
    late_s = (0.0, 0.018, 0.004, 0.022, 0.0, 0.015, 0.009, 0.02) * 12
    reports = [(number / 30 + late, number) for number, late in enumerate(late_s)]
    for frame in range(60 * 3):
        now_s = began_s + frame / 60
        while reports and began_s + reports[0][0] <= now_s:
            number = reports.pop(0)[1]
            kart = c.WorldKart(
                number=1, x_m=number / 3, y_m=0, heading_deg=0, at_m=0, speed_kmh=36, in_pit=False
            )
            at_ms = racing.wall() + round(number * 1000 / 30)
            view = c.WorldView(at_ms=at_ms, karts=[kart], incidents=[])
            racing.desk.hear(Arrived(racing.topics.name("world"), msgspec.json.encode(view)), now_s)
        placed = between(racing.desk, now_s)
        places.append(placed[0][1] if placed else 0.0)
    steps = [after - before for before, after in pairwise(places[60:])]
    assert sum(steps) / len(steps) * 60 == pytest.approx(10, abs=0.1), "10 m/s"
    assert max(abs(step * 60 - 10) for step in steps) < 2, "no frame is a fifth off"
