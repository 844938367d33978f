"""The properties the rules must have, stated apart from the rule table.

They are written in the table's language, over facts, relations of the venue and outputs alone: no
interlock, no definition, no cap of the table can be used here, so what is stated is stated a second
time, on purpose. Beyond the table's language there are `aspect[h]` and `limit[k]` (what is due, as
ranks), `kmh[name]` and `class_kmh[c]` (the venue's limits on the present surface; `return_` for the word that Python keeps), `<=` between ranks,
`after(…)` for the state after a step, and `changes`: the step leaves another state behind.

A clause without rules or kinds speaks of every state. One with them speaks of every step of those
rules, as asked by any post with any truths; one that says `but` speaks of the steps of all others.
"""

from __future__ import annotations

from dataclasses import dataclass

from signals.core.forms import Kind, Rule

NO_STOP = "all(stop[p] == none for p in holder)"
NO_CAUTION = "all(caution[s, p] == none for s in sector for p in holder)"
EMPTY = "all(place[k] in (pit, aside) for k in kart)"
HEARD = "all(entry[k] == none or place[k] == aside or link[k] and taken[k] for k in kart)"
HEALTHY = "monitor == ok and all(head[h] != lost for h in head)"
GO = (
    f"any(entry[k] != none for k in kart) and ready and opening == open and {HEALTHY} and latch == none"
    f" and {NO_STOP} and {NO_CAUTION} and {EMPTY}"
    " and all(entry[k] == none or call[k] != disqualified for k in kart)"
    " and (mixed_classes or all(entry[k] == none or entry[m] == none or entry[k] == entry[m]"
    " for k in kart for m in kart))"
)
"""Every start guard that the stored facts tell; spelled out anew."""
HELD = "latch == recovery or any(caution[s, p] != none for p in holder)"
THERE = "place[k] in (s, unknown)"
NEAR = "(place[k] in (s, unknown) or any(approach[s, a] and place[k] == a for a in sector))"
GUARDS = "(protects[h, s] or any(before[h, g] and protects[g, s] for g in head))"
"""A head guards what it protects and what the head before it protects."""


@dataclass(frozen=True, slots=True)
class Clause:
    """One condition that must hold, of every state or of every step it speaks of."""

    when: str
    rules: tuple[str, ...] = ()
    kinds: tuple[Kind, ...] = ()
    but: tuple[str, ...] = ()
    stored: str = ""
    """A fact without which a state says nothing here; left out where that fact is not stored."""

    @property
    def of_states(self) -> bool:
        """Whether it speaks of every state rather than of steps."""
        return not (self.rules or self.kinds or self.but)

    def speaks_of(self, rule: Rule) -> bool:
        """Whether a rule's steps are meant."""
        if rule.name in self.but:
            return False
        return bool(self.but) or rule.name in self.rules or rule.kind in self.kinds


@dataclass(frozen=True, slots=True)
class Property:
    """A named statement of one or more clauses."""

    name: str
    says: str
    clauses: tuple[Clause, ...]


def _states(name: str, says: str, *whens: str) -> Property:
    return Property(name, says, tuple(map(Clause, whens)))


def _caps(*pairs: tuple[str, str]) -> tuple[str, ...]:
    return tuple(f"all(not ({when}) or limit[k] <= {limit} for k in kart)" for when, limit in pairs)


