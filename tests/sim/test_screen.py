"""The picture: where things stand, that nothing covers anything, that what must be seen is drawn."""

from __future__ import annotations

from itertools import combinations

import msgspec
import numpy as np
import numpy.typing as npt
import pygame
import pytest

from signals.actions import ACTIONS
from signals.look import DARK, SMALL_PX, rgb
from signals.mqtt import contract as c
from signals.picture import Level
from signals.venue.model import Venue
from signals.words import Aspect, Because
from sim.view.layout import arrange, scale_of
from sim.view.pages import HELP_LINES, help_row
from sim.view.paint import Brush
from sim.view.picture import picture
from sim.view.screen import Screen
from sim.view.trackmap import TrackMap
from tests.sim.story import Story

SIZES = [(1024, 700), (1280, 800), (1366, 768), (1600, 900), (1920, 1080), (1920, 1200), (2560, 1600)]
Pixels = npt.NDArray[np.uint8]


@pytest.fixture
def racing(story: Story) -> Story:
    story.group_in()
    story.race()
    story.tell()
    return story


def screen_of(story: Story, size: tuple[int, int] = (1280, 800)) -> Screen:
    screen = Screen(pygame.Surface(size), story.desk, story.hands)
    screen.draw(story.now_s)
    return screen


def pixels(surface: pygame.Surface, area: pygame.Rect | None = None) -> Pixels:
    return pygame.surfarray.array3d(surface.subsurface(area) if area else surface)


def share(of: Pixels, colour: str) -> float:
    return float(np.mean(np.all(of == np.array(rgb(colour)), axis=2)))


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(
    ("sectors", "items", "karts", "aspect"), [(7, 4, 12, 1.7), (13, 5, 20, 1.6), (4, 2, 6, 0.8)]
)
def test_panels_never_overlap_and_stay_inside(
    size: tuple[int, int], sectors: int, items: int, karts: int, aspect: float
) -> None:
    layout = arrange(size, sectors=sectors, items=items, karts=karts, aspect=aspect)
    whole = pygame.Rect((0, 0), size)
    for name, area in layout.panels().items():
        assert whole.contains(area), name
        assert min(area.size) >= 30, name
    for (one, first), (other, second) in combinations(layout.panels().items(), 2):
        assert not first.colliderect(second), f"{one} covers {other}"
    assert layout.map.height >= 200


def test_the_scale_follows_the_display_from_1_to_2() -> None:
    assert [
        scale_of(size) for size in ((1024, 700), (1280, 800), (1920, 1080), (1920, 1200), (3840, 2160))
    ] == [1, 1, 1.25, 1.5, 2]


def test_calls_stand_in_the_same_place_whatever_happens(racing: Story) -> None:
    screen = screen_of(racing)
    before = list(screen._touched["calls"])
    racing.hold("stop")
    racing.put(1, "s1", 0, Because.STOP)
    racing.press("L")
    racing.later(1)
    racing.tell()
    screen.draw(racing.now_s)
    assert screen._touched["calls"] == before


@pytest.mark.parametrize("size", [(1024, 700), (1280, 800), (1920, 1080)])
@pytest.mark.parametrize("name", ["venue", "quarry"])
def test_everything_that_has_a_key_can_be_clicked(
    name: str, size: tuple[int, int], request: pytest.FixtureRequest
) -> None:
    venue: Venue = request.getfixturevalue(name)
    story = Story(venue)
    story.group_in()
    story.tell()
    story.world({})
    screen = screen_of(story, size)
    found = {target for touched in screen._touched.values() for _, target in touched}
    assert {f"do:{action.id}" for action in ACTIONS} <= found
    assert {f"item:{item.id}" for item in venue.checklist} <= found
    assert {f"sector:{sector.id}" for sector in venue.sectors} <= found
    assert {f"kart:{kart.number}" for kart in venue.karts} <= found
    assert {f"head:{head.id}" for head in venue.heads} <= found
    assert {"next", "help", "more"} <= found
    for touched in ("calls", "checklist", "ribbon"):
        for box, target in screen._touched[touched]:
            assert screen.target(box.center) == target


