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


def _hazards() -> list[tuple[str, str]]:
    page = (ROOT / "docs/safety.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([^|]+) \| [^|]+ \| ([^|]+) \|$", page, re.MULTILINE)
    return [row for row in rows if row[0].strip("-") and row[0] != "hazard"]


@pytest.mark.parametrize(("hazard", "held"), _hazards(), ids=lambda text: text[:40])
def test_every_hazard_names_tests_that_exist(hazard: str, held: str) -> None:
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


def test_the_safety_page_says_first_what_this_is_not() -> None:
    first = (ROOT / "docs/safety.md").read_text(encoding="utf-8").split("## ")[1]
    assert "not an emergency stop and not a safety-rated function" in " ".join(first.split())
