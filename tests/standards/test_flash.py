"""Flash patterns against published values; the marks R, Q, M, D say how each source was read."""

from __future__ import annotations

import pytest

from signals.cli.options import DEFAULT_VENUE
from signals.flash import FLASHES_PER_SECOND, check_pattern, is_saturated_red, lit, most_in_a_second
from signals.venue import load
from signals.words import Aspect


def test_a_lamp_is_lit_for_the_first_part_of_every_period_of_the_clock() -> None:
    assert [lit(now_ms, 1000, 600) for now_ms in (0, 599, 600, 999, 1000, 7_000_599)] == [
        *(True, True, False, False, True, True)
    ]


@pytest.mark.parametrize(
    ("period_ms", "lit_ms"),
    [(1200, 600), (1200, 800), (1000, 500), (1000, 667)],
)
def test_f1_50_to_60_a_minute_lit_half_to_two_thirds(period_ms: float, lit_ms: float) -> None:
    """F1 (Q, D): MUTCD 11th ed. section 4G.01."""
    assert check_pattern([(lit_ms, period_ms - lit_ms)] * 3) == []


@pytest.mark.parametrize(
    ("period_ms", "lit_ms"),
    [(1250, 650), (950, 500), (1200, 570), (1200, 840), (1000, 470), (1000, 700), (1000, 0)],
)
def test_f1_what_lies_outside_is_rejected(period_ms: float, lit_ms: float) -> None:
    """F1 (Q, D): MUTCD 11th ed. section 4G.01."""
    assert check_pattern([(lit_ms, period_ms - lit_ms)] * 3)


def test_f2_two_quick_flashes_and_a_slow_one_are_rejected_although_their_mean_is_right() -> None:
    """F2 (R): FHWA interpretation 4(09)-64."""
    cycles = [(250.0, 250.0), (250.0, 250.0), (1000.0, 1000.0)]
    total = sum(on + off for on, off in cycles)
    assert len(cycles) * 60_000 / total == 60
    assert sum(on for on, _ in cycles) / total == 0.5
    found = check_pattern(cycles)
    assert any("cycle 1 makes 120.0" in said for said in found)
    assert any("cycle 3 makes 30.0" in said for said in found)
    assert any("not constant" in said for said in found)


def test_f2_an_unsteady_rate_is_rejected_even_where_every_cycle_is_allowed() -> None:
    """F2 (R): FHWA interpretation 4(09)-64 (the rate must be constant)."""
    assert check_pattern([(600, 600), (500, 500)]) == ["the rate is not constant: cycles of 1000 to 1200 ms"]


def test_f3_a_limping_hazard_flash_is_rejected_by_its_cycles() -> None:
    """F3 (R): NHTSA interpretation on hazard flashers (60 to 120 a minute, SAE J945)."""
    found = check_pattern([(160, 200), (160, 200), (160, 620)], per_minute=(60, 120))
    assert [said for said in found if "makes" in said] == [
        "cycle 1 makes 166.7 flashes a minute, not 60 to 120",
        "cycle 2 makes 166.7 flashes a minute, not 60 to 120",
    ]
    assert any("not constant" in said for said in found)


def onsets(period_ms: float, *, phase_ms: float = 0.0) -> list[float]:
    return [phase_ms + number * period_ms for number in range(20)]


def test_f4_lamps_in_one_phase_stay_under_three_flashes_in_any_second() -> None:
    """F4 (R): WCAG 2.2, success criterion 2.3.1."""
    assert most_in_a_second(onsets(1000) + onsets(1000) + onsets(1000)) == 1
    assert most_in_a_second(onsets(334)) == 3 <= FLASHES_PER_SECOND


def test_f4_all_lamps_count_together_and_any_second_counts() -> None:
    """F4 (R): WCAG 2.2, success criterion 2.3.1."""
    apart = [stamp for phase_ms in (0, 250, 500, 750) for stamp in onsets(1000, phase_ms=phase_ms)]
    assert most_in_a_second(apart) == 4 > FLASHES_PER_SECOND
    assert most_in_a_second([800, 900, 1100, 1200]) == 4, "two in each clock second, four in one second"


@pytest.mark.parametrize(
    ("rgb", "saturated"), [((255, 0, 0), True), ((8, 1, 1), True), ((79, 11, 10), False)]
)
def test_f5_saturated_red(rgb: tuple[int, int, int], saturated: bool) -> None:
    """F5 (R): WCAG 2.2, red flash threshold: R/(R+G+B) >= 0.8."""
    assert is_saturated_red(*rgb) is saturated


def test_f7_flashing_outranks_steady_of_the_same_lamp() -> None:
    """F7 (Q): Directive 92/58/EEC Annex VI. Aspects stand most restrictive first."""
    order = list(Aspect)
    assert order.index(Aspect.YELLOW_FLASH) < order.index(Aspect.YELLOW)


def test_the_flash_of_the_demo_venue_keeps_f1_and_f4() -> None:
    """F1 (Q, D) and F4 (R), on what is really configured."""
    choices = load(DEFAULT_VENUE).choices
    on_ms, period_ms = choices.flash_lit_ms, choices.flash_period_ms
    assert check_pattern([(on_ms, period_ms - on_ms)] * 5) == []
    lamp = [lit(now_ms, period_ms, on_ms) for now_ms in range(10_000)]
    begun = [now_ms for now_ms in range(1, 10_000) if lamp[now_ms] and not lamp[now_ms - 1]]
    assert 0 < most_in_a_second(begun) <= FLASHES_PER_SECOND
