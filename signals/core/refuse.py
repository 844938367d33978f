"""All the reasons that forbid a call, each in a sentence."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import product

from signals import say
from signals.core import sentences
from signals.core.binding import Binder, Bound
from signals.core.forms import Case, Interlock
from signals.core.ground import Derived, Ground
from signals.core.state import Event, Hold, Refusal, State
from signals.words import EQUIPMENT, Phase


class Refuser:
    """Finds the interlocks that refuse and tells them."""

    def __init__(self, ground: Ground, binder: Binder) -> None:
        self._ground = ground
        self._binder = binder
        self._phase = ground.index("phase")

    def refusals(self, state: State, event: Event, bound: Bound, derived: Derived) -> tuple[Refusal, ...]:
        """Give every reason; () when the event may act. `derived` are the definitions in that state."""
        rule = bound.ground.rule
        phase = self._ground.value(state.facts, "phase")
        wrong = rule.phases and phase not in rule.phases
        failing = bound.ground.fails(state.facts, derived, *bound.arguments) if bound.ground.needs else []
        if not wrong and not failing:
            return ()
        told = [_wrong_phase(event.word, phase, rule.phases)] if wrong else []
        for interlock in (bound.ground.needs[number] for number in dict.fromkeys(failing)):
            told += self._told(state, event, bound, derived, interlock)
        return tuple(told)

    def _told(
        self, state: State, event: Event, bound: Bound, derived: Derived, interlock: Interlock
    ) -> list[Refusal]:
        name = interlock.name.partition("/")[0]
        found = []
        for number, case in enumerate(interlock.cases):
            refuses = partial(
                self._ground.witness(bound.ground, interlock, number), state.facts, derived, *bound.arguments
            )
            found += self._case(state, event, bound, case, refuses)
        told = list(dict.fromkeys(found))
        if len(told) > sentences.MOST:
            told[sentences.MOST :] = [f"And {len(told) - sentences.MOST} more of the kind."]
        return [Refusal(name, sentence) for sentence in told]

    def _case(
        self, state: State, event: Event, bound: Bound, case: Case, refuses: Callable[..., bool]
    ) -> list[str]:
        """Give a sentence for every witness that refuses."""
        members = [self._ground.schema.sorts[sort].members for sort in case.witness.values()]
        found = [numbers for numbers in product(*map(range, map(len, members))) if refuses(*numbers)]
        if not found:
            return []
        known = {"post": event.post, "word": event.word, "id": event.id} | bound.named()
        sorts = {"post": "post", **bound.ground.rule.params, **case.witness}
        filler = sentences.Filler(
            self._ground.layout, sorts, lambda what: self._look(state, event, bound, what)
        )
        told = []
        for numbers in found:
            witnesses = (each[number] for each, number in zip(members, numbers, strict=True))
            names = known | dict(zip(case.witness, witnesses, strict=True))
            told.append(filler.fill(case.sentence, names, self._hold(state, case, names)))
        return told

    def _hold(self, state: State, case: Case, names: dict[str, str]) -> Hold | None:
        if not case.note:
            return None
        return state.notes.get(":".join([case.note[0], *(names[name] for name in case.note[1:])]))

    def _look(self, state: State, event: Event, bound: Bound, what: str) -> str:
        """Answer what a sentence asks beyond the bound names."""
        kind, _, member = what.partition(":")
        match kind:
            case "place":
                return sentences.sector(self._ground.layout, self._ground.value(state.facts, "place", member))
            case "class":
                return self._ground.value(state.facts, "entry", member)
            case "open_items":
                confirmed = state.beside.group.confirmed
                return (
                    ", ".join(item for item in self._ground.layout.checklist if item not in confirmed)
                    or "all"
                )
            case "barred_names":
                return ", ".join(self._binder.barred(state, bound.party, event))
            case "slowed_by":
                slower = state.beside.slowed_by.get(event.fields.get("kart", 0), EQUIPMENT)
                return sentences.holder(self._ground.layout, slower)
            case "kind":
                return self._ground.value(state.facts, "stop", bound.named()["placer"])
            case "since":
                return "a time not recorded"
        return "no reason given"


def _wrong_phase(word: str, phase: str, phases: tuple[str, ...]) -> Refusal:
    now, allowed = say.PHASES[Phase(phase)], " or ".join(say.PHASES[Phase(name)] for name in phases)
    return Refusal("wrong-phase", f"{say.call_name(word)} is not for now ({now}), but for {allowed}.")
