"""Verbs as a technician types them: a bad venue file, a folder in use."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.system.outside import Listener, Run, kerblight, with_broker

VENUE = Path(__file__).parents[2] / "configs" / "harbour-loop.toml"
PLANTED = (
    ('direction = "clockwise"', 'direction = "sideways"', "venue.direction"),
    ("start_line_m = 6\n", 'start_line_m = "six"\n', "track.start_line_m"),
    ('covers = ["s1", "s2", "s3"]', 'covers = ["s1", "s2", "s9"]', "s9"),
    ('sector = "s3"', 'sector = "s33"', "s33"),
    ("caution = 15\n", "caution = -15\n", "limits_kmh.caution"),
    ("flash_lit_ms = 500", "flash_lit_ms = 1500", "flash_lit_ms"),
    ('timezone = "UTC"', 'timezone = "Harbour/Loop"', "operating.timezone"),
    ('start = "one-by-one"', 'start = "one-by-won"', "choices.start"),
)


def planted(to: Path) -> Path:
    """Write the venue with all the mistakes."""
    text = VENUE.read_text(encoding="utf-8")
    for right, wrong, _ in PLANTED:
        assert text.count(right) == 1, right
        text = text.replace(right, wrong)
    to.write_text(text, encoding="utf-8")
    return to


@pytest.mark.parametrize("verb", [("venue", "lint"), ("run", "--headless", "--venue")], ids=" ".join)
def test_eight_mistakes_are_eight_messages_and_exit_code_2(tmp_path: Path, verb: tuple[str, ...]) -> None:
    file = planted(tmp_path / "planted.toml")
    came = kerblight(*verb, str(file), cwd=tmp_path)
    assert came.returncode == 2, came.stdout + came.stderr
    said = re.sub(r"[\s│]+", "", came.stdout + came.stderr)
    lines = {f"{file.name}:{line}" for line in re.findall(rf"{file.name}:(\d+)", said)}
    assert len(lines) == len(PLANTED), said
    assert all(name in said for *_, name in PLANTED), said
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.broker
@pytest.mark.usefixtures("desk")
class TestBesideARun:
    pytestmark = with_broker

    def test_a_second_run_on_the_same_folder_is_refused_and_the_first_goes_on(
        self, run: Run, everything: Listener
    ) -> None:
        children = run.children()
        came = kerblight("run", "--headless", "--data", str(run.data))
        assert came.returncode == 2
        said = " ".join(came.stderr.replace("│", " ").split())
        assert f"process {run.process.pid}" in said
        assert "--data" in said
        assert run.children() == children
        beat = everything.says("beat")["seq"]
        assert everything.until(lambda: everything.says("beat")["seq"] > beat)

    def test_the_journal_is_whole_while_it_is_written(self, run: Run) -> None:
        came = kerblight("journal", "verify", "--data", str(run.data))
        assert (came.returncode, came.stdout.partition(":")[0]) == (0, "whole"), came.stderr
