"""Spell a state out for screens and messages."""

from __future__ import annotations

from signals.core.ground import Facts, Ground
from signals.core.holds import Holds
from signals.core.outputs import Outputs
from signals.core.sentences import sector
from signals.core.state import Hold, KartPicture, Picture, StandingHold, State
from signals.words import PIT, Condition, Phase

_HEALTH = {"ok": "ok", "lost": "lost", "out": "out-of-service"}


class Pictures:
    """Makes pictures of one venue's states."""

    def __init__(self, ground: Ground, outputs: Outputs, holds: Holds) -> None:
        self._ground = ground
        self._outputs = outputs
        self._holds = holds

    def of(self, state: State) -> Picture:
        """Give the picture of a state."""
        facts, layout = state.facts, self._ground.layout
        value = self._ground.value
        sectors = self._sectors(facts)
        latch, phase = value(facts, "latch"), Phase(value(facts, "phase"))
        return Picture(
            phase=phase,
            ready=value(facts, "ready") == "true",
            condition=min(sectors.values(), key=list(Condition).index),
            sectors=sectors,
            holds=self._all_holds(state, latch),
            aspects={s.head: (s.aspect, s.number, s.lamp) for s in self._outputs.heads(facts, state.beside)},
            karts=self._karts(state),
            heads={head: _HEALTH[value(facts, "head", head)] for head in layout.heads},
            monitor=value(facts, "monitor"),
            journal=value(facts, "journal"),
            surface=value(facts, "surface"),
            stopped=latch == "stop",
            testing=phase is Phase.TEST,
            track_empty=all(value(facts, "place", str(k)) in (PIT, "aside") for k in layout.karts),
            faults=tuple(self._faults(facts)),
        )

    def _sectors(self, facts: Facts) -> dict[str, Condition]:
        cautioned = self._outputs.look(facts).derived[self._ground.schema.definitions["cautioned"].base]
        stopped = self._ground.value(facts, "latch") == "stop"
        finishing = self._ground.value(facts, "phase") == "finishing"
        calm = Condition.FINISH if finishing else Condition.CLEAR
        return {
            name: Condition.STOP if stopped else Condition.CAUTION if under else calm
            for name, under in zip(self._ground.layout.sectors, cautioned, strict=True)
        }

    def _all_holds(self, state: State, latch: str) -> tuple[StandingHold, ...]:
        holds = self._holds.spelled(state)
        if latch == "recovery":
            recovery = Hold("recovery", "the last stop was lifted", 0)
            holds.append(StandingHold("recovery", "recovery", None, None, None, recovery))
        return tuple(holds)

    def _karts(self, state: State) -> dict[int, KartPicture]:
        facts, value = state.facts, self._ground.value
        pictures = {}
        for limit in self._outputs.karts(facts, state.beside):
            name = str(limit.kart)
            entry = value(facts, "entry", name)
            pictures[limit.kart] = KartPicture(
                place=value(facts, "place", name),
                call=value(facts, "call", name).replace("_", "-"),
                slowed=value(facts, "slowed", name),
                limit_kmh=limit.limit_kmh,
                because=limit.because,
                link=value(facts, "link", name) == "true",
                taken=value(facts, "taken", name) == "true",
                moving=value(facts, "moving", name) == "true",
                let_out=value(facts, "let_out", name) != "no",
                button=value(facts, "button", name) == "true",
                boosts=limit.boosts,
                class_=None if entry == "none" else entry,
            )
        return pictures

    def _faults(self, facts: Facts) -> list[str]:
        value, layout = self._ground.value, self._ground.layout
        faults = [f"Head {head} is lost." for head in layout.heads if value(facts, "head", head) == "lost"]
        for kart in layout.karts:
            if value(facts, "link", str(kart)) == "false":
                where = sector(layout, value(facts, "place", str(kart)))
                faults.append(f"Kart {kart} is not heard; last known: {where}.")
            if value(facts, "button", str(kart)) == "true":
                faults.append(f"The button of kart {kart} is pressed.")
        faults += [
            f"Input {name} is {state}."
            for name in layout.inputs
            if (state := value(facts, "input", name)) != "normal"
        ]
        if (monitor := value(facts, "monitor")) != "ok":
            faults.append("The conflict monitor is " + {"lost": "not heard.", "tripped": "tripped."}[monitor])
        if value(facts, "journal") == "failed":
            faults.append("The journal cannot be written.")
        return faults
