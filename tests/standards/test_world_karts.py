"""The simulated world's own karts and drivers against published values: ours, source, difference.

R read in the source's own text, Q quoted by another page, D our arithmetic on the value. What is checked
are the functions that move every kart of the world (`sim.kart`) and draw every driver (`sim.drivers`).
"""

from __future__ import annotations

import math
import statistics

import pytest
from msgspec.structs import replace

import sim.engine
from signals.cli.options import configs
from signals.venue import load
from signals.venue.model import Venue
from sim.ground import Ground
from sim.kart import G_MPS2, brake_mps2, capped, grips, hold, moved, speed_after, thrust_mps2
from sim.lines import corner_mps
from sim.scene import STEP_S, Doing, Heard, Kart, Mind, Scene
from sim.validation import BARE, DRAWS, FOOT_M, KART, MPH, reactions, stop_m


def row(name: str, ours: float, source: float) -> float:
    """Print a line of the table; give the difference as a share."""
    print(f"{name:<44} ours {ours:8.2f}  source {source:8.2f}  difference {ours / source - 1:+7.1%}")
    return ours / source - 1


@pytest.mark.parametrize(
    ("mph", "thinking", "braking"),
    [(20, 6, 6), (30, 9, 14), (40, 12, 24), (50, 15, 38), (60, 18, 55), (70, 21, 75)],
)
def test_k6_a_kart_stops_about_as_the_highway_code_says(mph: float, thinking: float, braking: float) -> None:
    """K6 (Q): UK Highway Code rule 126, dry, whole metres; a kart brakes somewhat harder and air helps it."""
    assert -0.25 < row(f"K6 {mph} mph braking, m", stop_m(mph * MPH, KART), braking) < 0.05
    assert abs(row(f"K6 {mph} mph thinking, m", 0.725 * mph * MPH, thinking)) < 0.1


def test_k6_wet_takes_longer_though_not_twice_as_long() -> None:
    """K6 (Q): the Highway Code says at least double; K10's grips, which karts have, give 1/0.7."""
    times = stop_m(30 * MPH, BARE, wet=True) / stop_m(30 * MPH, BARE)
    assert row("K6 wet to dry", times, 2.0) < 0.0
    assert times == pytest.approx(1.0 / 0.7, rel=0.02)


def in_the_world(
    venue: Venue, monkeypatch: pytest.MonkeyPatch, v_mps: float, want_mps2: float, *, wet: bool = False
) -> list[Kart]:
    """Give a kart of the whole world, step by step, on a straight, whose driver wants one thing only."""
    ground = Ground(venue)
    bends = [(abs(bend), index) for index, bend in enumerate(ground.track.lap.bends[: -4 * 60])]
    straight = min(bends, key=lambda each: max(map(abs, ground.track.lap.bends[each[1] : each[1] + 4 * 60])))
    wants = Mind(want_mps2=want_mps2, low_m=0.0, high_m=0.0)
    kart = replace(
        ground.begin(1).karts[0],
        mind=wants,
        at_m=straight[1] / ground.track.lap.per_m,
        left_m=0.0,
        on_pit_lane=False,
        on_grid=False,
        doing=Doing.LAPPING,
        v_mps=v_mps,
        limit_mps=30.0,
        cap_mps=30.0,
        held=False,
    )
    monkeypatch.setattr(sim.engine, "on_lap", lambda *_: None)
    monkeypatch.setattr(sim.engine, "heed", lambda *_: None)
    scene, karts = Scene(steps=0, wet=wet, karts=(kart,)), [kart]
    while karts[-1].v_mps > 0.0 and scene.time_s < 4.0:
        heard = Heard(taken={kart.number: (108.0, scene.time_s)}, shown={})
        scene = sim.engine.step(ground, scene, heard)
        karts.append(scene.karts[0])
    return karts


@pytest.mark.parametrize(("mph", "braking"), [(20, 6), (30, 14)])
def test_k6_in_the_whole_world_too(monkeypatch: pytest.MonkeyPatch, mph: float, braking: float) -> None:
    """K6 (Q): a kart of the world, its driver full on the brake, on the straightest road outdoors."""
    quarry = load(configs() / "quarry-ring.toml")
    came_m = []
    for wet in (False, True):
        karts = in_the_world(quarry, monkeypatch, mph * MPH, -50.0, wet=wet)
        assert karts[-1].v_mps == 0.0
        came_m.append(karts[-1].at_m - karts[0].at_m)
    assert -0.25 < row(f"K6 {mph} mph braking in the world, m", came_m[0], braking) < 0.05
    assert came_m[0] == pytest.approx(stop_m(mph * MPH, quarry.kart_model), rel=0.03)
    assert abs(row("K6 wet to dry in the world, by K10", came_m[1] / came_m[0], 1.0 / 0.7)) < 0.03


