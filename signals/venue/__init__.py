"""Venue files: a track with its equipment, one TOML file."""

from signals.venue.explaining import explain
from signals.venue.file import load
from signals.venue.linting import lint
from signals.venue.schemas import schema

__all__ = ["explain", "lint", "load", "schema"]
