"""People on foot: marshals who walk out, push, sweep and walk back; drivers out of karts; pit visitors.

A marshal walks where the heads before a place show yellow or red, as drivers see them, or where he is
sent; along the verge from the nearest post, then across the road, where he is at risk. Nothing of it
is known to the controller.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from msgspec.structs import replace

from signals.venue.model import Post
from signals.words import PIT, Aspect, HeadRole
from sim import walking
from sim.ground import Ground
from sim.scene import STANDS, STEP_S, Heard, Item, Kart, Person, Scene, Trouble, Walk, Who
from sim.walking import ARM_M, REACH_M, RUN_MPS, VERGE_M, WALK_MPS, along_m, toward

__all__ = ["RUN_MPS", "VERGE_M", "WALK_MPS"]

READY_S, PUSH_S, SWEEP_S = 2.0, 6.0, 5.0
LOOK_EVERY = 30
"""Steps between two looks of the marshals."""
LONG_S = 9.0
"""Trouble that ends sooner by itself needs no marshal."""
LAME = 0.5
"""What is left of the speed of a kart that smoked."""
TENDED = {Trouble.SMOKE: SWEEP_S, Trouble.MEDICAL: 12.0, Trouble.TEARS: 8.0}
"""What a marshal sees to before the kart is pushed, and for how long; typical, no source."""
VISIT_S = 12.0
HELD = frozenset({Aspect.YELLOW, Aspect.YELLOW_FLASH, Aspect.RED})


def step(ground: Ground, scene: Scene, heard: Heard) -> Scene:
    """Move everybody on foot by a step; marshals look around twice a second."""
    for person in scene.people:
        if any(person is each for each in scene.people):  # nobody changed him in this step
            scene = _STEPS[person.who](ground, scene, person)
    for kart in scene.karts:
        if kart.trouble is Trouble.DRIVER_OUT and not kart.v_mps and not _is_out(scene, kart):
            scene = _with(scene, climbs_out(kart))
    if scene.steps % LOOK_EVERY == 0:
        for post, goal in _wanted(ground, scene, heard):
            scene = _with(scene, marshal(ground, scene, post, goal))
    return scene


def on_road(ground: Ground, person: Person) -> bool:
    """Whether karts drive where somebody is."""
    if person.in_pit:
        return abs(person.left_m) < abs(ground.box_left_m) / 2
    return walking.on_road(ground.course, person)


def sector(ground: Ground, person: Person) -> str:
    """Give the sector somebody is in."""
    return PIT if person.in_pit else ground.track.sector_at(person.at_m)


def _with(scene: Scene, person: Person) -> Scene:
    return replace(scene, people=(*scene.people, person))


def _instead(scene: Scene, old: Person, new: Person | None) -> Scene:
    """Give the scene with somebody moved, or gone home."""
    rest = tuple(each for each in (new if person is old else person for person in scene.people) if each)
    return replace(scene, people=rest)


def _kart(scene: Scene, number: int | None) -> Kart | None:
    return next((kart for kart in scene.karts if kart.number == number), None)


def changed(scene: Scene, kart: Kart) -> Scene:
    """Give the scene with one of its karts as it is now."""
    karts = tuple(kart if other.number == kart.number else other for other in scene.karts)
    return replace(scene, karts=karts)


# --- who goes out


def _wanted(ground: Ground, scene: Scene, heard: Heard) -> Iterator[tuple[Post, Kart | Item]]:
    """Give which post's marshal goes to what: where help is needed, the heads are held, nobody goes yet."""
    busy = {person.post for person in scene.people if person.who == Who.MARSHAL}
    for need in needs(scene):
        if _attended(scene, need) or not held(ground, need.at_m, heard, scene.time_s):
            continue
        post = nearest_post(ground, need.at_m)
        if post is not None and post.id not in busy:
            busy.add(post.id)
            yield post, need


def needs(scene: Scene) -> Iterator[Kart | Item]:
    """Give what needs a marshal: karts that stand in trouble for long, and what lies on the road."""
    for kart in scene.karts:
        if kart.trouble in STANDS and not kart.on_pit_lane and kart.until_s - scene.time_s > LONG_S:
            yield kart
    for item in scene.items:
        if item.until_s - scene.time_s > LONG_S:
            yield item


def _attended(scene: Scene, need: Kart | Item) -> bool:
    marshals = [person for person in scene.people if person.who == Who.MARSHAL and person.doing != Walk.BACK]
    if isinstance(need, Kart):
        return any(person.kart == need.number for person in marshals)
    return any(person.kart is None and person.goal_m == need.at_m for person in marshals)


