"""What the simulated world assumes, and what it gives beside published values: tables of a page.

Everything is worked out by the functions that move the world's karts and draw its drivers; nothing is typed
in. `kerblight generate` writes the tables, `kerblight generate --check` finds them stale. The tests that hold
the differences are in `tests/standards/`.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator
from typing import NamedTuple

from msgspec.structs import replace

from signals.cli.generate import root
from signals.venue.model import KartModel
from signals.venue.sight import BEAM_DEG, VIEW_DEG
from sim import drivers, driving, engine, kart, lines, sight, traffic, walking
from sim.scene import STEP_S
from sim.sightlines.survey import EYES_M
from sim.study import crew, tally

PAGE = "docs/simulation.md"
MPH, FOOT_M = 0.44704, 0.3048
KART = KartModel()
BARE = replace(KART, drag_m2=0.0, rolling=0.0)
"""Without air and rolling, as textbooks have it."""
DRAWS = 4000
TYPICAL = "typical, no source"
FOLLOWS = ("jam_m", "headway_s", "comfort_mps2")


class Row(NamedTuple):
    """A value of ours beside a published one.

    Attributes:
        id: in `docs/standards.md`; empty for a closed form.
        what: with its unit.
        ours, source: the values.
        document: where the other one is from.

    """

    id: str
    what: str
    ours: float
    source: float
    document: str

    @property
    def difference(self) -> float:
        """By which share ours is more."""
        return self.ours / self.source - 1.0


# --- what is worked out


def stop_m(v_mps: float, model: KartModel, *, mps2: float | None = None, wet: bool = False) -> float:
    """Drive a kart to a stand: brakes fully pressed, or as far as gives a deceleration.

    Raises:
        ValueError: its brakes cannot do that.

    """
    grip, _ = kart.grips(model, wet=wet)
    brake = 1.0 if mps2 is None else mps2 / kart.brake_mps2(model, grip)
    if brake > 1.02:  # noqa: PLR2004 - K8's textbook has 1 % more than typical brakes
        raise ValueError(f"brakes of {kart.brake_mps2(model, grip):.2f} m/s² give no {mps2} m/s²")
    came_m = 0.0
    while v_mps > 0.0:
        later = kart.speed_after(v_mps, (0.0, brake), grip * kart.G_MPS2, grip, model, STEP_S)
        came_m += 0.5 * (v_mps + later) * STEP_S
        v_mps = later
    return came_m


def reactions(*, expected: bool) -> list[float]:
    """Draw how long drivers take, each once, from the quickest to the slowest."""
    return sorted(
        drivers.reaction_s(seed, 1, drivers.draw(seed, 1), 0, expected=expected) for seed in range(DRAWS)
    )


def driven(v_mps: float, model: KartModel, seconds: float) -> float:
    """Give the speed after some seconds of full throttle on a straight."""
    for _ in range(round(seconds / STEP_S)):
        v_mps = kart.speed_after(v_mps, (1.0, 0.0), 100.0, 1.0, model, STEP_S)
    return v_mps


def ramp_m(v_mps: float, to_mps: float, fall_mps2: float) -> float:
    """Give the metres a limiter takes from one speed to a slower one."""
    came_m = 0.0
    while v_mps > to_mps:
        later = kart.capped(v_mps, v_mps, to_mps, fall_mps2, STEP_S)
        came_m += 0.5 * (v_mps + later) * STEP_S
        v_mps = later
    return came_m


def rows() -> Iterator[Row]:
    """Give every value that has a published one, or a closed form, beside it."""
    yield from _stopping()
    yield from _holding()
    yield from _reacting()
    yield from _closed_forms()


def _stopping() -> Iterator[Row]:
    code, page = "UK Highway Code rule 126", "AASHTO formula, TxDOT Roadway Design Manual 4.11"
    college = "OpenStax College Physics, motion equations"
    for mph, metres in ((20, 6), (30, 14), (40, 24), (50, 38), (60, 55), (70, 75)):
        yield Row("K6", f"braking from {mph} mph, m", stop_m(mph * MPH, KART), metres, code)
    wet = stop_m(30 * MPH, BARE, wet=True) / stop_m(30 * MPH, BARE)
    yield Row("K6", "wet to dry, at least", wet, 2.0, code)
    for mph, feet in ((15, 76.7), (20, 111.9), (25, 151.9), (30, 196.6)):
        ours = (2.5 * mph * MPH + stop_m(mph * MPH, BARE, mps2=11.2 * FOOT_M)) / FOOT_M
        yield Row("K7", f"2.5 s and 11.2 ft/s² from {mph} mph, ft", ours, feet, page)
    for surface, is_wet, mps2, needs_m in (("dry", False, 7.0, 64.3), ("wet", True, 5.0, 90.0)):
        came_m = stop_m(30.0, BARE, mps2=mps2, wet=is_wet)
        own = kart.brake_mps2(KART, kart.grips(KART, wet=is_wet)[0])
        yield Row("K8", f"{surface}, {mps2:g} m/s² from 30 m/s, m", came_m, needs_m, college)
        yield Row("K8", f"{surface}, its own brakes, m/s²", own, mps2, college)


def _holding() -> Iterator[Row]:
    bends, rubber = "OpenStax College Physics, centripetal force", "OpenStax College Physics, friction"
    for radius_m, v_mps, needs in ((500.0, 25.0, 0.13), (50.0, 30.0, 1.84)):
        ours = _holds_from(radius_m, v_mps)
        yield Row("K9", f"grip for {radius_m:g} m at {v_mps:g} m/s", ours, needs, bends)
    for surface, is_wet, published in (("dry", False, (1.0, 0.7)), ("wet", True, (0.7, 0.5))):
        names = ("rolling", "sliding")
        for name, ours, theirs in zip(names, kart.grips(KART, wet=is_wet), published, strict=True):
            yield Row("K10", f"grip, {surface}, {name}", ours, theirs, rubber)


def _holds_from(radius_m: float, v_mps: float) -> float:
    """Find the least grip that holds a kart in a bend, by halving."""
    low, high = 0.0, 4.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        if kart.hold(v_mps, 1.0 / radius_m, (middle, 0.0))[2]:
            low = middle
        else:
            high = middle
    return high


def _reacting() -> Iterator[Row]:
    green = "Green 2000, Transportation Human Factors 2(3)"
    alert, surprised = reactions(expected=True), reactions(expected=False)
    yield Row(
        "K12", "reaction, expected, median, s", statistics.median(alert), 0.725, f"{green}: 0.70 to 0.75"
    )
    yield Row("K12", "reaction, unexpected, mean, s", statistics.mean(surprised), 1.25, green)
    olson = "Olson & Sivak 1986, through Green"
    yield Row("K13", "reaction, unexpected, median, s", statistics.median(surprised), 1.1, olson)
    yield Row("K13", "… 95 in 100, s", surprised[int(0.95 * DRAWS)], 1.6, olson)


def _closed_forms() -> Iterator[Row]:
    strong = replace(BARE, thrust_n=5000.0)
    power = 1000.0 * strong.power_kw / strong.mass_kg
    yield Row("", "5 m/s and 4 s of full power, m/s", driven(5.0, strong, 4.0), math.sqrt(25.0 + 8.0 * power),
              "v² = v₀² + 2Pt/m")  # fmt: skip
    top = driven(5.0, KART, 120.0)
    resisted = (
        0.5 * kart.AIR_KG_M3 * KART.drag_m2 * top * top + KART.rolling * KART.mass_kg * kart.G_MPS2
    ) * top
    yield Row("", "power at top speed, W", resisted, 1000.0 * KART.power_kw, "P = (½ r CdA v² + c m g) v")
    yield Row("", "limiter, 45 to 15 km/h at 2 m/s², m", ramp_m(12.5, 15 / 3.6, 2.0),
              (12.5**2 - (15 / 3.6) ** 2) / 4.0, "(v² − w²)/2a")  # fmt: skip
    yield Row("", "speed that a bend of 8 m holds, m/s", lines.corner_mps(1 / 8.0, 1.0),
              math.sqrt(kart.G_MPS2 * 8.0), "v = √(µ g r)")  # fmt: skip


# --- what is assumed


class Assumed(NamedTuple):
    """A number of the model."""

    what: str
    value: str
    source: str = TYPICAL


def assumed() -> Iterator[Assumed]:
    """Give the numbers of the model that no venue file sets, and the kart's, which it does."""
    yield from _of_karts()
    yield from _of_drivers()
    yield from _of_following()
    yield from _of_people()


