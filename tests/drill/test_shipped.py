"""Every shipped drill: the model scores full marks, doing nothing fails, mistakes cost what they should."""

from __future__ import annotations

import pytest

from tests.drill.playing import MODEL, NOBODY, SHIPPED, Job, drill, lost, played, played_all

NAMES = [path.stem for path in SHIPPED]
QUICK = ["spin-rejoins", "driver-out"]
SEEDS = range(1, 21)


def test_there_are_as_many_as_were_asked_for() -> None:
    assert len(NAMES) >= 32


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


def short_of_full_marks(seeds: range) -> dict[tuple[str, int], object]:
    return {
        (job.drill, job.seed): lost(score)
        for job, score in played_all(Job(name, seed, MODEL) for name in NAMES for seed in seeds)
        if not score.passed or lost(score)
    }


@pytest.mark.gate
def test_every_model_answer_scores_full_marks() -> None:
    assert short_of_full_marks(SEEDS[:1]) == {}


@pytest.mark.night
def test_every_model_answer_scores_full_marks_over_twenty_seeds() -> None:
    assert short_of_full_marks(SEEDS) == {}


@pytest.mark.gate
def test_doing_nothing_fails_in_every_drill() -> None:
    assert [
        job.drill for job, score in played_all(Job(name, 2, NOBODY) for name in NAMES) if score.passed
    ] == []


@pytest.mark.gate
def test_every_typical_mistake_loses_what_it_should() -> None:
    jobs = [Job(name, 2, number) for name in NAMES for number in range(len(drill(name).file.mistake))]
    kept = {}
    for job, score in played_all(jobs):
        mistake = drill(job.drill).file.mistake[job.who]
        unlost = set(mistake.loses) - {line.name for line in score.lost()}
        if unlost:
            kept[job.drill, mistake.slip] = unlost
    assert kept == {}
