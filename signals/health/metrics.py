"""Figures for those who gather them: Prometheus' text, by its own client library (the extra `metrics`).

Served on this machine only unless an address is given. Reading never touches the event loop: what is
served is what the loop last put down.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib.metadata import version
from typing import Any

from signals.errors import BadInput, Finding, Unusable
from signals.health.report import Figure

HERE = "127.0.0.1"
PREFIX = "kerblight_"


class Board:
    """What is served: the loop puts figures down, the server's thread reads them."""

    def __init__(self, part: str, venue: str) -> None:
        self._about = {"part": part, "venue": venue, "version": version("kerblight")}
        self._figures: tuple[Figure, ...] = ()

    def put(self, figures: tuple[Figure, ...]) -> None:
        """Put down the figures of now, instead of those before."""
        self._figures = figures

    def collect(self) -> Iterator[Any]:
        """Give them as the library wants them; called by its thread."""
        from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily  # noqa: PLC0415 - an extra

        about = GaugeMetricFamily(
            f"{PREFIX}about", "Always 1: which part of which venue.", labels=list(self._about)
        )
        about.add_metric(list(self._about.values()), 1)
        yield about
        families: dict[str, Any] = {}
        for figure in self._figures:
            name = f"{PREFIX}{figure.name}"
            if name not in families:
                make = CounterMetricFamily if figure.counter else GaugeMetricFamily
                families[name] = make(name, figure.says, labels=list(figure.of))
            families[name].add_metric(list(figure.of.values()), figure.value)
        yield from families.values()


@contextmanager
def served(board: Board, at: str) -> Iterator[str]:
    """Serve figures at `[HOST:]PORT` while the context lasts; gives their URL.

    Raises:
        BadInput: the address is none.
        Unusable: the library is not there, or the address is taken.

    """
    host, port = where(at)
    try:
        from prometheus_client import CollectorRegistry, start_http_server  # noqa: PLC0415 - an extra
        from prometheus_client.process_collector import ProcessCollector  # noqa: PLC0415 - likewise
    except ImportError:
        raise Unusable("--metrics needs prometheus-client: pip install 'kerblight[metrics]'") from None
    registry = CollectorRegistry()
    ProcessCollector(registry=registry)
    registry.register(board)
    try:
        server, thread = start_http_server(port, host, registry)
    except OSError as error:
        right = "end what uses it, or give another by --metrics"
        raise Unusable(f"{host}:{port}: {error.strerror or error}; {right}") from None
    try:
        yield f"http://{host}:{server.server_port}/metrics"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def where(at: str) -> tuple[str, int]:
    """Read `[HOST:]PORT`; without a host it is this machine alone.

    Raises:
        BadInput: it is not of that form.

    """
    host, _, port = at.rpartition(":")
    if not port.isdigit() or int(port) > 65535:  # noqa: PLR2004 - the highest port
        right = "PORT for this machine alone, or HOST:PORT; such as 9460 or 192.168.7.2:9460"
        raise BadInput([Finding("command line", 0, "--metrics", repr(at), right)])
    return host.strip("[]") or HERE, int(port)
