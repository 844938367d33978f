"""How verbs speak: results on stdout, complaints in a border on stderr, JSON where asked."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from typing import Any

import msgspec
from rich.box import ROUNDED
from rich.console import Console
from rich.panel import Panel
from rich.text import Text

HELD = 0
FELL_SHORT = 1
BAD_INPUT = 2


def console(*, stderr: bool = False) -> Console:
    """Give a console for people; colour only on a terminal."""
    return Console(file=sys.stderr if stderr else sys.stdout, highlight=False, soft_wrap=False)


def bordered(title: str, sentences: Sequence[str]) -> Panel:
    """Put sentences in a border, one a line; the mark says refused without colour."""
    return Panel(Text("\n".join(sentences)), title=f"✗ {title}", title_align="left", box=ROUNDED)


def complain(title: str, sentences: Sequence[str]) -> int:
    """Show on stderr what is wrong; gives the exit code for bad input."""
    console(stderr=True).print(bordered(title, sentences))
    return BAD_INPUT


def print_json(value: Any) -> None:
    """Write a value (structs too) as indented JSON on stdout."""
    json.dump(msgspec.to_builtins(value), sys.stdout, indent=2, ensure_ascii=False)
    sys.stdout.write("\n")
