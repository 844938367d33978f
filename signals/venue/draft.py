"""A venue file while it is being checked: what was read, where it stands, what is wrong with it."""

from __future__ import annotations

import hashlib
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from signals.errors import BadInput, Finding
from signals.venue.form import File
from signals.venue.geometry import Polyline
from signals.venue.lines import KeyPath, locate
from signals.venue.read import BROKEN, read, shown
from signals.venue.wires import Wire

FILE_MAX = 1_000_000
"""Bytes; a larger venue file, or file that it names, is refused unread."""


@dataclass(slots=True)
class Draft:
    """What the checks read and where they report."""

    path: Path
    raw: dict[str, Any]
    lines: dict[KeyPath, int]
    form: File = BROKEN
    track: Polyline | None = None
    """The centreline, once it is usable."""
    pit: Polyline | None = None
    wires: tuple[Wire, ...] = ()
    contents: list[str] = field(default_factory=list)
    """The texts the digest is taken over: the file's own, then those it names."""
    findings: list[Finding] = field(default_factory=list)

    def say(self, path: KeyPath, value: object, right: str) -> None:
        """Report a mistake at a key path; `value` as the file has it ("" where it has none)."""
        text = value if isinstance(value, str) else shown(value)
        self.findings.append(Finding(self.path.name, self.line(path), self.spelled(path), text, right))

    def named_text(self, path: KeyPath, name: str) -> str | None:
        """Read a file that this one names, relative to it; None and a mistake where it cannot be read."""
        try:
            text = read_text(self.path.parent / name)
        except ValueError as error:
            self.say(path, name, str(error))
            return None
        self.contents.append(text)
        return text

    def digest(self) -> str:
        """Give the SHA-256 (hex) over the file and the files it names."""
        whole = hashlib.sha256()
        for text in self.contents:
            whole.update(hashlib.sha256(text.encode()).digest())
        return whole.hexdigest()

    def line(self, path: KeyPath) -> int:
        """Give the line of a key, or of the innermost table that lacks it; 0 for the whole file."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 0)

    def spelled(self, path: KeyPath) -> str:
        """Spell a path as people read it: head[h3].protects[0]; tables are named by their id."""
        text, here = "", self.raw
        for step in path:
            here = _inside(here, step)
            if isinstance(step, str):
                text += f".{step}" if text else step
            else:
                text += f"[{_named(here, step)}]"
        return text


def _inside(here: Any, step: str | int) -> Any:
    try:
        return here[step]
    except (KeyError, IndexError, TypeError):
        return None


def _named(table: object, index: int) -> object:
    if not isinstance(table, dict):
        return index
    name = table.get("id", table.get("number"))
    return name if isinstance(name, str | int) and name != "" else index


def open_draft(path: Path) -> Draft:
    """Read a file, and the files it names, as far as they can be read. Raises BadInput where TOML ends."""
    text = text_of(path)
    try:
        raw = tomllib.loads(text)
        draft = Draft(path, raw, locate(text), contents=[text])
    except tomllib.TOMLDecodeError as error:
        raise BadInput([Finding(path.name, _line_of(error, text), "TOML", "", str(error))]) from None
    except RecursionError:
        raise BadInput([Finding(path.name, 0, "TOML", "", "is nested too deeply")]) from None
    draft.form = read(raw, File, (), draft.say)
    return draft


def read_text(path: Path) -> str:
    """Read a text of reasonable size; raises ValueError with what would be right."""
    try:
        if path.stat().st_size > FILE_MAX:
            raise ValueError(f"must be at most {FILE_MAX} bytes")
        return path.read_bytes().decode("utf-8")
    except OSError as error:
        raise ValueError(f"must be a file that can be read ({error.strerror})") from None
    except UnicodeDecodeError as error:
        raise ValueError(f"must be UTF-8 text ({error.reason} at byte {error.start})") from None


def text_of(path: Path) -> str:
    """Read a file's text; raises BadInput where it cannot be read."""
    try:
        return read_text(path)
    except ValueError as error:
        raise BadInput([Finding(str(path), 0, "file", "", str(error))]) from None


def _line_of(error: tomllib.TOMLDecodeError, text: str) -> int:
    """Python puts the place into the message: "... (at line 3, column 5)" or "(at end of document)"."""
    words = str(error).rpartition("at line ")[2].partition(",")[0]
    return int(words) if words.isdigit() else text.count("\n") + 1
