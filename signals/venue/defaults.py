"""Defaults that depend on other values of the file, in one place.

Limits are handled flat here: a dict of the file's own keys, a class as `classes.NAME`; values that
were mistakes are absent.
"""

from __future__ import annotations

from collections.abc import Mapping

from signals.venue import form
from signals.venue.read import BROKEN
from signals.words import Aspect, HeadRole

CLASSES_KMH = {"child": 15.0, "junior": 28.0}
ADULT_KMH = {"indoor": 45.0, "outdoor": 55.0}
WET_CLASS = 0.8
"""Of the dry limit: with the ramp at 0.7 the ramp distance then stays within the dry one (0.8² < 0.7)."""
WET_RAMP = 0.7
"""Static friction of rubber on concrete, wet to dry, 0.7 to 1.0 (OpenStax College Physics)."""
CHAIN = ("stop", "creep", "return", "disqualified", "caution", "finish")
"""Each at most the next; finish at most every class."""
CLASS = "classes."

FlatLimits = dict[str, float]


def _flat(table: form.LimitsTable | form.WetLimitsTable) -> FlatLimits:
    """Give what the file gives and is usable."""
    keys = (*CHAIN, "pit", "reverse", "boost")
    values = {key: getattr(table, "return_" if key == "return" else key) for key in keys}
    classes = table.classes if table.classes is not BROKEN and table.classes else {}
    values |= {CLASS + name: limit for name, limit in classes.items()}
    return {key: value for key, value in values.items() if value is not None and value is not BROKEN}


def dry_limits(file: form.File) -> FlatLimits:
    """Give the dry limits with the default classes where the file names none."""
    if file.limits_kmh is BROKEN:
        return {}
    setting = getattr(file.venue, "setting", BROKEN)
    if file.limits_kmh.classes is not None or setting is BROKEN:
        return _flat(file.limits_kmh)
    usual = {**CLASSES_KMH, "adult": ADULT_KMH[setting]}
    return _flat(file.limits_kmh) | {CLASS + name: limit for name, limit in usual.items()}


def wet_limits(file: form.File, dry: FlatLimits) -> FlatLimits:
    """Give the wet limits: what the file gives, else as dry; classes reduced, not below finish."""
    if BROKEN in (file.conditions, getattr(file.conditions, "wet", BROKEN)):
        return {}
    if file.conditions.wet.limits_kmh is BROKEN:
        return {}
    given = _flat(file.conditions.wet.limits_kmh)
    finish = given.get("finish", dry.get("finish", 0.0))
    return {key: _wet_from_dry(key, limit, finish) for key, limit in dry.items()} | given


def _wet_from_dry(key: str, limit: float, finish: float) -> float:
    return max(finish, round(limit * WET_CLASS, 1)) if key.startswith(CLASS) else limit


def class_names(file: form.File) -> list[str]:
    """Give the classes the file knows, those whose limit is a mistake too; none where that is unknown."""
    if file.limits_kmh is BROKEN or file.limits_kmh.classes is BROKEN:
        return []
    return list(file.limits_kmh.classes or (*CLASSES_KMH, "adult"))


def classes_in(limits: Mapping[str, float]) -> list[str]:
    """Give the classes of flat limits, from slowest to fastest."""
    keys = [key for key in limits if key.startswith(CLASS)]
    return [key.removeprefix(CLASS) for key in sorted(keys, key=limits.__getitem__)]


def wet_ramp(file: form.File) -> dict[str, float]:
    """Give fall and rise in the wet."""
    dry, given = file.ramp_mps2, file.conditions.wet.ramp_mps2
    pairs = {"fall": (dry.fall, given.fall), "rise": (dry.rise, given.rise)}
    return {key: round(usual * WET_RAMP, 3) if own is None else own for key, (usual, own) in pairs.items()}


def fail_aspects(file: form.File) -> dict[HeadRole, Aspect]:
    """Give the fail aspect of every role."""
    red_only = (HeadRole.START, HeadRole.PIT_EXIT)
    usual = {role: Aspect.RED if role in red_only else Aspect.YELLOW_FLASH for role in HeadRole}
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
