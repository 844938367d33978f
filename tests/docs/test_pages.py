"""The pages say what is there: links lead somewhere, named tests and sequences exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGES = [*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")]
TESTS = {
    name
    for file in (ROOT / "tests").rglob("test_*.py")
    for name in re.findall(r"def (test_\w+)", file.read_text(encoding="utf-8"))
}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    links = re.findall(r"\]\((?!http|#)([^)#]+)", page.read_text(encoding="utf-8"))
    assert [link for link in links if not (page.parent / link).exists()] == []


def _rows(name: str, head: str) -> list[tuple[str, str]]:
    """Give the first and last cells of a page's tables of three columns that begin with a head."""
    page = (ROOT / "docs" / name).read_text(encoding="utf-8")
    tables = re.findall(rf"^\| {head} \|.*\n\|[-|]+\n((?:\|.*\n?)+)", page, re.MULTILINE)
    rows = re.findall(r"^\| ([^|]+) \| [^|]+ \| ([^|]+) \|$", "".join(tables), re.MULTILINE)
    assert rows, f"{name} has no table of {head}"
    return rows


HELD = [*_rows("safety.md", "hazard"), *_rows("security.md", "threat")]


@pytest.mark.parametrize(("hazard", "held"), HELD, ids=lambda text: text[:40])
def test_every_hazard_and_threat_names_tests_that_exist(hazard: str, held: str) -> None:
    named = re.findall(r"`([^`]+)`", held)
    assert named, f"{hazard}: no test holds it"
    for name in named:
        path, _, test = name.partition("::")
        if path.startswith("test_"):
            assert path in TESTS, name
        elif path.endswith(".toml"):
            assert (ROOT / "configs/sequences" / Path(path).name).is_file(), name
        else:
            assert (ROOT / path).exists(), name
            assert not test or test in (ROOT / path).read_text(encoding="utf-8"), name


def test_every_element_has_threats_and_every_kind_is_thought_of() -> None:
    page = (ROOT / "docs/security.md").read_text(encoding="utf-8")
    elements = re.findall(r"^### (.+)$", page, re.MULTILINE)
    assert elements == [
        "Broker and network", "Controller", "Monitor", "Nodes and radio", "Posts' devices", "Page", "Record",
        "Configuration and keys",
    ]  # fmt: skip
    kinds = {threat[0] for threat, _ in _rows("security.md", "threat")}
    assert kinds == set("STRIDE")


def test_the_safety_page_says_first_what_this_is_not() -> None:
    first = (ROOT / "docs/safety.md").read_text(encoding="utf-8").split("## ")[1]
    assert "not an emergency stop and not a safety-rated function" in " ".join(first.split())
