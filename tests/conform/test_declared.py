"""A node's declaration: every mistake at once, with its key and what would be right."""

from __future__ import annotations

from pathlib import Path

import pytest

from signals.conform.declared import Declared, checked, read
from signals.errors import BadInput


def write(folder: Path, text: str, name: str = "node.toml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_toml_and_json_say_the_same(tmp_path: Path) -> None:
    toml = read(write(tmp_path, 'title = "x"\nstart = "run {port}"\nramp = true'))
    json = read(write(tmp_path, '{"title": "x", "start": "run {port}", "ramp": true}', "node.json"))
    assert toml == json == Declared(title="x", start="run {port}", ramp=True)


def test_every_mistake_comes_at_once(tmp_path: Path) -> None:
    path = write(tmp_path, 'tilte = "x"\nramp = "yes"\nwitness = "eye"')
    with pytest.raises(BadInput) as wrong:
        read(path)
    assert [finding.key for finding in wrong.value.findings] == ["ramp", "tilte", "witness"]
    assert all(str(path) in str(finding) for finding in wrong.value.findings)


@pytest.mark.parametrize("text", ["[", "title = ", '"a"'])
def test_what_is_no_table_is_refused(tmp_path: Path, text: str) -> None:
    with pytest.raises(BadInput):
        read(write(tmp_path, text))
    with pytest.raises(BadInput):
        read(write(tmp_path, text, "node.json"))


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"gone\.toml"):
        read(tmp_path / "gone.toml")


@pytest.mark.parametrize(("command", "said"), [("run {prot}", "{prot}"), ("run {", "double a brace")])
def test_a_command_names_only_what_is_filled_in(tmp_path: Path, command: str, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        read(write(tmp_path, f'restart = "{command}"'))
    with pytest.raises(BadInput, match=said):
        checked(Declared(start=command), "command line")
