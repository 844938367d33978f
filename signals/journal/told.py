"""An entry of the record as marshals read it: who, and what; the page and the command line tell it alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from signals import say
from signals.journal.chain import Entry, Kind
from signals.spoken import call_said, held
from signals.words import EQUIPMENT

NAMED = ("kart", "head", "sector", "where", "input", "place", "reason", "verdict", "row", "by")
"""Fields that name something."""


@dataclass(frozen=True, slots=True)
class Told:
    """What one entry says."""

    who: str
    what: str


class Telling:
    """Tells entries in the names of a venue."""

    def __init__(self, names: say.Names) -> None:
        self._names = names

    def told(self, entry: Entry) -> Told:
        """Tell an entry by itself: a call without its answer, a change without the state it led to."""
        body = entry.body
        match entry.kind:
            case Kind.CALL:
                by = f", {body['by']}" if body.get("by") else ""
                reason = f" ({body['reason']})" if body.get("reason") else ""
                return Told(f"{self._post(body)}{by}", f"{call_said(self._names, body)}{reason}")
            case Kind.ANSWER:
                return Told(self._post(body), _answered(body))
            case Kind.CHANGE | Kind.PLACE:
                return Told(self._post(body), "; ".join(self._happened(body)))
            case Kind.FAULT:
                return Told("Fault", self._plain(body))
            case Kind.BOOT:
                again = " again" if body.get("restart") else ""
                return Told("Controller", f"begins{again}, version {body.get('version')}")
            case Kind.CHECK:
                return Told("Opening check", self._checked(body))

    def _post(self, body: Mapping[str, Any]) -> str:
        return say.capital(say.post_name(self._names, body.get("post")))

    def _happened(self, body: Mapping[str, Any]) -> Iterator[str]:
        """Say what a post, equipment or time did: what it is called, and the holds it placed or ended.

        A post's call is its own entry: where it placed or ended a hold, that says it all.
        """
        holds = [
            f"{say.capital(held(self._names, str(key)))} {what}"
            for what, field in (("stands", "placed"), ("ends", "ended"))
            for key in body.get(field, ())
        ]
        happened = [str(word).replace("-", " ") for word in body.get("happened", ())]
        if body.get("post") == EQUIPMENT:
            yield from happened or [self._plain(body)]
        elif not holds:
            yield call_said(self._names, {"call": body.get("what"), **body.get("fields", {})})
        yield from holds

    def _plain(self, body: Mapping[str, Any]) -> str:
        """Say an event by its word and the fields that name something."""
        fields = body.get("fields", {}) or {key: value for key, value in body.items() if key != "what"}
        named = [
            say.sector_name(self._names, str(value)) if name == "where" else f"{name} {value}"
            for name, value in fields.items()
            if name in NAMED and isinstance(value, str | int)
        ]
        return ", ".join([str(body.get("what", "entry")).replace("-", " "), *named])

    def _checked(self, body: Mapping[str, Any]) -> str:
        """Say what the opening check noted: what came of a row or a cause, and what was due instead."""
        found = body.get("found")
        if not isinstance(found, Mapping):
            return self._plain(body)
        if "cause" in found:
            came = f": {found['came']}" if found.get("came") else ""
            return f"cause {found['cause']}: {found.get('outcome')}{came}"
        seen = f": {found['observed']}" if found.get("observed") else ""
        due = f", expected {found['expected']}" if found.get("outcome") == "failed" else ""
        return f"row {found.get('row')} {found.get('outcome')}{seen}{due}"


def _answered(body: Mapping[str, Any]) -> str:
    if body.get("accepted"):
        return "accepted"
    return " ".join(["refused:", *(str(refusal.get("sentence")) for refusal in body.get("refusals", ()))])
