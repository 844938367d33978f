"""Every command that a page or a help text shows is one the command line takes as it stands there."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from signals.cli.app import Later, command

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCED = re.compile(r"^```(?:sh)?\n(.*?)^```", re.DOTALL | re.MULTILINE)
SHOWN = re.compile(r"^(?: {4})?(?:\.venv/bin/)?kerblight ([^#\n;]+)", re.MULTILINE)
MENTIONED = re.compile(r"`(?:\.venv/bin/)?kerblight ([^`]+)`")
EXAMPLE = re.compile(r"kerblight ([^;|`>\n]+)")
PLACEHOLDER = re.compile(r"'[A-Z]+(\.\.\.)?'")


COMMAND: Any = command()


@cache
def loaded(verb: Any) -> Any:
    """Give a verb as it reads its words."""
    return get_command(verb._load()) if isinstance(verb, Later) else verb


def shown(page: str) -> Iterator[str]:
    """Give the lines of a page's blocks of commands, without what is said of them beside."""
    blocks = [*FENCED.findall(page), *re.findall(r"(?:^ {4}\S.*\n)+", page, re.MULTILINE)]
    for line in SHOWN.findall("\n".join(blocks)):
        yield re.split(r"\s{2,}| \| | > ", line)[0]


def mentioned(page: str) -> Iterator[str]:
    """Give what a page's sentences name: a verb, often without what it needs."""
    for said in MENTIONED.findall(re.sub(r"\n\s*", " ", FENCED.sub("", page))):
        yield re.sub(r"(\w+)(\|\w+)+", r"\1", said).replace("[", "").replace("]", "").replace(" N", " 1")


def helped(words: tuple[str, ...], verb: Any) -> Iterator[tuple[str, str]]:
    """Give every verb with its help, however deep."""
    verb = loaded(verb)
    yield " ".join(words), verb.help or ""
    for name, below in getattr(verb, "commands", {}).items():
        yield from helped((*words, name), below)


def against(line: str) -> str:
    """Say what the command line has against a command, "" where it takes it; nothing is run."""
    verb, rest = COMMAND, [word for word in shlex.split(line) if word != "…"]
    try:
        while rest or not hasattr(verb, "commands"):
            context = verb.make_context("kerblight", list(rest))
            rest = [*context._protected_args, *context.args]
            if not rest or not hasattr(verb, "commands"):
                return ""
            _, below, rest = verb.resolve_command(context, rest)
            verb = loaded(below)
    except Exception as wrong:  # noqa: BLE001 - whatever it is, it is told
        said = wrong.format_message() if hasattr(wrong, "format_message") else str(wrong)
        return "" if PLACEHOLDER.search(said) else said
    return ""


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_what_a_page_shows_can_be_typed(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    wrong = {line: why for line in shown(text) if (why := against(line))}
    named = {line: why for line in mentioned(text) if (why := against(line)) and "Missing" not in why}
    assert wrong | named == {}


def test_what_a_verbs_help_shows_can_be_typed() -> None:
    examples = [
        (verb, line)
        for verb, said in helped((), COMMAND)
        for line in EXAMPLE.findall(said.partition("Example")[2])
    ]
    assert len(examples) > 40
    assert [(verb, line, why) for verb, line in examples if (why := against(line))] == []


def test_a_command_that_cannot_be_typed_is_noticed() -> None:
    assert "No such option" in against("run --headles")
    assert "No such command" in against("journal lists")
    assert "Missing" in against("call stop")
    assert against("journal list --kind KIND") == ""
    assert "rumour" in against("journal list --kind rumour")
