"""`python -m signals.cli`: the same as `kerblight`."""

from __future__ import annotations

from signals.cli import main

main()