def held(ground: Ground, at_m: float, heard: Heard, now_s: float) -> bool:
    """Whether a head before a place shows drivers yellow or red."""
    place = ground.track.sector_at(at_m)
    return any(
        ground.sees(head.id, heard, now_s)[0] in HELD
        for head in ground.venue.heads
        if place in head.protects and head.role is not HeadRole.PIT_EXIT
    )


def nearest_post(ground: Ground, at_m: float) -> Post | None:
    """Give the nearest post that covers a place; a supervisor's only where there is no other."""
    place = ground.track.sector_at(at_m)
    posts = [post for post in ground.venue.posts if place in post.covers]
    posts = [post for post in posts if not post.supervisor] or posts
    return min(posts, key=lambda post: abs(along_m(ground.course, post.at_m, at_m)), default=None)


def marshal(ground: Ground, scene: Scene, post: Post, goal: Kart | Item) -> Person:
    """Give a marshal who gets ready at his post to go to a kart or a thing."""
    side = 1 if goal.left_m >= 0 else -1
    return Person(
        who=Who.MARSHAL,
        at_m=post.at_m,
        left_m=walking.verge_m(ground.course, post.at_m, side),
        doing=Walk.STANDS,
        kart=goal.number if isinstance(goal, Kart) else None,
        until_s=scene.time_s + READY_S,
        post=post.id,
        goal_m=goal.at_m,
        side=side,
    )


# --- how they walk


def _toward(value: float, goal: float) -> float:
    """Walk toward a place for a step."""
    return toward(value, goal, WALK_MPS, STEP_S)


def _marshal_step(ground: Ground, scene: Scene, person: Person) -> Scene:
    match person.doing:
        case Walk.STANDS:
            going = replace(person, doing=Walk.OUT, until_s=math.inf)
            return _instead(scene, person, going if scene.time_s >= person.until_s else person)
        case Walk.OUT:
            return _goes(ground, scene, person)
        case Walk.PUSHES:
            return _pushes(ground, scene, person)
        case Walk.SWEEPS:
            return _sweeps(scene, person)
        case _:
            return _returns(ground, scene, person)


def _goal(scene: Scene, person: Person) -> Kart | Item | None:
    """Give what a marshal is out for; None once it is over."""
    if person.kart is None:
        return next((item for item in scene.items if item.at_m == person.goal_m), None)
    kart = _kart(scene, person.kart)
    busy = kart is not None and (kart.trouble in STANDS or kart.trouble is Trouble.PUSHED)
    return kart if busy and kart is not None and not kart.on_pit_lane else None


def _goes(ground: Ground, scene: Scene, person: Person) -> Scene:
    """Walk out: along the verge until abreast of the goal, then across the road to it."""
    goal = _goal(scene, person)
    if goal is None:
        return _instead(scene, person, replace(person, doing=Walk.BACK))
    walked = replace(person)
    there = walking.walks_out(ground.course, walked, goal.at_m, goal.left_m, STEP_S)
    if not there or (isinstance(goal, Kart) and goal.v_mps):
        return _instead(scene, person, walked)
    return _begins(scene, person, walked, goal)


def _begins(scene: Scene, person: Person, there: Person, goal: Kart | Item) -> Scene:
    """Begin to help: sweep, put a fire out, call a driver back to his kart, or push."""
    now_s = scene.time_s
    if isinstance(goal, Item) or goal.trouble in TENDED:
        takes_s = SWEEP_S if isinstance(goal, Item) else TENDED[goal.trouble]
        return _instead(scene, person, replace(there, doing=Walk.SWEEPS, until_s=now_s + takes_s))
    if goal.trouble is Trouble.DRIVER_OUT:
        scene = _call_back(scene, goal.number)
        return _instead(scene, person, there)
    scene = changed(scene, replace(goal, trouble=Trouble.PUSHED, until_s=now_s + PUSH_S))
    return _instead(scene, person, replace(there, doing=Walk.PUSHES, until_s=now_s + PUSH_S))


def _call_back(scene: Scene, kart: int) -> Scene:
    people = tuple(
        replace(each, doing=Walk.BACK) if _is_called(each, kart) else each for each in scene.people
    )
    return replace(scene, people=people)


def _is_called(person: Person, kart: int) -> bool:
    return person.who == Who.DRIVER and person.kart == kart and person.doing != Walk.BACK