def test_power_limited_acceleration_in_the_whole_world_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """D: P dt = m v dv + resistance; between two speeds the motor's work is what the kart gained and lost."""
    quarry = load(configs() / "quarry-ring.toml")
    model = quarry.kart_model
    karts = [kart for kart in in_the_world(quarry, monkeypatch, 8.0, 50.0) if kart.v_mps > 8.5]
    first, last = karts[0], karts[-1]
    lost_j = sum(
        (0.6 * model.drag_m2 * kart.v_mps**3 + model.rolling * model.mass_kg * G_MPS2 * kart.v_mps) * STEP_S
        for kart in karts[:-1]
    )
    gained_j = 0.5 * model.mass_kg * (last.v_mps**2 - first.v_mps**2)
    power_w = (gained_j + lost_j) / (STEP_S * (len(karts) - 1))
    assert last.v_mps > 11.0
    assert abs(row("power put to work in the world, W", power_w, 1000.0 * model.power_kw)) < 0.02


@pytest.mark.parametrize(("mph", "feet"), [(15, 76.7), (20, 111.9), (25, 151.9), (30, 196.6)])
def test_k7_a_kart_braked_as_aashto_assumes_needs_the_sight_distance(mph: float, feet: float) -> None:
    """K7 (R, D): 2.5 s and 11.2 ft/s² (TxDOT Roadway Design Manual 4.11); at its best it needs less."""
    v = mph * MPH
    ours = 2.5 * v + stop_m(v, BARE, mps2=11.2 * FOOT_M)
    assert abs(row(f"K7 {mph} mph, ft", ours / FOOT_M, feet)) < 0.005
    assert 1.5 * v + stop_m(v, KART) < feet * FOOT_M, "surprised, with all of its brakes"


@pytest.mark.parametrize(
    ("wet", "mps2", "metres", "with_reaction"), [(False, 7.00, 64.3, 79.3), (True, 5.00, 90.0, 105.0)]
)
def test_k8_a_kart_stops_from_30_metres_a_second(
    wet: bool, mps2: float, metres: float, with_reaction: float
) -> None:
    """K8 (R): OpenStax College Physics, motion equations, worked example; and a kart's own brakes."""
    ours = stop_m(30.0, BARE, mps2=mps2, wet=wet)
    assert abs(row("K8 braking, m", ours, metres)) < 0.005
    assert abs(row("K8 with 0.500 s, m", 0.5 * 30.0 + ours, with_reaction)) < 0.005
    assert abs(row("K8 a kart's own brakes, m/s²", brake_mps2(KART, grips(KART, wet=wet)[0]), mps2)) < 0.02


def test_k9_a_curve_needs_the_grip_it_needs() -> None:
    """K9 (R): OpenStax College Physics, centripetal force: 500 m at 25.0 m/s needs 0.13."""
    needed = 25.0 * 25.0 / 500.0 / G_MPS2
    assert abs(row("K9 grip for 500 m at 25 m/s", needed, 0.13)) < 0.025
    assert not hold(25.0, 1 / 500.0, (needed * 1.001, 0.1))[2]
    assert hold(25.0, 1 / 500.0, (needed * 0.999, 0.1))[2]


def test_k9_a_kart_slides_where_no_tyre_holds_and_runs_wide() -> None:
    """K9 (R): the same: 50 m at 30.0 m/s needs 1.84; no kart has that, so it must slide."""
    assert abs(row("K9 grip for 50 m at 30 m/s", 30.0 * 30.0 / 50.0 / G_MPS2, 1.84)) < 0.005
    turn, spare, slides = hold(30.0, 1 / 50.0, grips(KART, wet=False))
    assert slides
    assert spare == 0.0
    left_m = course = 0.0
    for _ in range(60):
        _, left_m, course = moved((left_m, course), 30.0, turn, (1 / 50.0, 1.0), STEP_S)
    assert left_m < -3.0, "off the 50 m circle, outward"


