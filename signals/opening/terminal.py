"""The walk in a terminal: one key an answer where one is enough; what was expected comes after it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import msgspec
from rich.console import Console
from rich.rule import Rule
from rich.text import Text

from signals import say
from signals.cli.output import bordered
from signals.opening.floor import Sentences
from signals.opening.keyboard import Keyboard
from signals.opening.rows import TRACK, kart_place
from signals.opening.sheet import CauseFound, Found, MeasureKind, Question, Said, Standstill
from signals.opening.walk import Walk
from signals.part import MakeLink
from signals.words import Aspect, Verdict

MARKS = {"passed": "✓", "failed": "✗", "not seen": "·", "not applicable": "○"}
VERDICTS = {Verdict.OPEN: "Open", Verdict.OPEN_RESTRICTED: "Restricted", Verdict.DO_NOT_OPEN: "Do not open"}
ALWAYS = "a again · l later · u unseen · t note · q end here"
NOT_A_CERTIFICATE = (
    "What this leaves is a record, no certificate; local codes and licensed practice decide. Nothing here is "
    "an emergency stop: hard-wired stops, flags and radio stay."
)

KEYS = "alutq"
NOTE_MAX = 200


class Ended(Exception):
    """Whoever walks ended here."""


@dataclass
class Terminal:
    """One walk at one terminal; everything is written to stderr, so that stdout is free for the result."""

    walk: Walk
    keys: Keyboard
    to: Console
    make_link: MakeLink
    by: str
    witness: str = ""
    signed: Path | None = None
    _place: str = ""
    _note: str = ""
    _others: tuple[str, ...] = field(default=())

    async def run(self) -> bool:
        """Walk until it is signed or ended; False where it could not begin."""
        if against := await self.walk.begin():
            self._refused("The walk cannot begin", against)
            return False
        self._greet()
        try:
            while self.signed is None:
                await self._ask_all()
                await self._choose()
        except Ended:
            self.to.print("Ended here; the next `kerblight opening` goes on from here.")
        finally:
            await self.walk.rest()
        return True

    # --- asking

    async def _ask_all(self) -> None:
        while (step := await self.walk.ask()) is not None:
            if isinstance(step, Standstill):
                await self._stand_still(step.sentences)
                continue
            came: Question | Found | Standstill | None = step
            while isinstance(came, Question):
                came = await self._put(came)
            if isinstance(came, Standstill):
                await self._stand_still(came.sentences)

    async def _stand_still(self, sentences: Sentences) -> None:
        """Say why nothing can be asked; equipment's yellow and red can be lifted from here."""
        self._refused("The walk stands still", sentences)
        typed = await self._answer("Enter go on · f looked: lift what equipment placed · q end here > ", "fq")
        if typed == "f" and (against := await self.walk.lift()):
            self._refused("It stays", against)

    async def _put(self, question: Question) -> Question | Found | Standstill | None:
        """Put a question; gives what came, None where the row is asked again or later."""
        self._head(question)
        while True:
            self.to.print(self._choices(question))
            typed = await self._answer("> ", _singles(question))
            if typed == "a":
                return None
            if typed == "l":
                await self.walk.later()
                return None
            if typed == "t" or (typed == "o" and question.asks == "lamps"):
                await self._aside(typed)
                continue
            if typed == "g" and question.asks == "good":
                await self.walk.all_good()
                return None
            said = await self._said(question, typed)
            if said is not None:
                return await self.walk.say(said)
            self.to.print("  That is none of the answers.")

    def _head(self, question: Question) -> None:
        if question.where != self._place:
            self._place = question.where
            self.to.print(Rule(f"{question.where}", align="left", style="dim"))
        effect = {"notes": " (noted only)", "restricts": " (restricts)"}.get(question.effect, "")
        line = Text(f"{question.number} of {question.of}  ", style="dim")
        self.to.print(line.append(f"{question.text}{effect}", style="bold"))

    def _choices(self, question: Question) -> Text:
        line = Text("  ")
        match question.asks:
            case "lamps":
                line.append("  ".join(f"{n} {lamp}" for n, lamp in enumerate(question.choices, 1)))
                line.append("  0 none   + several: +12, Enter")
            case "shows" | "cut-off":
                names = (say.ASPECTS[Aspect(aspect)] for aspect in question.choices)
                line.append("  ".join(f"{n} {name}" for n, name in enumerate(names, 1)))
            case "answers":
                line.append("the painted number, 0 for none")
            case "speed":
                line.append("km/h, or Enter where nothing measures it")
            case "good":
                line.append("y yes   n no   g everything here is good")
            case "press":
                line.append("Enter when done")
        return line.append(f"\n  {'o others lit up · ' if question.asks == 'lamps' else ''}{ALWAYS}", "dim")

    async def _said(self, question: Question, typed: str) -> Said | None:
        """Read an answer; None where it is none."""
        said = _read(question, typed)
        if said is None:
            return None
        if _wants_number(question, said):
            read = await self._answer("  Which number do you read? ")
            said = msgspec.structs.replace(said, number=int(read) if read.isdigit() else None)
        if said.good is False and not self._note:
            self._note = (await self._answer("  What is wrong? "))[:NOTE_MAX]
        said = msgspec.structs.replace(said, note=self._note, elsewhere=self._others)
        self._note, self._others = "", ()
        return said

    async def _aside(self, what: str) -> None:
        if what == "t":
            self._note = (await self._answer("  Note: "))[:NOTE_MAX]
        else:
            self._others = tuple((await self._answer("  Which other heads? ")).replace(",", " ").split())

    async def _answer(self, prompt: str, singles: str = "") -> str:
        self.to.print(prompt, end="", markup=False)
        typed = await self.keys.answer(singles)
        if typed is None or (typed == "q" and "q" in singles):
            raise Ended
        return typed

    # --- after the last question

    async def _choose(self) -> None:
        """Show what it comes to, and do what is chosen next."""
        self._judgement()
        menu: dict[str, tuple[str, Callable[[], object]]] = {
            "r": ("test again what failed", self._again),
            "e": ("cause and effect", self._causes),
            "k": ("set a kart aside", lambda: self._measure("aside")),
            "h": ("take a head out of service", lambda: self._measure("out-of-service")),
            "w": ("wet limits for all", lambda: self._measure("wet")),
            "v": ("verdict", self._sign),
            "q": ("end here", self._end),
        }
        self.to.print(Text("  " + " · ".join(f"{key} {words}" for key, (words, _) in menu.items()), "dim"))
        typed = await self._answer("> ", "".join(menu))
        if typed in menu:
            done = menu[typed][1]()
            if hasattr(done, "__await__"):
                await done

    def _again(self) -> None:
        rows = self.walk.again()
        self.to.print(f"{len(rows)} to be tested again." if rows else "Nothing failed.")

    async def _causes(self) -> None:
        def tell(number: int, of: int, found: CauseFound) -> None:
            late = max((cell.ms or 0 for cell in found.cells), default=0)
            self.to.print(
                f"{MARKS[found.outcome]} {number} of {of}  {found.cause}  {found.came}"
                f"{f'  {late} ms at most' if found.cells else ''}",
                markup=False,
            )

        if against := await self.walk.try_causes(self.make_link, tell=tell):
            self._refused("Cause and effect cannot begin", against)

    async def _measure(self, kind: MeasureKind) -> None:
        place, flag = TRACK, ""
        if kind == "aside":
            number = await self._answer("  Which kart? ")
            place = kart_place(int(number)) if number.isdigit() else number
        elif kind == "out-of-service":
            place = await self._answer("  Which head? ")
            flag = await self._answer("  Who stands there with a flag? ")
        reason = await self._answer("  Why? ")
        if not any(row.place == place for row in self.walk.sheet.rows):
            self.to.print(f"  There is no {place}.")
        elif against := await self.walk.put_in_force(kind, place, reason=reason, flag=flag):
            self._refused("Not in force", against)

    async def _sign(self) -> None:
        judged = self.walk.judgement()
        for number, verdict in enumerate(Verdict, 1):
            why = judged.against[verdict]
            self.to.print(
                f"  {number} {VERDICTS[verdict]}{f'  not now: {why[0]}' if why else ''}", markup=False
            )
        typed = await self._answer("  Which verdict? (Enter: none) ", "123")
        if typed not in ("1", "2", "3"):
            return
        verdict = list(Verdict)[int(typed) - 1]
        by = await self._answer(f"  Signed by (Enter: {self.by}): ") or self.by
        witness = await self._answer("  Witness (Enter: none): ") or self.witness
        came = await self.walk.sign(verdict, by=by, witness=witness)
        if isinstance(came, tuple):
            self._refused(f"{VERDICTS[verdict]} cannot be signed", came)
        else:
            self.signed = came

    def _end(self) -> None:
        raise Ended

    # --- showing

    def tell(self, found: Found) -> None:
        """Show what was found, and only now what was expected."""
        line = Text(f"{MARKS[found.outcome]} ", style="bold")
        if found.method in ("sensor", "report") or found.outcome != "passed":
            line.append(f"{found.row}: ")
        line.append(found.observed)
        if found.outcome == "failed":
            line.append(f"; expected {found.expected}", style="bold")
        ms = f"{found.ms} ms · " if found.ms is not None else ""
        self.to.print(line.append(f"  {ms}{found.method}", style="dim"))

    def _greet(self) -> None:
        sheet = self.walk.sheet
        done = len(sheet.tries)
        self.to.print(Text(f"Opening check {sheet.run}, {sheet.name}", style="bold"))
        self.to.print(NOT_A_CERTIFICATE, style="dim")
        going_on = f"{done} of {len(sheet.rows)} rows are answered already. " if done else ""
        self.to.print(f"{going_on}Head {sheet.cut} is cut off today.")
        if sheet.reopened:
            self.to.print(f"The venue file changed: {len(sheet.reopened)} rows are asked again.")

    def _judgement(self) -> None:
        judged = self.walk.judgement()
        self.to.print(Rule("What it comes to", align="left", style="dim"))
        counts = (("passed", judged.passed), ("failed", judged.failed), ("not seen", judged.open))
        more = (("set aside or out of service", judged.spared), ("noted", judged.noted))
        self.to.print(", ".join(f"{len(rows)} {name}" for name, rows in (*counts, *more) if rows))
        for row in judged.failed:
            tries = self.walk.sheet.tries.get(row)
            why = f": {tries.left.observed}; expected {tries.left.expected}" if tries else ""
            self.to.print(f"✗ {row}{why}", markup=False)
        if waiting := self.walk.waiting():
            self.to.print(f"{len(waiting)} rows wait until the lamps that failed are mended.")
        if judged.restriction:
            self.to.print(f"In force: {judged.restriction}", markup=False)
        possible = " or ".join(VERDICTS[verdict] for verdict in judged.may)
        self.to.print(f"It can be signed: {possible}")

    def _refused(self, title: str, sentences: Sentences) -> None:
        self.to.print(bordered(title, sentences))


