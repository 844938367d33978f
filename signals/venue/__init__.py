"""Venue files: a track with its equipment, one TOML file."""

from signals.venue.explain import explain
from signals.venue.file import load
from signals.venue.lint import lint
from signals.venue.schema import schema

__all__ = ["explain", "lint", "load", "schema"]
