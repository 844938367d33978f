"""Speeds, the flash and times: in the order and within the bounds that the rules rely on."""

from __future__ import annotations

from collections.abc import Mapping

from signals.venue import form, lines
from signals.venue.defaults import ADULT_KMH, CLASSES_KMH, WET_CLASS
from signals.venue.draft import Draft
from signals.venue.read import BROKEN, sound

CHAIN = ("stop", "creep", "return", "disqualified", "caution", "finish")
WET: lines.Path = ("conditions", "wet", "limits_kmh")
FLASHES_A_MINUTE = (50, 60)
LIT_SHARE = (1 / 2, 2 / 3)
"""MUTCD 11th ed. §4G.01."""
ROUNDING = 1e-3
"""Whole milliseconds cannot hit a share exactly."""
MUST_NOT_TRIP_MS, MUST_TRIP_MS = 200, 450
"""NEMA TS 2, malfunction management unit, from memory."""
BEATS_A_LEASE = 3


def are_in_order(draft: Draft) -> None:
    """Report limits, dry and wet, out of 0 <= stop <= creep <= ... <= finish <= class, and pit above caution."""
    dry = dry_limits(draft.form)
    _ordered(draft, ("limits_kmh",), dry)
    _ordered(draft, WET, wet_limits(draft.form, dry))


def _ordered(draft: Draft, table: lines.Path, limits: Mapping[str, float]) -> None:
    classes = [f"classes.{name}" for name in _classes(limits)]
    pairs = [
        *zip(CHAIN, CHAIN[1:], strict=False),
        *(("finish", name) for name in classes),
        ("pit", "caution"),
    ]
    for low, high in pairs:
        if low in limits and high in limits and limits[low] > limits[high]:
            wrong, other, word = _blamed(draft, table, low, high)
            right = f"must be at {word} {other} ({limits[other]:g})"
            draft.say((*table, *wrong.split(".")), f"{limits[wrong]:g}", right)


def _blamed(draft: Draft, table: lines.Path, low: str, high: str) -> tuple[str, str, str]:
    """Blame the value that the file gives, not the one that is a default."""
    given = (*table, *high.split(".")) in draft.lines
    return (high, low, "least") if given else (low, high, "most")


def _classes(limits: Mapping[str, float]) -> list[str]:
    return [key.partition(".")[2] for key in limits if key.startswith("classes.")]


def _flat(table: form.LimitsTable | form.WetLimitsTable) -> dict[str, float]:
    """Give the usable values by their key in the file; a class as classes.NAME."""
    keys = (*CHAIN, "pit", "reverse", "boost")
    values = {key: getattr(table, "return_" if key == "return" else key) for key in keys}
    classes = table.classes if table.classes is not BROKEN and table.classes else {}
    values |= {f"classes.{name}": limit for name, limit in classes.items()}
    return {key: value for key, value in values.items() if value is not None and value is not BROKEN}


def dry_limits(file: form.File) -> dict[str, float]:
    """Give the dry limits, as far as they are usable, with the defaults of the classes."""
    if file.limits_kmh is BROKEN:
        return {}
    limits = _flat(file.limits_kmh)
    setting = getattr(file.venue, "setting", BROKEN)
    if file.limits_kmh.classes is None and setting is not BROKEN:
        usual = {**CLASSES_KMH, "adult": ADULT_KMH[setting]}
        limits |= {f"classes.{name}": limit for name, limit in usual.items()}
    return limits


def wet_limits(file: form.File, dry: Mapping[str, float]) -> dict[str, float]:
    """Give the wet limits likewise; what the file does not give is as dry, classes reduced."""
    if (
        BROKEN in (file.conditions, getattr(file.conditions, "wet", BROKEN))
        or file.conditions.wet.limits_kmh is BROKEN
    ):
        return {}
    given = _flat(file.conditions.wet.limits_kmh)
    finish = given.get("finish", dry.get("finish", 0.0))
    usual = {
        key: max(finish, round(limit * WET_CLASS, 1)) if key.startswith("classes.") else limit
        for key, limit in dry.items()
    }
    return {**usual, **given}


def wet_is_no_faster(draft: Draft) -> None:
    """Report wet limits above the dry ones, and wet classes that the dry limits do not have."""
    dry = dry_limits(draft.form)
    for key, limit in wet_limits(draft.form, dry).items():
        path = (*WET, *key.split("."))
        if key not in dry and path in draft.lines and _classes(dry):
            draft.say(path, limit, f"is no class of limits_kmh.classes: {', '.join(_classes(dry))}")
        elif key in dry and limit > dry[key] and path in draft.lines:
            draft.say(path, limit, f"must be at most {dry[key]:g}, the dry limit")


def flash_is_regular(draft: Draft) -> None:
    """Report a flash outside 50 to 60 a minute, lit 1/2 to 2/3 of its period, that nothing explains."""
    for _, choices in sound((draft.form.choices,), "flash_period_ms", "flash_lit_ms", "flash_because"):
        period, lit = choices.flash_period_ms, choices.flash_lit_ms
        if lit >= period:
            draft.say(("choices", "flash_lit_ms"), lit, f"must be below flash_period_ms ({period})")
            continue
        if choices.flash_because:
            continue
        slow, fast = FLASHES_A_MINUTE
        if not 60_000 / fast <= period <= 60_000 / slow:
            right = f"must be {60_000 // fast} to {60_000 // slow} ({slow} to {fast} a minute, MUTCD 11th ed. §4G.01), or flash_because says why"
            draft.say(("choices", "flash_period_ms"), period, right)
        low, high = (share * period for share in LIT_SHARE)
        if not low * (1 - ROUNDING) <= lit <= high * (1 + ROUNDING):
            right = f"must be {low:.0f} to {high:.0f} (1/2 to 2/3 of {period}, MUTCD 11th ed. §4G.01), or flash_because says why"
            draft.say(("choices", "flash_lit_ms"), lit, right)


def leases_outlast_beats(draft: Draft) -> None:
    """Report leases that a few lost beats would end."""
    for _, timing in sound((draft.form.timing_ms,), "beat"):
        least = BEATS_A_LEASE * timing.beat
        found: list[tuple[lines.Path, int | None]] = [
            (("timing_ms", name), getattr(timing, name))
            for name in ("lease_head", "lease_kart", "lease_controller")
        ]
        found += [(("node", i, "lease_ms"), node.lease_ms) for i, node in sound(draft.form.node)]
        for path, lease in found:
            if lease is not None and lease is not BROKEN and lease < least:
                draft.say(path, lease, f"must be at least {least}: {BEATS_A_LEASE} beats of {timing.beat} ms")


def monitor_trips_in_time(draft: Draft) -> None:
    """Report a monitor that would trip on a passing difference, or too late."""
    for _, timing in sound((draft.form.timing_ms,), "monitor_trip"):
        if not MUST_NOT_TRIP_MS <= timing.monitor_trip <= MUST_TRIP_MS:
            right = f"must be {MUST_NOT_TRIP_MS} to {MUST_TRIP_MS} (NEMA TS 2: shorter must not trip, longer must)"
            draft.say(("timing_ms", "monitor_trip"), timing.monitor_trip, right)