def _pushes(ground: Ground, scene: Scene, person: Person) -> Scene:
    """Push the kart along, behind it, until it drives on by itself."""
    kart = _kart(scene, person.kart)
    if kart is None or kart.trouble is not Trouble.PUSHED or scene.time_s >= person.until_s:
        return _instead(scene, person, replace(person, doing=Walk.BACK, until_s=math.inf))
    walked = replace(person)
    walking.follows(ground.course, walked, kart, STEP_S)
    return _instead(scene, person, walked)


def _sweeps(scene: Scene, person: Person) -> Scene:
    """Take away what lies there, put out what burns, look after a driver; who was ill or in tears comes in.

    A kart that smoked, or whose driver is driven in, is lame from then on.
    """
    if scene.time_s < person.until_s:
        return scene
    if person.kart is None:
        left = tuple(item for item in scene.items if item.at_m != person.goal_m)
        return _instead(
            replace(scene, items=left), person, replace(person, doing=Walk.BACK, until_s=math.inf)
        )
    kart = _kart(scene, person.kart)
    if kart is not None and kart.trouble in TENDED:
        home = kart.home or kart.trouble is not Trouble.SMOKE
        lame = replace(kart, trouble=Trouble.STALL, limp=LAME, limp_until_s=math.inf, home=home)
        scene = changed(scene, lame)
    return _instead(scene, person, replace(person, doing=Walk.OUT, until_s=math.inf))


def _returns(ground: Ground, scene: Scene, person: Person) -> Scene:
    """Walk back to the post, and be gone."""
    post = next(each for each in ground.venue.posts if each.id == person.post)
    walked = replace(person)
    home = walking.walks_home(ground.course, walked, post.at_m, STEP_S)
    return _instead(scene, person, None if home else walked)


# --- drivers and visitors


def _is_out(scene: Scene, kart: Kart) -> bool:
    return any(person.who == Who.DRIVER and person.kart == kart.number for person in scene.people)


def climbs_out(kart: Kart) -> Person:
    """Give the driver who climbs out of a kart that stands, beside it."""
    side = 1 if kart.left_m >= 0 else -1
    return Person(
        who=Who.DRIVER,
        at_m=kart.at_m,
        left_m=kart.left_m + side * ARM_M / 2,
        doing=Walk.OUT,
        kart=kart.number,
        goal_m=kart.at_m,
        side=side,
    )


def _driver_step(ground: Ground, scene: Scene, person: Person) -> Scene:
    """Walk off the road, and wait there; called back, or in time, walk to the kart and drive on."""
    kart = _kart(scene, person.kart)
    if kart is None or kart.trouble is not Trouble.DRIVER_OUT:
        return _instead(scene, person, None)
    if person.doing != Walk.BACK and kart.until_s - scene.time_s < LONG_S / 2:
        person, scene = _same(scene, person, doing=Walk.BACK)
    if person.doing == Walk.BACK:
        left_m = _toward(person.left_m, kart.left_m)
        if abs(left_m - kart.left_m) < REACH_M:
            freed = replace(kart, trouble=Trouble.NONE, until_s=math.inf, turned_deg=0.0)
            return _instead(changed(scene, freed), person, None)
        return _instead(scene, person, replace(person, left_m=left_m))
    verge_m = walking.verge_m(ground.course, person.at_m, person.side)
    left_m = _toward(person.left_m, verge_m)
    doing = Walk.STANDS if left_m == verge_m else Walk.OUT
    return _instead(scene, person, replace(person, at_m=kart.at_m, left_m=left_m, doing=doing))


def _same(scene: Scene, person: Person, *, doing: Walk) -> tuple[Person, Scene]:
    changed = replace(person, doing=doing)
    return changed, _instead(scene, person, changed)


def visitor(ground: Ground, scene: Scene, visit_s: float = VISIT_S) -> Person:
    """Give somebody who comes into the pit lane: walks into it, stands there, walks out again."""
    return Person(
        who=Who.VISITOR,
        at_m=ground.track.pit.length_m * 0.45,
        left_m=ground.box_left_m * 1.6,
        doing=Walk.OUT,
        until_s=scene.time_s + visit_s,
        in_pit=True,
    )


def _visitor_step(ground: Ground, scene: Scene, person: Person) -> Scene:
    leaves = scene.time_s >= person.until_s
    goal_m = ground.box_left_m * 1.6 if leaves else 0.0
    left_m = _toward(person.left_m, goal_m)
    if leaves and left_m == goal_m:
        return _instead(scene, person, None)
    doing = Walk.BACK if leaves else Walk.STANDS if left_m == goal_m else Walk.OUT
    return _instead(scene, person, replace(person, left_m=left_m, doing=doing))


_STEPS = {"marshal": _marshal_step, "driver": _driver_step, "visitor": _visitor_step}
