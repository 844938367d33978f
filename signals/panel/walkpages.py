"""The routes of the opening check: the page, what is asked now, each act, the records."""

from __future__ import annotations

import asyncio
import re
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from typing import Any

import jinja2
import msgspec
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from signals import say
from signals.look import OF_ASPECT, Mark
from signals.opening.rows import TRACK, kart_of
from signals.opening.sheet import Found, Question, Sheet, Standstill
from signals.panel.guard import Refusals, address_of
from signals.panel.visits import Visit
from signals.panel.walking import Walking
from signals.venue.model import Venue
from signals.words import Aspect, Verdict, Word

VERDICTS = {Verdict.OPEN: "Open", Verdict.OPEN_RESTRICTED: "Restricted", Verdict.DO_NOT_OPEN: "Do not open"}
OUTCOMES = {"passed": "✓", "failed": "✗", "not seen": "?", "not applicable": "–"}
NEEDS = (Word.LEND, Word.GIVE_BACK, Word.SHOW, Word.ALLOW, Word.VERDICT)
"""What a post must be allowed to call in order to walk."""
RUN = re.compile(r"[0-9a-z-]{4,40}")
TYPES = {"pdf": "application/pdf", "json": "application/json"}


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer: what is sent, what it says, and its glyph."""

    value: str
    said: str
    mark: Mark | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """One finding: what was looked at, and only now what was expected."""

    mark: str
    what: str
    outcome: str
    observed: str
    expected: str
    ms: int | None


class WalkPages:
    """The routes. `page` draws a whole page of those who are signed in."""

    def __init__(
        self, venue: Venue, walking: Walking, templates: jinja2.Environment, page: Any, refusals: Refusals
    ) -> None:
        self.venue = venue
        self.walking = walking
        self._now = templates.get_template("walk/now.html")
        self._page = page
        self._refusals = refusals

    async def page(self, request: Request, visit: Visit) -> Response:
        """Show the walk, and the records."""
        del request
        records = await asyncio.to_thread(self.walking.records)
        drawn: Response = self._page(
            "walk.html",
            visit,
            now=self.draw(visit),
            records=[self._record(sheet) for sheet in records],
            verdicts=VERDICTS,
        )
        return drawn

    async def now(self, request: Request, visit: Visit) -> Response:
        """Give what is asked now."""
        del request
        return self._drawn(visit)

    async def act(self, request: Request, visit: Visit) -> Response:
        """Do what the page asks for."""
        if visit.station.lost:
            return JSONResponse({"title": "Not sent: there is no link.", "lines": ["Flag and radio."]}, 503)
        try:
            await self.walking.act(
                request.path_params["act"],
                visit.session.post,
                visit.session.person,
                await request.body(),
            )
        except LookupError:
            return JSONResponse({"title": "There is no such step.", "lines": []}, 404)
        except msgspec.MsgspecError as mistake:
            self._refusals.note(address_of(request), "a step of the walk", str(mistake))
            return JSONResponse({"title": "Not taken.", "lines": [f"{mistake}."]}, 400)
        return self._drawn(visit)

    async def record(self, request: Request, visit: Visit) -> Response:
        """Give a signed record: printed, or as data."""
        del visit
        run, kind = request.path_params["run"], request.path_params["kind"]
        if not RUN.fullmatch(run) or kind not in TYPES:
            return Response(status_code=HTTPStatus.NOT_FOUND)
        file = await asyncio.to_thread(self._file, run, kind)
        if file is None:
            return Response(status_code=HTTPStatus.NOT_FOUND)
        return FileResponse(file, media_type=TYPES[kind], filename=f"opening-{run}.{kind}")

    def _file(self, run: str, kind: str) -> Path | None:
        book = self.walking.book
        file: Path = book.printed(run) if kind == "pdf" else book.records / f"{run}.json"
        return file if file.is_file() else None

    def draw(self, visit: Visit) -> str:
        """Draw what is asked now, for one post."""
        walking = self.walking
        return self._now.render(
            pages=self,
            walking=walking,
            question=walking.step if isinstance(walking.step, Question) else None,
            standstill=walking.step if isinstance(walking.step, Standstill) else None,
            elsewhere=walking.post not in ("", visit.session.post),
            may=all(visit.screen.view.may(word) for word in NEEDS),
            person=visit.session.person,
            visit=visit,
            verdicts=VERDICTS,
        )

    def _drawn(self, visit: Visit) -> Response:
        return JSONResponse({"html": self.draw(visit), "busy": bool(self.walking.doing)})

    def choices(self, question: Question) -> list[Choice]:
        """Give the answers there are, in words."""
        if question.asks in ("shows", "cut-off"):
            aspects = [Aspect(choice) for choice in question.choices]
            return [Choice(aspect, say.ASPECTS[aspect], OF_ASPECT[aspect]) for aspect in aspects]
        return [Choice(choice, choice.replace("-", " ")) for choice in question.choices]

    def heads(self, besides: str) -> list[str]:
        """Give the other heads, for what lit up elsewhere."""
        return [head.id for head in self.venue.heads if head.id != besides]

    def told(self) -> list[Told]:
        """Give what was found last."""
        return [self._told(found) for found in self.walking.told]

    def short(self) -> list[Told]:
        """Give every row that failed."""
        sheet, judged = self.walking.sheet, self.walking.judgement
        if sheet is None or judged is None:
            return []
        tries = (sheet.tries.get(row) for row in (*judged.failed, *judged.noted))
        return [self._told(each.left) for each in tries if each and each.left.outcome == "failed"]

    def causes(self) -> list[tuple[str, str]]:
        """Give every cause that did not have its effect, with what came."""
        sheet = self.walking.sheet
        found = sheet.causes.values() if sheet else ()
        return [(cause.cause, _came(cause)) for cause in found if cause.outcome == "failed"]

    def place_said(self, place: str) -> str:
        """Name a place of the walk."""
        if place == TRACK:
            return "the track"
        if place.startswith("kart-"):
            return f"kart {kart_of(place)}"
        return f"head {place}" if place in {head.id for head in self.venue.heads} else place

    def _told(self, found: Found) -> Told:
        place, _, rest = found.row.partition("/")
        what = self.place_said(place) if rest else self._item(place)
        return Told(OUTCOMES[found.outcome], what, found.outcome, found.observed, found.expected, found.ms)

    def _item(self, item: str) -> str:
        return next((each.text for each in self.venue.check_items if each.id == item), item)

    def _record(self, sheet: Sheet) -> dict[str, Any]:
        signed = sheet.signed
        return {
            "run": sheet.run,
            "day": sheet.day,
            "by": signed.by if signed else "",
            "verdict": VERDICTS[signed.verdict] if signed else "not signed",
            "restriction": signed.restriction if signed else "",
            "printed": self.walking.book.printed(sheet.run).is_file(),
        }


def _came(cause: Any) -> str:
    missed = [f"{cell.head}: {cell.came}" for cell in cause.cells if not cell.met]
    return cause.came or "; ".join(missed)
