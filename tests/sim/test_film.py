"""A film of the window: its last seconds, at its own pace, small, and showing what was drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pygame
import pytest
from PIL import Image

from signals.look import DARK, rgb
from sim.view.film import FRAMES_PER_S, SAME, WIDE_PX, Film, palette
from sim.view.picture import picture
from tests.sim.story import Story


@pytest.fixture
def racing_window(story: Story) -> pygame.Surface:
    story.group_in()
    story.race()
    story.hold("caution", "s3")
    story.tell()
    return picture(story.desk, story.hands, story.now_s)


def filmed(path: Path, seconds: float, size: tuple[int, int] = (320, 200)) -> Film:
    """Film a yellow square that wanders over the ground, at 60 frames a second."""
    film, surface = Film(path, lasts_s=2.0), pygame.Surface(size)
    for frame in range(round(seconds * 60)):
        surface.fill(rgb(DARK.ground))
        pygame.draw.rect(surface, rgb(DARK.yellow), (frame % (size[0] - 20), 40, 20, 20))
        film.look(surface, frame / 60)
    film.save()
    return film


def test_it_keeps_the_last_seconds_at_its_own_pace(tmp_path: Path) -> None:
    filmed(tmp_path / "film.gif", 5.0)
    with Image.open(tmp_path / "film.gif") as film:
        assert film.n_frames == 2 * FRAMES_PER_S  # type: ignore[attr-defined]
        assert film.info["duration"] == 1000 / FRAMES_PER_S


def test_every_frame_shows_what_was_drawn(tmp_path: Path) -> None:
    filmed(tmp_path / "film.gif", 2.0)
    places = []
    with Image.open(tmp_path / "film.gif") as film:
        for number in range(film.n_frames):  # type: ignore[attr-defined]
            film.seek(number)
            shown = np.asarray(film.convert("RGB"))
            yellow = np.argwhere(np.all(shown == rgb(DARK.yellow), axis=2))
            assert len(yellow) == 400, "the square, and nothing left of the one before"
            assert np.all(shown[150] == rgb(DARK.ground))
            places.append(int(yellow[:, 1].min()))
    assert places == sorted(set(places))


def test_a_large_window_is_filmed_smaller(tmp_path: Path) -> None:
    filmed(tmp_path / "film.gif", 0.5, (1920, 1200))
    with Image.open(tmp_path / "film.gif") as film:
        assert film.size == (WIDE_PX, 600)


def test_without_a_frame_there_is_no_film(tmp_path: Path) -> None:
    Film(tmp_path / "film.gif").save()
    assert not (tmp_path / "film.gif").exists()


def test_the_looks_own_colours_are_kept_as_they_are() -> None:
    colours = palette().getpalette()
    assert colours is not None
    kept = set(zip(colours[::3], colours[1::3], colours[2::3], strict=True))
    assert {rgb(getattr(DARK, name)) for name in ("red", "yellow", "green", "blue", "text", "ground")} <= kept


def test_nothing_that_is_drawn_is_taken_for_a_pixel_that_stayed(racing_window: pygame.Surface) -> None:
    whole = Image.frombytes("RGB", racing_window.get_size(), pygame.image.tobytes(racing_window, "RGB"))
    assert SAME not in np.asarray(whole.quantize(palette=palette(), dither=Image.Dither.NONE))


def test_no_pixel_is_beyond_the_palette(tmp_path: Path) -> None:
    filmed(tmp_path / "film.gif", 1.0)
    with Image.open(tmp_path / "film.gif") as film:
        colours = film.getpalette()
    assert colours is not None
    assert len(colours) == 3 * 256
