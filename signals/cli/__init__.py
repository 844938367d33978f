"""The command line: `kerblight VERB`. Each folder offers its verb in its own `cli.py`."""

from __future__ import annotations

import importlib


def main() -> None:
    """Run the command line; exits 0 held, 1 something fell short, 2 bad input."""
    importlib.import_module("signals.cli.app").run()
