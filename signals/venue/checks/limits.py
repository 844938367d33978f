"""Speeds, the flash and times: in the order and within the bounds that the rules rely on."""

from __future__ import annotations

from itertools import pairwise

from signals.flash import LIT_SHARE, MINUTE_MS, RATE_PER_MINUTE, TOLERANCE
from signals.venue.defaults import CHAIN, CLASS, FlatLimits, class_names, classes_in, dry_limits, wet_limits
from signals.venue.draft import Draft
from signals.venue.lines import KeyPath
from signals.venue.read import BROKEN, listed, sound

WET: KeyPath = ("conditions", "wet", "limits_kmh")
MUST_NOT_TRIP_MS, MUST_TRIP_MS = 200, 450
"""NEMA TS 2, malfunction management unit, from memory."""
BEATS_A_LEASE = 3


def are_in_order(draft: Draft) -> None:
    """Report limits, dry and wet, that are not stop <= creep <= ... <= finish <= class, or pit > caution."""
    dry = dry_limits(draft.form)
    wrong = _out_of_order(dry)
    for low, high in wrong:
        _blame(draft, ("limits_kmh",), dry, low, high)
    wet = wet_limits(draft.form, dry)
    for low, high in _out_of_order(wet):
        if (low, high) not in wrong:
            _blame(draft, WET, wet, low, high)


def _out_of_order(limits: FlatLimits) -> list[tuple[str, str]]:
    pairs = [*pairwise(CHAIN), *(("finish", CLASS + name) for name in classes_in(limits)), ("pit", "caution")]
    return [
        (low, high) for low, high in pairs if low in limits and high in limits and limits[low] > limits[high]
    ]


def _blame(draft: Draft, table: KeyPath, limits: FlatLimits, low: str, high: str) -> None:
    """Blame the value that the file gives, not the one that is a default."""
    given = (*table, *high.split(".")) in draft.lines
    wrong, other, word = (high, low, "least") if given else (low, high, "most")
    right = f"must be at {word} {other} ({limits[other]:g})"
    draft.say((*table, *wrong.split(".")), f"{limits[wrong]:g}", right)


def wet_is_no_faster(draft: Draft) -> None:
    """Report wet limits above the dry ones, and wet classes that the dry limits do not have."""
    dry, known = dry_limits(draft.form), class_names(draft.form)
    for key, limit in wet_limits(draft.form, dry).items():
        path = (*WET, *key.split("."))
        name = key.removeprefix(CLASS)
        if name != key and known and name not in known:
            draft.say(path, limit, f"is no class of limits_kmh.classes: {listed(known)}")
        elif key in dry and limit > dry[key] and path in draft.lines:
            draft.say(path, limit, f"must be at most {dry[key]:g}, the dry limit")


def flash_is_regular(draft: Draft) -> None:
    """Report a flash outside 50 to 60 a minute, lit 1/2 to 2/3 of its period, that nothing explains."""
    for _, choices in sound((draft.form.choices,), "flash_period_ms", "flash_lit_ms", "flash_because"):
        period, lit = choices.flash_period_ms, choices.flash_lit_ms
        if lit >= period:
            draft.say(("choices", "flash_lit_ms"), lit, f"must be below flash_period_ms ({period})")
        elif not choices.flash_because:
            slow, fast = RATE_PER_MINUTE
            what = f"{slow:g} to {fast:g} flashes a minute"
            _within(draft, "flash_period_ms", period, (MINUTE_MS / fast, MINUTE_MS / slow), what)
            low, high = LIT_SHARE
            _within(draft, "flash_lit_ms", lit, (low * period, high * period), f"1/2 to 2/3 of {period}")


def _within(draft: Draft, key: str, value: int, bounds: tuple[float, float], what: str) -> None:
    low, high = bounds
    if not low * (1 - TOLERANCE) <= value <= high * (1 + TOLERANCE):
        right = f"must be {low:.0f} to {high:.0f} ({what}, MUTCD 11th ed. §4G.01), or flash_because says why"
        draft.say(("choices", key), value, right)


def leases_outlast_beats(draft: Draft) -> None:
    """Report leases that a few lost beats would end."""
    for _, timing in sound((draft.form.timing_ms,), "beat"):
        least = BEATS_A_LEASE * timing.beat
        found: list[tuple[KeyPath, int | None]] = [
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
            bounds = f"{MUST_NOT_TRIP_MS} to {MUST_TRIP_MS}"
            right = f"must be {bounds}: shorter must not trip, longer must (NEMA TS 2)"
            draft.say(("timing_ms", "monitor_trip"), timing.monitor_trip, right)


def slow_heads_are_found_before_they_trip(draft: Draft) -> None:
    """Report an opening check that lets a head be slower than the monitor lets it be."""
    for _, timing in sound((draft.form.timing_ms,), "follow", "monitor_trip"):
        if MUST_NOT_TRIP_MS <= timing.monitor_trip < timing.follow:
            right = f"must be at most monitor_trip ({timing.monitor_trip})"
            draft.say(("timing_ms", "follow"), timing.follow, right)


GRIPS = (
    ("grip_sliding", "grip"),
    ("grip_wet", "grip"),
    ("grip_sliding_wet", "grip_wet"),
    ("grip_sliding_wet", "grip_sliding"),
)
"""Each at most the next: tyres that slide, and wet ones, hold less."""


def grip_falls(draft: Draft) -> None:
    """Report simulated tyres that hold better sliding than rolling, or wet than dry."""
    model = draft.form.kart_model
    if model is BROKEN:
        return
    for low, high in GRIPS:
        less, more = getattr(model, low), getattr(model, high)
        if BROKEN not in (less, more) and less > more:
            draft.say(("kart_model", low), f"{less:g}", f"must be at most {high} ({more:g})")
