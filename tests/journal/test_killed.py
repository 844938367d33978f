"""Killed in the middle of writing, at any moment: the chain holds and nothing acknowledged is gone."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest

from signals.journal import Draft, Journal, Kind, reader

WRITE = """
import sys
from pathlib import Path
from signals.journal import Draft, Journal, Kind
journal = Journal(Path(sys.argv[1]))
n = 0
while True:
    n += 1
    drafts = [Draft(kind=Kind.CALL, body={"n": n, "text": "x" * 200}, at=n, boot="b000", seq=n)] * (n % 3 + 1)
    print(journal.append_many(drafts)[-1].n, flush=True)
"""


@pytest.mark.parametrize("seed", range(4))
def test_killed_at_a_random_moment(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "journal.sqlite"
    dice = random.Random(seed)  # noqa: S311 - moments, not secrets
    acknowledged = 0
    for _ in range(2):
        acknowledged = _write_and_kill(path, after_lines=dice.randrange(1, 60))
        assert reader.last(path).n >= acknowledged
        assert reader.verify(path) == []
    again = Journal(path)
    again.append_many([Draft(kind=Kind.BOOT, body={}, at=1, boot="b001", seq=1)])
    again.close()
    assert reader.verify(path) == []


def _write_and_kill(path: Path, *, after_lines: int) -> int:
    """Give the last `n` that was acknowledged before the kill landed."""
    with subprocess.Popen(
        [sys.executable, "-c", WRITE, str(path)], stdout=subprocess.PIPE, text=True
    ) as writer:
        seen = [writer.stdout.readline() for _ in range(after_lines)]
        writer.kill()
        seen += writer.stdout.read().splitlines(keepends=True)
    return int([line for line in seen if line.endswith("\n")][-1])