def _of_karts() -> Iterator[Assumed]:
    textbook = "OpenStax College Physics, friction"
    own = "`[kart_model]`; typical, no source"
    yield Assumed("m, mass with driver", f"{KART.mass_kg:g} kg", own)
    yield Assumed("F, most thrust; P, power", f"{KART.thrust_n:g} N; {KART.power_kw:g} kW", own)
    yield Assumed(
        "CdA; c, rolling; b, brakes", f"{KART.drag_m2:g} m²; {KART.rolling:g}; {KART.braked:g}", own
    )
    yield Assumed("length, width", f"{KART.length_m:g}, {KART.width_m:g} m", own)
    yield Assumed("µ dry, wet; sliding", f"{KART.grip:g}, {KART.grip_wet:g}; {KART.grip_sliding:g}, "
                  f"{KART.grip_sliding_wet:g}", f"`[kart_model]`; {textbook}")  # fmt: skip
    yield Assumed("r, air", f"{kart.AIR_KG_M3:g} kg/m³", "at 20 °C")
    yield Assumed("barrier beyond the white line; takes of a kart's speed",
                  f"{engine.RUN_OFF_M:g} m; {engine.SCRAPE:.0%} a second")  # fmt: skip
    yield Assumed("limiter without radio: caution after, creep after",
                  f"{engine.TAKEN_FOR_S:g} s, {engine.TAKEN_FOR_S + engine.CREEP_AFTER_S:g} s",
                  "the venue's caps")  # fmt: skip


