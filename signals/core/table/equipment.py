"""What equipment and time do: they add holds and disarm; coming back never lifts anything."""

from __future__ import annotations

from signals.core.forms import Kind, Move, Rule
from signals.core.table.calls import DISARM, LAMPS_BACK, NO_MORE_MOVE_OVER, TEST_ENDS

ENDS = (DISARM, TEST_ENDS)
YELLOW_EVERYWHERE = {"caution[s, E] for s in sector": "equipment", **LAMPS_BACK}
RED = (Move("latch", ("none", "recovery", "stop"), "stop"), *ENDS, NO_MORE_MOVE_OVER)
RED_BY_EQUIPMENT = {"stop[E]": "equipment", **LAMPS_BACK}


def _yellow_where(kart: str) -> dict[str, str]:
    """Yellow where a kart is or may be."""
    return {f"caution[s, E] for s in sector if place[{kart}] == s or place[{kart}] == unknown": "equipment",
            **LAMPS_BACK}  # fmt: skip


def _no_move_over_where(kart: str) -> Move:
    return Move("call[k] for k in kart", ("move_over",), "none",
                f"place[k] == place[{kart}] or place[{kart}] == unknown")  # fmt: skip


ENTERS = "place[kart] == pit and where != pit"
AGAINST_RED = f"{ENTERS} and not pit_open"
COUNTS = "(place[kart] != aside or moving[kart])"
"""A kart set aside still reports where it was carried from; only one that moves is taken at its word."""

