"""People on foot: where they walk, when they are at risk, that everyone gets back."""

from __future__ import annotations

import pytest

from signals.venue.model import Venue
from signals.words import Aspect
from sim import people
from sim.scene import Person, Trouble
from tests.sim.roll import Roll


@pytest.fixture
def roll(venue: Venue) -> Roll:
    roll = Roll(venue)
    roll.put(1, 150.0, 0.0)
    return roll


def story(roll: Roll, seconds: float) -> list[tuple[str, bool]]:
    """Tell what the first person does, and whether on the road, while it changes."""
    told: list[tuple[str, bool]] = []
    for _ in range(round(seconds * 60)):
        scene = roll.step()
        if scene.people:
            person = scene.people[0]
            now = (person.doing, people.on_road(roll.ground, person))
            if not told or told[-1] != now:
                told.append(now)
    return told


def test_a_marshal_walks_out_pushes_and_walks_back_once_the_heads_are_yellow(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    roll.run(5)
    assert roll.scene.people == (), "nobody walks out under green"
    roll.aspect = Aspect.YELLOW_FLASH
    told = story(roll, 60)
    assert told == [
        ("stands", False),
        ("out", False),
        ("out", True),
        ("pushes", True),
        ("back", True),
        ("back", False),
    ]
    assert roll.scene.people == ()
    assert roll.kart(1).trouble is Trouble.NONE


def test_only_the_heads_before_the_place_count(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    roll.heads = {"h6": Aspect.YELLOW_FLASH}
    assert story(roll, 5) == []
    roll.heads = {"h3": Aspect.YELLOW_FLASH}
    assert story(roll, 5)


def test_the_nearest_post_that_covers_the_place_sends_its_marshal(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    roll.aspect = Aspect.RED
    roll.run(2)
    assert [person.post for person in roll.scene.people] == ["p1"]
    roll.put(2, 300.0)
    roll.happen("stall", kart=2)
    roll.run(2)
    assert [person.post for person in roll.scene.people] == ["p1", "p2"]


def test_one_marshal_sees_to_one_thing_after_the_other(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    roll.happen("debris", where="s2")
    roll.aspect = Aspect.YELLOW
    roll.run(3)
    assert len(roll.scene.people) == 1
    roll.run(100)
    assert roll.kart(1).trouble is Trouble.NONE
    assert roll.scene.items == ()
    assert roll.scene.people == ()


def test_a_marshal_does_not_go_where_it_ends_by_itself(roll: Roll) -> None:
    roll.aspect = Aspect.YELLOW_FLASH
    roll.happen("spin", kart=1)
    assert story(roll, 9) == []


def test_a_kart_that_smoked_is_put_out_and_limps_from_then_on(roll: Roll) -> None:
    roll.happen("smoke", kart=1)
    roll.aspect = Aspect.RED
    doings = [doing for doing, _ in story(roll, 60)]
    assert doings.index("sweeps") < doings.index("pushes")
    assert roll.kart(1).limp == people.LAME
    assert roll.kart(1).limp_until_s > roll.scene.time_s


@pytest.mark.parametrize(("event", "takes_s"), [("medical", 12.0), ("child-in-tears", 8.0)])
def test_a_driver_who_is_ill_or_in_tears_is_looked_after_and_comes_in(
    roll: Roll, event: str, takes_s: float
) -> None:
    roll.happen(event, kart=1)
    roll.aspect = Aspect.RED
    doings = []
    for _ in range(60 * 60):
        roll.run(1 / 60)
        doings += [person.doing for person in roll.scene.people]
    assert doings.count("sweeps") == pytest.approx(takes_s * 60, abs=3)
    assert "pushes" in doings
    assert roll.kart(1).home
    assert roll.kart(1).limp == people.LAME


def test_an_overturned_kart_is_righted_and_drives_on(roll: Roll) -> None:
    roll.happen("overturned", kart=1)
    roll.run(3)
    assert roll.kart(1).turned_deg == 80
    roll.aspect = Aspect.RED
    story(roll, 60)
    assert roll.kart(1).trouble is Trouble.NONE
    assert not roll.kart(1).home


def test_a_driver_who_climbed_out_walks_off_the_road_and_back_when_called(roll: Roll) -> None:
    roll.happen("driver-out", kart=1)
    told = story(roll, 10)
    assert told == [("out", True), ("out", False), ("stands", False)]
    roll.aspect = Aspect.YELLOW_FLASH
    roll.run(60)
    assert roll.scene.people == ()
    assert roll.kart(1).trouble is Trouble.NONE


def test_a_driver_climbs_out_only_once_the_kart_stands(roll: Roll) -> None:
    roll.happen("driver-out", kart=1)
    while roll.kart(1).v_mps > 0:
        assert roll.scene.people == ()
        roll.step()
    roll.step()
    assert [person.who for person in roll.scene.people] == ["driver"]


def test_a_driver_is_called_back_whoever_was_out_first(roll: Roll) -> None:
    roll.happen("driver-out", kart=1)
    roll.aspect = Aspect.YELLOW_FLASH
    roll.happen("marshal-out", kart=1)
    assert [person.who for person in roll.scene.people] == ["marshal"]
    roll.run(60)
    assert roll.scene.people == ()
    assert roll.kart(1).trouble is Trouble.NONE


def test_a_driver_who_climbed_out_for_a_time_goes_on_by_himself(roll: Roll) -> None:
    roll.happen("driver-out", kart=1, for_ms=15_000)
    roll.run(20)
    assert roll.scene.people == ()
    assert roll.kart(1).trouble is Trouble.NONE


def test_somebody_in_the_pit_lane_walks_in_and_out(roll: Roll) -> None:
    roll.happen("person-in-pit", for_ms=8000)
    assert story(roll, 15) == [
        ("out", False),
        ("out", True),
        ("stands", True),
        ("back", True),
        ("back", False),
    ]
    assert roll.scene.people == ()


def test_a_marshal_can_be_sent_and_called_back(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    assert roll.happen("marshal-out", kart=1) == "A marshal of Post 1 walks out"
    roll.run(5)
    roll.happen("marshal-back")
    assert {person.doing for person in roll.scene.people} == {"back"}
    roll.run(30)
    assert roll.scene.people == ()
    assert roll.kart(1).trouble is Trouble.STALL


def test_a_marshal_whose_kart_drove_off_turns_back(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    roll.happen("marshal-out", kart=1)
    roll.run(4)
    roll.happen("kart-free", kart=1)
    roll.run(30)
    assert roll.scene.people == ()


def test_walking_is_no_faster_than_people_walk(roll: Roll) -> None:
    roll.happen("stall", kart=1)
    roll.aspect = Aspect.YELLOW
    last: Person | None = None
    for _ in range(60 * 40):
        now = next(iter(roll.step().people), None)
        if last is not None and now is not None:
            assert abs(now.left_m - last.left_m) * 60 <= people.RUN_MPS + 0.2
            assert abs((now.at_m - last.at_m + 200) % 412 - 200) * 60 <= people.RUN_MPS + 0.01
        last = now


def test_the_same_story_twice_is_the_same(venue: Venue) -> None:
    digests = set()
    for _ in range(2):
        roll = Roll(venue, aspect=Aspect.YELLOW)
        roll.put(1, 150.0, 5.0)
        roll.happen("stall", kart=1)
        digests.add(roll.run(20).digest())
    assert len(digests) == 1
