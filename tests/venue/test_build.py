"""Defaults, and what is derived: approach, the head before, places, the digest."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from signals.venue import load
from signals.venue.approach import approach_m, ramp_m, reach_of, reaction_m
from signals.venue.geometry import Polyline
from signals.venue.model import Venue
from signals.venue.wires import COLUMNS
from signals.words import Aspect, HeadRole

Plant = Callable[..., Path]
CONFIGS = Path(__file__).parents[2] / "configs"


@pytest.fixture(scope="module")
def harbour() -> Venue:
    return load(CONFIGS / "harbour-loop.toml")


@pytest.fixture(scope="module")
def quarry() -> Venue:
    return load(CONFIGS / "quarry-ring.toml")


def test_harbour_loop_is_what_others_rely_on(harbour: Venue) -> None:
    assert [sector.id for sector in harbour.sectors] == ["s1", "s2", "s3", "s4", "s5", "s6", "pit"]
    assert 390 <= harbour.length_m <= 410
    assert len(harbour.heads) == 16
    assert [kart.number for kart in harbour.karts] == list(range(1, 13))
    assert list(harbour.limits.classes.items()) == [("junior", 28), ("adult", 45)]
    assert harbour.choices.start == "one-by-one"
    assert {post.id: set(post.covers) for post in harbour.posts} == {
        "desk": {"s1", "s2", "s3", "s4", "s5", "s6", "pit"},
        "p1": {"s1", "s2", "s3"},
        "p2": {"s4", "s5", "s6", "pit"},
    }
    assert {head.id for head in harbour.heads if head.number} == {"h1", "h4", "fin1"}
    assert harbour.simulated


def test_harbour_loop_keeps_adults_within_the_indoor_limit(harbour: Venue) -> None:
    assert harbour.limits.classes["adult"] <= 28 * 1.609344  # 28 mph, 13 NCAC 15 .0429(a), STANDARDS K1


def test_quarry_ring_chooses_otherwise(quarry: Venue) -> None:
    assert (len(quarry.sectors), len(quarry.heads), len(quarry.karts)) == (13, 20, 20)
    assert 850 <= quarry.length_m <= 950
    assert quarry.choices.start == "grid"
    assert quarry.choices.finish_slow == "at-line"
    assert quarry.choices.finish_aspect is Aspect.YELLOW
    assert quarry.choices.fail_aspect[HeadRole.TRACK] is Aspect.RED
    assert quarry.limits.stop > 0
    assert list(quarry.limits.classes) == ["child", "junior", "adult"]


def test_the_ramp_from_45_to_15_takes_35_m_and_the_reaction_12_5(harbour: Venue) -> None:
    assert ramp_m(45, 15, 2) == pytest.approx(34.7, abs=0.05)
    assert reaction_m(45, 1000) == pytest.approx(12.5)
    assert reach_of(harbour) == pytest.approx(47.2, abs=0.05)


def test_a_class_slower_than_caution_needs_no_ramp() -> None:
    assert ramp_m(10, 15, 2) == 0


def test_approach_takes_the_longer_of_dry_and_wet(plant: Plant) -> None:
    slippery = load(plant(more="\n[conditions.wet.ramp_mps2]\nfall = 0.5\n"))
    assert reach_of(slippery) == approach_m(slippery.limits_wet, slippery.ramp_wet, slippery.timing.reaction)
    assert reach_of(slippery) > approach_m(slippery.limits, slippery.ramp, slippery.timing.reaction)


def test_approach_holds_every_sector_touched_and_the_pit_where_it_joins(small: Venue) -> None:
    assert {sector.id: sector.approach for sector in small.sectors} == {
        "a": ("b", "pit"),
        "b": ("a",),
        "pit": ("b",),
    }


@pytest.mark.parametrize(("to_m", "approach"), [(68, ("c",)), (69, ("a", "c"))])
def test_approach_ends_where_the_metres_end(plant: Plant, to_m: int, approach: tuple[str, ...]) -> None:
    """From the start of b at 116 m, 47.22 m back is 68.78 m: an end at 69 m is within, one at 68 m is not."""
    third = (
        f'to_m = {to_m}\n\n[[sector]]\nid = "c"\nname = "3 New"\nfrom_m = {to_m}\nto_m = 116\n\n[[sector]]'
    )
    venue = load(plant(("to_m = 116\n\n[[sector]]", third)))
    assert next(sector.approach for sector in venue.sectors if sector.id == "b") == approach


def test_the_head_before_is_no_twin_and_no_pit_exit(small: Venue, harbour: Venue) -> None:
    assert {head.id: head.before for head in small.heads} == {
        "a1": "b2",
        "a2": "a1",
        "b1": "a2",
        "b2": "b1",
        "px1": "a1",
        "px2": "a1",
    }
    before = {head.id: head.before for head in harbour.heads}
    assert before["h3"] == "r2"
    assert before["fin1"] == before["fin2"] == "h1"
    assert before["h1"] == "r6"


def test_a_head_stands_beside_the_track_and_faces_the_drivers(small: Venue) -> None:
    heads = {head.id: head for head in small.heads}
    assert (heads["a2"].x_m, heads["a2"].y_m) == pytest.approx((50, -4.5))  # half of 7 m, and 1 m of verge
    assert heads["a2"].facing_deg == pytest.approx(180)
    assert (heads["px1"].x_m, heads["px1"].y_m) == pytest.approx((35, 5))
    assert heads["b1"].facing_deg == 310


def test_defaults(small: Venue) -> None:
    assert small.limits.reverse == 4
    assert small.limits.boost == 5
    assert (small.ramp.fall, small.ramp.rise) == (2, 1)
    assert (small.timing.armed, small.timing.gap, small.timing.move_over, small.timing.show) == (
        60_000,
        5_000,
        20_000,
        10_000,
    )
    assert small.timing.lease_head == 500
    assert {node.id: node.lease_ms for node in small.nodes} == {"n1": 400, "n2": 500, "k1": 900}
    assert {each.id: each.sector for each in small.inputs} == {"gate": "pit", "box": "b"}
    assert small.choices.fail_aspect == {
        HeadRole.TRACK: Aspect.RED,
        HeadRole.START: Aspect.RED,
        HeadRole.FINISH: Aspect.YELLOW_FLASH,
        HeadRole.PIT_EXIT: Aspect.RED,
    }
    assert "stop" not in small.posts[0].may
    assert {"lift", "clear", "start"} <= set(small.posts[0].may)


def test_default_lamps_light_what_the_role_needs(small: Venue) -> None:
    heads = {head.id: head.aspects for head in small.heads}
    assert heads["a1"][Aspect.RED_YELLOW] == ("red", "yellow")
    assert heads["a1"][Aspect.NUMBER] == ("number",)
    assert Aspect.RED_YELLOW not in heads["px1"]
    assert heads["a2"][Aspect.RED] == ("top",)
    assert all(aspects[Aspect.DARK] == () for aspects in heads.values())


@pytest.mark.parametrize(("setting", "adult"), [("indoor", 45), ("outdoor", 55)])
def test_default_classes_follow_the_setting(plant: Plant, setting: str, adult: int) -> None:
    venue = load(
        plant(
            ("classes = { junior = 28, adult = 45 }\n", ""),
            ("finish = 16\n", ""),
            ('name = "Small"', f'name = "Small"\nsetting = "{setting}"'),
        )
    )
    assert list(venue.limits.classes.items()) == [("child", 15), ("junior", 28), ("adult", adult)]


def test_the_wet_is_slower_and_slopes_less(small: Venue) -> None:
    assert small.limits_wet.classes == {"junior": 20, "adult": 36}  # given, and 0.8 of 45
    assert small.limits_wet.pit == 6
    assert small.limits_wet.caution == small.limits.caution
    assert (small.ramp_wet.fall, small.ramp_wet.rise) == (1.4, 0.7)


def test_the_digest_covers_the_file_and_the_files_it_names(tmp_path: Path) -> None:
    for name in ("quarry-ring.toml", "quarry-ring.csv"):
        (tmp_path / name).write_bytes((CONFIGS / name).read_bytes())
    first = load(tmp_path / "quarry-ring.toml")
    assert len(first.digest) == 64
    assert first.digest == load(tmp_path / "quarry-ring.toml").digest
    csv = tmp_path / "quarry-ring.csv"
    csv.write_text(csv.read_text(encoding="utf-8").replace("4.50,4.50", "4.50,4.49", 1), encoding="utf-8")
    assert load(tmp_path / "quarry-ring.toml").digest != first.digest


def test_a_wiring_table_is_found_and_counted_in_the_digest(plant: Plant, small: Venue) -> None:
    path = plant(more='\n[wiring]\ntable = "wires.csv"\n')
    header = ",".join(COLUMNS)
    (path.parent / "wires.csv").write_text(f"{header}\n", encoding="utf-8")
    venue = load(path)
    assert venue.wiring == path.parent / "wires.csv"
    assert small.wiring is None
    (path.parent / "wires.csv").write_text(f"{header}\n\n", encoding="utf-8")
    assert load(path).digest != venue.digest


SQUARE = Polyline(((0, 0, 2, 3), (10, 0, 2, 3), (10, 10, 4, 3), (0, 10, 2, 3)), closed=True)


def test_arithmetic_along_a_closed_line() -> None:
    assert SQUARE.length_m == 40
    assert SQUARE.point(45) == pytest.approx((5, 0))
    assert SQUARE.point(-5) == pytest.approx((0, 5))
    assert SQUARE.point(15, left_m=1) == pytest.approx((9, 5))
    assert SQUARE.heading_deg(25) == pytest.approx(180)
    assert SQUARE.reach_m(15) == (3, 3)
    assert SQUARE.ahead(35, 5) == 10
    assert SQUARE.area_m2() == 100


def test_arithmetic_along_an_open_line() -> None:
    line = Polyline(((0, 0, 1, 1), (3, 4, 1, 1)), closed=False)
    assert line.length_m == 5
    assert line.point(9) == pytest.approx((3, 4))
    assert line.point(-9) == pytest.approx((0, 0))
    assert line.heading_deg(1) == pytest.approx(math.degrees(math.atan2(4, 3)))
