"""The printed record: every fact of the sheet is in it, and it prints in black and white."""

from __future__ import annotations

import re
from pathlib import Path

import msgspec
import pytest
from pypdf import PdfReader

from signals.opening.document import print_record
from signals.opening.sheet import Sheet
from signals.words import Verdict
from tests.opening.made import RUN, causes, found, signed_sheet
from tests.opening.town import small

replace = msgspec.structs.replace
DIGEST = "d1" * 32


def printed(folder: Path, sheet: Sheet, before: Sheet | None = None) -> PdfReader:
    path = folder / "record.pdf"
    print_record(sheet, path, digest=DIGEST, before=before)
    return PdfReader(path)


def text_of(reader: PdfReader) -> str:
    """All that is written, without the line breaks of its cells."""
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in reader.pages))


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> PdfReader:
    return printed(tmp_path_factory.mktemp("pdf"), signed_sheet())


@pytest.fixture(scope="module")
def text(plain: PdfReader) -> str:
    return text_of(plain)


@pytest.mark.parametrize(
    "fact",
    [
        RUN,
        "Small, 2026-05-31",
        f"small, SHA-256 {small().digest}",
        "kerblight 0.1.0",
        "RESTRICTED",
        "In force all day: Kart 2 is set aside",
        "Signed by Ada Westerby",
        "Witness Kim Harlow",
        "2026-05-31 10:00 CEST (08:00 UTC)",  # began: local, and UTC
        "2026-05-31 11:00 CEST (09:00 UTC)",
        "Walked by Ada Westerby, Race desk",
        "Cut off today h1",
        "fitter comes at two",
        "SIMULATED",
        "opens no real track",
    ],
)
def test_the_front_page_says_who_what_and_when(plain: PdfReader, fact: str) -> None:
    assert fact in re.sub(r"\s+", " ", plain.pages[0].extract_text())


def test_impairments_are_told_as_found_and_as_left(text: str) -> None:
    impairments = text.partition("Impairments")[2].partition("Signal heads")[0]
    assert "h3: yellow lit alone nothing: failed yellow bulb changed" in impairments
    assert "kart-2 brakes drag set aside" in impairments


def test_every_row_is_printed_with_its_device(text: str) -> None:
    assert "h3, left. virtual v1, node n1, serial RB-0417, firmware 2.4" in text
    rows = text.partition("Signal heads")[2].partition("Cause and effect")[0]
    for head in small().heads:
        assert rows.count(f"{head.id}, left. virtual") >= 1
    assert rows.count("lit alone") == sum(row.kind == "lamp" for row in signed_sheet().rows)
    assert "allowed 15 km/h as told as told as found 12 eye passed" in rows
    assert "pressed and let go" in rows
    assert "its device cut off" in rows


def test_the_matrix_has_every_cause_and_head(plain: PdfReader) -> None:
    (page,) = [page for page in plain.pages if page.mediabox.width > page.mediabox.height]
    said = re.sub(r"\s+", " ", page.extract_text())
    for cause in causes().values():
        assert cause.cause in said
    assert all(f" {head.id} " in said for head in small().heads)
    assert f"{len(causes())} causes, {len(causes()) * len(small().heads)} cells, 0 of them not as due" in said


def test_a_late_cell_says_so(tmp_path: Path) -> None:
    said = text_of(printed(tmp_path, signed_sheet(causes=causes(late="h3"))))
    assert "FAILED red" in said
    assert "red 240 ms" in said
    assert f"{len(causes())} of them not as due" in said


def test_it_says_what_it_is_not_and_how_long_it_is_kept(text: str) -> None:
    assert "It is no certificate" in text
    assert "no emergency stop" in text
    assert "Local codes and people licensed to decide come first" in text
    assert "until the end of 2029" in text
    assert DIGEST in text.replace(" ", "")
    assert text.count("A record, no certificate.") > 1  # at the foot of every page


def test_pages_are_numbered_to_the_last(plain: PdfReader) -> None:
    count = len(plain.pages)
    for number, page in enumerate(plain.pages, 1):
        assert f"page {number} of {count}" in page.extract_text()


def test_it_is_a4(plain: PdfReader) -> None:
    """ISO 216: A4 is 210 x 297 mm."""
    for page in plain.pages:
        sides_mm = sorted(float(side) * 25.4 / 72 for side in (page.mediabox.width, page.mediabox.height))
        assert sides_mm == pytest.approx([210, 297], abs=0.5)


def test_it_prints_in_black_and_white(plain: PdfReader) -> None:
    """No colour is set anywhere: every rg and RG has three equal parts."""
    coloured = set()
    for page in plain.pages:
        contents = page.get_contents()
        assert contents is not None
        drawn = contents.get_data().decode("latin-1")
        for red, green, blue in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG)\b", drawn):
            coloured |= {(red, green, blue)} if len({red, green, blue}) > 1 else set()
    assert coloured == set()


def test_two_weeks_are_compared(tmp_path: Path) -> None:
    before = signed_sheet(run="2026-05-24-9f00", day="2026-05-24", causes=causes(ms=9))
    now = signed_sheet(causes=causes(ms=60))
    said = text_of(printed(tmp_path, now, before)).partition("Compared with 2026-05-24")[2]
    assert "the other run is 2026-05-24-9f00" in said
    assert "h3 9 60 SLOWER" in said


def test_do_not_open_and_failures_stand_out(tmp_path: Path) -> None:
    sheet = signed_sheet(measures=())
    assert sheet.signed is not None
    bad = found("barriers", outcome="failed", observed="no", note="gap at the hairpin")
    tries = {**sheet.tries, "barriers": msgspec.structs.replace(sheet.tries["barriers"], found=bad, left=bad)}
    signed = replace(sheet.signed, verdict=Verdict.DO_NOT_OPEN, restriction="")
    said = text_of(printed(tmp_path, replace(sheet, tries=tries, signed=signed)))
    assert "DO NOT OPEN" in said
    assert "FAILED" in said
    assert "gap at the hairpin" in said
    assert "In force all day" not in said


def test_an_unsigned_sheet_is_not_printed(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not signed"):
        print_record(signed_sheet(signed=None), tmp_path / "x.pdf", digest=DIGEST)


def test_printed_again_it_is_the_same(tmp_path: Path) -> None:
    for name in ("one", "two"):
        print_record(signed_sheet(), tmp_path / name, digest=DIGEST)
    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes()
