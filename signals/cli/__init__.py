"""The command line: `kerblight VERB`."""

from __future__ import annotations


def main() -> None:
    """Run the command line."""