def _singles(question: Question) -> str:
    match question.asks:
        case "lamps":
            return f"{KEYS}o0{'123456789'[: len(question.choices)]}"
        case "shows" | "cut-off":
            return KEYS + "123456789"[: len(question.choices)]
        case "good":
            return f"{KEYS}yng"
    return KEYS


def _read(question: Question, typed: str) -> Said | None:
    """Read what was typed as an answer to a question; None where it is none."""
    if typed == "u":
        return Said(unseen=True)
    match question.asks:
        case "lamps":
            return _lamps(question, typed)
        case "shows" | "cut-off":
            return _aspect(question, typed)
        case "answers":
            return Said(kart=int(typed) or None) if typed.isdigit() else None
        case "speed":
            return _speed(typed)
        case "good":
            return {"y": Said(good=True), "n": Said(good=False)}.get(typed)
        case "press":
            return Said() if not typed else None


def _lamps(question: Question, typed: str) -> Said | None:
    if typed == "0":
        return Said(lamps=())
    several = typed.removeprefix("+")
    numbers = [int(key) for key in several] if several.isdigit() else []
    if not numbers or not all(1 <= n <= len(question.choices) for n in numbers):
        return None
    return Said(lamps=tuple(dict.fromkeys(question.choices[n - 1] for n in numbers)))


def _aspect(question: Question, typed: str) -> Said | None:
    if not typed.isdigit() or not 1 <= int(typed) <= len(question.choices):
        return None
    return Said(aspect=Aspect(question.choices[int(typed) - 1]))


def _speed(typed: str) -> Said | None:
    if not typed:
        return Said()
    try:
        return msgspec.convert({"kmh": float(typed.replace(",", "."))}, Said)
    except (ValueError, msgspec.ValidationError):
        return None


def _wants_number(question: Question, said: Said) -> bool:
    speaks = said.aspect in (Aspect.NUMBER, Aspect.BLUE_FLASH) or "number" in (said.lamps or ())
    return question.reads_number and speaks