STATE = (
    _states("P1", "green is shown only while racing, clear, healthy and known",
            f"all(aspect[h] != green or phase == test or (phase == racing and latch == none and {NO_STOP}"
            " and monitor == ok and all(place[k] != unknown for k in kart) and head[h] == ok"
            " and all(caution[s, p] == none for s in sector for p in holder if protects[h, s])) for h in head)"),
    _states("P1d", "dark never means clear",
            f"all(aspect[h] != dark or phase == test or (phase not in (racing, finishing) and {NO_STOP} and {EMPTY})"
            " for h in head)"),
    _states("P2", "under a stop every head is red and every kart stands",
            f"{NO_STOP} or all(aspect[h] == red for h in head) and all(limit[k] <= kmh[stop] for k in kart)"),
    _states("P6", "a disqualified kart is slow", *_caps(("call[k] == disqualified", "kmh[disqualified]"))),
    _states("P7", "calls on karts show, and stand, only where the track is clear",
            f"phase == test or all(aspect[h] not in (number, blue_flash) or ({NO_STOP} and latch != recovery"
            " and phase != finishing and all(caution[s, p] == none for s in sector for p in holder if protects[h, s]))"
            " for h in head)",
            "all(call[k] != move_over or (phase == racing and place[k] not in (pit, aside, unknown) and latch == none"
            f" and {NO_STOP} and all(caution[s, p] == none for s in sector for p in holder if place[k] == s))"
            " for k in kart)"),
    _states("P8", "every cap caps", *_caps(
        ("button[k] or slowed[k] == stop or place[k] == aside", "kmh[zero]"),
        ("any(stop[p] in (fire, medical) for p in holder)", "kmh[zero]"),
        ("place[k] in (pit, unknown) and phase != test and (phase in (closed, staging, armed) or let_out[k] == no)",
         "kmh[zero]"),
        ("place[k] in (pit, unknown) and phase != test", "kmh[pit]"),
        ("phase in (closed, staging, armed) and place[k] != pit", "kmh[return_]"),
        ("latch == recovery", "kmh[return_]"),
        (f"any(({HELD}) and {THERE} for s in sector)", "kmh[caution]"),
        (f"any(({HELD}) and {NEAR} for s in sector)", "kmh[caution]"),
        ("slowed[k] == slow", "kmh[caution]"),
        ("phase == finishing and not finish_at_line", "kmh[finish]"),
    ), "all(limit[k] <= class_kmh[c] for k in kart for c in class_"
       " if entry[k] == c or entry[k] == none and kart_class[k] == c)"),
    _states("P9", "a tripped monitor means a stop", "monitor != tripped or stop[E] != none"),
    _states("P12", "the pit exit is red unless racing and clear of stops",
            f"phase == test or phase == racing and latch == none and {NO_STOP}"
            " or all(aspect[h] == red for h in head if gate_head[h])"),
    Property("P14", "armed means everything is in order; a test means nothing is held and nobody out", (
        Clause(f"phase != armed or {GO} and journal == ok"),
        Clause(f"phase != test or latch == none and {NO_STOP} and {NO_CAUTION} and {EMPTY}"),
        Clause(HEARD, rules=("arm",)),
        Clause("after(phase) != armed", rules=("kart-lost", "limit-missed")),
    )),
    Property("P15", "a fault of equipment stands as a hold of the equipment", (
        Clause(f"all(head[h] != lost or caution[s, E] != none for h in head for s in sector if {GUARDS})"),
        Clause("all(place[k] != unknown for k in kart) and monitor != lost or all(caution[s, E] != none for s in sector)"),
        Clause("all(not button[k] or place[k] != s or caution[s, E] != none for k in kart for s in sector)",
               stored="button"),
        Clause("all(after(caution[s, E]) != none for s in sector if place[kart] in (s, unknown))",
               rules=("kart-pressed", "kart-standing", "kart-over-limit")),
        Clause("not button[kart] or after(place[kart]) != where or place[kart] == aside"
               " or after(caution[where, E]) != none", rules=("kart-at",)),
        Clause("placer != E or all(not button[k] or place[k] != where for k in kart)", rules=("lift-caution",)),
        Clause("not input_stops[input] or after(stop[E]) != none", rules=("input-active",)),
        Clause("all(after(caution[s, E]) != none for s in sector if input_cautions[input, s])", rules=("input-active",)),
        Clause("all(after(caution[s, E]) != none for s in sector)",
               rules=("input-fault", "monitor-lost", "monitor-tripped")),
        Clause("placer != E or all(input[i] != fault and not (input[i] == active and input_cautions[i, where])"
               " for i in input)", rules=("lift-caution",)),
        Clause("placer != E or all(input[i] != active or not input_stops[i] for i in input)", rules=("lift-stop",)),
        Clause("after(stop[E]) != none", rules=("broker-lost", "foreign-controller", "monitor-tripped")),
        Clause("after(monitor) != ok", rules=("monitor-lost", "monitor-tripped")),
        Clause("after(journal) == failed", rules=("journal-failed",)),
        Clause("after(head[head]) != ok", rules=("head-lost",)),
        Clause("place[kart] in (pit, aside) or after(place[kart]) == unknown", rules=("kart-lost",)),
        Clause("after(opening) == missing and all(after(head[h]) != out for h in head)", rules=("day-ended",)),
    )),
    _states("P16r", "a stop and recovery never stand together",
            f"latch == stop and not ({NO_STOP}) or latch != stop and {NO_STOP}"),
    _states("P33", "lamps and limits are lent to a test alone",
            "phase == test or all(told[h] == none for h in head) and all(not allowed[k] for k in kart)"),
    _states("P22", "karts creep past people", *_caps(
        (f"phase != test and any(caution[s, p] == person_on_track and {NEAR} for s in sector for p in holder)",
         "kmh[creep]"))),
)  # fmt: skip

