"""Reads a walk's terminal as a person does: by the words on it alone, and types what is seen."""

from __future__ import annotations

import re

from signals import say
from signals.opening.sheet import Question, Said
from signals.words import Aspect

PLACE = re.compile(r"^([A-Za-z0-9-]+)(?: (\d+))?(?:,|$)")
PROMPT = re.compile(
    r"(^|\n)(> |  (Which|Signed|Witness|What|Why|Note|Who) [^\n]*[:?)] |Enter go on [^\n]*> )$"
)
ASPECTS = {words: aspect for aspect, words in say.ASPECTS.items()}


class Screen:
    """What stands on the terminal since the last answer, and where one stands."""

    def __init__(self) -> None:
        self.text = ""
        self._where = ""

    def feed(self, text: str) -> None:
        self.text += text

    def answered(self) -> str:
        """Begin anew after an answer; gives what was read."""
        text, self.text = self.text, ""
        return text

    @property
    def asks(self) -> bool:
        """Whether the last line is a prompt, and not a line that has come by half."""
        return bool(PROMPT.search(self.text))

    @property
    def stands_still(self) -> bool:
        """Whether the walk says that nothing can be asked now."""
        return self.text.splitlines()[-1].startswith("Enter go on")

    def question(self) -> Question | None:
        """Read the question that stands there; None where it is none of the walk's."""
        lines = self.text.splitlines()
        for line in lines:
            if line.rstrip().endswith("─") and (found := re.match(r"^─* ?(.+?) ─+$", line.strip())):
                self._where = found[1]
        number = next((n for n, line in enumerate(lines) if re.match(r"^\d+ of \d+  ", line)), None)
        if number is None:
            return None
        until = next(n for n in range(number, len(lines)) if re.match(r"^ *(a again|o others)", lines[n]))
        choices = next(n for n in range(number + 1, len(lines)) if lines[n].startswith("  "))
        asked = re.sub(r"^\d+ of \d+  ", "", " ".join(lines[number:choices]))
        return self._question(asked, " ".join(line.strip() for line in lines[choices:until]))

    def _question(self, asked: str, choices: str) -> Question:
        kinds = {
            "0 none": "lamps",
            "painted number": "answers",
            "km/h": "speed",
            "y yes": "good",
            "Enter when done": "press",
        }
        asks = next((kind for words, kind in kinds.items() if words in choices), "shows")
        if "by itself" in asked:
            asks = "cut-off"
        numbered = re.findall(r"(\d) (\S.*?)(?=  | \d |$)", choices.partition("0 none")[0])
        found = PLACE.match(self._where)
        place = found[1].lower() + (f"-{found[2]}" if found[2] else "") if found else ""
        return Question(
            number=1,
            of=1,
            asks=asks,  # type: ignore[arg-type]
            place=place,
            where=self._where,
            text=asked,
            choices=tuple(name.strip() for _, name in numbered),
            reads_number=True,
        )


def typed(question: Question, said: Said) -> list[str]:
    """Give what to type for an answer: a key or a line, and the number where one is read."""
    match question.asks:
        case "lamps":
            lamps = said.lamps or ()
            keys = "".join(str(question.choices.index(lamp) + 1) for lamp in lamps)
            first = "0" if not lamps else keys if len(lamps) == 1 else f"+{keys}"
            return [first, *([str(said.number)] if "number" in lamps else [])]
        case "shows" | "cut-off":
            names = [ASPECTS[name] for name in question.choices]
            assert said.aspect is not None
            speaks = said.aspect in (Aspect.NUMBER, Aspect.BLUE_FLASH)
            return [str(names.index(said.aspect) + 1), *([str(said.number or "")] if speaks else [])]
        case "answers":
            return [str(said.kart or 0)]
        case "speed":
            return [f"{said.kmh:g}" if said.kmh is not None else ""]
        case "good":
            return ["y"] if said.good else ["n", "not in order"]
        case "press":
            return [""]
