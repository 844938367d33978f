"""What was asked and accepted, and what must therefore stand: the monitor's own memory of the session.

A hold that was seen or accepted stands until a lift or hand-over that names it was accepted. The
last stop that goes leaves a recovery, which ends by an accepted clear. The phase moves along
listed arcs, each by its accepted call. Messages may come in either order; whoever asks for
`broken` waits a moment before believing it.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

ARCS: dict[tuple[str, str], str | None] = {
    ("closed", "staging"): "stage",
    ("finishing", "staging"): "stage",
    ("staging", "armed"): "arm",
    ("armed", "racing"): "start",
    ("racing", "finishing"): "finish",
    ("staging", "closed"): "close",
    ("finishing", "closed"): "close",
    ("closed", "test"): "lend",
    ("test", "closed"): None,
    ("armed", "staging"): None,
}
"""(from, to) → the word that must have been accepted; None: it may come by itself, for safety."""
FRESH_S = 1.0
"""For so long an accepted call may explain a change of `state` that is still to come."""
PENDING_MAX = 512


@dataclass(frozen=True, slots=True)
class Breach:
    """Something in the session that is not as it must be, in short words, with details for the log."""

    what: str
    where: str
    due: str
    shown: str
    detail: str = ""


def key_of(hold: Mapping[str, Any]) -> str:
    """Name a hold of `state` as a lift names it: "stop:p1", "caution:s3:p1"; "recovery" for a recovery."""
    parts = {"stop": ("stop", hold["post"]), "caution": ("caution", hold["where"], hold["post"])}
    return ":".join(str(part) for part in parts.get(hold["what"], ("recovery",)))


@dataclass(slots=True)
class Ledger:
    """Fed with calls, answers and states; tells which holds must stand, and which arcs were broken."""

    stands: set[str] = field(default_factory=set)
    """Keys of stops and cautions that must stand."""
    recovery: bool = False
    """Whether a recovery must stand."""
    out_of_service: set[str] = field(default_factory=set)
    _phase: str | None = None
    _seen: frozenset[str] = frozenset()
    _asked: OrderedDict[tuple[str, str], Mapping[str, Any]] = field(default_factory=OrderedDict)
    _fresh: dict[str, float] = field(default_factory=dict)
    """Accepted words and lifted keys → when (s)."""
    _arc: tuple[str, str] | None = None
    _under: frozenset[str] = frozenset()

    def asked(self, post: str, call: Mapping[str, Any]) -> None:
        """Remember a call until its answer."""
        self._asked.pop((post, call["id"]), None)
        self._asked[post, call["id"]] = call
        while len(self._asked) > PENDING_MAX:
            self._asked.popitem(last=False)

    def answered(self, post: str, answer: Mapping[str, Any], now_s: float) -> None:
        """Take an answer; only what was accepted counts."""
        call = self._asked.pop((post, answer["id"]), None)
        if call is None or not answer["accepted"]:
            return
        word = call["call"]
        self._fresh[word] = now_s
        if word == "stop":
            self._must_stand(f"stop:{post}")
        elif word == "caution":
            self._must_stand(f"caution:{call.get('where')}:{post}")
        elif word in ("lift", "hand-over"):
            self._may_go(str(call.get("hold")), now_s)
        elif word == "clear":
            self._may_clear(now_s)
        elif word == "out-of-service":
            self.out_of_service.add(str(call.get("head")))
        if self._arc and ARCS.get(self._arc) == word:
            self._arc = None

    def _must_stand(self, key: str) -> None:
        self.stands.add(key)
        self._fresh.pop(key, None)

    def _may_go(self, key: str, now_s: float) -> None:
        self._fresh[key] = now_s
        if key not in self._seen:
            self._gone(key)

    def _may_clear(self, now_s: float) -> None:
        if "recovery" in self._seen:
            self._fresh["recovery"] = now_s
        else:
            self.recovery = False

    def _gone(self, key: str) -> None:
        self.stands.discard(key)
        if key.startswith("stop:") and not self.stopped:
            self.recovery = True

    @property
    def stopped(self) -> bool:
        """Whether a stop must stand."""
        return any(key.startswith("stop:") for key in self.stands)

    def state(self, state: Mapping[str, Any], now_s: float) -> None:
        """Take a `state`: what stands in it must go on standing."""
        seen = frozenset(key_of(hold) for hold in state["holds"])
        self._fresh = {what: at for what, at in self._fresh.items() if now_s - at <= FRESH_S}
        if self._phase is None:
            self.accept(state)
            return
        self._move(state["phase"], seen, now_s)
        self._seen = seen
        self.stands |= seen - {"recovery"}
        for key in self.stands - seen:
            if self._fresh.pop(key, None) is not None:
                self._gone(key)
        if self.stopped:
            self.recovery = False
        elif "recovery" in seen:
            self.recovery = True
        elif self._fresh.pop("recovery", None) is not None:
            self.recovery = False

    def accept(self, state: Mapping[str, Any]) -> None:
        """Take a `state` as it stands, not asking how it came about: at the beginning, after a reset."""
        self._seen = frozenset(key_of(hold) for hold in state["holds"])
        self.stands = set(self._seen - {"recovery"})
        self.recovery = "recovery" in self._seen
        gone = {head for head, view in state["heads"].items() if view["health"] == "out-of-service"}
        self.out_of_service = gone
        self._phase = state["phase"]
        self._arc, self._under = None, frozenset()

    def _move(self, new: str, seen: frozenset[str], now_s: float) -> None:
        old, self._phase = str(self._phase), new
        if old == new:
            return
        self._under = self._seen & seen if new == "racing" else frozenset()
        self._arc = None if self._lawful(old, new, now_s) else (old, new)

    def _lawful(self, old: str, new: str, now_s: float) -> bool:
        if (old, new) not in ARCS:
            return False
        word = ARCS[old, new]
        return word is None or now_s - self._fresh.get(word, -FRESH_S * 2) <= FRESH_S

    def broken(self) -> Iterator[Breach]:
        """Name what is not as it must be."""
        for key in sorted(self.stands - self._seen):
            what, *where = key.split(":")
            yield Breach("a hold went without an accepted lift", where[0], what, "gone", key)
        if self.recovery and "recovery" not in self._seen:
            yield Breach("recovery went without an accepted clear", "track", "recovery", "gone")
        if self._arc is not None:
            old, new = self._arc
            needed = ARCS.get(self._arc) or "no such change exists"
            yield Breach("the phase changed without an accepted call", "phase", old, new, needed)
        held = ", ".join(sorted(self._seen))
        if self._phase == "armed" and self._seen:
            yield Breach("armed while something is held", "phase", "staging", "armed", held)
        if self._phase == "racing" and self._under:
            held = ", ".join(sorted(self._under))
            yield Breach("started while something was held", "phase", "armed", "racing", held)
