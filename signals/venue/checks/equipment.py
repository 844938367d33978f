"""Heads, lamps, posts, inputs and the clock: what the rules need to be there."""

from __future__ import annotations

from itertools import combinations
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from signals.venue.defaults import required_aspects
from signals.venue.draft import Draft
from signals.venue.read import BROKEN, sound
from signals.words import Aspect, HeadRole, InputKind

FLASHING = (Aspect.YELLOW_FLASH, Aspect.BLUE_FLASH)
RED_WHEN_ALONE = (HeadRole.START, HeadRole.PIT_EXIT)


def heads_can_show(draft: Draft) -> None:
    """Report heads that lack an aspect their role needs."""
    if BROKEN in (draft.form.choices, getattr(draft.form.choices, "finish_aspect", BROKEN)):
        return
    for index, head in sound(draft.form.head, "aspects", "role", "number"):
        if head.aspects is None:
            continue
        for aspect in required_aspects(head, draft.form):
            if not head.aspects.get(aspect, ()):
                why = (
                    "a number display"
                    if aspect in (Aspect.NUMBER, Aspect.BLUE_FLASH)
                    else f"a {head.role} head"
                )
                draft.say(
                    ("head", index, "aspects", aspect),
                    "",
                    f"is missing: {why} must be able to show it, with at least one lamp",
                )


def lamps_tell_aspects_apart(draft: Draft) -> None:
    """Report heads on which two aspects look the same."""
    for index, head in sound(draft.form.head, "aspects"):
        looks = {
            aspect: (frozenset(lamps), aspect in FLASHING)
            for aspect, lamps in (head.aspects or {}).items()
            if lamps is not BROKEN and BROKEN not in lamps
        }
        for one, other in combinations(looks, 2):
            if looks[one] == looks[other]:
                right = f"must differ from the lamps of {one}"
                draft.say(("head", index, "aspects", other), sorted(looks[other][0]), right)


def failing_is_safe(draft: Draft) -> None:
    """Report a start or pit exit that would not fall to red."""
    for _, choices in sound((draft.form.choices,), "fail_aspect"):
        for role, aspect in choices.fail_aspect.items():
            if role in RED_WHEN_ALONE and aspect not in (BROKEN, "red"):
                draft.say(
                    ("choices", "fail_aspect", role),
                    aspect,
                    "must be red: nobody starts on a head that is left alone",
                )


def a_start_is_shown(draft: Draft) -> None:
    """Report a venue without the heads that its kind of start needs."""
    file = draft.form
    if file.head is BROKEN or BROKEN in (file.choices, getattr(file.choices, "start", BROKEN)):
        return
    roles = [head.role for _, head in sound(file.head, "role")]
    needed = HeadRole.START if file.choices.start == "grid" else HeadRole.PIT_EXIT
    if needed not in roles and len(roles) == len(file.head):
        draft.say(("choices", "start"), file.choices.start, f"needs a head with the role {needed}")


def somebody_supervises(draft: Draft) -> None:
    """Report a venue where nobody could lift what equipment placed."""
    posts = list(sound(draft.form.post, "supervisor"))
    if posts and len(posts) == len(draft.form.post) and not any(post.supervisor for _, post in posts):
        draft.say(
            ("post",),
            f"{len(posts)} posts",
            "needs one with supervisor = true: some holds only a supervisor may lift",
        )


def inputs_act_somewhere(draft: Draft) -> None:
    """Report a sector on an input that acts on the whole track."""
    for index, each in sound(draft.form.input, "kind", "sector"):
        if each.sector is not None and each.kind not in (InputKind.GATE, InputKind.CAUTION_BOX):
            draft.say(
                ("input", index, "sector"),
                each.sector,
                f"must be left out: {each.kind} stops the whole track",
            )


def clock_is_known(draft: Draft) -> None:
    """Report a time zone that this machine does not know."""
    for _, operating in sound((draft.form.operating,), "timezone"):
        try:
            ZoneInfo(operating.timezone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            right = "must be a name of the time zone database that this machine has, such as UTC"
            draft.say(("operating", "timezone"), operating.timezone, right)
