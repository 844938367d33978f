"""Venue files: a track with its equipment, one TOML file."""

from signals.venue.file import load

__all__ = ["load"]
