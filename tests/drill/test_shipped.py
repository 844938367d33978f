"""Every shipped drill: the model scores full marks, doing nothing fails, mistakes cost what they should."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pytest

from tests.drill.playing import NOBODY, SHIPPED, Job, drill, lost, played, played_all

NAMES = [path.stem for path in SHIPPED]
QUICK = ["spin-rejoins", "driver-out"]
SEEDS = range(1, 21)


TYPICAL = {
    "walking before calling": ("stalled-kart", "walks-first"),
    "the mirrored sector": ("spin-rejoins", "mirrored"),
    "the sector behind": ("hand-raised", "next-sector"),
    "waiting: he'll rejoin": ("spin-rejoins", "waits"),
    "lifting when the kart moves": ("stalled-kart", "lifts-early"),
    "lifting while a colleague is out": ("marshal-out", "lifts-early"),
    "blue to the faster kart": ("held-up", "wrong-kart"),
    "blue under yellow": ("blue-waits", "blue-in-yellow"),
    "no red when a driver climbs out": ("driver-out", "too-little"),
    "miscounting the karts home": ("straggler", "hurries"),
}
"""What trainees really get wrong, and where it is played; what it costs is held below, for every mistake."""


def test_there_are_as_many_as_were_asked_for() -> None:
    assert len(NAMES) >= 32


@pytest.mark.parametrize("what", TYPICAL)
def test_what_trainees_really_get_wrong_is_played_in_some_drill(what: str) -> None:
    name, slip = TYPICAL[what]
    assert slip in {mistake.slip for mistake in drill(name).file.mistake}


@pytest.mark.parametrize("name", NAMES)
def test_each_loads_and_names_three_typical_mistakes(name: str) -> None:
    assert len({mistake.says for mistake in drill(name).file.mistake}) >= 3


@pytest.mark.parametrize("name", QUICK)
def test_the_model_answer_scores_full_marks(name: str) -> None:
    score = played(Job(name, 1))
    assert lost(score) == []
    assert (score.percent, score.passed) == (100.0, True)


def test_doing_nothing_fails() -> None:
    score = played(Job("spin-rejoins", 1, NOBODY))
    assert (score.percent, score.passed) == (0.0, False)
    assert (score.seeing.hits, score.seeing.signals) == (0, 1)


def test_a_mirrored_sector_is_seen_but_called_wrongly() -> None:
    score = played(Job("spin-rejoins", 1, 1))
    lines = {line.name: line for line in score.lines}
    assert lines["yellow.call"].full
    assert lines["yellow.where"].got == 0
    assert not score.passed


# --- every drill, by every kind of marshal: over twenty seeds at night, over some of them on every commit


def some(name: str, count: int) -> list[int]:
    """Give a few seeds of a drill: others than its neighbours', and always the same."""
    first = NAMES.index(name) * 3
    return [SEEDS[(first + number) % len(SEEDS)] for number in range(count)]


def short_of_full_marks(jobs: Iterable[Job]) -> dict[tuple[str, int], object]:
    return {
        (job.drill, job.seed): lost(score)
        for job, score in played_all(jobs)
        if not score.passed or lost(score)
    }


def passed(jobs: Iterable[Job]) -> list[Job]:
    return [job for job, score in played_all(jobs) if score.passed]


def mistakes(name: str, seeds: Iterable[int]) -> Iterator[Job]:
    for seed in seeds:
        yield from (Job(name, seed, number) for number in range(len(drill(name).file.mistake)))


def unlost(jobs: Iterable[Job]) -> dict[tuple[str, str, int], set[str]]:
    """Give what mistakes should have lost and did not: by drill, slip and seed."""
    kept = {}
    for job, score in played_all(jobs):
        mistake = drill(job.drill).file.mistake[job.who]
        rest = set(mistake.loses) - {line.name for line in score.lost()}
        if rest:
            kept[job.drill, mistake.slip, job.seed] = rest
    return kept


@pytest.mark.gate
def test_every_model_answer_scores_full_marks() -> None:
    assert short_of_full_marks(Job(name, seed) for name in NAMES for seed in some(name, 2)) == {}


@pytest.mark.gate
def test_doing_nothing_fails_in_every_drill() -> None:
    assert passed(Job(name, seed, NOBODY) for name in NAMES for seed in some(name, 1)) == []


@pytest.mark.gate
def test_every_typical_mistake_loses_what_it_should() -> None:
    assert unlost(job for name in NAMES for job in mistakes(name, some(name, 1))) == {}


@pytest.mark.night
def test_every_model_answer_scores_full_marks_over_twenty_seeds() -> None:
    assert short_of_full_marks(Job(name, seed) for name in NAMES for seed in SEEDS) == {}


@pytest.mark.night
def test_doing_nothing_fails_in_every_drill_over_twenty_seeds() -> None:
    assert passed(Job(name, seed, NOBODY) for name in NAMES for seed in SEEDS) == []


@pytest.mark.night
def test_every_typical_mistake_loses_what_it_should_over_twenty_seeds() -> None:
    assert unlost(job for name in NAMES for job in mistakes(name, SEEDS)) == {}
