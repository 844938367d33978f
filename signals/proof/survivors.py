"""Mutants that no property notices, each by name with the reason why that is right."""

from __future__ import annotations

_NARROWER = "refuses more: a driver waits for the other phase, and nobody is put at risk"
_NOT_STORED = "motion is not stored: every step may find a kart moving or standing as it likes"
_EMPTY_KART = "the calls it leaves stand on a kart without a driver, and end when a group is staged"

EXPLAINED: dict[str, str] = {
    "join: not from staging": _NARROWER,
    "join: not from racing": _NARROWER,
    "swap: not from staging": _NARROWER,
    "swap: not from racing": _NARROWER,
    "swap: without setting slowed[kart]": _EMPTY_KART,
    "swap: without moving call[kart] to none": _EMPTY_KART,
    "swap: not moving call[kart] to none from disqualified": _EMPTY_KART,
    "swap: moving call[kart] to none to disqualified instead": _EMPTY_KART,
    "kart-rolls: without setting moving[kart]": _NOT_STORED,
    "kart-rolls: without setting let_out[kart]": _NOT_STORED,
    "kart-stands: without setting moving[kart]": _NOT_STORED,
}
