"""Where each key of a TOML text stands: key path → line.

The text was read by `tomllib` before, so this only has to be right for valid TOML. A path is a
tuple of keys and list indexes, `("head", 2, "protects", 0)`.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from collections.abc import Iterator

KeyPath = tuple[str | int, ...]

_BLANK = re.compile(r"(?:\s|#[^\n]*)*")
_INLINE_BLANK = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:\\.|[^"\\])*"'
    r"|'[^']*'",
    re.DOTALL,
)
_HEADER_END = re.compile(r"[ \t]*\]\]?")
_SCALAR = re.compile(r"\d{4}-\d\d-\d\d \d\d:[^\s,\]}#]*|[^\s,\]}#]+")


def locate(text: str) -> dict[KeyPath, int]:
    """Give the line (from 1) of every table, key and element of a valid TOML text."""
    return _Scan(text).run()


class _Scan:
    """One pass over the text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[KeyPath, int] = {}
        self.last: dict[KeyPath, int] = {}
        """The index of the newest element of each array of tables."""
        self._ends = [match.start() for match in re.finditer("\n", text)]

    def run(self) -> dict[KeyPath, int]:
        base: KeyPath = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.peek("["):
                base = self.header()
            else:
                self.pair(base)
            self.skip(_BLANK)
        return self.lines

    def peek(self, mark: str) -> bool:
        return self.text.startswith(mark, self.at)

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match.group()

    def note(self, path: KeyPath, at: int) -> None:
        for depth in range(1, len(path) + 1):
            self.lines.setdefault(path[:depth], bisect_left(self._ends, at) + 1)

    def header(self) -> KeyPath:
        array = self.peek("[[")
        start = self.at
        self.at += 2 if array else 1
        keys = self.keys()
        path = (*self.resolve(keys[:-1]), keys[-1])
        self.skip(_HEADER_END)
        if array:
            self.last[path] = self.last.get(path, -1) + 1
            path = (*path, self.last[path])
        self.note(path, start)
        return path

    def resolve(self, keys: list[str]) -> KeyPath:
        path: KeyPath = ()
        for key in keys:
            path = (*path, key)
            if path in self.last:
                path = (*path, self.last[path])
        return path

    def keys(self) -> list[str]:
        found = []
        while True:
            self.skip(_INLINE_BLANK)
            found.append(self.key())
            self.skip(_INLINE_BLANK)
            if not self.peek("."):
                return found
            self.at += 1

    def key(self) -> str:
        if self.text[self.at] in "\"'":
            return next(iter(tomllib.loads(f"{self.skip(_STRING)} = 0")))
        return self.skip(_BARE_KEY)

    def pair(self, base: KeyPath) -> None:
        start = self.at
        path = base + tuple(self.keys())
        self.note(path, start)
        self.at += 1  # the equals sign
        self.skip(_INLINE_BLANK)
        self.value(path)

    def value(self, path: KeyPath) -> None:
        if self.peek("["):
            self.array(path)
        elif self.peek("{"):
            self.inline_table(path)
        elif not self.skip(_STRING):
            self.skip(_SCALAR)

    def array(self, path: KeyPath) -> None:
        for index, _ in enumerate(self.members("]")):
            self.note((*path, index), self.at)
            self.value((*path, index))

    def inline_table(self, path: KeyPath) -> None:
        for _ in self.members("}"):
            self.pair(path)

    def members(self, end: str) -> Iterator[None]:
        self.at += 1
        self.skip(_BLANK)
        while not self.peek(end):
            yield
            self.skip(_BLANK)
            if self.peek(","):
                self.at += 1
            self.skip(_BLANK)
        self.at += 1