EQUIPMENT = (
    Rule("head-lost", "head-lost", Kind.FAULT,
         "yellow on what the head protects and on what the head before it protects", {"head": "head"},
         moves=(Move("phase", ("armed",), "staging", "head[head] != out"),
                Move("phase", ("test",), "closed", "head[head] != out"),
                Move("call[k] for k in kart", ("move_over",), "none",
                     "head[head] != out and any(guards[head, s] and place[k] == s for s in sector)")),
         sets={"head[head]": "lost if head[head] != out else out",
               "caution[s, E] for s in sector if guards[head, s] and head[head] != out": "equipment",
               "told[h] for h in head if head[head] != out": "none",
               "allowed[k] for k in kart if head[head] != out": "False"}),
    Rule("head-back", "head-back", Kind.REPAIR, "the head is heard and right again; its yellow stays",
         {"head": "head"}, sets={"head[head]": "ok if head[head] == lost else head[head]"}),
    Rule("kart-lost", "kart-lost", Kind.FAULT,
         "on the track its place is unknown and yellow stands everywhere; in the pit or set aside its place stays",
         {"kart": "kart"},
         moves=(DISARM, Move("phase", ("test",), "closed", "place[kart] not in (pit, aside)"),
                Move("call[k] for k in kart", ("move_over",), "none", "place[kart] not in (pit, aside)")),
         sets={"link[kart]": "False",
               "place[kart]": "place[kart] if place[kart] in (pit, aside) else unknown",
               "caution[s, E] for s in sector if place[kart] not in (pit, aside)": "equipment"}),
    Rule("kart-back", "kart-back", Kind.REPAIR, "the kart is heard again; its place stays unknown until it is seen",
         {"kart": "kart"}, sets={"link[kart]": "True"}),
    Rule("kart-at", "kart-at", Kind.WORLD,
         "the kart is seen in a sector; entering the track against red is a stop by the equipment",
         {"kart": "kart", "where": "sector"},
         moves=(Move("latch", ("none", "recovery"), "stop", AGAINST_RED),
                Move("phase", ("armed",), "staging", "where != pit or button[kart]"),
                Move("phase", ("test",), "closed", "where != pit or button[kart]"),
                Move("call[k] for k in kart", ("move_over",), "none",
                     f"{AGAINST_RED} or button[kart] and place[k] == where"
                     " or k == kart and (where == pit or cautioned[where] or button[kart] or latch != none)")),
         sets={"place[kart]": f"where if {COUNTS} else place[kart]",
               f"stop[E] if {AGAINST_RED}": "equipment",
               "let_out[kart]": "gone if where != pit and let_out[kart] == yes else let_out[kart]",
               f"caution[where, E] if button[kart] and {COUNTS}": "equipment",
               "told[h] for h in head if where != pit or button[kart]": "none",
               "allowed[k] for k in kart if where != pit or button[kart]": "False"}),
    Rule("kart-stands", "kart-stands", Kind.WORLD, "the kart stands", {"kart": "kart"},
         sets={"moving[kart]": "False"}),
    Rule("kart-rolls", "kart-rolls", Kind.WORLD, "the kart moves", {"kart": "kart"},
         sets={"moving[kart]": "True", "let_out[kart]": "gone if let_out[kart] == yes else let_out[kart]"}),
    Rule("kart-standing", "kart-standing", Kind.FAULT,
         "a kart stood for 3 s on the track though it may drive: yellow where it is", {"kart": "kart"},
         moves=(*ENDS, _no_move_over_where("kart")), sets=_yellow_where("kart"), added=True),
    Rule("kart-over-limit", "kart-over-limit", Kind.FAULT,
         "a kart is 5 km/h over its limit after the ramp: yellow where it is", {"kart": "kart"},
         moves=(*ENDS, _no_move_over_where("kart")), sets=_yellow_where("kart"), added=True),
    Rule("limit-taken", "limit-taken", Kind.REPAIR, "the kart obeys the limit it was told", {"kart": "kart"},
         sets={"taken[kart]": "True"}, added=True),
    Rule("limit-missed", "limit-missed", Kind.FAULT, "the kart does not obey the limit it was told",
         {"kart": "kart"}, moves=(DISARM,), sets={"taken[kart]": "False"}, added=True),
    Rule("kart-pressed", "kart-pressed", Kind.FAULT, "the driver's button: latched, the kart stops, yellow where it is",
         {"kart": "kart"}, moves=(*ENDS, _no_move_over_where("kart")),
         sets={"button[kart]": "True", **_yellow_where("kart")}),
    Rule("line-crossed", "line-crossed", Kind.WORLD, "the kart crosses the line", {"kart": "kart"},
         sets={"crossed[kart]": "phase == finishing or crossed[kart]"}, added=True),
    Rule("monitor-lost", "monitor-lost", Kind.FAULT, "the conflict monitor is silent: yellow everywhere",
         moves=(*ENDS, NO_MORE_MOVE_OVER), sets={"monitor": "lost if monitor == ok else monitor",
                                                 **YELLOW_EVERYWHERE}),
    Rule("monitor-back", "monitor-back", Kind.REPAIR, "the conflict monitor watches again",
         sets={"monitor": "ok if monitor == lost else monitor"}),
    Rule("monitor-tripped", "monitor-tripped", Kind.FAULT,
         "the conflict monitor saw something shown that is not due: red by the equipment, yellow everywhere",
         moves=RED, sets={"monitor": "tripped", **RED_BY_EQUIPMENT, **YELLOW_EVERYWHERE}),
    Rule("monitor-reset", "monitor-reset", Kind.REPAIR, "a person reset the monitor; the stop stays",
         sets={"monitor": "ok if monitor == tripped else monitor"}),
    Rule("broker-lost", "broker-lost", Kind.FAULT, "the controller was cut off: red by the equipment",
         moves=RED, sets=RED_BY_EQUIPMENT),
    Rule("foreign-controller", "foreign-controller", Kind.FAULT, "another controller speaks: red by the equipment",
         moves=RED, sets=RED_BY_EQUIPMENT),
    Rule("input-active", "input-active", Kind.FAULT,
         "an alarm or a wired stop: red; a gate or a wired yellow: yellow where it acts", {"input": "input"},
         moves=(Move("latch", ("none", "recovery", "stop"), "stop", "input_stops[input]"), *ENDS,
                Move("call[k] for k in kart", ("move_over",), "none",
                     "input_stops[input] or any(input_cautions[input, s] and place[k] == s for s in sector)")),
         sets={"input[input]": "active", "stop[E] if input_stops[input]": "equipment",
               "caution[s, E] for s in sector if input_cautions[input, s]": "equipment", **LAMPS_BACK},
         added=True),
    Rule("input-normal", "input-normal", Kind.REPAIR, "a wired input is at rest; its hold stays",
         {"input": "input"}, sets={"input[input]": "normal"}, added=True),
    Rule("input-fault", "input-fault", Kind.FAULT, "a wired input is silent or in fault: yellow everywhere",
         {"input": "input"}, moves=(*ENDS, NO_MORE_MOVE_OVER),
         sets={"input[input]": "fault", **YELLOW_EVERYWHERE}, added=True),
    Rule("journal-failed", "journal-failed", Kind.FAULT, "the record cannot be written", moves=(DISARM,),
         sets={"journal": "failed"}),
    Rule("journal-back", "journal-back", Kind.REPAIR, "the record can be written again", sets={"journal": "ok"}),
    Rule("opening-set", "opening-set", Kind.WORLD,
         "without a person: a simulated venue starts opened; a verdict that no longer holds is void",
         {"verdict": "verdict"},
         moves=(Move("phase", ("armed",), "staging", "verdict == do_not_open"),),
         sets={"opening": "missing if verdict == do_not_open else open"}, added=True),
    Rule("day-ended", "day-ended", Kind.FAULT,
         "the opening check ends, and heads out of service count as lost again",
         moves=(DISARM, Move("phase", ("test",), "closed", "any(head[h] == out for h in head)"),
                Move("call[k] for k in kart", ("move_over",), "none",
                     "any(place[k] == s and any(head[h] == out and guards[h, s] for h in head) for s in sector)")),
         sets={"opening": "missing", "head[h] for h in head if head[h] == out": "lost",
               "caution[s, E] for s in sector if any(head[h] == out and guards[h, s] for h in head)": "equipment",
               "told[h] for h in head if any(head[g] == out for g in head)": "none",
               "allowed[k] for k in kart if any(head[g] == out for g in head)": "False"},
         added=True),
    Rule("restart", "restart", Kind.FAULT,
         "the controller comes back: closed stays closed; otherwise red by the equipment, every place unknown"),
)  # fmt: skip

TIME = (
    Rule("armed-expired", "armed-expired", Kind.FAULT, "start did not follow: back to staging", moves=(DISARM,)),
    Rule("move-over-expired", "move-over-expired", Kind.WORLD, "the move-over ends by itself", {"kart": "kart"},
         moves=(Move("call[kart]", ("move_over",), "none"),)),
    Rule("stood-in-pit", "stood-in-pit", Kind.WORLD, "back in the pit and standing: it must be let out again",
         {"kart": "kart"}, sets={"let_out[kart]": "no"}, added=True),
    Rule("gap-over", "gap-over", Kind.WORLD, "the next kart may leave", sets={"gap": "False"}, added=True),
    Rule("show-ended", "show-ended", Kind.WORLD, "the head goes back to what is due", {"head": "head"},
         sets={"told[head]": "none"}, added=True),
    Rule("allow-ended", "allow-ended", Kind.WORLD, "the kart's allowance ends", {"kart": "kart"},
         sets={"allowed[kart]": "False"}, added=True),
)  # fmt: skip
