"""What a step of the simulated world takes: `python -m benchmarks.world`.

Twelve karts racing a minute after the start, and the same under yellow everywhere; the floor is the
least that twelve karts could be moved by: one new struct each, with three numbers changed.
"""

from __future__ import annotations

from msgspec.structs import replace

from benchmarks.measure import Sample, measure, parser, say_where, show, verdict
from signals.cli.options import configs
from signals.venue import load
from signals.words import Aspect
from sim.engine import step
from sim.ground import Ground
from sim.scene import STEP_S, Heard, Scene

TARGET_US = 1000.0
TIMES, ROUNDS = 1200, 5
KARTS, GAP_S, WARM_S = 12, 5.0, 120.0
COLUMNS = ("a step, µs", "median", "mean", "p99", "of a core at 60/s", "÷ floor", "< 1 ms")


class Racing:
    """A world with limits and heads as under a running session; every step a new one."""

    def __init__(self, name: str, aspect: Aspect) -> None:
        self.venue = load(configs() / f"{name}.toml")
        self.ground = Ground(self.venue)
        self.scene: Scene = self.ground.begin(1)
        self.numbers = [kart.number for kart in self.scene.karts][:KARTS]
        self.aspect = Aspect.GREEN
        while self.scene.time_s < WARM_S:
            self.go_on()
        self.aspect = aspect

    def heard(self) -> Heard:
        """Give what reaches limiters and drivers now, all of it fresh."""
        now_s, limits = self.scene.time_s, self.venue.limits
        out = max(limits.classes.values()) if self.aspect is Aspect.GREEN else limits.caution
        let_out = self.numbers[: 1 + int(now_s / GAP_S)]
        taken = {kart.number: (limits.pit if kart.on_pit_lane else out, now_s) for kart in self.scene.karts}
        return Heard(
            taken={number: taken[number] for number in let_out},
            shown={head.id: (self.aspect, None, now_s) for head in self.venue.heads},
        )

    def go_on(self) -> None:
        """Take a step."""
        self.scene = step(self.ground, self.scene, self.heard())


def timed(racing: Racing) -> Sample:
    """Time steps that follow one another; what they hear is made ready before each."""
    ready = [racing.heard()]

    def prepare() -> None:
        ready[0] = racing.heard()

    def take() -> None:
        racing.scene = step(racing.ground, racing.scene, ready[0])

    return measure(take, times=TIMES, before=prepare, rounds=ROUNDS)


def floor(scene: Scene) -> Sample:
    """Time the least: a new struct for each kart."""
    karts = scene.karts[:KARTS]
    return measure(
        lambda: tuple(replace(kart, at_m=kart.at_m + 1, v_mps=1.0, left_m=0.0) for kart in karts), times=TIMES
    )


def main() -> None:
    """Print a table for both venues."""
    parser(__doc__).parse_args()
    say_where()
    for name in ("harbour-loop", "quarry-ring"):
        rows, least = [], None
        for what, aspect in (("racing", Aspect.GREEN), ("under yellow", Aspect.YELLOW_FLASH)):
            racing = Racing(name, aspect)
            least = least or floor(racing.scene)
            rows.append(_row(what, timed(racing), least))
        if least is not None:
            rows.append(
                ("floor: 12 new structs", f"{least.median_us:.1f}", f"{least.mean_us:.1f}", "", "", "", "")
            )
        show(f"{name}: {KARTS} karts out", COLUMNS, rows)


def _row(what: str, took: Sample, least: Sample) -> tuple[str, ...]:
    return (
        what,
        f"{took.median_us:.0f}",
        f"{took.mean_us:.0f}",
        f"{took.p99_us:.0f}",
        f"{took.mean_us / STEP_S / 1e6:.1%}",
        f"{took.mean_us / least.mean_us:.0f}",
        verdict(took.mean_us < TARGET_US),
    )


if __name__ == "__main__":
    main()
