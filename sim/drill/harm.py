"""What every drill deducts for: danger that came of it, calls for nothing, refusals, walking first."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from signals import say
from signals.words import PIT
from sim.drill import lines
from sim.drill.facts import HELD, Facts, Touch
from sim.drill.judge import TITLES, Judge
from sim.drill.matter import CALL_S, RESTRICTS
from sim.drill.score import Line, Safety
from sim.drill.signs import exposed

FALSE_COSTS, REFUSED_COSTS, EXPOSED_COSTS, CONTACT_COSTS, REFEREE_COSTS, WALKED_COSTS = 10, 3, 25, 15, 15, 25
GRACE_MS = 5_000
"""So long after something was over a call may still be about it."""
GRACE_PERSON_MS = round(CALL_S * 1000)
"""So long somebody may be on the road before it could have been called."""
EXPOSED_LEAST_S = 0.5
VIEW_S = 0.1
"""About, between two views of a tape."""
GRAVE_RULES = frozenset({"lifted-with-person", "started-with-person", "let-out-with-person"})


def is_ours(judge: Judge, where: str) -> bool:
    """Whether a sector is this seat's."""
    return judge.post.supervisor or where in judge.post.covers


def false_alarms(judge: Judge) -> list[Touch]:
    """Give restrictive calls with nothing there that they could be about."""
    expected = {word for duty in judge.cast.drill.file.duty if duty.of is None for word in duty.call or ()}
    signs = [each for each in judge.seen.values() if each.cue.sign]
    return [
        touch
        for touch in judge.own
        if touch.what == "call"
        and touch.word in RESTRICTS - expected
        and touch.accepted is not False
        and not any(each.lasts(touch.at_ms, GRACE_MS) for each in signs)
        and not _shows(judge.known, touch)
    ]


def _shows(known: Facts, touch: Touch) -> bool:
    """Whether anything shows at the time that a call could be about, by chance or left over."""
    view = known.view_at(touch.at_ms)
    if view is None:
        return False
    amiss = {sign.get("kart") for sign in view.incidents}
    if touch.kart is not None:
        return touch.kart in amiss
    places = {
        known.track.sector_at(kart.at_m) for kart in view.karts if kart.number in amiss and not kart.in_pit
    } | {where for _, where in exposed(view, known.track)}
    return bool(places) if touch.where is None else touch.where in places


def deductions(judge: Judge) -> Iterator[Line]:
    """Give the lines that cost something in any drill."""
    for touch in false_alarms(judge):
        yield _cost(
            lines.FALSE_ALARM, FALSE_COSTS, f"{judge.called(touch)} was called, and nothing was wrong.",
            "Look twice where nobody is in danger: a call for nothing teaches drivers to ignore the next.",
            touch.at_ms,
        )  # fmt: skip
    for touch in judge.own:
        if touch.accepted is False:
            said = f"{judge.called(touch)} was refused: {' '.join(touch.said)}"
            yield _cost(
                lines.REFUSED,
                REFUSED_COSTS,
                said,
                "The line that says what comes next tells why.",
                touch.at_ms,
            )
    yield from _walked(judge)
    yield from _harm(judge)


def _cost(name: str, costs: float, said: str, better: str, at_ms: int | None, *, grave: bool = False) -> Line:
    return Line(
        name=name,
        title=TITLES[name],
        got=-float(costs),
        of=0,
        said=said,
        better=better,
        at_ms=at_ms,
        grave=grave,
    )


def _walked(judge: Judge) -> Iterator[Line]:
    """Deduct for walking out, or sending somebody, where nothing protected the road."""
    for touch in judge.own:
        if touch.what == "walk" and not judge.known.held(touch.where, touch.at_ms):
            where = say.sector_name(judge.known.venue, touch.where or "")
            yield _cost(
                lines.WALKED, WALKED_COSTS, f"Somebody was sent out to {where} under green.",
                "Call first, see the heads change and karts slow, then walk.", touch.at_ms, grave=True,
            )  # fmt: skip


def safety(judge: Judge) -> Safety:
    """Give what came of it for people and karts in this seat's sectors."""
    exposed = list(_exposures(judge))
    return Safety(
        exposed_s=round(sum(seconds for _, _, _, seconds in exposed), 1),
        contacts=len(list(_contacts(judge))),
        findings=tuple(
            finding.said for _, finding in judge.known.findings if _graves(judge, finding.rule, finding.where)
        ),
    )


def _harm(judge: Judge) -> Iterator[Line]:
    for who, where, at_ms, seconds in _exposures(judge):
        if seconds >= EXPOSED_LEAST_S:
            name = say.sector_name(judge.known.venue, where)
            said = f"A {who} was on the road in {name} for {seconds:.1f} s with nothing to protect him."
            better = (
                "Yellow for a person on the track, or red, before anybody is on the road, until he is off it."
            )
            yield _cost(lines.EXPOSURE, EXPOSED_COSTS, said, better, at_ms, grave=True)
    for at_ms, said in _contacts(judge):
        yield _cost(
            lines.CONTACT, CONTACT_COSTS, said, "Yellow before the next karts come slows them.", at_ms
        )
    for at_ms, finding in judge.known.findings:
        if _graves(judge, finding.rule, finding.where):
            better = "Look for people before anything that lets karts drive."
            yield _cost(lines.REFEREE, REFEREE_COSTS, f"{finding.said}.", better, at_ms, grave=True)


def _graves(judge: Judge, rule: str, where: str) -> bool:
    return rule in GRAVE_RULES and is_ours(judge, where)


def _exposures(judge: Judge) -> Iterator[tuple[str, str, int, float]]:
    """Give who was on the road unprotected, where, from when, and for how long, seconds."""
    known = judge.known
    first_ms: dict[str, int] = {}
    protected: set[str] = set()
    unsafe: list[tuple[str, str, int]] = []
    for at_ms, who, where in known.exposed():
        first_ms.setdefault(who, at_ms)
        if _guarded(known, where, at_ms):
            protected.add(who)
        elif is_ours(judge, where) and (who in protected or at_ms - first_ms[who] > GRACE_PERSON_MS):
            unsafe.append((who, where, at_ms))
    for (who, where), group in groupby(sorted(unsafe), key=lambda each: each[:2]):
        times = [at_ms for _, _, at_ms in group]
        yield who, where, times[0], round(len(times) * VIEW_S, 1)


def _guarded(known: Facts, where: str, at_ms: int) -> bool:
    """Whether drivers are told to be slow there; without a session nobody is let out into the pit lane."""
    if known.condition(where, at_ms) in HELD:
        return True
    state = known.state_at(at_ms)
    return where == PIT and state is not None and state.phase.value in ("closed", "test", "staging")


def _contacts(judge: Judge) -> Iterator[tuple[int, str]]:
    """Give contacts that a call in time could have prevented: with what stood there for long, under green."""
    for at_ms, finding in judge.known.findings:
        if finding.rule != "contact" or not is_ours(judge, finding.where):
            continue
        if judge.known.condition(finding.where, at_ms) in HELD:
            continue
        stood = (
            each for each in judge.seen.values()
            if each.cue.kart in finding.karts and each.seen_ms is not None and each.lasts(at_ms)
        )  # fmt: skip
        if any(at_ms - (each.seen_ms or 0) > GRACE_PERSON_MS for each in stood):
            yield at_ms, f"{finding.said}."
