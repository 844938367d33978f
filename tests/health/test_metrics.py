"""Figures, read as Prometheus reads them: over HTTP, parsed by the client library's own parser."""

from __future__ import annotations

import sys
import urllib.request
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families

from signals.errors import BadInput, Unusable
from signals.health.metrics import HERE, Board, served, where
from signals.health.report import counter, gauge, one_of


def read(url: str) -> dict[str, dict[tuple[tuple[str, str], ...], float]]:
    with urllib.request.urlopen(url, timeout=5) as answer:  # noqa: S310 - our own server
        text = answer.read().decode()
    return {
        sample.name: {
            tuple(sorted(each.labels.items())): each.value
            for each in family.samples
            if each.name == sample.name
        }
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def test_what_was_put_down_last_is_served() -> None:
    board = Board("controller", "harbour-loop")
    with served(board, "0") as url:
        assert url.startswith(f"http://{HERE}:")
        board.put((gauge("well", 0, "Well."), counter("beats_total", 1, "Beats.")))
        board.put(
            (
                gauge("well", 1, "Well."),
                counter("beats_total", 7, "Beats."),
                *one_of("phase", "Phase.", "phase", ("closed", "racing"), "racing"),
            )
        )
        seen = read(url)
    (about,) = seen["kerblight_about"]
    assert dict(about)["part"] == "controller"
    assert seen["kerblight_well"] == {(): 1.0}
    assert seen["kerblight_beats_total"] == {(): 7.0}
    assert seen["kerblight_phase"] == {(("phase", "closed"),): 0.0, (("phase", "racing"),): 1.0}
    assert seen["process_open_fds"][()] > 0


def test_what_a_label_says_cannot_break_the_page() -> None:
    board = Board("monitor", "harbour-loop")
    with served(board, "0") as url:
        board.put((gauge("holds", 1, "Holds.", what='"} 9\nkerblight_well 0'),))
        seen = read(url)
    assert seen["kerblight_holds"] == {(("what", '"} 9\nkerblight_well 0'),): 1.0}
    assert "kerblight_well" not in seen


def test_a_taken_port_is_said_and_a_free_one_is_let_go() -> None:
    board = Board("monitor", "x")
    with served(board, "0") as url:
        port = url.rpartition(":")[2].partition("/")[0]
        with pytest.raises(Unusable, match=f"{HERE}:{port}: .*another by --metrics"), served(board, port):
            pass
    with served(board, port):
        pass


@pytest.mark.parametrize(
    ("at", "meant"),
    [
        ("9460", (HERE, 9460)),
        ("192.168.7.2:9460", ("192.168.7.2", 9460)),
        ("[::1]:9460", ("::1", 9460)),
        (":1", (HERE, 1)),
    ],
)
def test_an_address_is_this_machine_unless_it_says_another(at: str, meant: tuple[str, int]) -> None:
    assert where(at) == meant


@pytest.mark.parametrize("at", ["", "port", "127.0.0.1:", "127.0.0.1:70000", "9460 "])
def test_what_is_no_address_is_bad_input(at: str) -> None:
    with pytest.raises(BadInput, match="--metrics"):
        where(at)


def test_without_the_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "prometheus_client", None)
    with pytest.raises(Unusable, match=r"pip install 'kerblight\[metrics\]'"), served(Board("x", "y"), "0"):
        pass


def test_figures_are_told_in_the_docs() -> None:
    page = (Path(__file__).parents[2] / "docs/running.md").read_text(encoding="utf-8")
    for name in ("kerblight_well", "kerblight_beat_late_seconds", "kerblight_holds", "kerblight_tripped"):
        assert name in page