def test_a_click_on_the_road_chooses_its_sector(racing: Story) -> None:
    screen = screen_of(racing)
    left, right = screen.map.ground.sectors["s2"]
    middle = (pygame.Vector2(left[20]) + pygame.Vector2(right[20])) / 2 + screen.layout.map.topleft
    assert screen.target((round(middle.x), round(middle.y))) == "sector:s2"


@pytest.mark.parametrize("size", [(1024, 700), (1280, 800), (1920, 1080)])
def test_labels_and_heads_do_not_cover_each_other(racing: Story, size: tuple[int, int]) -> None:
    ground = screen_of(racing, size).map.ground
    heads = [
        pygame.Rect(0, 0, ground.head_px, ground.head_px).move_to(center=spot)
        for spot in ground.heads.values()
    ]
    boxes = [*ground.labels.values(), *heads]
    for one, other in combinations(boxes, 2):
        shared = one.clip(other)
        assert shared.width * shared.height <= 16


def test_nothing_is_written_smaller_than_the_smallest_type(
    racing: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    sizes: set[int] = set()
    write = Brush.write

    def spy(
        self: Brush,
        on: pygame.Surface,
        text: str,
        at: tuple[int, int],
        size: int = SMALL_PX,
        *rest: str,
        **more: object,
    ) -> pygame.Rect:
        sizes.add(size)
        return write(self, on, text, at, size, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Brush, "write", spy)
    racing.hold("caution", "s3")
    racing.press("L")
    racing.tell()
    screen_of(racing)
    assert sizes <= {14, 18, 24, 36}


def texts(racing: Story, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int] = (1280, 800)) -> list[str]:
    written: list[str] = []
    write = Brush.write

    def spy(self: Brush, on: pygame.Surface, text: str, *rest: object, **more: object) -> pygame.Rect:
        written.append(text)
        return write(self, on, text, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Brush, "write", spy)
    screen_of(racing, size)
    return written


@pytest.mark.parametrize("size", [(1024, 700), (1280, 800)])
@pytest.mark.parametrize("count", [1, 4, 6, 13])
def test_all_reasons_of_a_long_refusal_can_be_read(
    racing: Story, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], count: int
) -> None:
    racing.press("S", "Enter")
    sentences = [
        f"Reason {n}: yellow stands in 3 Hairpin, placed by post 2 at 14:{n:02d} (spin)."
        for n in range(count)
    ]
    racing.answer(*((f"r{n}", sentence) for n, sentence in enumerate(sentences)))
    racing.later(1)
    racing.tell()
    read = " ".join(texts(racing, monkeypatch, size))
    assert "Start refused." in read
    if count <= (4 if size[0] < 1280 else 6):
        assert all(sentence in read for sentence in sentences)
    for _ in range(6):
        racing.press("PageDown")
        read += " ".join(texts(racing, monkeypatch, size))
    assert all(f"Reason {n}:" in read for n in range(count))


