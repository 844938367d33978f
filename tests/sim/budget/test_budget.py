"""A response budget: what it adds up, what it prints, what it refuses; and that sessions bear it out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pytest
from msgspec.structs import replace

from signals.cli.app import run
from signals.venue.approach import reach_of
from sim.budget.computed import Asked, Computed, compute
from sim.budget.played import MEASURES, TERMS, Acting, Spread, checks, prepare, spread
from sim.budget.telling import Budget, sentences
from sim.study.run import plain

if TYPE_CHECKING:
    from signals.venue.model import Venue


def terms(computed: Computed) -> dict[str, tuple[float, float]]:
    return {term.name: (term.typical_s, term.late_s) for term in computed.terms}


def test_every_term_has_a_source_and_is_no_later_typically_than_late(venue: Venue) -> None:
    for stops in (False, True):
        found = compute(venue, Asked(stops=stops))
        assert [term.name for term in found.terms] == list(TERMS)
        assert all(0.0 <= term.typical_s <= term.late_s for term in found.terms)
        assert all(term.source for term in found.terms)


def test_a_way_is_its_terms_added_up(venue: Venue) -> None:
    found = compute(venue, Asked())
    parts = terms(found)
    seen = ("shown", "in sight", "understood", "slowed by the driver")
    assert found.driver.late_s == pytest.approx(sum(parts[name][1] for name in seen))
    assert found.limiter.typical_s == pytest.approx(parts["told"][0] + parts["slowed by the limiter"][0])
    assert found.limiter.typical_m < found.fastest_mps * found.limiter.typical_s


def test_a_later_marshal_costs_metres_before_the_call_and_none_after(venue: Venue) -> None:
    early, late = (compute(venue, Asked(delay_s=delay_s)) for delay_s in (1.0, 4.0))
    assert late.before_call_m[0] == pytest.approx(4 * early.before_call_m[0])
    assert late.limiter == early.limiter


def test_red_takes_longer_than_yellow_and_wet_longer_than_dry(venue: Venue) -> None:
    yellow, red = (compute(venue, Asked(stops=stops)) for stops in (False, True))
    assert red.limiter.typical_m > yellow.limiter.typical_m
    assert compute(venue, Asked(wet=True)).brake_mps2 < yellow.brake_mps2


def test_a_caution_that_reaches_back_too_little_is_told(venue: Venue) -> None:
    assert compute(venue, Asked()).kept
    hasty = replace(venue, timing=replace(venue.timing, reaction=0))
    found = compute(hasty, Asked(radio_s=2.0))
    assert not found.kept
    told = " ".join(sentences(Budget(found, None)))
    assert f"reach {reach_of(hasty):.0f} m back, which is NOT enough" in told


def test_heads_that_speak_for_nothing_are_in_sight_never(venue: Venue) -> None:
    mute = replace(venue, heads=tuple(replace(head, protects=()) for head in venue.heads))
    everything = tuple(sector.id for sector in venue.sectors)
    loud = replace(venue, heads=tuple(replace(head, protects=everything) for head in venue.heads))
    assert compute(mute, Asked()).unaware == 1.0
    assert 0.0 < compute(venue, Asked()).unaware < 1.0
    assert compute(loud, Asked()).unaware < 0.05


def test_what_was_never_reached_counts_for_nothing() -> None:
    assert spread([float("nan")]) is None
    assert spread([1.0, 3.0, float("nan"), 2.0]) == Spread(2.0, pytest.approx(2.9), 3)


# --- played: one session as it stands, many compiled


def test_nothing_but_the_call_slows_the_kart_behind(venue: Venue) -> None:
    ready = prepare(venue, Asked(stops=True), Acting.LIMITER, 4)
    row = dict(zip(MEASURES, plain(ready, 1).measures, strict=True))
    assert row["next_kmh"] > 0.0
    assert 0.1 <= row["next_told_s"] <= 0.3
    assert np.isnan(row["next_understood_s"])
    assert row["next_slow_s"] > row["next_told_s"]
    assert row["hits"] == 0.0


@pytest.mark.gate
@pytest.mark.parametrize("stops", [False, True])
@pytest.mark.parametrize("name", ["venue", "quarry"])
def test_sessions_bear_the_budget_out(request: pytest.FixtureRequest, name: str, stops: bool) -> None:
    from sim.budget.played import play  # noqa: PLC0415 - compiles

    venue: Venue = request.getfixturevalue(name)
    computed = compute(venue, Asked(stops=stops))
    played = play(venue, computed.asked, range(1, 301), 12, 2)
    limiter_m, driver_m = played.metres(Acting.LIMITER), played.metres(Acting.DRIVER)
    both_m = played.metres(Acting.BOTH)
    assert limiter_m is not None
    assert driver_m is not None
    assert both_m is not None
    assert min(limiter_m.sessions, both_m.sessions) > 100
    assert limiter_m.late <= computed.limiter.late_m
    assert driver_m.late <= computed.driver.late_m
    assert both_m.median <= min(limiter_m.median, driver_m.median) + 0.5
    for check in checks(computed, played):
        print(f"{check.says:<42} {check.computed:7.2f} {check.simulated:7.2f} {check.difference:+.1%}")


# --- the command


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as ended:
        run(["budget", *arguments])
    out, err = capsys.readouterr()
    return int(ended.value.code or 0), out, err


def test_json_has_both_calls_and_every_source(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = told(capsys, "--sessions", "0", "--json")
    budgets = json.loads(out)["budgets"]
    assert code == 0
    assert [each["called"] for each in budgets] == ["yellow", "red"]
    assert [term["until"] for term in budgets[0]["terms"]] == list(TERMS)
    assert "Olson" in json.dumps(budgets[0]["terms"])
    assert budgets[0]["kept"] is True


def test_people_read_tables_sentences_and_the_caution(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = told(capsys, "--sessions", "0", "--delay-s", "4")
    assert code == 0
    assert "yellow is called" in out
    assert "The fastest kart" in out
    assert "not safety-rated" in out


def test_a_call_that_comes_too_late_falls_short(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = told(capsys, "--sessions", "0", "--radio-s", "3")
    assert code == 1
    assert "NOT enough" in out


def test_bad_input_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "--venue", "nowhere.toml")[0] == 2
    assert told(capsys, "--delay-s", "-1")[0] == 2
