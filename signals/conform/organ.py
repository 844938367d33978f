"""What of a node is looked at: one head, one kart's limiter, one contact; how it is told, what it reports."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from signals.mqtt.contract import InputReport, Shown, Taken
from signals.venue.model import Head, Venue
from signals.words import Aspect

GO_KMH = 30.0
HOLD_KMH = 8.0
Levels = tuple[str, ...]
Report = Shown | Taken | InputReport


class Organ(ABC):
    """One head, limiter or contact under test.

    `go` is an order that must never stand where it is not borne out, `hold` one that any node may
    show; both are fields beside boot, seq, epoch and inc.
    """

    kind: type[Report]
    report: Levels
    order: Levels
    """The topic of its orders; empty for what takes none."""
    go: dict[str, Any]
    hold: dict[str, Any]

    @abstractmethod
    def shows(self, report: Report, fields: dict[str, Any]) -> bool:
        """Tell whether a report says that an order of these fields is obeyed."""

    @abstractmethod
    def fallen(self, report: Report) -> bool:
        """Tell whether a report says it shows what it falls to when nobody leads it."""

    @abstractmethod
    def permissive(self, report: Report) -> bool:
        """Tell whether a report says more than `hold` allows."""

    @abstractmethod
    def stopped(self, report: Report) -> bool:
        """Tell whether a report says it obeys a stop."""

    @abstractmethod
    def asleep(self, report: Report) -> bool:
        """Tell whether a report says what it must from its start until the first order."""

    @abstractmethod
    def said(self, report: Report) -> str:
        """Say in a few words what a report says."""

    def goes(self, report: Report) -> bool:
        """Tell whether it obeys `go`."""
        return self.shows(report, self.go)

    def holds(self, report: Report) -> bool:
        """Tell whether it obeys `hold`."""
        return self.shows(report, self.hold)


class HeadOrgan(Organ):
    """A head: `go` is green, `hold` red."""

    kind = Shown

    def __init__(self, head: Head, venue: Venue) -> None:
        self.head = head
        self.fail = venue.choices.fail_aspect[head.role]
        self.report = ("head", head.id, "shown")
        self.order = ("head", head.id, "aspect")
        self.go = {"aspect": Aspect.GREEN}
        self.hold = {"aspect": Aspect.RED}

    def shows(self, report: Report, fields: dict[str, Any]) -> bool:
        """Compare the aspect."""
        return isinstance(report, Shown) and report.aspect == fields["aspect"]

    def fallen(self, report: Report) -> bool:
        """Look for the fail aspect, or red."""
        return isinstance(report, Shown) and report.aspect == self.fail

    def permissive(self, report: Report) -> bool:
        """Look for green."""
        return self.goes(report)

    def stopped(self, report: Report) -> bool:
        """Look for red."""
        return isinstance(report, Shown) and report.aspect is Aspect.RED

    def asleep(self, report: Report) -> bool:
        """Look for the fail aspect."""
        return self.fallen(report)

    def said(self, report: Report) -> str:
        """Name the aspect."""
        return f"{self.head.id} shows {report.aspect}" if isinstance(report, Shown) else ""


class KartOrgan(Organ):
    """A kart's limiter: `go` is 30 km/h, `hold` 8.

    Its caps are the kit's own, so that stop, creep and caution differ.
    """

    kind = Taken
    caps: Mapping[str, float] = MappingProxyType(
        {
            "fall_mps2": 10.0,
            "rise_mps2": 5.0,
            "stop_kmh": 3.0,
            "fail_kmh": 15.0,
            "creep_kmh": 5.0,
            "reverse_kmh": 4.0,
            "boost_kmh": 5.0,
        }
    )

    def __init__(self, kart: int) -> None:
        self.kart = kart
        self.report = ("kart", str(kart), "taken")
        self.order = ("kart", str(kart), "limit")
        self.go = {"limit_kmh": GO_KMH, "boosts": 0, "because": "class"}
        self.hold = {"limit_kmh": HOLD_KMH, "boosts": 0, "because": "pit-lane"}

    def shows(self, report: Report, fields: dict[str, Any]) -> bool:
        """Compare the limit."""
        return isinstance(report, Taken) and report.limit_kmh == fields["limit_kmh"]

    def fallen(self, report: Report) -> bool:
        """Look for the caution limit, or less."""
        return isinstance(report, Taken) and report.limit_kmh <= self.caps["fail_kmh"]

    def permissive(self, report: Report) -> bool:
        """Look for more than 8 km/h."""
        return isinstance(report, Taken) and report.limit_kmh > HOLD_KMH

    def stopped(self, report: Report) -> bool:
        """Look for the stop limit, or less."""
        return isinstance(report, Taken) and report.limit_kmh <= self.caps["stop_kmh"]

    def asleep(self, report: Report) -> bool:
        """Look for 0."""
        return isinstance(report, Taken) and report.limit_kmh == 0

    def said(self, report: Report) -> str:
        """Name the limit."""
        return f"kart {self.kart} obeys {report.limit_kmh:g} km/h" if isinstance(report, Taken) else ""


class ContactOrgan(Organ):
    """A contact: it obeys nothing, so nothing of it ever goes."""

    kind = InputReport

    def __init__(self, contact: str) -> None:
        self.contact = contact
        self.report = ("input", contact, "state")
        self.order = ()
        self.go, self.hold = {}, {}

    def shows(self, report: Report, fields: dict[str, Any]) -> bool:
        """Give False: it takes no orders."""
        del report, fields
        return False

    def permissive(self, report: Report) -> bool:
        """Give False: it permits nothing."""
        del report
        return False

    def fallen(self, report: Report) -> bool:
        """Give True: it has nothing to fall from."""
        del report
        return True

    stopped = asleep = fallen

    def said(self, report: Report) -> str:
        """Name the state."""
        return f"{self.contact} is {report.state}" if isinstance(report, InputReport) else ""
