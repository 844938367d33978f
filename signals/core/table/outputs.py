"""What heads show, what limits karts, and what runs on time: all worked out from the facts."""

from __future__ import annotations

from signals.core.forms import Cap, Shows, Timer

WAITING = "phase in (closed, staging, armed)"
GATE = "gate_head[h]"
"""A start or pit-exit head, which is red unless karts may leave the pit."""

SHOWS = (
    Shows("red", "head[h] == out and (latch == stop or gate_head[h])", "out of service: red under stop"),
    Shows("fail_aspect[h]", "head[h] == out", "out of service: its fail aspect"),
    Shows("told[h]", "phase == test and told[h] != none", "in a test: what it was told"),
    Shows("red", "latch == stop", "a stop stands"),
    Shows("red", "head[h] == lost and (gate_head[h] or fail_aspect[h] == red)", "lost, and its fail aspect is red"),
    Shows("red", f"{GATE} and not pit_open", "start and pit exit: red unless karts may leave the pit"),
    Shows("red", f"{WAITING} and not known_empty", "not racing, and the track is not known to be empty"),
    Shows("yellow_flash", "any(protects[h, s] and cautioned[s] for s in sector)", "a sector it protects is under caution"),
    Shows("finish_aspect", "phase == finishing", "the session ends"),
    Shows("number", "number_head[h] and any(call[k] == disqualified and place[k] not in (pit, aside) for k in kart)",
          "a disqualified kart is out there"),
    Shows("blue_flash", "number_head[h] and any(call[k] == move_over for k in kart)", "a kart is asked to move over"),
    Shows("green", "phase == racing", "racing and clear"),
    Shows("dark", "True", "nothing to say; dark never means clear"),
)  # fmt: skip

CAPS = (
    Cap("button", "zero", "button[k]", "its button is latched"),
    Cap("fire-or-medical", "zero", "fire", "a stop for fire or medical"),
    Cap("stop", "stop", "latch == stop", "a stop stands"),
    Cap("stop-one", "zero", "slowed[k] == stop", "stopped by a person"),
    Cap("set-aside", "zero", "place[k] == aside", "set aside"),
    Cap("test", "zero", "phase == test and not allowed[k]", "in a test, unless allowed"),
    Cap("not-let-out", "zero", "phase not in (closed, test, staging, armed) and let_out[k] == no"
        " and place[k] in (pit, unknown)", "in the pit until let out"),
    Cap("session-not-open", "zero", f"{WAITING} and place[k] in (pit, unknown)", "in the pit, no session runs"),
    Cap("person-on-track", "creep", "people_near[place[k]]", "somebody is on the track there or just ahead"),
    Cap("recovery", "return", "latch == recovery", "recovery after a stop"),
    Cap("return", "return", f"{WAITING} and place[k] != pit", "outside the pit while no session runs"),
    Cap("pit-lane", "pit", "place[k] in (pit, unknown) and phase != test", "in the pit lane"),
    Cap("disqualified", "disqualified", "call[k] == disqualified", "disqualified"),
    Cap("caution", "caution", "caution_at[place[k]]", "in a sector under caution"),
    Cap("approach", "caution", "caution_before[place[k]]", "on the approach to a sector under caution"),
    Cap("slow-one", "caution", "slowed[k] == slow", "slowed by a person"),
    Cap("finish", "finish", "phase == finishing and (not finish_at_line or crossed[k])", "the session ends"),
    Cap("class", "class", "True", "its class"),
)  # fmt: skip

TIMERS = (
    Timer("armed", {}, "phase == armed", "armed_ms", "armed-expired"),
    Timer("gap", {}, "gap", "gap_ms", "gap-over", renewed_by="let-out"),
    Timer("move-over", {"kart": "kart"}, "call[kart] == move_over", "move_over_ms", "move-over-expired"),
    Timer("stood", {"kart": "kart"}, "let_out[kart] == gone and place[kart] == pit and not moving[kart]", "stood_ms",
          "stood-in-pit"),
    Timer("show", {"head": "head"}, "told[head] != none", "show_ms", "show-ended", renewed_by="show"),
    Timer("allow", {"kart": "kart"}, "allowed[kart]", "show_ms", "allow-ended", renewed_by="allow"),
)  # fmt: skip
