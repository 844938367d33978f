"""The interlocks: what refuses, and the sentence that says why.

`post` is the caller. Truths that are given beside the facts: `stale` something restrictive happened
since the state its sender saw; `reused` the id was used for another payload; `barred` a driver of the
entries is barred today; `checked` the caller says it was checked; `reasoned` a reason was given;
`named` a flag marshal was named; `walker` the caller is the person on the track or the named partner;
`own_call` the caller made the call on this kart; `rows_open` rows of the opening check are open.
A name after a slash tells variants of one interlock apart; refusals give the part before it.
In sentences a variable is written as screens name it; {since} a time of day, {reason} a hold's reason.
"""

from __future__ import annotations

from signals.core.forms import Case, Interlock

INTERLOCKS = (
    Interlock("journal-fault", "nothing is widened that cannot be recorded", (
        Case("journal == failed", "The journal cannot be written; only restrictive calls are taken."),
    )),
    Interlock("stale-view", "the caller must have seen the last restrictive change", (
        Case("stale", "Something restrictive happened since the state you saw; look again and call again."),
    )),
    Interlock("id-reused", "an id names one call", (
        Case("reused", "The id {id} was already used for another call."),
    )),
    Interlock("not-authorised", "a post may call only what the venue lets it", (
        Case("not may[post, word]", "{post} may not call {word}."),
    )),
    Interlock("supervisor-only", "only a supervisor's post", (
        Case("not supervisor[post]", "Only a supervisor may call {word}; {post} is none."),
    )),
    Interlock("supervisor-only/fire", "a stop for fire or medical is a supervisor's to lift", (
        Case("stop[placer] in (fire, medical) and not supervisor[post]",
             "The red by {placer} is for {kind}; only a supervisor may lift it.", note=("stop", "placer")),
    )),
    Interlock("caution-holds", "no caution stands anywhere", (
        Case("caution[s, p] != none", "Yellow stands in {s}, placed by {p} at {since} ({reason}).",
             {"s": "sector", "p": "holder"}, ("caution", "s", "p")),
        Case("latch == recovery", "After red the track has not been cleared yet."),
    )),
    Interlock("stop-holds", "no stop stands", (
        Case("stop[p] != none", "Red stands, placed by {p} at {since} ({reason}).", {"p": "holder"}, ("stop", "p")),
    )),
    Interlock("stop-latched", "no stop stands", (
        Case("stop[p] != none", "Red still stands, placed by {p} at {since} ({reason}); lift it first.",
             {"p": "holder"}, ("stop", "p")),
    )),
    Interlock("head-fault", "every head is healthy or out of service", (
        Case("head[h] == lost", "Head {h} is lost or shows something else than it was told.", {"h": "head"}),
    )),
    Interlock("kart-unreachable", "every kart of the group, and every kart out there, is heard", (
        Case("not link[k] and place[k] != aside and (entry[k] != none or place[k] != pit)",
             "Kart {k} is not heard; it was last known in {k_place}.", {"k": "kart"}),
    )),
    Interlock("limit-not-taken", "every kart of the group obeys the limit it was told", (
        Case("entry[k] != none and place[k] != aside and not taken[k]",
             "Kart {k} has not taken the limit it was told.", {"k": "kart"}),
    )),
    Interlock("limit-not-taken/this", "this kart obeys the limit it was told", (
        Case("not taken[kart]", "Kart {kart} has not taken the limit it was told."),
    )),
    Interlock("classes-mixed", "one class at a time, unless the venue mixes them", (
        Case("not mixed_classes and entry[k] != entry[m] and entry[k] != none and entry[m] != none"
             " and earlier[k, m]",
             "Kart {k} runs as {k_class}, kart {m} as {m_class}; this venue does not mix classes.",
             {"k": "kart", "m": "kart"}),
    )),
    Interlock("monitor-absent", "the conflict monitor watches", (
        Case("monitor == lost", "The conflict monitor is not heard."),
    )),
    Interlock("monitor-tripped", "the conflict monitor has not tripped", (
        Case("monitor == tripped", "The conflict monitor has tripped; somebody looks, and resets it."),
    )),
    Interlock("track-occupied", "every kart is known to be off the track", (
        Case("place[k] not in (pit, aside)", "Kart {k} is not off the track: {k_place}.", {"k": "kart"}),
    )),
    Interlock("checklist-open", "the group's checklist is complete", (
        Case("not ready", "The checklist is open: {open_items}."),
    )),
    Interlock("kart-disqualified", "no kart of the group is disqualified", (
        Case("entry[k] != none and call[k] == disqualified", "Kart {k} has black: its driver is out.", {"k": "kart"}),
    )),
    Interlock("kart-disqualified/this", "this kart is not disqualified", (
        Case("call[kart] == disqualified", "Kart {kart} has black: its driver is out."),
    )),
    Interlock("opening-check-missing", "an opening check of today stands", (
        Case("opening == missing", "No passed opening check of today stands."),
    )),
    Interlock("empty-group", "somebody is to drive", (
        Case("all(entry[k] == none for k in kart)", "The group is empty."),
    )),
    Interlock("rows-open", "every row of the opening check was tested", (
        Case("rows_open", "Rows of the opening check are still open."),
    )),
    Interlock("barred-driver", "nobody drives who was disqualified today", (
        Case("barred", "{barred_names} was shown black today and is out for the day."),
    )),
    Interlock("pit-exit-red", "the pit exit is not red", (
        Case("latch == stop", "The pit exit is red: red stands."),
        Case("latch == recovery", "The pit exit is red: after red the track has not been cleared yet."),
    )),
    Interlock("gap-running", "karts leave one by one, with a gap", (
        Case("gap", "The gap after the last kart still runs."),
    )),
    Interlock("not-in-pit", "the kart stands in the pit", (
        Case("place[kart] != pit", "Kart {kart} is not in the pit: {kart_place}."),
    )),
    Interlock("not-in-pit/to", "the other kart stands in the pit", (
        Case("place[to] != pit", "Kart {to} is not in the pit: {to_place}."),
    )),
    Interlock("not-in-pit/aside", "the kart is in the pit or set aside", (
        Case("place[kart] not in (pit, aside)", "Kart {kart} is neither in the pit nor set aside: {kart_place}."),
    )),
    Interlock("not-in-group", "the kart belongs to the group", (
        Case("entry[kart] == none", "Kart {kart} is not in this group."),
    )),
    Interlock("kart-in-use", "the kart is free", (
        Case("entry[to] != none", "Kart {to} already has a driver in this group."),
    )),
    Interlock("no-such-hold/stop", "the hold exists", (
        Case("stop[placer] == none", "{placer} holds no red."),
    )),
    Interlock("no-such-hold/caution", "the hold exists", (
        Case("caution[where, placer] == none", "{placer} holds no yellow in {where}."),
    )),
    Interlock("not-your-hold/stop", "its placer lifts a stop, or a supervisor with a reason", (
        Case("stop[placer] != none and post != placer and not supervisor[post]",
             "Red was placed by {placer} at {since} ({reason}); {placer} or a supervisor lifts it.",
             note=("stop", "placer")),
        Case("stop[placer] != none and post != placer and supervisor[post] and not reasoned",
             "Red was placed by {placer} at {since}; a supervisor lifts it with a reason.", note=("stop", "placer")),
    )),
    Interlock("not-your-hold/caution", "its placer lifts a caution, the partner, a supervisor with a reason, or for the"
              " equipment's any post that covers the sector", (
        Case("caution[where, placer] != none and post != placer and not walker and not supervisor[post]"
             " and not (placer == E and covers[post, where])",
             "Yellow in {where} was placed by {placer} at {since} ({reason}); it is not yours to lift.",
             note=("caution", "where", "placer")),
        Case("caution[where, placer] != none and post != placer and not walker and supervisor[post]"
             " and not reasoned and not (placer == E and covers[post, where])",
             "Yellow in {where} was placed by {placer} at {since}; a supervisor lifts it with a reason.",
             note=("caution", "where", "placer")),
    )),
    Interlock("own-hold", "the hold is another post's", (
        Case("post == placer", "It is yours already."),
        Case("placer == E", "What the equipment placed is not taken over; lift it when its fault is mended."),
    )),
    Interlock("karts-moving", "every kart that should stand was seen standing", (
        Case("(must_stand or fire) and moving[k] and place[k] not in (pit, aside, unknown)",
             "Kart {k} still moves in {k_place}.", {"k": "kart"}),
        Case("place[k] == unknown and not checked",
             "Nobody knows where kart {k} is; say that all were seen standing (checked).", {"k": "kart"}),
    )),
    Interlock("kart-button-pressed", "no kart's button is latched", (
        Case("button[k]", "The button of kart {k} is pressed; see to the driver and reset it at the kart.",
             {"k": "kart"}),
    )),
    Interlock("kart-button-pressed/this", "this kart's button is not latched", (
        Case("button[kart]", "The button of kart {kart} is pressed; see to the driver and reset it at the kart."),
    )),
    Interlock("track-not-checked", "somebody looked", (
        Case("not checked", "Nobody has said that the track was checked."),
    )),
    Interlock("track-not-checked/kart", "somebody is at the kart", (
        Case("not checked", "Nobody at kart {kart} has said that it was checked."),
    )),
    Interlock("fault-stands", "the fault behind an equipment caution is gone", (
        Case("placer == E and monitor == lost", "The conflict monitor is not heard."),
        Case("placer == E and monitor == tripped", "The conflict monitor has tripped."),
        Case("placer == E and head[h] == lost and guards[h, where]", "Head {h} is still lost.", {"h": "head"}),
        Case("placer == E and place[k] == unknown", "Nobody knows where kart {k} is.", {"k": "kart"}),
        Case("placer == E and button[k] and place[k] == where", "The button of kart {k} is still pressed.",
             {"k": "kart"}),
        Case("placer == E and input[i] == active and input_cautions[i, where]", "Input {i} is still active.",
             {"i": "input"}),
        Case("placer == E and input[i] == fault", "Input {i} is silent or in fault.", {"i": "input"}),
    )),
    Interlock("fault-stands/stop", "the alarm behind an equipment stop is gone", (
        Case("placer == E and input[i] == active and input_stops[i]", "Input {i} is still active.", {"i": "input"}),
    )),
    Interlock("person-on-track", "only the person, the named partner, or a supervisor on the spot while a stop stands", (
        Case("caution[where, placer] == person_on_track and not walker"
             " and not (supervisor[post] and latch == stop and checked)",
             "Somebody is on the track in {where} ({partner}); only that person or the partner lifts it,"
             " or a supervisor on the spot while red stands.", note=("caution", "where", "placer")),
    )),
    Interlock("nothing-to-clear", "the track is in recovery", (
        Case("latch == none", "Nothing is to be cleared: no red was lifted before."),
    )),
    Interlock("holds-remain", "no caution stands", (
        Case("caution[s, p] != none", "Yellow remains in {s}, placed by {p} at {since} ({reason}).",
             {"s": "sector", "p": "holder"}, ("caution", "s", "p")),
    )),
    Interlock("kart-not-on-track", "the kart is known to be on the track", (
        Case("place[kart] in (pit, aside, unknown)", "Kart {kart} is not known to be on the track: {kart_place}."),
    )),
    Interlock("kart-not-on-track/off", "the kart is, or may be, on the track", (
        Case("place[kart] in (pit, aside)", "Kart {kart} is not on the track: {kart_place}."),
    )),
    Interlock("already-called", "no call stands on the kart", (
        Case("call[kart] == move_over", "Kart {kart} has blue already."),
        Case("call[kart] == disqualified", "Kart {kart} has black already."),
    )),
    Interlock("no-overtaking-here", "the kart's sector is clear", (
        Case("latch != none or caution_at[place[kart]]",
             "No overtaking where kart {kart} is ({kart_place}): it is under yellow or red."),
    )),
    Interlock("nothing-to-withdraw", "a call stands on the kart", (
        Case("call[kart] != move_over and slowed[kart] == none", "Nothing stands on kart {kart} that could be taken back."),
    )),
    Interlock("not-your-call", "its caller withdraws a slow or stop, or a supervisor", (
        Case("slowed[kart] != none and not own_call and not supervisor[post]",
             "Kart {kart} was slowed by {slowed_by}; {slowed_by} or a supervisor takes it back."),
    )),
    Interlock("not-disqualified", "the kart is disqualified", (
        Case("call[kart] != disqualified", "Kart {kart} has no black."),
    )),
    Interlock("seen-on-track", "a person saw the kart off the track, and its own reports do not deny it", (
        Case("not checked", "Nobody has said that kart {kart} was seen there."),
        Case("link[kart] and moving[kart] and place[kart] not in (pit, aside, unknown)",
             "Kart {kart} itself reports that it moves in {kart_place}."),
    )),
    Interlock("already-there/pit", "something would change", (
        Case("place[kart] == pit", "Kart {kart} is in the pit already."),
    )),
    Interlock("already-there/aside", "something would change", (
        Case("place[kart] == aside", "Kart {kart} is set aside already."),
    )),
    Interlock("button-not-pressed", "the kart's button is latched", (
        Case("not button[kart]", "The button of kart {kart} is not pressed."),
    )),
    Interlock("already-out", "the head is in service", (
        Case("head[head] == out", "Head {head} is already out of service."),
    )),
    Interlock("no-flag-marshal", "a marshal with a flag is named, and a reason given", (
        Case("not named or not reasoned", "Name the marshal who stands there with a flag, and a reason."),
    )),
    Interlock("no-other-head", "another healthy head protects each of its sectors", (
        Case("protects[head, s] and not any(head[g] == ok and protects[g, s] and alike[head, g] for g in head"
             " if g != head)",
             "No other healthy head protects {s}.", {"s": "sector"}),
    )),
    Interlock("surface-already", "the surface changes", (
        Case("surface == dry", "The track is already declared dry."),
    )),
)  # fmt: skip
