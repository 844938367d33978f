"""Mutants that no property notices, each by name with the reason why that is right."""

from __future__ import annotations

EXPLAINED: dict[str, str] = {}
