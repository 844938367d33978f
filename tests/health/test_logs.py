from __future__ import annotations

import io
import json
import logging
from typing import Any

from signals.controller.log import say
from signals.health.logs import JsonLines, TextLines


def lines(*loggers: str) -> tuple[logging.Handler, io.StringIO]:
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(JsonLines("controller"))
    for name in loggers:
        logging.getLogger(name).addHandler(handler)
        logging.getLogger(name).setLevel(logging.INFO)
    return handler, stream


def logged(say_it: Any, name: str = "kerblight.controller") -> list[dict[str, Any]]:
    handler, stream = lines(name)
    try:
        say_it()
    finally:
        logging.getLogger(name).removeHandler(handler)
        logging.getLogger(name).setLevel(logging.NOTSET)
    return [json.loads(line) for line in stream.getvalue().splitlines()]


def test_a_happening_is_one_object_with_its_fields() -> None:
    (line,) = logged(lambda: say("head-lost", level=logging.WARNING, head="h1", reason="silent"))
    assert line.pop("at").endswith("Z")
    assert line == {
        "level": "warning",
        "part": "controller",
        "logger": "kerblight.controller",
        "message": "head-lost",
        "fields": {"head": "h1", "reason": "silent"},
    }


def test_whatever_is_in_a_text_a_line_stays_one_line_and_one_object() -> None:
    hostile = 'x"\n{"level":"info"}\r\u2028\x1b[31m'
    (line,) = logged(lambda: say("not-taken", topic=hostile, reason=hostile))
    assert line["fields"] == {"topic": hostile, "reason": hostile}


def test_a_line_for_people_stays_one_line_too() -> None:
    record = logging.LogRecord("x", logging.INFO, "", 0, "refused %s", ("a\nb\r\x1b[31m\u2028c\x9b",), None)
    (line,) = TextLines().format(record).splitlines()
    assert line.endswith("x: refused a\\u000ab\\u000d\\u001b[31m\\u2028c\\u009b")


def test_an_exception_brings_its_trace() -> None:
    def fall() -> None:
        try:
            int("no such thing")
        except ValueError:
            logging.getLogger("kerblight.controller").exception("fell")

    (line,) = logged(fall)
    assert line["message"] == "fell"
    assert (
        line["trace"].splitlines()[-1]
        == "ValueError: invalid literal for int() with base 10: 'no such thing'"
    )