_P, _R, _F = Kind.PERMISSIVE, Kind.RESTRICTIVE, Kind.FAULT
_ARCS = {
    "closed": "closed, test, staging", "test": "test, closed", "staging": "staging, armed, closed",
    "armed": "armed, staging, racing", "racing": "racing, finishing", "finishing": "finishing, staging, closed",
}  # fmt: skip
_ONLY_BY = (
    ("lend", "test", "test,"), ("stage", "staging", "staging, armed"), ("arm", "armed", "armed,"),
    ("finish", "finishing", "finishing,"), ("close", "closed", "closed, test"),
)  # fmt: skip
"""The word that alone leads into a phase, but from the phases named."""
_HELD_TOO = "(red, yellow, yellow_flash, finish_aspect)"
_LIFT_CAUTION = "checked and (post == placer or walker or supervisor[post] and reasoned or placer == E and covers[post, where])"

_FROM = {
    "lend": "closed", "give-back show allow": "test", "verdict": "closed, test",
    "stage": "closed, staging, finishing", "confirm swap join": "staging, racing", "arm": "staging",
    "disarm start": "armed", "let-out finish move-over-one": "racing", "close": "staging, finishing",
    "disqualify-one": "staging, armed, racing, finishing",
}  # fmt: skip
_DOES = {
    "lend": "after(phase) == test",
    "give-back": "after(phase) == closed",
    "stage": "after(phase) == staging and all(after(call[k]) == none and after(slowed[k]) == none for k in kart)"
    " and all(after(let_out[k]) == no and not after(crossed[k]) for k in kart)"
    " and (complete and after(ready) or not complete and not after(ready))",
    "confirm": "complete and after(ready) or not complete and not after(ready)",
    "arm": "after(phase) == armed",
    "disarm armed-expired": "after(phase) != armed",
    "start": "after(phase) == racing and (not grid_start"
    " or all(entry[k] == none or place[k] == aside or after(let_out[k]) == yes for k in kart))",
    "finish": "after(phase) == finishing",
    "close": "after(phase) == closed and not after(ready) and all(after(entry[k]) == none for k in kart)"
    " and all(not after(crossed[k]) for k in kart)",
    "clear": "after(latch) == none",
    "lift-stop": "after(stop[placer]) == none",
    "lift-caution": "after(caution[where, placer]) == none",
    "hand-over-stop": "after(stop[placer]) == none",
    "hand-over-caution": "after(caution[where, placer]) == none",
    "move-over-one": "after(call[kart]) == move_over",
    "move-over-expired": "after(call[kart]) != move_over",
    "withdraw-one": "after(call[kart]) != move_over and after(slowed[kart]) == none",
    "disqualify-one": "after(call[kart]) == disqualified",
    "requalify": "after(call[kart]) == none",
    "account-pit": "after(place[kart]) == pit and after(let_out[kart]) == no and not after(moving[kart])",
    "account-aside": "after(place[kart]) == aside and after(let_out[kart]) == no and not after(moving[kart])",
    "button-reset": "not after(button[kart])",
    "out-of-service": "after(head[head]) == out",
    "let-out": "after(let_out[kart]) == yes",
    "swap join": "after(entry[to]) == runs_as and after(let_out[to]) == no",
    "gap-over": "not after(gap)",
    "stood-in-pit": "after(let_out[kart]) == no",
    "show": "after(told[head]) == aspect",
    "show-ended": "after(told[head]) == none",
    "allow": "after(allowed[kart])",
    "allow-ended": "not after(allowed[kart])",
    "verdict opening-set": "verdict == do_not_open and after(opening) == missing"
    " or verdict != do_not_open and after(opening) == open",
    "dry": "after(surface) == dry",
    "kart-pressed": "after(button[kart])",
    "kart-at": "place[kart] == aside and not moving[kart] and after(place[kart]) == aside"
    " or after(place[kart]) == where and (where == pit or let_out[kart] != yes or after(let_out[kart]) == gone)",
    "kart-rolls": "after(moving[kart]) and after(let_out[kart]) != yes",
    "kart-stands": "not after(moving[kart])",
    "kart-lost": "not after(link[kart])",
    "kart-back": "after(link[kart])",
    "limit-missed": "not after(taken[kart])",
    "limit-taken": "after(taken[kart])",
    "line-crossed": "phase != finishing or after(crossed[kart])",
    "head-back": "after(head[head]) != lost",
    "monitor-back": "after(monitor) != lost",
    "monitor-reset": "after(monitor) != tripped",
    "monitor-tripped": "after(monitor) == tripped",
    "journal-back": "after(journal) == ok",
    "input-active": "after(input[input]) == active",
    "input-normal": "after(input[input]) == normal",
    "input-fault": "after(input[input]) == fault",
}
"""What a step must at least do, by rule."""

