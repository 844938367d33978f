"""How a process logs on stderr: lines for people, or one JSON object a line for those who gather them."""

from __future__ import annotations

import json
import logging
import sys
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any

_TEXT = "%(asctime)s %(name)s: %(message)s"
_CONTROLS = (*range(0x20), *range(0x7F, 0xA0), 0x2028, 0x2029)
_SPELLED = {code: f"\\u{code:04x}" for code in _CONTROLS}
"""What would begin a new line, or speak to a terminal."""


class LogForm(StrEnum):
    """What a log line is."""

    TEXT = "text"
    JSON = "json"


class TextLines(logging.Formatter):
    """One line a record, but for traces: what came from elsewhere can begin no line of its own."""

    def __init__(self) -> None:
        super().__init__(_TEXT)

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - as its base has it
        """Write the line with control characters spelled out."""
        return super().formatMessage(record).translate(_SPELLED)


class JsonLines(logging.Formatter):
    """One object a line: at (UTC), level, part, logger, message, and the fields a line was logged with.

    A line that was logged with `extra={"what": …, "fields": {…}}` has `what` as its message.
    """

    def __init__(self, part: str) -> None:
        super().__init__()
        self._part = part

    def format(self, record: logging.LogRecord) -> str:
        """Write a record."""
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        line: dict[str, Any] = {
            "at": at.replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "part": self._part,
            "logger": record.name,
            "message": getattr(record, "what", None) or record.getMessage(),
        }
        if fields := getattr(record, "fields", None):
            line["fields"] = fields
        if record.exc_info:
            line["trace"] = self.formatException(record.exc_info)
        return json.dumps(line, default=str)


def only_errors() -> None:
    """Let a process without a log of its own tell errors alone: a verb for people has words for the rest."""
    if logging.lastResort is not None:
        logging.lastResort.setLevel(logging.ERROR)


def set_up(form: LogForm, part: str) -> None:
    """Let this process log on stderr."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(JsonLines(part) if form is LogForm.JSON else TextLines())
    logging.basicConfig(level=logging.INFO, handlers=[handler])