def _of_drivers() -> Iterator[Assumed]:
    yield Assumed("reaction, expected; unexpected: medians",
                  f"{drivers.EXPECTED_S:g}; {drivers.UNEXPECTED_S:g} s",
                  "Green 2000; Olson & Sivak 1986")  # fmt: skip
    yield Assumed("… spread of its logarithm; of it, between drivers",
                  f"{drivers.SPREAD:.3f}; {drivers.BETWEEN:g}",
                  "ln(1.6/1.1)/1.645: Olson & Sivak; its parting has no source")  # fmt: skip
    yield Assumed("share of the grip dared", f"{drivers.SKILLS[0]:g} to {drivers.SKILLS[-1]:g}")
    yield Assumed("pace from stretch to stretch", f"up to {drivers.UNEVEN:.0%} less")
    yield Assumed("heeds a signal, least inclined", f"{drivers.LEAST_COMPLIANCE:.0%}")
    yield Assumed("uses the boost", f"{drivers.BOOSTERS:.0%}")
    yield Assumed("sees a lamp's colour; view, beam to each side",
                  f"{sight.FARTHEST_M:g} m; {VIEW_DEG:g}°, {BEAM_DEG:g}°")  # fmt: skip
    yield Assumed("seated eye", " to ".join(f"{each:g}" for each in EYES_M) + " m")
    yield Assumed(
        "passes what stands at, slowing at", f"{driving.CARE_MPS * 3.6:g} km/h, {driving.CARE_MPS2:g} m/s²"
    )


def _of_following() -> Iterator[Assumed]:
    model = "Intelligent Driver Model's; value typical, no source"
    yield Assumed(
        "A, eager; hardest for a kart ahead", f"{driving.EAGER_MPS2:g}; {driving.HARD_MPS2:g} m/s²", model
    )
    drawn = [drivers.draw(seed, 1) for seed in range(DRAWS)]
    middle = [statistics.median(getattr(each, name) for each in drawn) for name in FOLLOWS]
    yield Assumed("s₀, T, B of the middle driver", "{:.1f} m, {:.2f} s, {:.1f} m/s²".format(*middle), model)
    yield Assumed("makes somebody behind brake at most", f"{driving.POLITE_MPS2:g} m/s²", "MOBIL's; likewise")
    yield Assumed("keeps a line for; room side by side", f"{driving.KEEPS_S:g} s; {driving.SIDE_ROOM_M:g} m")
    yield Assumed("passes who has stood for", f"{traffic.STOOD_S:g} s")


def _of_people() -> Iterator[Assumed]:
    yield Assumed("walks across, runs along the verge", f"{walking.WALK_MPS:g}, {walking.RUN_MPS:g} m/s")
    yield Assumed("gets ready, pushes", f"{crew.READY_S:g}, {crew.PUSH_S:g} s")
    yield Assumed("counts as slow; as standing",
                  f"caution + {tally.OVER_KMH:g} km/h; {tally.STILL_MPS:g} m/s", "ours")  # fmt: skip
    yield Assumed("two karts touch anew after", f"{tally.AGAIN_S:g} s", "ours")


# --- the page


def generated() -> dict[str, str]:
    """Give the page with its tables renewed: path below the repository's root, and text."""
    text = (root() / PAGE).read_text(encoding="utf-8")
    for name, table in (("assumed", _assumed_table()), ("validation", _validation_table())):
        begin, end = f"<!-- {name}: generated -->\n", f"<!-- end of {name} -->"
        before, _, rest = text.partition(begin)
        text = before + begin + table + end + rest.partition(end)[2]
    return {PAGE: text}


def _assumed_table() -> str:
    lines_ = [f"| {each.what} | {each.value} | {each.source} |\n" for each in assumed()]
    return "| what | value | from |\n|---|---|---|\n" + "".join(lines_)


def _validation_table() -> str:
    made = [
        f"| {row.id} | {row.what} | {row.ours:.4g} | {row.source:.4g} | {_percent(row.difference)} "
        f"| {row.document} |\n"
        for row in rows()
    ]
    return "| | value | ours | source | difference | document |\n|---|---|---|---|---|---|\n" + "".join(made)


def _percent(share: float) -> str:
    rounded = round(100.0 * share, 1)
    return "none" if rounded == 0.0 else f"{rounded:+.1f} %".replace("-", "−")