def test_what_this_is_not_is_always_said(story: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    story.tell()
    assert any("Not an emergency stop" in text for text in texts(story, monkeypatch))


def test_a_simulated_venue_is_marked(story: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    story.tell()
    drawn: list[str] = []
    text = Brush._text
    monkeypatch.setattr(
        Brush,
        "_text",
        lambda self, said, *rest, **more: drawn.append(said) or text(self, said, *rest, **more),
    )
    screen_of(story)
    assert "SIMULATED" in drawn


def test_a_lost_link_covers_the_map_within_a_second(racing: Story) -> None:
    area = screen_of(racing).layout.map
    fine = picture(racing.desk, racing.hands, racing.now_s)
    racing.later(0.95)
    lost = picture(racing.desk, racing.hands, racing.now_s)
    assert share(pixels(lost, area), DARK.text) > 0.08 > share(pixels(fine, area), DARK.text)
    assert share(pixels(fine, area), DARK.green) > 0.01
    assert share(pixels(lost, area), DARK.green) == 0


def test_a_yellow_sector_is_hatched_and_its_heads_flash_in_one_phase(racing: Story) -> None:
    racing.hold("caution", "s3")
    racing.later(1)
    racing.tell()
    area = screen_of(racing).layout.map
    racing.now_s = base_s = float(int(racing.now_s))
    racing.still()
    lit = pixels(picture(racing.desk, racing.hands, base_s + 0.1), area)
    dark = pixels(picture(racing.desk, racing.hands, base_s + 0.55), area)
    changed = np.any(lit != dark, axis=2)
    heads = screen_of(racing).map.ground.heads
    for x, y in (heads["h3"], heads["r3"]):
        assert changed[x - 10 : x + 10, y - 10 : y + 10].mean() > 0.2
        changed[x - 20 : x + 20, y - 20 : y + 20] = False
    assert not changed.any(), "only the two heads of 3 Hairpin flash"
    assert share(lit, DARK.yellow) > 0.01


def test_reduced_motion_keeps_flashing_lamps_steady_and_hatched(racing: Story) -> None:
    racing.hold("caution", "s3")
    racing.later(1)
    racing.tell()
    racing.now_s = base_s = float(int(racing.now_s))
    racing.still()
    area = screen_of(racing).layout.map
    flashing = pixels(picture(racing.desk, racing.hands, base_s + 0.1), area)
    racing.press("M")
    one, other = (pixels(picture(racing.desk, racing.hands, base_s + part), area) for part in (0.1, 0.55))
    assert np.array_equal(one, other)
    assert not np.array_equal(one, flashing)


def test_the_windows_own_flashes_stay_below_3_a_second(racing: Story) -> None:
    # WCAG 2.2, 2.3.1 (STANDARDS F4), on what is really drawn: all heads together, one frame every 50 ms.
    racing.holds = []
    for sector in ("s1", "s2", "s3", "s4", "s5", "s6"):
        racing.hold("caution", sector)
    racing.tell()
    screen = screen_of(racing)
    levels = []
    for _ in range(60):
        racing.later(0.05)
        racing.beat()
        racing.still()
        for head, (shown, _) in list(racing.desk.shown.items()):
            racing.desk.shown[head] = (shown, racing.now_s)
        screen.draw(racing.now_s)
        levels.append(pixels(screen.surface, screen.layout.map).astype(float).mean())
    rises = [index for index in range(1, 60) if levels[index] - levels[index - 1] > 0.1]
    assert 2 <= len(rises) <= 3, "three seconds at 60 flashes a minute"
    for start in range(40):
        assert sum(start <= rise < start + 20 for rise in rises) <= 3


def test_a_head_that_shows_something_else_is_framed(racing: Story) -> None:
    racing.shown = {"h2": Aspect.RED}
    racing.tell()
    racing.later(0.6)
    racing.tell()
    screen = screen_of(racing)
    x, y = screen.map.ground.heads["h2"]
    around = pixels(
        screen.surface,
        pygame.Rect(0, 0, 40, 40).move_to(center=(x + screen.layout.map.x, y + screen.layout.map.y)),
    )
    x, y = screen.map.ground.heads["h4"]
    other = pixels(
        screen.surface,
        pygame.Rect(0, 0, 40, 40).move_to(center=(x + screen.layout.map.x, y + screen.layout.map.y)),
    )
    assert share(around, DARK.text) > 0.05 > share(other, DARK.text)


def test_rings_are_told_apart_in_greyscale(venue: Venue) -> None:
    track_map = TrackMap(venue, pygame.Rect(0, 0, 640, 480), Brush())
    greys = {}
    for level in Level:
        ground = pygame.Surface((48, 48))
        ground.fill(rgb(DARK.track))
        ground.blit(track_map.body.turned(level, 0, stale=False, chosen=False), (0, 0))
        greys[level] = pixels(ground).astype(float) @ np.array([0.2126, 0.7152, 0.0722])
    for one, other in combinations(Level, 2):
        assert np.mean(np.abs(greys[one] - greys[other]) > 30) > 0.02, (one, other)


@pytest.mark.parametrize("size", [(1024, 700), (1280, 800), (1920, 1080)])
def test_the_help_page_holds_every_line(story: Story, size: tuple[int, int]) -> None:
    story.tell()
    story.press("F1")
    screen = screen_of(story, size)
    width = (size[0] - 2 * screen.brush.px(32)) // 3 - screen.brush.px(16) - screen.brush.px(52)
    for action in ACTIONS:
        assert len(screen.brush.wrap(action.line, SMALL_PX, width)) <= HELP_LINES, action.id
    assert help_row(screen.surface, screen.brush) >= screen.brush.px(48)
    assert screen.target((10, 10)) == "help"


def test_a_still_window_is_hardly_drawn(racing: Story) -> None:
    screen = screen_of(racing)
    base_s = float(int(racing.now_s)) + 0.05
    screen.draw(base_s)
    assert screen.draw(base_s + 0.01) == [screen.layout.map]


def in_trouble(racing: Story) -> None:
    """Give every kart something that moves on the screen, and put people and parts on the road."""
    events = ("smoke", "hand-raised", "loose-clothing", "kart-button", "spin", "smoke")
    signs: list[dict[str, object]] = [
        {"event": event, "kart": kart}
        for event, kart in zip(events, racing.desk.picture.members(), strict=True)
    ]
    signs.append({"event": "debris", "x_m": 60.0, "y_m": 6.0})
    person = c.WorldPerson(who="marshal", x_m=40.0, y_m=6.0, at_m=27.0, doing="walks", on_road=True)
    view = msgspec.structs.replace(
        racing.desk.worlds[-1][1], at_ms=racing.wall(), incidents=signs, people=[person], wet=True
    )
    racing.say("world", view)


def test_what_drifts_and_waves_flashes_in_no_place(racing: Story) -> None:
    # WCAG 2.2, general flash: opposing changes of relative luminance of 10 % or more, the darker below 0.80;
    # more than three in a second only within a quarter of 341 x 256 pixels (STANDARDS F4).
    for sector in ("s1", "s2", "s3", "s4", "s5", "s6"):
        racing.hold("caution", sector)
    racing.tell()
    screen = screen_of(racing)
    frames = []
    for _ in range(60):
        racing.later(0.05)
        racing.beat()
        in_trouble(racing)
        for head, (shown, _) in list(racing.desk.shown.items()):
            racing.desk.shown[head] = (shown, racing.now_s)
        screen.draw(racing.now_s)
        light = (pixels(screen.surface, screen.layout.map).astype(float) / 255) ** 2.2
        frames.append(light @ np.array([0.2126, 0.7152, 0.0722]))
    light = np.array(frames)
    rises = (np.diff(light, axis=0) >= 0.1) & (light[:-1] < 0.8)
    in_a_second = np.array([rises[start : start + 20].sum(axis=0) for start in range(40)]).max(axis=0)
    assert in_a_second.max() >= 1, "something moves"
    assert (in_a_second > 3).sum() < 341 * 256 / 4 / 10


def test_rain_is_seen_without_its_word_on_the_road_and_beside_it(racing: Story) -> None:
    screen = screen_of(racing)
    dry = pixels(screen.surface, screen.layout.map).copy()
    racing.say("world", msgspec.structs.replace(racing.desk.worlds[-1][1], at_ms=racing.wall(), wet=True))
    screen.draw(racing.now_s)
    named = pixels(screen.surface, screen.layout.map).copy()
    racing.press("F7")
    screen.draw(racing.now_s)
    wet = pixels(screen.surface, screen.layout.map)
    assert share(named, DARK.text) > share(wet, DARK.text), "the word is taken away"
    road = np.all(dry == np.array(rgb(DARK.track)), axis=2)
    for part in (road, ~road):
        assert 0.005 < np.any(dry != wet, axis=2)[part].mean() < 0.2


def test_steps_that_came_late_are_told_whatever_else_is(
    racing: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert not any("late" in text for text in texts(racing, monkeypatch))
    racing.say("world", msgspec.structs.replace(racing.desk.worlds[-1][1], at_ms=racing.wall(), late_steps=7))
    assert any("Simulated steps that came late: 7." in text for text in texts(racing, monkeypatch))
    racing.tell(faults=["Head h1 is lost"])
    racing.press("F8")
    assert any("Simulated steps that came late: 7." in text for text in texts(racing, monkeypatch))


def test_reduced_motion_stops_smoke_arms_and_scarves(racing: Story) -> None:
    racing.press("M")
    in_trouble(racing)
    area = screen_of(racing).layout.map
    one, other = (
        pixels(picture(racing.desk, racing.hands, racing.now_s + part), area) for part in (0.1, 0.5)
    )
    assert np.array_equal(one, other)


@pytest.mark.parametrize(
    "event", ["smoke", "hand-raised", "loose-clothing", "kart-button", "debris", "a person"]
)
def test_what_befell_is_seen_without_its_word(racing: Story, event: str) -> None:
    racing.press("F7")
    area = screen_of(racing).layout.map
    before = pixels(picture(racing.desk, racing.hands, racing.now_s), area)
    view = racing.desk.worlds[-1][1]
    person = c.WorldPerson(who="driver", x_m=40.0, y_m=6.0, at_m=27.0, doing="stands", on_road=True)
    sign = {"event": event, "x_m": 40.0, "y_m": 6.0} if event == "debris" else {"event": event, "kart": 2}
    people, signs = ([person], []) if event == "a person" else ([], [sign])
    racing.say("world", msgspec.structs.replace(view, incidents=signs, people=people))
    after = pixels(picture(racing.desk, racing.hands, racing.now_s), area)
    assert np.any(before != after, axis=2).sum() > 60


def test_a_spun_kart_stands_turned_and_leaves_marks(racing: Story) -> None:
    screen = screen_of(racing)
    view = racing.desk.worlds[-1][1]
    for step in range(8):
        racing.later(0.04)
        karts = [
            msgspec.structs.replace(
                kart, x_m=kart.x_m + 0.3 * step, heading_deg=kart.heading_deg + 80 * (kart.number == 1)
            )
            for kart in view.karts
        ]
        racing.say("world", msgspec.structs.replace(view, at_ms=racing.wall(), karts=karts))
        screen.draw(racing.now_s)
    assert screen.map._trails.marks


@pytest.mark.parametrize("size", [(1024, 700), (1280, 800), (1920, 1080)])
@pytest.mark.parametrize("name", ["venue", "quarry"])
def test_the_sign_of_a_head_that_differs_covers_no_name_and_no_head(
    name: str, size: tuple[int, int], request: pytest.FixtureRequest
) -> None:
    story = Story(request.getfixturevalue(name))
    story.tell()
    ground = screen_of(story, size).map.ground
    heads = [
        pygame.Rect(0, 0, ground.head_px, ground.head_px).move_to(center=spot)
        for spot in ground.heads.values()
    ]
    for sign in ground.unlike.values():
        shared = [sign.clip(other) for other in (*ground.labels.values(), *heads)]
        assert sum(each.width * each.height for each in shared) <= 24


def test_a_kart_that_is_followed_stays_in_the_middle(racing: Story) -> None:
    racing.hands.kart = 5
    racing.press("F5")
    screen = screen_of(racing)
    box = next(box for box, target in screen._touched["map"] if target == "kart:5")
    assert abs(box.centerx - screen.layout.map.centerx) < 20
    assert abs(box.centery - screen.layout.map.centery) < 20
    assert screen.target(box.center) == "kart:5"


def test_drivers_names_are_off_until_asked_for(racing: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    first = racing.desk.picture.driver(1).split()[0]
    assert first not in texts(racing, monkeypatch)
    racing.press("F6")
    assert first in texts(racing, monkeypatch)


def test_a_newcomer_reads_which_sector_is_yellow_and_which_karts_are_slowed(
    racing: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    racing.hold("caution", "s3")
    racing.put(3, "s3", 15, Because.CAUTION)
    racing.tell()
    written = texts(racing, monkeypatch)
    assert "YELLOW 3 Hairpin" in written
    assert "max km/h" in written
    assert "yellow here" in written
    assert racing.desk.picture.level(3) is Level.CAUTION


def test_what_is_old_says_so(racing: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    racing.put(2, "s2", 45, Because.CLASS, link=False)
    racing.tell()
    racing.later(9)
    racing.tell()
    written = texts(racing, monkeypatch)
    assert {"s2?", "2?"} & set(written)
    assert {"(45)", "silent 9 s"} <= set(written)
    racing.later(5)
    assert "Everything shown is 5 s old" in texts(racing, monkeypatch)


def test_what_was_seen_is_listed_quietly_and_on_its_page(
    racing: Story, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = "Kart 4 passed kart 3 under yellow in 3 Hairpin"
    finding = c.WorldFinding(
        id=1, at_ms=1, rule="overtaking", karts=[4, 3], where="s3", at_m=150.0, said=said
    )
    racing.say("world", msgspec.structs.replace(racing.desk.worlds[-1][1], seen=[finding]))
    assert "Seen, 1 (F8)" in texts(racing, monkeypatch)
    racing.press("F8")
    assert said in texts(racing, monkeypatch)
    assert screen_of(racing).target((10, 10)) == "seen"