STEPS = (
    Property("P3", "racing begins only by start from armed, with everything in order", (
        Clause("phase == racing or after(phase) != racing", but=("start",)),
        Clause(f"phase == armed and {GO} and {HEARD}", rules=("start",)),
    )),
    Property("P4", "a stop leads only to stop or caution", (
        Clause(f"{NO_STOP} or any(after(stop[p]) != none for p in holder)"
               " or after(latch) == recovery and after(phase) == phase", kinds=tuple(Kind)),
    )),
    Property("P5", "a hold ends only by a lift that names it and may, or changes hands", (
        Clause("latch != recovery or after(latch) in (recovery, stop)", but=("clear",)),
        Clause("all(stop[p] == none or after(stop[p]) != none for p in holder)", but=("lift-stop", "hand-over-stop")),
        Clause("all(stop[p] == none or p == placer or after(stop[p]) != none for p in holder)",
               rules=("lift-stop", "hand-over-stop")),
        Clause("all(caution[s, p] == none or after(caution[s, p]) != none for s in sector for p in holder)",
               but=("lift-caution", "hand-over-caution")),
        Clause("all(caution[s, p] == none or s == where and p == placer or after(caution[s, p]) != none"
               " for s in sector for p in holder)", rules=("lift-caution", "hand-over-caution")),
        Clause("post == placer or supervisor[post] and reasoned", rules=("lift-stop",)),
        Clause("stop[placer] not in (fire, medical) or supervisor[post]", rules=("lift-stop",)),
        Clause("monitor != tripped and all(not button[k] for k in kart)", rules=("lift-stop",)),
        Clause("all(place[k] != unknown or checked for k in kart)", rules=("lift-stop",)),
        Clause("not must_stand and all(stop[p] not in (fire, medical) for p in holder)"
               " or all(not moving[k] or place[k] in (pit, aside, unknown) for k in kart)", rules=("lift-stop",)),
        Clause(f"caution[where, placer] == person_on_track or {_LIFT_CAUTION}", rules=("lift-caution",)),
        Clause("checked and (caution[where, placer] != person_on_track or walker"
               " or supervisor[post] and latch == stop)", rules=("lift-caution",)),
        Clause("placer != E or (monitor == ok and all(place[k] != unknown for k in kart)"
               f" and all(head[h] != lost or not {GUARDS} for h in head for s in sector if s == where))",
               rules=("lift-caution",)),
        Clause("placer != E and post != placer and after(stop[post]) != none", rules=("hand-over-stop",)),
        Clause("stop[post] not in (fire, medical) and stop[placer] not in (fire, medical)"
               " or after(stop[post]) in (fire, medical)", rules=("hand-over-stop",)),
        Clause("placer != E and post != placer and after(caution[where, post]) != none", rules=("hand-over-caution",)),
        Clause("caution[where, placer] != person_on_track or walker or supervisor[post] and latch == stop and checked",
               rules=("hand-over-caution",)),
        Clause("caution[where, post] != person_on_track and caution[where, placer] != person_on_track"
               " or after(caution[where, post]) == person_on_track", rules=("hand-over-caution",)),
        Clause("after(stop[post]) != none and (stop[post] not in (fire, medical) or after(stop[post]) == stop[post])",
               rules=("stop",)),
        Clause("after(caution[where, post]) != none and"
               " (caution[where, post] != person_on_track or after(caution[where, post]) == person_on_track)",
               rules=("caution",)),
    )),
    Property("P6e", "a disqualification ends only off the track", (
        Clause("all(call[k] != disqualified or after(call[k]) == disqualified or place[k] in (pit, aside) for k in kart)",
               kinds=tuple(Kind)),
        Clause("supervisor[post]", rules=("requalify",)),
    )),
    Property("P11", "a session closes only when every kart is known off the track", (
        Clause(f"phase == closed or after(phase) != closed or {EMPTY}", kinds=tuple(Kind)),
    )),
    Property("P12e", "entering against red is a stop", (
        Clause("all(place[k] != pit or after(place[k]) in (pit, unknown, aside) or phase == racing and latch == none"
               " or after(stop[E]) != none for k in kart)", kinds=tuple(Kind)),
    )),
    Property("P13", "green comes back only by start, lift, clear", (
        Clause(f"phase == test or after(phase) == test or all(aspect[h] not in {_HELD_TOO}"
               " or after(aspect[h]) != green for h in head)", but=("start", "lift-caution", "clear")),
    )),
    Property("P14e", "any hold ends armed", (
        Clause("after(phase) != armed or all(after(stop[p]) == none for p in holder)"
               " and all(after(caution[s, p]) == none for s in sector for p in holder)", kinds=tuple(Kind)),
    )),
    Property("P16", "a restart loses nothing, and trusts nothing it cannot know", (
        Clause("all(stop[p] == none or after(stop[p]) != none for p in holder)"
               " and all(caution[s, p] == none or after(caution[s, p]) != none for s in sector for p in holder)"
               " and all(call[k] != disqualified or after(call[k]) == disqualified for k in kart)"
               " and (monitor != tripped or after(monitor) == tripped) and (latch == none or after(latch) != none)",
               rules=("restart",)),
        Clause("all(not button[k] or after(button[k]) for k in kart)", rules=("restart",)),
        Clause("phase in (closed, test) or after(stop[E]) != none and all(after(place[k]) == unknown for k in kart)"
               " and not after(ready)", rules=("restart",)),
    )),
    Property("P17", "a button's latch ends only by a person at the kart", (
        Clause("all(not button[k] or after(button[k]) for k in kart)", but=("button-reset",)),
        Clause("checked and all(not button[k] or k == kart or after(button[k]) for k in kart)", rules=("button-reset",)),
    )),
    Property("P18", "restrictive calls and faults never widen anything", (
        # A blue head speaks to one kart and stands on green: where its call ends, nothing is widened for anybody.
        Clause("phase == test or after(phase) == test"
               " or all(after(aspect[h]) <= aspect[h] or aspect[h] == blue_flash for h in head)", kinds=(_R, _F)),
        Clause("all(after(limit[k]) <= limit[k] for k in kart)", kinds=(_R, _F)),
    )),
    Property("P19", "nothing is widened that cannot be recorded", (Clause("journal == ok", kinds=(_P,)),)),
    Property("P20", "phase and checklist change only along listed arcs", (
        *(Clause(f"phase != {a} or after(phase) in ({b})", kinds=tuple(Kind)) for a, b in _ARCS.items()),
        *(Clause(f"after(phase) != {to} or phase in ({here})", but=(word,)) for word, to, here in _ONLY_BY),
        Clause("ready and after(ready) or not ready and not after(ready)",
               but=("stage", "confirm", "close", "join", "restart")),
    )),
    Property("P21", "an accepted permissive call changes something", (
        Clause("changes", rules=(
            "lend", "dry", "arm", "start", "close", "lift-stop", "lift-caution", "clear", "move-over-one",
            "withdraw-one", "requalify", "account-pit", "account-aside", "button-reset", "out-of-service",
            "hand-over-stop", "hand-over-caution")),
    )),
    Property("P24", "a group is staged, and a test begins, only with nobody out", (
        Clause(EMPTY, rules=("stage", "lend")),
    )),
    Property("P25", "a kart is let out only healthy, heard, of the group, and by the gap", (
        Clause("phase == racing and latch == none and ready and place[kart] == pit and entry[kart] != none"
               " and call[kart] != disqualified and not button[kart] and taken[kart] and not gap", rules=("let-out",)),
        Clause("after(gap) and after(let_out[kart]) == yes", rules=("let-out",)),
        Clause("all(let_out[k] == yes or after(let_out[k]) != yes for k in kart)", but=("let-out", "start")),
    )),
    Property("P26", "drivers change karts only where karts stand, one to a kart, and calls go with them", (
        Clause("place[kart] == pit and place[to] == pit and entry[kart] != none and entry[to] == none"
               " and not button[kart] and (call[kart] != disqualified or after(call[to]) == disqualified)",
               rules=("swap",)),
        Clause("place[to] == pit and entry[to] == none and not after(ready)", rules=("join",)),
        Clause("after(entry[to]) != none", rules=("swap", "join")),
        Clause("after(entry[kart]) == none and (slowed[kart] == none or after(slowed[to]) == slowed[kart])"
               " and after(let_out[kart]) == no", rules=("swap",)),
    )),
    Property("P27", "recovery is cleared only with nothing held, everything healthy, and the track checked", (
        Clause(f"latch == recovery and {NO_STOP} and {NO_CAUTION} and {HEALTHY} and checked"
               " and all(link[k] or place[k] == aside or entry[k] == none and place[k] == pit for k in kart)",
               rules=("clear",)),
    )),
    Property("P28", "calls on a kart are for karts out there, and are withdrawn by who made them", (
        Clause("place[kart] not in (pit, aside)", rules=("slow-one", "stop-one")),
        Clause("after(slowed[kart]) == stop and all(after(caution[s, post]) != none for s in sector if place[kart] == s)",
               rules=("stop-one",)),
        Clause("after(slowed[kart]) != none", rules=("slow-one",)),
        Clause("all(slowed[k] == none or after(slowed[k]) != none for k in kart)",
               but=("withdraw-one", "stage", "swap")),
        Clause("slowed[kart] == none or own_call or supervisor[post]", rules=("withdraw-one",)),
        Clause("all(call[k] == disqualified or after(call[k]) != disqualified for k in kart)",
               but=("disqualify-one", "swap")),
        Clause("all(call[k] == move_over or after(call[k]) != move_over for k in kart)", but=("move-over-one",)),
        Clause("all(slowed[k] != none or after(slowed[k]) == none for k in kart)",
               but=("slow-one", "stop-one", "swap")),
        Clause("all(k == kart or call[k] == disqualified or after(call[k]) != disqualified for k in kart)",
               rules=("disqualify-one",)),
    )),
    Property("P29", "a kart is accounted for only by who saw it, and not against its own word", (
        Clause("checked and not button[kart]"
               " and not (link[kart] and moving[kart] and place[kart] not in (pit, aside, unknown))",
               rules=("account-pit", "account-aside")),
    )),
    Property("P30", "a head goes out of service only by a supervisor, with a flag there and another head", (
        Clause("supervisor[post] and named and reasoned and all(not protects[head, s]"
               " or any(g != head and head[g] == ok and protects[g, s] and alike[head, g] for g in head) for s in sector)",
               rules=("out-of-service",)),
        Clause("all(head[h] != out or after(head[h]) == out for h in head)", but=("day-ended",)),
    )),
    Property("P31", "wet only narrows; dry, and an opening, are a person's word who may give it", (
        Clause("after(surface) == wet", rules=("wet",)),
        Clause("surface == dry or after(surface) == wet", but=("dry",)),
        Clause("supervisor[post]", rules=("dry",)),
        Clause("not rows_open", rules=("verdict",)),
        Clause("opening == open or after(opening) != open", but=("verdict", "opening-set")),
    )),
    Property("P34", "every step does what it is called for", (
        *(Clause(when, rules=tuple(rules.split())) for rules, when in _DOES.items()),
    )),
    Property("P35", "every call is for its phases", (
        *(Clause(f"phase in ({phases},)", rules=tuple(rules.split())) for rules, phases in _FROM.items()),
    )),
    Property("P32", "only who may calls, having seen the last restrictive change, under an id of its own", (
        Clause("may[post, word]", kinds=(_P,)),
        Clause("not stale", kinds=(_P,)),
        Clause("not reused", kinds=(_P,)),
        Clause("not barred", rules=("prepare", "stage", "join")),
    )),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Always:
    """A call that must be open in every state of some phases, to every post that may make it.

    `when` narrows the states: what is in order must be open, or a refusal is a rule that nobody wants.
    """

    name: str
    says: str
    rule: str
    phases: tuple[str, ...] = ()
    when: str = "True"


ENABLED = (
    Always("E1", "stop is never refused, to anybody", "stop"),
    Always("E1", "caution is never refused, to anybody", "caution"),
    Always("E2", "finish is open while racing", "finish", ("racing",)),
    Always("E3", "disarm is open while armed", "disarm", ("armed",)),
    Always("E4", "give-back is open in a test", "give-back", ("test",)),
    Always("E5", "disqualify is open from staging to finishing", "disqualify-one",
           ("staging", "armed", "racing", "finishing")),
    *(Always("E6", "what is in order is open", rule, tuple(phases.split(", ")), f"journal == ok and ({when})")
      for rule, phases, when in (
          ("lend", "closed", f"{EMPTY} and {NO_STOP} and {NO_CAUTION} and latch == none"),
          ("verdict", "closed, test", "True"),
          ("stage", "closed, staging, finishing", EMPTY),
          ("confirm", "staging, racing", "True"),
          ("arm", "staging", f"{GO} and {HEARD}"),
          ("start", "armed", f"{GO} and {HEARD}"),
          ("close", "staging, finishing", EMPTY),
          ("show", "test", "True"),
          ("allow", "test", "True"),
      )),
)  # fmt: skip
