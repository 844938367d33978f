"""One kart: what limiter, electronics, motor, brakes and tyres make of a driver's controls.

Pure functions on numbers, a step at a time. The kart is a mass on a path of its own:

    m dv/dt = throttle · min(F, P/v) − brake · b · µ m g − ½ r CdA v² − c m g
    (dv/dt)² + (v² k)² ≤ (µ g)²        the friction circle; k the curvature steered, r the air's density

A kart that is steered tighter than its tyres hold slides: they give the smaller, sliding grip and the
kart runs wide. Kinematics are those of a point beside a curved line of curvature κ, at its left by d:

    ds/dt = v cos ψ / (1 − κ d)    dd/dt = v sin ψ    dψ/dt = v k − κ ds/dt

Not modelled: load transfer, suspension, wheel spin, the motor's heat, wind, slopes, a battery that tires.
"""

from __future__ import annotations

import math

from signals.venue.model import KartModel
from sim.speeds import both, cosine, sine

G_MPS2 = 9.81
AIR_KG_M3 = 1.2
"""Of air at about 20 °C."""
SLIDE_SCRUB = 0.35
"""Share of the sliding grip that brakes a kart running wide: the sine of a slip angle of about 20 degrees;
typical, no source."""
BOTH = 0.05
"""Pressed further than this, a pedal counts as pressed."""
CRAWL_MPS = 0.5
"""Below this a motor's force is no longer power over speed."""


@both
def cap_after(
    cap_mps: float, v_mps: float, limit_mps: float, ramp: tuple[float, float], step_s: float
) -> float:
    """Give the limiter's cap a step later; `ramp` is how steeply it falls and rises, m/s².

    It falls from the speed driven, not from a higher cap nobody used.
    """
    if cap_mps == limit_mps:
        return limit_mps
    driven = max(cap_mps, min(v_mps, limit_mps))
    if driven > limit_mps:
        return max(limit_mps, min(driven, max(v_mps, limit_mps)) - ramp[0] * step_s)
    return min(limit_mps, driven + ramp[1] * step_s)


@both
def must_release(held: bool, limit_mps: float, throttle: float) -> bool:  # noqa: FBT001 - a latch's state
    """Whether the pedal is still to be released: from a limit of 0 until let go once it is above 0."""
    if limit_mps <= 0.0:
        return True
    return held and throttle > BOTH


@both
def drives(throttle: float, brake: float, cut: bool, held: bool) -> float:  # noqa: FBT001 - latches' states
    """Give how much of the pedal reaches the motor: none with both pressed, latched, or still held."""
    return 0.0 if cut or held or brake > BOTH else throttle


@both
def thrust_mps2(v_mps: float, model: KartModel) -> float:
    """Give the motor's most at a speed: a constant force when slow, its power over the speed when fast."""
    power = 1000.0 * model.power_kw / model.mass_kg
    return min(model.thrust_n / model.mass_kg, power / max(v_mps, CRAWL_MPS))


@both
def resistance_mps2(v_mps: float, model: KartModel) -> float:
    """Give what drag and rolling take."""
    return 0.5 * AIR_KG_M3 * model.drag_m2 / model.mass_kg * (v_mps * v_mps) + model.rolling * G_MPS2


@both
def brake_mps2(model: KartModel, grip: float) -> float:
    """Give what the brakes can do on a straight."""
    return model.braked * grip * G_MPS2


def grips(model: KartModel, *, wet: bool) -> tuple[float, float]:
    """Give the grip of tyres that roll and of tyres that slide."""
    return (model.grip_wet, model.grip_sliding_wet) if wet else (model.grip, model.grip_sliding)


@both
def hold(v_mps: float, turn_per_m: float, grip: tuple[float, float]) -> tuple[float, float, bool]:
    """Give the curvature tyres hold, the grip they leave for speed in m/s², and whether they slide."""
    needed = v_mps * v_mps * abs(turn_per_m)
    most = grip[0] * G_MPS2
    if needed <= most:
        return turn_per_m, math.sqrt(most * most - needed * needed), False
    held = math.copysign(grip[1] * G_MPS2 / (v_mps * v_mps), turn_per_m)
    return held, 0.0, True


@both
def speed_after(
    v_mps: float,
    pedals: tuple[float, float],
    spare_mps2: float,
    grip: float,
    model: KartModel,
    step_s: float,
) -> float:
    """Give the speed a step later, driving forward; `pedals` are drive and brake, what reaches the wheels."""
    drive, brake = pedals
    force = drive * thrust_mps2(v_mps, model) - brake * brake_mps2(model, grip)
    pulled = min(max(force, -spare_mps2), spare_mps2)
    return max(0.0, v_mps + (pulled - resistance_mps2(v_mps, model)) * step_s)


@both
def capped(v_mps: float, before_mps: float, cap_mps: float, fall_mps2: float, step_s: float) -> float:
    """Give the speed the limiter leaves: the motor brakes as steeply as the ramp falls, and no steeper."""
    return min(v_mps, max(cap_mps, before_mps - fall_mps2 * step_s))


@both
def backed(v_mps: float, reverse_mps: float, rise_mps2: float, step_s: float) -> float:
    """Give the speed a step later, driving backwards by its own control; at most walking pace."""
    return max(-reverse_mps, v_mps - rise_mps2 * step_s)


@both
def moved(
    place: tuple[float, float],
    v_mps: float,
    turn_per_m: float,
    path: tuple[float, float],
    step_s: float,
) -> tuple[float, float, float]:
    """Give metres driven along a path, metres left of it, and course against it, a step later.

    `place` is metres left and course; `path` its curvature and its stretch there.
    """
    left_m, course_rad = place
    bend, stretch = path
    along = v_mps * cosine(course_rad) * step_s / (1.0 - bend * left_m)
    turned = course_rad + v_mps * turn_per_m * step_s - bend * along
    left = left_m + v_mps * sine(0.5 * (course_rad + turned)) * step_s
    return along / stretch, left, turned
