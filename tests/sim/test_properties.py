"""Whatever happens, in whatever order: the world stays a world, and the same twice."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from signals.mqtt.contract import Inject
from signals.words import Aspect
from sim.engine import RUN_OFF_M, step
from sim.incidents import EVENTS, OF_A_KART, apply
from sim.kart import G_MPS2
from sim.scene import STEP_S, Heard, Kart, Scene, Trouble
from sim.showing import befallen, world_view
from tests.sim.drive import Drive

if TYPE_CHECKING:
    from collections.abc import Mapping

    from signals.venue.model import Venue

KARTS = range(1, 9)
SECTORS = ("s1", "s2", "s3", "s4", "s5", "s6")
BEYOND_M = 3.5
"""How far beyond a white line a corner is cut at most, and a bit."""


@st.composite
def happenings(draw: st.DrawFn) -> list[tuple[str, object]]:
    """Draw what reaches a world, second by second: limits, aspects, radios, events."""
    limits = st.tuples(
        st.just("limits"), st.dictionaries(st.sampled_from(KARTS), st.sampled_from((0, 5, 15, 45)))
    )
    aspects = st.tuples(st.just("show"), st.sampled_from(Aspect))
    silent = st.tuples(st.just("silent"), st.sets(st.sampled_from(KARTS), max_size=3))
    event = st.builds(
        Inject,
        id=st.just("e1"),
        event=st.sampled_from(EVENTS),
        kart=st.sampled_from((None, *KARTS)),
        where=st.sampled_from((None, *SECTORS)),
        for_ms=st.sampled_from((None, 500, 8000)),
    )
    events = st.tuples(st.just("event"), event)
    return draw(st.lists(st.one_of(limits, aspects, silent, events, events), min_size=5, max_size=25))


def begun(venue: Venue, seed: int) -> Drive:
    drive = Drive(venue, seed=seed, pit_kmh=venue.limits.pit)
    for number in KARTS[:5]:
        drive.place(number, at_m=60.0 * number % venue.length_m, v_mps=6.0)
    drive.limits = dict.fromkeys(KARTS, 45.0)
    return drive


def happen(drive: Drive, what: tuple[str, object]) -> None:
    match what:
        case ("limits", dict(limits)):
            drive.limits |= limits
        case ("show", Aspect() as aspect):
            drive.show(aspect)
        case ("silent", set(numbers)):
            drive.silent = numbers
        case ("event", Inject() as event):
            scene, said = apply(drive.ground, drive.scene, event)
            assert said
            assert (
                event.kart is not None or event.event not in OF_A_KART or event.event == "smoke" or not scene
            )
            drive.scene = scene or drive.scene


def holds(drive: Drive, before: Kart, kart: Kart) -> None:
    """What is true of a kart after every step."""
    ground = drive.ground
    numbers = [value for value in msgspec.structs.astuple(kart) if isinstance(value, float)]
    assert not any(math.isnan(number) for number in numbers)
    assert all(map(math.isfinite, (kart.at_m, kart.left_m, kart.v_mps, kart.course_rad, kart.turned_deg)))
    assert 0.0 <= kart.throttle <= 1.0
    assert 0.0 <= kart.brake <= 1.0
    if kart.on_pit_lane:
        assert -1.0 <= kart.at_m <= ground.track.pit.length_m + 1.0
        return
    assert 0.0 <= kart.at_m < ground.track.length_m
    right_m, left_m = ground.track.edges_m(kart.at_m)
    spare_m = (
        BEYOND_M if kart.trouble is Trouble.SHORTCUT or before.trouble is Trouble.SHORTCUT else RUN_OFF_M
    )
    assert -right_m - spare_m - 0.01 <= kart.left_m <= left_m + spare_m + 0.01
    if not (kart.trouble or before.trouble or before.on_pit_lane):
        assert (
            abs(kart.v_mps - before.v_mps)
            <= ground.grip[False][0] * G_MPS2 * 1.1 * STEP_S + ground.reverse_mps
        )
        assert kart.v_mps <= max(kart.cap_mps, before.v_mps - ground.ramp[0] * STEP_S) + 1e-9
        assert kart.v_mps >= -ground.reverse_mps - 1e-9


def lives(venue: Venue, seed: int, told: list[tuple[str, object]]) -> None:
    drive = begun(venue, seed)
    for what in told:
        happen(drive, what)
        for _ in range(60):
            before = drive.scene
            after = drive.step()
            assert [kart.number for kart in after.karts] == [kart.number for kart in before.karts]
            for was, kart in zip(before.karts, after.karts, strict=True):
                holds(drive, was, kart)
        seen = msgspec.json.encode(world_view(drive.ground, drive.scene, at_ms=1))
        assert b"NaN" not in seen
        befallen(drive.scene)


PATIENT = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])


@settings(PATIENT, max_examples=8)
@given(seed=st.integers(0, 2**31), told=happenings())
def test_whatever_happens_karts_stay_on_the_ring_and_numbers_stay_numbers(
    venue: Venue, seed: int, told: list[tuple[str, object]]
) -> None:
    lives(venue, seed, told)


@pytest.mark.night
@settings(PATIENT, max_examples=400)
@given(seed=st.integers(0, 2**31), told=happenings())
def test_it_does_so_on_many_nights(venue: Venue, seed: int, told: list[tuple[str, object]]) -> None:
    lives(venue, seed, told)


def shuffled(heard: Heard) -> Heard:
    """Give the same, every mapping in the reverse order."""

    def turned(mapping: Mapping[object, object]) -> dict[object, object]:
        return dict(reversed(mapping.items()))

    return Heard(
        taken=turned(heard.taken),  # type: ignore[arg-type]
        shown=turned(heard.shown),  # type: ignore[arg-type]
        boosts=turned(heard.boosts),  # type: ignore[arg-type]
        ramps=turned(heard.ramps),  # type: ignore[arg-type]
        boosts_mps=turned(heard.boosts_mps),  # type: ignore[arg-type]
    )


@settings(PATIENT, max_examples=4)
@given(seed=st.integers(0, 2**31), told=happenings())
def test_a_step_follows_from_what_it_is_given_and_from_no_order_in_it(
    venue: Venue, seed: int, told: list[tuple[str, object]]
) -> None:
    drive = begun(venue, seed)
    for what in told[:8]:
        happen(drive, what)
        for _ in range(20):
            scene, heard = drive.scene, drive.heard()
            digest = scene.digest()
            after = step(drive.ground, scene, heard)
            assert after == step(drive.ground, scene, shuffled(heard))
            assert scene.digest() == digest, "a scene never changes"
            drive.scene = after


def test_the_digest_tells_every_difference(venue: Venue) -> None:
    """A change of any field of a kart, a person or a thing changes the digest."""
    drive = begun(venue, 1)
    for event in ("stall", "debris"):
        happen(
            drive, ("event", Inject(id="e1", event=event, kart=1 if event == "stall" else None, where="s2"))
        )
    happen(drive, ("event", Inject(id="e1", event="person-in-pit")))
    scene = drive.scene
    seen = {scene.digest()}
    for field in ("karts", "items", "people"):
        first, *others = getattr(scene, field)
        for name in first.__struct_fields__:
            changed = msgspec.structs.replace(first, **{name: _other(getattr(first, name))})
            seen.add(msgspec.structs.replace(scene, **{field: (changed, *others)}).digest())
    fields = sum(len(getattr(scene, field)[0].__struct_fields__) for field in ("karts", "items", "people"))
    assert len(seen) == 1 + fields


def _other(value: object) -> object:
    """Give something else than a value; for the digest it need not make sense."""
    return "another" if value != "another" else None


def test_scenes_are_told_apart_by_seed_and_by_weather_too(venue: Venue) -> None:
    ground = begun(venue, 1).ground
    one: Scene = ground.begin(1)
    others = (ground.begin(2), ground.begin(1, wet=True), msgspec.structs.replace(one, steps=1))
    assert len({one.digest(), *(other.digest() for other in others)}) == 4
