"""The karts: heard or not, the limit each obeys, whether it moves, stands, or drives too fast."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from signals.controller.echoes import Echo, Health
from signals.controller.nodes import Nodes
from signals.core.state import Event, KartPicture, Picture
from signals.mqtt.contract import Taken, Where
from signals.venue.model import Ramp, Venue

SAME_KMH = 0.05
"""Two limits closer than this are one."""
STANDS_KMH = 1.0
"""A kart slower than this stands."""
OVER_KMH = 5.0
"""A kart this much over its limit, after the ramp, does not obey (RULES)."""
SIGHT_S = 2.0
"""A report of where a kart is, older than this, says nothing of now."""
_KMH = 3.6
_OFF_TRACK = ("pit", "unknown", "aside")


@dataclass(slots=True)
class Allowed:
    """The speed a kart may still have while its limit falls along the ramp, km/h."""

    grace_s: float
    limit_kmh: float = 0.0
    from_kmh: float = 0.0
    since_s: float = 0.0

    def at(self, now_s: float, fall_mps2: float) -> float:
        """Give it for now: the old limit until the command must have arrived, then down the ramp."""
        falling_s = max(0.0, now_s - self.since_s - self.grace_s)
        return max(self.limit_kmh, self.from_kmh - _KMH * fall_mps2 * falling_s)

    def command(self, limit_kmh: float, now_s: float, fall_mps2: float) -> None:
        """Take note of a new limit."""
        if limit_kmh != self.limit_kmh:
            self.from_kmh = self.at(now_s, fall_mps2)
            self.limit_kmh, self.since_s = limit_kmh, now_s


@dataclass(slots=True)
class _Kart:
    echo: Echo
    allowed: Allowed
    taken_kmh: float | None = None
    agreed_s: float = 0.0
    speed_kmh: float | None = None
    seen_s: float | None = None
    waiting_s: float | None = None
    """Since when it stands though it may drive."""
    said: set[str] = field(default_factory=set)
    """What was reported once of what goes on now."""

    def sighted(self, now_s: float) -> bool:
        """Tell whether the last report of its place still speaks of now."""
        return self.seen_s is not None and now_s - self.seen_s <= SIGHT_S

    def moves(self, now_s: float) -> bool:
        """Tell whether it moves; unknown counts as moving."""
        return not self.sighted(now_s) or self.speed_kmh is None or self.speed_kmh >= STANDS_KMH


class Karts:
    """What the karts and those who see them report, compared with what is due."""

    def __init__(self, venue: Venue, nodes: Nodes) -> None:
        self._nodes = nodes
        self._obeys_within_s = venue.timing.settle / 1000
        self._ramps: dict[str, Ramp] = {"dry": venue.ramp, "wet": venue.ramp_wet}
        self._stood_s = venue.timing.stood / 1000
        leases = {node.id: node.lease_ms / 1000 for node in venue.nodes}
        self._boost_kmh = {"dry": venue.limits.boost, "wet": venue.limits_wet.boost}
        self._karts = {
            kart.number: _Kart(Echo(kart.node, leases[kart.node]), Allowed(self._obeys_within_s))
            for kart in venue.karts
        }

    def hear(self, kart: int, taken: Taken, sent_at_s: float | None) -> None:
        """Take a report of the limit a kart obeys; `sent_at_s` is when the beat it echoes was sent."""
        self._karts[kart].taken_kmh = taken.limit_kmh
        self._karts[kart].echo.hear(sent_at_s)

    def see(self, kart: int, where: Where, now_s: float) -> None:
        """Take a report of how fast a kart is."""
        self._karts[kart].speed_kmh, self._karts[kart].seen_s = where.speed_kmh, now_s

    def sweep(self, picture: Picture, now_s: float, *, settling: bool) -> Iterator[Event]:
        """Give what is to be reported of the karts now."""
        for number, kart in self._karts.items():
            due = picture.karts[number]
            words = (
                *self._link(kart, due, now_s, settling=settling),
                *self._limit(kart, due, now_s),
                *self._motion(kart, due, now_s),
                *self._conduct(kart, due, now_s, picture.surface),
            )
            yield from (Event(word, fields={"kart": number}) for word in words)

    def _link(self, kart: _Kart, due: KartPicture, now_s: float, *, settling: bool) -> Iterator[str]:
        health, _ = kart.echo.judge(self._nodes, now_s, settling=settling)
        on_track = due.place not in _OFF_TRACK
        if health is Health.WELL and on_track and kart.seen_s is not None and not kart.sighted(now_s):
            health = Health.ILL  # heard, but nobody sees any more where it drives
        if health is Health.ILL and due.link:
            yield "kart-lost"
        elif health is Health.WELL and not due.link:
            yield "kart-back"

    def _limit(self, kart: _Kart, due: KartPicture, now_s: float) -> Iterator[str]:
        if kart.taken_kmh is None or not kart.echo.fresh(now_s):
            kart.agreed_s = now_s
        elif abs(kart.taken_kmh - due.limit_kmh) < SAME_KMH:
            kart.agreed_s = now_s
            if not due.taken:
                yield "limit-taken"
        elif due.taken and now_s - kart.agreed_s > self._obeys_within_s:
            yield "limit-missed"

    def _motion(self, kart: _Kart, due: KartPicture, now_s: float) -> Iterator[str]:
        if kart.seen_s is not None and kart.moves(now_s) != due.moving:
            yield "kart-stands" if due.moving else "kart-rolls"

    def _conduct(self, kart: _Kart, due: KartPicture, now_s: float, surface: str) -> Iterator[str]:
        fall_mps2 = self._ramps[surface].fall
        kart.allowed.command(due.limit_kmh + self._boost_kmh[surface] * bool(due.boosts), now_s, fall_mps2)
        may_drive = due.place not in _OFF_TRACK and due.limit_kmh > 0
        if not may_drive or kart.moves(now_s):
            kart.waiting_s = None
        elif kart.waiting_s is None:
            kart.waiting_s = now_s
        stands = kart.waiting_s is not None and now_s - kart.waiting_s >= self._stood_s
        yield from _once(kart, "kart-standing", holds=stands)
        too_fast = kart.allowed.at(now_s, fall_mps2) + OVER_KMH
        over = kart.sighted(now_s) and (kart.speed_kmh or 0.0) > too_fast
        yield from _once(kart, "kart-over-limit", holds=over)


def _once(kart: _Kart, word: str, *, holds: bool) -> Iterator[str]:
    """Report what goes on once: a person who lifted its yellow has seen it."""
    if holds and word not in kart.said:
        kart.said.add(word)
        yield word
    elif not holds:
        kart.said.discard(word)
