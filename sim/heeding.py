"""What drivers make of signal heads: see one, take their time, and drive by it; or, seldom, ignore it.

A driver knows only heads in his line of sight and what his own limiter lets him do; never the
controller's state. Dark never means clear: he drives as under yellow until he knows better.
"""

from __future__ import annotations

import math

from msgspec.structs import replace

from signals.words import Aspect
from sim.drivers import heeds, reaction_s
from sim.ground import Ground
from sim.scene import Heard, Kart, Scene

GIVES_WAY_S = 15.0
"""How long a driver who saw his number in blue keeps to the edge."""
STRICTEST = (Aspect.RED, Aspect.YELLOW_FLASH, Aspect.YELLOW, Aspect.RED_YELLOW)
MINE = (Aspect.NUMBER, Aspect.BLUE_FLASH)
ALERT_MPS = 1.0


def heed(ground: Ground, scene: Scene, heard: Heard, kart: Kart) -> Kart:
    """Look at the heads in sight, and act on what was seen long enough ago."""
    mind, now_s = kart.mind, scene.time_s
    if now_s < kart.deaf_until_s:
        return kart
    seen = _sees(ground, heard, kart, now_s)
    if seen is not None and seen is not mind.news:
        alert = mind.heeds is not Aspect.GREEN or abs(kart.v_mps) < ALERT_MPS
        takes_s = reaction_s(scene.seed, kart.number, kart.driver, scene.steps, expected=alert)
        heeded = seen is Aspect.GREEN or heeds(scene.seed, kart.number, kart.driver, scene.steps)
        mind = replace(mind, news=seen, news_s=now_s + takes_s if heeded else math.inf)
    if mind.news is not mind.heeds and now_s >= mind.news_s:
        mind = replace(mind, heeds=mind.news)
        return _act(ground, replace(kart, mind=mind), now_s)
    return kart if mind is kart.mind else replace(kart, mind=mind)


def _sees(ground: Ground, heard: Heard, kart: Kart, now_s: float) -> Aspect | None:
    """Give what the heads in sight tell this driver, the strictest of twins; None where there are none."""
    heads = ground.heads_seen(kart.at_m)
    if not heads:
        return _limiter_tells(ground, kart)
    shown = [ground.sees(head, heard, now_s) for head in heads]
    aspects = [aspect for aspect, _ in shown]
    for aspect in STRICTEST:
        if aspect in aspects:
            return aspect
    for aspect, number in shown:
        if aspect in MINE and number == kart.number:
            return aspect
    lit = any(aspect is not Aspect.DARK for aspect in aspects)
    return Aspect.GREEN if lit else Aspect.DARK


def _limiter_tells(ground: Ground, kart: Kart) -> Aspect | None:
    """Give what a driver concludes who stands by a red he no longer sees, and whose kart may drive again."""
    released = kart.limit_mps * 3.6 > ground.venue.limits.stop + 0.1
    return Aspect.YELLOW if kart.mind.heeds is Aspect.RED and released else None


def _act(ground: Ground, kart: Kart, now_s: float) -> Kart:
    """Act on a signal: chequered, or the own number, sends home; the own number in blue, to the edge."""
    match kart.mind.heeds:
        case ground.venue.choices.finish_aspect:
            return replace(kart, home=True)
        case Aspect.NUMBER:
            return replace(kart, home=True, gives_way_until_s=math.inf)
        case Aspect.BLUE_FLASH:
            return replace(kart, gives_way_until_s=max(kart.gives_way_until_s, now_s + GIVES_WAY_S))
    return kart
