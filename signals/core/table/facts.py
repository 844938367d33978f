"""The facts that are stored, and the definitions that are worked out from them."""

from __future__ import annotations

from signals.core.forms import Definition, Fact

RUNNING = "phase not in (closed, test)"

FACTS = (
    Fact("phase", (), "phase", "closed", "where the session stands",
         on_restart="closed if phase == test else staging if phase == armed else phase"),
    Fact("ready", (), "bool", "False", "this group's checklist is complete", on_restart="False"),
    Fact("latch", (), "latch", "none", "none; a stop stands; or recovery, after the last stop was lifted",
         on_restart=f"stop if {RUNNING} else latch"),
    Fact("stop", ("holder",), "stop_kind", "none", "the stop each holder placed",
         on_restart=f"stop[a] if not ({RUNNING}) or a != E else equipment"),
    Fact("caution", ("sector", "holder"), "caution_kind", "none", "the caution each holder placed in each sector",
         on_restart=f"caution[a, b] if not ({RUNNING}) or b != E else equipment"),
    Fact("monitor", (), "monitor_health", "ok", "the conflict monitor: ok, lost, or tripped"),
    Fact("head", ("head",), "head_health", "ok", "each head: ok, lost, or out of service"),
    Fact("place", ("kart",), "spot", "pit", "where each kart is: a sector, unknown, or set aside",
         on_restart=f"unknown if {RUNNING} else place[a]"),
    Fact("let_out", ("kart",), "let_out", "no", "let out of the pit: no, yes, or gone (it has driven since)"),
    Fact("button", ("kart",), "bool", "False", "the kart's button was pressed and stays latched"),
    Fact("call", ("kart",), "kart_call", "none", "the call on a kart: none, move-over, disqualified",
         on_restart="none if call[a] == move_over else call[a]"),
    Fact("slowed", ("kart",), "slowed", "none", "slowed by a person: none, slow, stop"),
    Fact("entry", ("kart",), "entry", "none", "the class a kart of this group runs in; none outside the group"),
    Fact("surface", (), "surface", "dry", "dry or wet"),
    Fact("journal", (), "journal", "ok", "the record can be written"),
    Fact("opening", (), "opening", "missing", "whether an opening check of today stands"),
    Fact("told", ("head",), "told", "none", "in a test: the aspect a head was told to show", on_restart="none"),
    Fact("allowed", ("kart",), "bool", "False", "in a test: a limit is allowed to this kart", on_restart="False"),
    Fact("gap", (), "bool", "False", "the gap after the last let-out still runs", on_restart="False"),
    Fact("crossed", ("kart",), "bool", "False", "while finishing: the kart has crossed the line"),
    Fact("link", ("kart",), "bool", "True", "the kart is heard", observed=True),
    Fact("taken", ("kart",), "bool", "True", "the kart obeys the limit it was told", observed=True),
    Fact("moving", ("kart",), "bool", "False", "the kart moves", observed=True),
    Fact("input", ("input",), "input_state", "normal", "what each wired input reports", observed=True),
)  # fmt: skip

DEFINITIONS = (
    Definition("fire", {}, "any(stop[p] in (fire, medical) for p in holder)",
               "a stop for fire or medical stands"),
    Definition("cautioned", {"s": "sector"}, "latch == recovery or any(caution[s, p] != none for p in holder)",
               "the sector is under caution"),
    Definition("people", {"s": "sector"}, "any(caution[s, p] == person_on_track for p in holder)",
               "somebody is on the track in the sector"),
    Definition("known_empty", {}, "all(place[k] in (pit, aside) for k in kart)",
               "every kart is known to be off the track"),
    Definition("pit_open", {}, "phase == racing and latch == none",
               "karts may leave the pit"),
    Definition("caution_at", {"x": "spot"}, "any(cautioned[s] for s in sector if x == s or x == unknown)",
               "a kart there is, or may be, in a cautioned sector"),
    Definition("caution_before", {"x": "spot"},
               "any(cautioned[s] for s in sector if x == unknown or any(approach[s, a] for a in sector if a == x))",
               "a kart there is, or may be, on the approach to a cautioned sector"),
    Definition("people_near", {"x": "spot"},
               "any(people[s] for s in sector"
               " if x == s or x == unknown or any(approach[s, a] for a in sector if a == x))",
               "a kart there is, or may be, near somebody on the track"),
)  # fmt: skip
