"""Looking back: what drifts, what got slower, what is found again; and the verbs that show it."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest
from typer.testing import CliRunner

from signals.errors import BadInput
from signals.opening.book import Book
from signals.opening.cli import app
from signals.opening.history import compare, search, week_before
from signals.opening.places import cut_today
from signals.opening.rows import in_track_order
from signals.opening.sheet import Sheet, Tries
from tests.opening.made import RUN, causes, found, signed_sheet
from tests.opening.town import small

replace = msgspec.structs.replace


def on(day: str, **changes: object) -> Sheet:
    began = 1_780_214_400_000 + (int(day[-2:]) - 31) * 86_400_000
    return signed_sheet(run=f"{day}-0000", day=day, began_at=began, **changes)


def with_ms(sheet: Sheet, row: str, ms: int) -> Sheet:
    tried = found(row, ms=ms)
    return replace(sheet, tries={**sheet.tries, row: Tries(found=tried, left=tried)})


def test_a_lamp_that_gets_slower_is_told_and_jitter_is_not() -> None:
    before, now = on("2026-05-24"), on("2026-05-31")
    now = with_ms(with_ms(now, "h1/lamp/red", 80), "h1/lamp/green", 20)
    compared = compare(before, now)
    assert [(drift.what, drift.before_ms, drift.now_ms) for drift in compared.slower] == [
        ("h1/lamp/red", 12, 80)
    ]
    assert compared.rows[0].what == "h1/lamp/red"  # the worst first


def test_a_head_is_judged_by_its_median_so_one_late_message_is_no_drift() -> None:
    before = on("2026-05-24", causes=causes(ms=10))
    one_late = with_ms(on("2026-05-31", causes=causes(ms=10)), "h3/shows/dark", 400)
    heads = {drift.what: drift for drift in compare(before, one_late).heads}
    assert not heads["h3"].slower
    slow = {drift.what: drift for drift in compare(before, on("2026-05-31", causes=causes(ms=90))).heads}
    assert slow["h3"].slower


def test_what_turned_out_otherwise_is_told() -> None:
    bad = found("barriers", outcome="failed")
    now = on("2026-05-31")
    now = replace(now, tries={**now.tries, "barriers": Tries(found=bad, left=bad)})
    (turned,) = compare(on("2026-05-24"), now).turned
    assert (turned.what, turned.before, turned.now) == ("barriers", "passed", "failed")


def test_last_week_is_the_newest_at_least_seven_days_older() -> None:
    days = [on(day) for day in ("2026-05-20", "2026-05-24", "2026-05-30")]
    now = on("2026-05-31")
    assert week_before([*days, now], now) == days[1]
    assert week_before([days[2], now], now) == days[2]  # better than nothing
    assert week_before([now], now) is None
    assert week_before([replace(days[1], venue="other"), now], now) is None


def test_records_are_searched_by_serial_name_and_what_was_seen() -> None:
    records = [on("2026-05-24"), on("2026-05-31")]
    assert {hit.where for hit in search(records, "rb-0417")} == {head.id for head in small().heads}
    assert {hit.run for hit in search(records, "kim harlow")} == {sheet.run for sheet in records}
    assert {hit.where for hit in search(records, "bulb")} == {"h3/lamp/yellow"}
    assert list(search(records, "unicorn")) == []


def test_every_head_is_cut_off_in_its_turn() -> None:
    order = [head.id for head in in_track_order(small())]
    signed: list[Sheet] = []
    cut = []
    for day in range(1, len(order) + 3):
        head = cut_today(small(), signed)
        cut.append(head)
        tried = found(f"{head}/cut-off")
        made = on(f"2026-05-{day:02}", cut=head, tries={tried.row: Tries(found=tried, left=tried)})
        signed.append(made)
    assert cut == [*order, *order[:2]]


def test_one_that_was_not_seen_comes_again() -> None:
    first = cut_today(small(), [])
    unseen = found(f"{first}/cut-off", outcome="not seen")
    sheet = on("2026-05-30", tries={unseen.row: Tries(found=unseen, left=unseen)})
    assert cut_today(small(), [sheet]) == first


# --- the verbs


@pytest.fixture
def data(tmp_path: Path) -> Path:
    book = Book(tmp_path / "opening")
    with book.held():
        book.file(on("2026-05-24"))
        book.file(replace(with_ms(on("2026-05-31"), "h1/lamp/red", 80), run=RUN))
    return tmp_path


def opening(data: Path, *words: str) -> tuple[int, str]:
    came = CliRunner().invoke(app, [*words, "--data", str(data)])
    if isinstance(came.exception, BadInput):
        raise came.exception
    return came.exit_code, came.stdout


def test_list_shows_every_record(data: Path) -> None:
    code, said = opening(data, "list", "--json")
    lines = json.loads(said)
    assert code == 0
    assert [line["run"] for line in lines] == ["2026-05-24-0000", RUN]
    assert {line["verdict"] for line in lines} == {"open-restricted"}
    assert lines[0]["restriction"] == "Kart 2 is set aside"
    assert RUN in opening(data, "list")[1]


def test_show_tells_what_was_not_in_order_and_prints_anew(data: Path) -> None:
    code, said = opening(data, "show", RUN, "--pdf", str(data / "again.pdf"))
    assert code == 0
    assert "h3/lamp/yellow" in said
    assert "h3/lamp/red" not in said
    assert "h3/lamp/red" in opening(data, "show", RUN, "--all")[1]
    assert (data / "again.pdf").read_bytes().startswith(b"%PDF")
    assert json.loads(opening(data, "show", "--json")[1])["run"] == RUN


def test_search_finds_or_falls_short(data: Path) -> None:
    code, said = opening(data, "search", "bulb", "--json")
    assert (code, {hit["where"] for hit in json.loads(said)}) == (0, {"h3/lamp/yellow"})
    assert opening(data, "search", "unicorn")[0] == 1


def test_compare_falls_short_where_something_got_slower(data: Path) -> None:
    code, said = opening(data, "compare", "--json")
    assert code == 1
    assert [drift["what"] for drift in json.loads(said)["rows"] if drift["slower"]] == ["h1/lamp/red"]
    assert opening(data, "compare", RUN, "--with", RUN)[0] == 0
    assert "1 got slower" in opening(data, "compare")[1]


def test_an_unknown_run_and_an_empty_book_are_bad_input(data: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="one of 2026-05-24-0000"):
        opening(data, "show", "nine")
    with pytest.raises(BadInput, match="holds no signed check"):
        opening(tmp_path / "none", "show")


def test_a_record_that_cannot_be_read_is_named_and_nothing_hides_it(data: Path) -> None:
    spoilt = data / "opening" / "records" / "2026-05-25-0000.json"
    spoilt.write_text('{"run": 3}', encoding="utf-8")
    with pytest.raises(BadInput, match="2026-05-25-0000"):
        Book(data / "opening").signed()
