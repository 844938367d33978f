"""What drivers make of signal heads: see one, take their time, and drive by it; or, seldom, ignore it.

A driver knows only heads in his line of sight and what his own limiter lets him do; never the
controller's state. Dark never means clear: he drives as under yellow until he knows better.
"""

from __future__ import annotations

import math

from signals.words import Aspect
from sim.course import Air, Course, Now
from sim.drivers import heeds, reaction_s
from sim.scene import Kart
from sim.sight import STEP_M
from sim.speeds import both

GIVES_WAY_S = 15.0
"""How long a driver who saw his number in blue keeps to the edge."""
STRICTEST = (Aspect.RED, Aspect.YELLOW_FLASH, Aspect.YELLOW, Aspect.RED_YELLOW)
MINE = (Aspect.NUMBER, Aspect.BLUE_FLASH)
ALERT_MPS = 1.0
UNSEEN = None
"""No head is in sight."""


@both
def heed(course: Course, now: Now, air: Air, kart: Kart) -> None:
    """Look at the heads in sight, and act on what was seen long enough ago."""
    mind, now_s = kart.mind, now.time_s
    if now_s < kart.deaf_until_s:
        return
    seen, head = _sees(course, air, kart), _head_ahead(course, kart)
    again = mind.ignored >= 0 and head >= 0 and head != mind.ignored
    if seen != UNSEEN and (seen != mind.news or again):
        alert = mind.heeds != Aspect.GREEN or abs(kart.v_mps) < ALERT_MPS
        takes_s = reaction_s(now.seed, kart.number, kart.driver, now.steps, alert)
        may_miss = seen != Aspect.GREEN and head >= 0
        heeded = not may_miss or heeds(now.seed, kart.number, kart.driver, now.steps)
        mind.news = seen
        mind.news_s = now_s + takes_s if heeded else math.inf
        mind.ignored = -1 if heeded else head
    if mind.news != mind.heeds and now_s >= mind.news_s:
        mind.heeds = mind.news
        _act(course, kart, now_s)


@both
def _head_ahead(course: Course, kart: Kart) -> int:
    """Give the number of the first head in sight, -1 where there is none."""
    spot = int(kart.at_m) // STEP_M
    first = course.seen_first[spot]
    return course.seen_heads[first] if first < course.seen_first[spot + 1] else -1


@both
def _sees(course: Course, air: Air, kart: Kart) -> Aspect | None:
    """Give what the heads in sight tell this driver, the strictest of twins; `UNSEEN` without any."""
    spot = int(kart.at_m) // STEP_M
    first, end = course.seen_first[spot], course.seen_first[spot + 1]
    if first == end:
        return _limiter_tells(course, kart)
    strictest, mine, lit = len(STRICTEST), -1, False
    for number in range(first, end):
        head = course.seen_heads[number]
        aspect = air.aspects[head]
        for rank in range(strictest):
            if aspect == STRICTEST[rank]:
                strictest = rank
                break
        if mine < 0 and aspect in MINE and air.numbers[head] == kart.number:
            mine = head
        lit = lit or aspect != Aspect.DARK
    if strictest < len(STRICTEST):
        return STRICTEST[strictest]
    if mine >= 0:
        return air.aspects[mine]
    return Aspect.GREEN if lit else Aspect.DARK


@both
def _limiter_tells(course: Course, kart: Kart) -> Aspect | None:
    """Give what a driver concludes who stands by a red he no longer sees, and whose kart may drive again."""
    if kart.mind.heeds == Aspect.RED and kart.limit_mps * 3.6 > course.stop_kmh + 0.1:
        return Aspect.YELLOW
    return UNSEEN


@both
def _act(course: Course, kart: Kart, now_s: float) -> None:
    """Act on a signal: chequered, or the own number, sends home; the own number in blue, to the edge."""
    heeded = kart.mind.heeds
    if heeded == course.finish_aspect:
        kart.home = True
    elif heeded == Aspect.NUMBER:
        kart.home = True
        kart.gives_way_until_s = math.inf
    elif heeded == Aspect.BLUE_FLASH:
        kart.gives_way_until_s = max(kart.gives_way_until_s, now_s + GIVES_WAY_S)
