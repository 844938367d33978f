"""Defaults that depend on other values of the file, in one place."""

from __future__ import annotations

import msgspec

from signals.venue import form, model
from signals.words import Aspect, HeadRole

CLASSES_KMH = {"child": 15.0, "junior": 28.0}
ADULT_KMH = {"indoor": 45.0, "outdoor": 55.0}
WET_CLASS = 0.8
"""Of the dry limit: at 0.7 of the friction the ramp distance then stays within the dry one (0.8² < 0.7)."""
WET_RAMP = 0.7
"""Static friction of rubber on concrete, wet to dry, 0.7 to 1.0 (OpenStax College Physics)."""
FLASH = Aspect.YELLOW_FLASH


def classes_of(file: form.File) -> dict[str, float]:
    """Give the limit of each class, from slowest to fastest."""
    given = file.limits_kmh.classes or {**CLASSES_KMH, "adult": ADULT_KMH[file.venue.setting]}
    return dict(sorted(given.items(), key=lambda item: item[1]))


def wet_limits(dry: model.Limits, file: form.File) -> model.Limits:
    """Give the limits in the wet: what the file gives, else dry; classes reduced, not below finish."""
    given = file.conditions.wet.limits_kmh
    changed = {key: value for key, value in msgspec.structs.asdict(given).items() if value is not None}
    finish = changed.get("finish", dry.finish)
    usual = {name: max(finish, round(limit * WET_CLASS, 1)) for name, limit in dry.classes.items()}
    changed["classes"] = {**usual, **(given.classes or {})}
    return msgspec.structs.replace(dry, **changed)


def wet_ramp(file: form.File) -> model.Ramp:
    """Give the ramps in the wet."""
    dry, given = file.ramp_mps2, file.conditions.wet.ramp_mps2
    return model.Ramp(
        fall=round(dry.fall * WET_RAMP, 3) if given.fall is None else given.fall,
        rise=round(dry.rise * WET_RAMP, 3) if given.rise is None else given.rise,
    )


def fail_aspects(file: form.File) -> dict[HeadRole, Aspect]:
    """Give the fail aspect of every role."""
    red_only = (HeadRole.START, HeadRole.PIT_EXIT)
    usual = {role: Aspect.RED if role in red_only else FLASH for role in HeadRole}
    return {**usual, **{role: Aspect(aspect) for role, aspect in file.choices.fail_aspect.items()}}


def required_aspects(head: form.HeadTable, file: form.File) -> list[Aspect]:
    """Give the aspects a head must be able to show, by its role."""
    needed = [Aspect.RED, Aspect.YELLOW_FLASH, Aspect.GREEN]
    if head.role in (HeadRole.TRACK, HeadRole.FINISH):
        needed.insert(2, Aspect(file.choices.finish_aspect))
    return [*needed, Aspect.NUMBER, Aspect.BLUE_FLASH] if head.number else needed


def aspects_of(head: form.HeadTable, file: form.File) -> dict[Aspect, tuple[str, ...]]:
    """Give the lamps of each aspect a head can show; dark lights none."""
    lamps = {
        Aspect.RED: ("red",),
        Aspect.YELLOW_FLASH: ("yellow",),
        Aspect.YELLOW: ("yellow",),
        Aspect.RED_YELLOW: ("red", "yellow"),
        Aspect.GREEN: ("green",),
        Aspect.NUMBER: ("number",),
        Aspect.BLUE_FLASH: ("blue",),
    }
    given = head.aspects or {aspect: lamps[aspect] for aspect in required_aspects(head, file)}
    return {**given, Aspect.DARK: ()}
