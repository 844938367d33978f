"""The holds that stand, by key, and the attributes that go with them."""

from __future__ import annotations

from dataclasses import replace
from itertools import compress, count
from operator import ne

from signals.core.ground import Facts, Ground
from signals.core.state import Event, Hold, StandingHold, State
from signals.words import EQUIPMENT, Word

REASON_MAX = 200
"""Characters of a hold's reasons together."""

_TARGETS = ("head", "kart", "input")


def keys(ground: Ground) -> list[tuple[int, str]]:
    """Give every possible hold as (place in the facts, key), stops first."""
    facts = ground.schema.facts
    made = [(ground.index("stop", *m), f"stop:{m[0]}") for m in ground.each(facts["stop"])]
    made += [(ground.index("caution", *m), f"caution:{m[0]}:{m[1]}") for m in ground.each(facts["caution"])]
    return made


class Holds:
    """Reads holds out of facts and keeps their attributes."""

    def __init__(self, ground: Ground) -> None:
        self._keys = keys(ground)
        facts = ground.schema.facts
        self._stops = facts["stop"].size
        self._kinds = (facts["stop"].domain.members, facts["caution"].domain.members)
        self._low = self._keys[0][0]
        self._high = self._keys[-1][0] + 1
        none = [members.index("none") for members in self._kinds]
        self._none = [none[number >= self._stops] for number in range(len(self._keys))]

    def kind(self, facts: Facts, number: int) -> str:
        """Give a hold's kind, "none" where it does not stand."""
        members = self._kinds[number >= self._stops]
        return members[facts[self._keys[number][0]]]

    def standing(self, facts: Facts) -> list[int]:
        """Give the numbers of the holds that stand."""
        return list(compress(count(), map(ne, facts[self._low : self._high], self._none)))

    def key(self, number: int) -> str:
        """Give the key of a hold by its number."""
        return self._keys[number][1]

    def same(self, old: Facts, new: Facts) -> bool:
        """Whether nothing about holds changed."""
        return old[self._low : self._high] == new[self._low : self._high]

    def noted(
        self, state: State, new: Facts, event: Event, now_ms: int
    ) -> tuple[dict[str, Hold], tuple[str, ...], tuple[str, ...]]:
        """Give the notes after an event, and the keys that came and went."""
        before = state.notes
        after = [self.key(number) for number in self.standing(new)]
        placed = tuple(key for key in after if key not in before)
        ended = tuple(key for key in sorted(before) if key not in after)
        notes = {key: before[key] for key in after if key in before}
        for number, key in enumerate(placed):
            notes[key] = self._new(state, event, now_ms, number)
        for key in self._named_again(event, after, placed):
            notes[key] = _more(notes[key], event)
        return notes, placed, ended

    def _new(self, state: State, event: Event, now_ms: int, number: int) -> Hold:
        if event.word == Word.HAND_OVER:
            old = state.notes.get(str(event.fields.get("hold")))
            if old is not None:
                return replace(old, reason=_cut(f"{old.reason}; handed over by {event.fields['hold']}"))
        return Hold(f"{state.serial + 1}-{number}", _reason(event), now_ms, event.fields.get("partner"))

    def _named_again(self, event: Event, after: list[str], placed: tuple[str, ...]) -> list[str]:
        named = {
            str(Word.STOP): f"stop:{event.post}",
            str(Word.CAUTION): f"caution:{event.fields.get('where')}:{event.post}",
        }
        return [key for key in after if key == named.get(event.word) and key not in placed]

    def spelled(self, state: State) -> list[StandingHold]:
        """Give the standing holds in the words of the contract."""
        spelled = []
        for number in self.standing(state.facts):
            key = self.key(number)
            what, *rest = key.split(":")
            where = rest[0] if what == "caution" else None
            kind = self.kind(state.facts, number).replace("_", "-")
            hold = state.notes.get(key) or Hold(key, "", 0)
            spelled.append(StandingHold(key, what, where, kind, rest[-1], hold))
        return spelled


def _reason(event: Event) -> str:
    given = str(event.fields.get("reason") or "").strip()
    if event.post != EQUIPMENT:
        return _cut(given or str(event.fields.get("kind") or "no reason given"))
    said = event.word.replace("-", " ")
    target = next((str(event.fields[name]) for name in _TARGETS if name in event.fields), "")
    text = said.replace(said.split()[0], f"{said.split()[0]} {target}", 1) if target else said
    return _cut(f"{text}: {given}" if given else text)


def _more(hold: Hold, event: Event) -> Hold:
    reason = _reason(event)
    told = hold.reason if reason in hold.reason else _cut(f"{hold.reason}; {reason}")
    return replace(hold, reason=told, partner=event.fields.get("partner") or hold.partner)


def _cut(text: str) -> str:
    return text if len(text) <= REASON_MAX else text[: REASON_MAX - 1] + "…"
