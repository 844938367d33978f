"""One tree of errors. A refused call is a value (`Decision.refusals`), never one of these."""

from __future__ import annotations

from dataclasses import dataclass


class KerblightError(Exception):
    """The root: everything this package raises on purpose."""


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One mistake in a file: where it is, what stands there, what would be right.

    `line` counts from 1 and is 0 where the file has no such line (a missing key).
    `level` is "mistake" (the file does not load) or "warning" (it loads).
    """

    file: str
    line: int
    key: str
    value: str
    right: str
    level: str = "mistake"

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        shown = f" is {self.value}" if self.value else ""
        return f"{where}: {self.key}{shown}: {self.right}"


class BadInput(KerblightError, ValueError):
    """A file or an argument that cannot be used; carries every mistake at once (exit code 2)."""

    def __init__(self, findings: list[Finding]) -> None:
        self.findings = sorted(findings)
        super().__init__("\n".join(str(finding) for finding in self.findings))

    def __reduce__(self) -> tuple[type[BadInput], tuple[list[Finding]]]:
        """Keep the mistakes on the way out of a worker process."""
        return type(self), (self.findings,)


class Unusable(KerblightError, RuntimeError):
    """Something the machine lacks or refuses: a broker, a port, a lock (exit code 2)."""
