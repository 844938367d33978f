"""The trainees' database, what is due, and weeks: kept, exported, deleted."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import msgspec
import pytest

from signals.errors import Unusable
from sim.drill import curves, due, kept, progress
from sim.drill.score import Deciding, Safety, Score, Seeing, Spell
from sim.drill.tape import Head, Tape, read
from sim.drill.telling import NOT_INSTEAD
from sim.drill.trainees import Trainees
from sim.drill.weekly import weekly
from tests.drill.playing import drill, venue

DAY_MS = 86_400_000
START_MS = 1_798_416_000_000 // DAY_MS // 7 * 7 * DAY_MS + 4 * DAY_MS
"""A Monday, 00:00 UTC: 1 January 1970 was a Thursday."""


def a_score(name: str = "spin-rejoins", percent: float = 100.0, took_s: float | None = 2.0) -> Score:
    spells = () if took_s is None else (Spell(of="yellow", from_ms=0, took_s=took_s, target_s=3.0),)
    return Score(
        drill=name,
        title=name,
        venue="harbour-loop",
        seed=1,
        seat="desk",
        who="Ada",
        got=percent,
        of=100.0,
        percent=percent,
        passed=percent >= 80,
        lines=(),
        seeing=Seeing(
            signals=2, hits=1, noise=4, false_alarms=1, detected=(), median_s=None, p90_s=None,
            d_prime=0.0, criterion=0.0, hit_low=0.0, hit_high=1.0,
        ),
        deciding=Deciding(
            called=spells, median_s=took_s, p90_s=took_s, in_time=1, right=1, duties=1, refused=0,
            premature=0, overlong_s=0.0,
        ),
        safety=Safety(exposed_s=0.5, contacts=0, findings=()),
        timeline=(),
        lasted_s=30.0,
    )  # fmt: skip


def test_runs_are_kept_and_given_back(tmp_path: Path) -> None:
    with Trainees(tmp_path / "t.sqlite") as trainees:
        trainees.add("Ada", a_score(percent=60.0), START_MS)
        trainees.add("ada", a_score(percent=90.0), START_MS + 1)
    with Trainees(tmp_path / "t.sqlite") as trainees:
        assert trainees.names() == ["Ada"]
        assert [run.score.percent for run in trainees.runs("ADA")] == [60.0, 90.0]
        assert trainees.best("Ada") == {"spin-rejoins": 90.0}


def test_export_gives_all_and_forget_leaves_nothing_on_the_disk(tmp_path: Path) -> None:
    path = tmp_path / "t.sqlite"
    with Trainees(path) as trainees:
        trainees.add("Zebedee", a_score(), START_MS)
        due.review(trainees, "Zebedee", a_score(), START_MS)
        everything = trainees.export("Zebedee")
        assert everything is not None
        assert (len(everything.runs), len(everything.cards)) == (1, 1)
        assert msgspec.json.decode(msgspec.json.encode(everything))["name"] == "Zebedee"
        assert trainees.forget("Zebedee")
        assert not trainees.forget("Zebedee")
        assert trainees.export("Zebedee") is None
    assert all(b"Zebedee" not in file.read_bytes() for file in tmp_path.iterdir())


def test_forgetting_deletes_tapes_calls_and_debriefs_but_not_what_others_did(tmp_path: Path) -> None:
    folder = tmp_path / kept.RUNS

    def tape(name: str, **seats: str) -> Path:
        head = Head(drill="two-at-once", venue="harbour-loop", seed=1, seats=seats, lean=True)
        Tape(head).save(folder / f"{name}.tape")
        for ending in (".toml", ".html", "-p1.html", "-p2.html"):
            (folder / f"{name}{ending}").write_text(name, encoding="utf-8")
        return folder / f"{name}.tape"

    alone, others = tape("alone", desk="Ada"), tape("others", desk="Zoe")
    both = tape("both", p1="ada", p2="Ben")
    (folder / "broken.tape").write_bytes(b"no tape")
    gone = kept.forget(tmp_path, "Ada")
    assert {path.name for path in gone} == {
        "alone.tape", "alone.toml", "alone.html", "alone-p1.html", "alone-p2.html", "both-p1.html",
    }  # fmt: skip
    assert not alone.exists()
    assert others.exists()
    assert read(both).head.seats == {"p1": "", "p2": "Ben"}
    assert (folder / "both-p2.html").exists()


def test_curves_stand_where_their_weeks_are(tmp_path: Path) -> None:
    with Trainees(tmp_path / "t.sqlite") as trainees:
        for day, took_s in ((0, 4.0), (7, 3.0), (28, 2.0)):
            trainees.add("Ada", a_score(took_s=took_s), START_MS + day * DAY_MS)
        found = progress.weeks(trainees.runs("Ada"))
    called, noticed, apart, marks = curves.panels(found)
    assert [(point.days, point.value) for point in called.curves[0].points] == [(0, 4.0), (7, 3.0), (28, 2.0)]
    assert all(
        point.low is not None and point.low < 50 < (point.high or 0) for point in noticed.curves[0].points
    )
    for panel in (called, noticed, apart, marks):
        values = [point.value for curve in panel.curves for point in curve.points]
        assert all(panel.low <= value <= panel.high for value in values)


def test_a_panel_without_points_says_why(tmp_path: Path) -> None:
    with Trainees(tmp_path / "t.sqlite") as trainees:
        trainees.add("Ada", a_score(took_s=None), START_MS)
        found = progress.weeks(trainees.runs("Ada"))
    called, *others = curves.panels(found)
    assert called.empty
    assert called.caption == "Nothing was called rightly yet."
    assert not any(panel.empty for panel in others)
    drawn, *_ = curves.drawn(found)
    assert drawn.count("<text") == 1, "its title alone"


def test_the_page_of_weeks_says_what_practice_is_not(tmp_path: Path) -> None:
    with Trainees(tmp_path / "t.sqlite") as trainees:
        trainees.add("<b>Ada", a_score(), START_MS)
        page = weekly("<b>Ada", venue(), progress.weeks(trainees.runs("<b>Ada")))
    assert NOT_INSTEAD.replace("'", "&#39;") in page
    assert page.count("<svg") == 4
    assert "<b>Ada" not in page


def test_a_file_that_is_none_is_told(tmp_path: Path) -> None:
    (tmp_path / "t.sqlite").write_bytes(b"no database at all" * 100)
    with pytest.raises(Unusable, match="is no database of trainees"):
        Trainees(tmp_path / "t.sqlite")


def test_a_newer_version_is_refused_and_left_alone(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "t.sqlite") as db:
        db.execute("pragma user_version = 99")
    db.close()
    with pytest.raises(Unusable, match="version 99"):
        Trainees(tmp_path / "t.sqlite")


def test_what_went_badly_is_due_sooner_than_what_went_well(tmp_path: Path) -> None:
    with Trainees(tmp_path / "t.sqlite") as trainees:
        dues = {}
        for name, percent in (("spin-rejoins", 40.0), ("contact", 85.0), ("debris", 95.0), ("smoke", 100.0)):
            trainees.add("Ada", a_score(name, percent), START_MS)
            dues[name] = due.review(trainees, "Ada", a_score(name, percent), START_MS).due_ms
    assert sorted(dues, key=dues.__getitem__) == ["spin-rejoins", "contact", "debris", "smoke"]


def test_what_is_due_comes_first_then_what_is_new_then_what_can_wait(tmp_path: Path) -> None:
    drills = [drill(name) for name in ("smoke", "debris", "spin-rejoins")]
    with Trainees(tmp_path / "t.sqlite") as trainees:
        for name, percent in (("spin-rejoins", 40.0), ("smoke", 100.0)):
            trainees.add("Ada", a_score(name, percent), START_MS)
            due.review(trainees, "Ada", a_score(name, percent), START_MS)
        order = due.propose(trainees, "Ada", drills, START_MS + 3 * DAY_MS)
    assert [(each.drill, each.why) for each in order][:2] == [("spin-rejoins", "due"), ("debris", "new")]
    assert order[2].drill == "smoke"
    assert order[0].recall is not None
    assert order[2].recall is not None
    assert order[0].recall < order[2].recall


def test_weeks_pool_counts_and_begin_on_mondays(tmp_path: Path) -> None:
    with Trainees(tmp_path / "t.sqlite") as trainees:
        for day, took_s in ((0, 2.0), (6, 4.0), (7, 1.0)):
            trainees.add("Ada", a_score(took_s=took_s), START_MS + day * DAY_MS)
        found = progress.weeks(trainees.runs("Ada"))
    assert [(week.runs, week.called_s) for week in found] == [(2, 3.0), (1, 1.0)]
    assert [(week.hits, week.signals) for week in found] == [(2, 4), (1, 2)]
    assert found[0].exposed_s == 1.0