def test_k10_karts_grip_as_rubber_on_concrete(venue: Venue) -> None:
    """K10 (R): OpenStax College Physics, friction table: dry 1.0 and 0.7, wet 0.7 and 0.5."""
    for model in (KART, venue.kart_model):
        assert grips(model, wet=False) == (1.0, 0.7)
        assert grips(model, wet=True) == (0.7, 0.5)


def test_k12_drivers_who_expect_a_signal_react_as_green_found() -> None:
    """K12 (R): Green 2000: 0.70 to 0.75 s expected, 1.25 s unexpected but common."""
    expected = statistics.median(reactions(expected=True))
    unexpected = statistics.mean(reactions(expected=False))
    assert abs(row("K12 expected, s", expected, 0.725)) < 0.0345
    assert -0.15 < row("K12 unexpected but common, s", unexpected, 1.25) < 0.05


def test_k13_drivers_who_expect_none_react_as_olson_and_sivak_found() -> None:
    """K13 (Q): Olson & Sivak 1986, through Green: 1.1 s, 95th percentile 1.6."""
    drawn = reactions(expected=False)
    assert abs(row("K13 median, s", statistics.median(drawn), 1.1)) < 0.03
    assert abs(row("K13 95th percentile, s", drawn[int(0.95 * DRAWS)], 1.6)) < 0.05


@pytest.mark.parametrize("wet", [False, True])
@pytest.mark.parametrize("radius_m", [3.0, 8.0, 20.0, 60.0])
def test_cornering_is_the_closed_form(radius_m: float, wet: bool) -> None:
    """D: v = sqrt(mu g r): just below it holds, just above it slides; speed profiles are drawn by it."""
    grip = grips(KART, wet=wet)
    fastest = math.sqrt(grip[0] * G_MPS2 * radius_m)
    assert not hold(0.999 * fastest, 1 / radius_m, grip)[2]
    assert hold(1.001 * fastest, 1 / radius_m, grip)[2]
    assert corner_mps(1 / radius_m, grip[0]) == pytest.approx(fastest)


def test_power_limited_acceleration_is_the_closed_form() -> None:
    """D: v(t) = sqrt(v0² + 2 P t / m) where the motor gives its power and nothing resists."""
    model = replace(BARE, thrust_n=5000.0)
    v = 5.0
    for _ in range(round(4.0 / STEP_S)):
        v = speed_after(v, (1.0, 0.0), 100.0, 1.0, model, STEP_S)
    assert (
        abs(row("power-limited after 4 s, m/s", v, math.sqrt(25.0 + 8000.0 * model.power_kw / model.mass_kg)))
        < 0.01
    )


def test_top_speed_is_where_power_meets_drag() -> None:
    """D: P = (1.2/2 CdA v² + c m g) v."""
    v = 5.0
    for _ in range(round(120.0 / STEP_S)):
        v = speed_after(v, (1.0, 0.0), 100.0, 1.0, KART, STEP_S)
    resisting_n = 0.6 * KART.drag_m2 * v * v + KART.rolling * KART.mass_kg * G_MPS2
    assert abs(row("power at top speed, W", resisting_n * v, 1000.0 * KART.power_kw)) < 0.001
    assert v > 45 / 3.6, "so the limiter is what limits it"
    assert thrust_mps2(0.0, KART) * KART.mass_kg == pytest.approx(KART.thrust_n)


def test_the_friction_circle_shares_grip_between_turning_and_braking() -> None:
    """D: (dv/dt)² + (v²/r)² = (mu g)²: 0.8 of the grip for the bend leaves 0.6 for the brakes."""
    v, radius_m = math.sqrt(0.8 * G_MPS2 * 20.0), 20.0
    _, spare, slides = hold(v, 1 / radius_m, (1.0, 0.7))
    assert not slides
    assert spare == pytest.approx(0.6 * G_MPS2)
    braked = v - speed_after(v, (0.0, 1.0), spare, 1.0, BARE, STEP_S)
    assert braked == pytest.approx(0.6 * G_MPS2 * STEP_S)


def test_the_limiter_slows_along_its_ramp_and_no_steeper() -> None:
    """D: from 12.5 to 4.17 m/s at 2 m/s² takes 34.7 m."""
    v, came_m = 12.5, 0.0
    while v > 15 / 3.6:
        later = capped(v, v, 15 / 3.6, 2.0, STEP_S)
        came_m += 0.5 * (v + later) * STEP_S
        v = later
    assert abs(row("limiter 45 to 15 km/h, m", came_m, (12.5**2 - (15 / 3.6) ** 2) / 4.0)) < 0.005
