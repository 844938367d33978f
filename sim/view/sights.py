"""What befell karts and who walks on the track, drawn as a person would see it.

Smoke drifts, an arm is up, a scarf flaps, somebody walks, parts lie on the road. Every motion here is
slow and small; with reduced motion all of it stands still.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import pygame

from signals.look import SMALL_PX
from signals.mqtt.contract import WorldPerson, WorldView
from sim.view.paint import Brush

FINER = 4
PERSON_M, PERSON_PX = 2.6, (20, 40)
"""How tall somebody is drawn: in metres of the map, within pixels at scale 1."""
STRIDE_M = 0.7
PUFFS = 6
PUFF_S, PUFF_M, DRIFT_M = 2.4, 1.5, 5.0
WAVE_HZ = 1.2
"""Well below three a second, and nothing of it flashes."""
SIGNS = {
    "spin": "spin",
    "stall": "stalled",
    "contact": "contact",
    "smoke": "smoke",
    "hand-raised": "hand up",
    "driver-out": "driver out",
    "wrong-way": "wrong way",
    "shortcut": "shortcut",
    "slow-kart": "slow",
    "loose-clothing": "scarf",
    "ignored-signal": "ignores signals",
    "pushed": "pushed",
    "kart-enters": "entering",
    "kart-button": "button",
    "debris": "debris",
    "overturned": "overturned",
    "medical": "driver slumped",
    "child-in-tears": "in tears",
    "wet-patch": "wet patch",
    "barrier-moved": "barrier moved",
}
PARTS = (
    (-0.9, 0.3, 0.5, 20),
    (0.1, -0.5, 0.7, 75),
    (0.8, 0.4, 0.45, 130),
    (-0.2, 0.8, 0.35, 10),
    (0.4, 0.0, 0.3, 50),
)
"""What lies there: middles and lengths in metres, and turns in degrees."""

Spot = tuple[float, float]
Place = Callable[[float, float], Spot]
Placed = dict[int, tuple[Spot, float]]
"""Where each kart stands on the map (pixel), and its heading in degrees."""


class Sights:
    """Draws them at one size. `scale` is pixels a metre, `kart_px` the radius of a kart's plate."""

    def __init__(self, brush: Brush, scale: float, kart_px: int) -> None:
        self.brush = brush
        self.scale = scale
        self.kart_px = kart_px
        self.person_px = round(min(max(PERSON_M * scale, brush.px(PERSON_PX[0])), brush.px(PERSON_PX[1])))
        self.figure = lru_cache(64)(self._figure)
        self.puff = lru_cache(64)(self._puff)

    def below(self, on: pygame.Surface, view: WorldView, place: Place) -> None:
        """Draw what lies on the road: karts are drawn over it."""
        lying = {"debris": self._debris, "wet-patch": self._puddle, "barrier-moved": self._tyres}
        for sign in view.incidents:
            draw = lying.get(sign["event"])
            if draw is not None and "x_m" in sign:
                draw(on, place(sign["x_m"], sign["y_m"]))

    def above(self, on: pygame.Surface, view: WorldView, place: Place, karts: Placed, phase_s: float) -> None:
        """Draw what is seen at and over karts; `phase_s` drives what drifts and waves."""
        for sign in view.incidents:
            at = karts.get(sign.get("kart", 0))
            spot = at[0] if at else place(sign["x_m"], sign["y_m"]) if "x_m" in sign else None
            if spot is None:
                continue
            match sign["event"]:
                case "smoke":
                    self._smoke(on, spot, phase_s)
                case "hand-raised":
                    self._arm(on, spot, phase_s)
                case "loose-clothing":
                    self._scarf(on, spot, at[1] if at else 0.0, phase_s)
                case "kart-button":
                    self._light(on, spot)
                case "overturned":
                    self._wheels_up(on, spot, at[1] if at else 0.0)
                case "medical":
                    self._slumped(on, spot, at[1] if at else 0.0)
                case "child-in-tears":
                    self._hands_at_face(on, spot)

    def people(self, on: pygame.Surface, view: WorldView, place: Place) -> list[tuple[pygame.Rect, str]]:
        """Draw everybody on foot, over everything else on the road."""
        touched = []
        for index, person in enumerate(view.people):
            step = int((person.x_m + person.y_m) / STRIDE_M * 2) % 4 if person.doing == "walks" else 1
            figure = self.figure(person.who, person.doing, step)
            box = figure.get_rect(midbottom=place(person.x_m, person.y_m))
            on.blit(figure, box)
            touched.append((box, f"person:{index}"))
        return touched

    def signs(self, on: pygame.Surface, view: WorldView, place: Place, karts: Placed) -> None:
        """Write beside karts what befell them, each at its place; none covers another."""
        words: dict[Spot, list[str]] = {}
        for sign in view.incidents:
            at = karts.get(sign.get("kart", 0))
            spot = at[0] if at else place(sign["x_m"], sign["y_m"]) if "x_m" in sign else None
            if spot is not None and on.get_rect().collidepoint(spot):
                words.setdefault(spot, []).append(SIGNS.get(sign["event"], str(sign["event"])))
        taken: list[pygame.Rect] = []
        for spot, said in words.items():
            taken.append(self._sign(on, ", ".join(said), spot, taken))

    def _sign(self, on: pygame.Surface, text: str, spot: Spot, taken: list[pygame.Rect]) -> pygame.Rect:
        """Write a plate above a place, or on top of those already there; gives its box."""
        written = self.brush.text(text, SMALL_PX, "ground", bold=True)
        box = written.get_rect().inflate(self.brush.px(8), 0)
        box.midbottom = round(spot[0]), round(spot[1] - self.kart_px * 2)
        box.clamp_ip(on.get_rect())
        while (hit := box.collidelist(taken)) >= 0 and taken[hit].top >= box.height:
            box.bottom = taken[hit].top - 1
        pygame.draw.rect(on, self.brush.colour("text"), box, border_radius=self.brush.px(4))
        on.blit(written, written.get_rect(center=box.center))
        return box

    def _debris(self, on: pygame.Surface, spot: Spot) -> None:
        unit = max(self.scale, self.brush.px(14))
        for x, y, length, turn in PARTS:
            middle = pygame.Vector2(spot) + pygame.Vector2(x, y) * unit
            way = pygame.Vector2(length / 2, 0).rotate(turn) * unit
            across = way.rotate(90) * 0.6
            corners = [middle + way + across, middle + way - across, middle - way - across, middle - way]
            pygame.draw.polygon(on, self.brush.colour("text"), corners)
            pygame.draw.polygon(on, self.brush.colour("ground"), corners, self.brush.px(1))

    def _puddle(self, on: pygame.Surface, spot: Spot) -> None:
        """Draw water on the road: a dark pool with a bright rim where the light lies on it."""
        unit = max(self.scale, self.brush.px(10))
        for x, y, wide, high in ((0.0, 0.0, 3.4, 1.9), (1.3, 0.7, 1.7, 1.0), (-1.5, -0.6, 1.4, 0.9)):
            pool = pygame.Rect(0, 0, round(wide * unit), round(high * unit))
            pool.center = round(spot[0] + x * unit), round(spot[1] + y * unit)
            pygame.draw.ellipse(on, self.brush.colour("ground"), pool)
            pygame.draw.arc(on, self.brush.colour("text"), pool, 0.4, 2.6, self.brush.px(2))

    def _tyres(self, on: pygame.Surface, spot: Spot) -> None:
        """Draw a tyre wall that has been pushed out onto the road."""
        unit = max(self.scale, self.brush.px(10))
        for x, y in ((-1.4, -0.5), (-0.5, 0.1), (0.4, 0.5), (1.3, 0.2), (2.0, -0.6)):
            middle = pygame.Vector2(spot) + pygame.Vector2(x, y) * unit
            pygame.draw.circle(on, self.brush.colour("text"), middle, unit * 0.5)
            pygame.draw.circle(on, self.brush.colour("ground"), middle, unit * 0.5, self.brush.px(1))
            pygame.draw.circle(on, self.brush.colour("ground"), middle, unit * 0.22)

    def _wheels_up(self, on: pygame.Surface, spot: Spot, heading_deg: float) -> None:
        """Draw a kart's floor and four wheels in the air."""
        along = pygame.Vector2(1, 0).rotate(-heading_deg) * self.kart_px
        across = along.rotate(90)
        floor = [along * 1.5 * a + across * 0.8 * b for a, b in ((1, 1), (1, -1), (-1, -1), (-1, 1))]
        pygame.draw.polygon(on, self.brush.colour("ground"), [pygame.Vector2(spot) + each for each in floor])
        pygame.draw.polygon(
            on, self.brush.colour("text"), [pygame.Vector2(spot) + each for each in floor], self.brush.px(2)
        )
        for ahead, aside in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            wheel = pygame.Vector2(spot) + along * 1.1 * ahead + across * 1.1 * aside
            pygame.draw.circle(on, self.brush.colour("text"), wheel, self.kart_px * 0.5)
            pygame.draw.circle(on, self.brush.colour("ground"), wheel, self.kart_px * 0.2)

    def _slumped(self, on: pygame.Surface, spot: Spot, heading_deg: float) -> None:
        """Draw a driver who hangs over the side of the kart, the arm down."""
        side = pygame.Vector2(0, 1).rotate(-heading_deg) * self.kart_px
        ahead = side.rotate(-90)
        hip, head = pygame.Vector2(spot), pygame.Vector2(spot) + side * 1.7 + ahead * 0.3
        hand = head + side * 0.9 - ahead * 0.5
        for colour, more in (("ground", 4), ("number", 0)):
            pygame.draw.line(on, self.brush.colour(colour), hip, head, self.brush.px(7 + more))
            pygame.draw.line(on, self.brush.colour(colour), head, hand, self.brush.px(4 + more))
            pygame.draw.circle(on, self.brush.colour(colour), head, self.kart_px * 0.7 + more / 2)

    def _hands_at_face(self, on: pygame.Surface, spot: Spot) -> None:
        """Draw a small driver with both hands at the face."""
        middle = pygame.Vector2(spot) + pygame.Vector2(0, -self.kart_px * 1.5)
        for colour, more in (("ground", 4), ("number", 0)):
            for side in (-1, 1):
                elbow = middle + pygame.Vector2(side * self.kart_px * 1.1, self.kart_px * 0.5)
                hand = middle + pygame.Vector2(side * self.kart_px * 0.35, 0)
                shoulder = middle + pygame.Vector2(side * self.kart_px * 0.5, self.kart_px * 1.1)
                pygame.draw.lines(
                    on, self.brush.colour(colour), False, [shoulder, elbow, hand], self.brush.px(3 + more)
                )
            pygame.draw.circle(on, self.brush.colour(colour), middle, self.kart_px * 0.6 + more / 2)

    def _smoke(self, on: pygame.Surface, spot: Spot, phase_s: float) -> None:
        unit = max(self.scale, self.brush.px(14))
        for index in range(PUFFS):
            grown = (phase_s / PUFF_S + index / PUFFS) % 1
            radius = round((0.5 + grown) * PUFF_M * unit / 2)
            puff = self.puff(radius, round((1 - grown) * 8))
            drift = pygame.Vector2(DRIFT_M * 0.7, -DRIFT_M * 0.5) * grown * unit / 2
            on.blit(puff, puff.get_rect(center=pygame.Vector2(spot) + drift))

    def _puff(self, radius: int, density: int) -> pygame.Surface:
        surface = pygame.Surface((2 * radius, 2 * radius), pygame.SRCALPHA)
        for ring in range(3):
            pygame.draw.circle(
                surface,
                (*self.brush.colour("text"), min(255, 14 + density * (9 + 9 * ring))),
                (radius, radius),
                radius * (1 - 0.22 * ring),
            )
        return surface

    def _arm(self, on: pygame.Surface, spot: Spot, phase_s: float) -> None:
        """Draw an arm up from the kart, waving."""
        turn = 14 * math.sin(2 * math.pi * WAVE_HZ * phase_s)
        reach = pygame.Vector2(0, -self.kart_px * 2.6).rotate(turn)
        start = pygame.Vector2(spot) + pygame.Vector2(self.kart_px * 0.8, -self.kart_px * 0.6)
        hand = start + reach
        for colour, more in (("ground", 4), ("number", 0)):
            pygame.draw.line(on, self.brush.colour(colour), start, hand, self.brush.px(4 + more))
            pygame.draw.circle(on, self.brush.colour(colour), hand, self.brush.px(4) + more / 2)

    def _scarf(self, on: pygame.Surface, spot: Spot, heading_deg: float, phase_s: float) -> None:
        """Draw a scarf that flaps behind the driver."""
        back = pygame.Vector2(-1, 0).rotate(-heading_deg)
        aside = back.rotate(90)
        points = []
        for part in range(9):
            wave = math.sin(2 * math.pi * (WAVE_HZ * phase_s - part / 6)) * part / 9
            points.append(
                pygame.Vector2(spot)
                + back * self.kart_px * (1.3 + 0.34 * part)
                + aside * wave * self.kart_px * 0.8
            )
        for colour, width in (("ground", 7), ("number", 4)):
            pygame.draw.lines(on, self.brush.colour(colour), False, points, self.brush.px(width))

    def _light(self, on: pygame.Surface, spot: Spot) -> None:
        """Draw rays around a kart whose driver pressed the button: it calls for help."""
        for turn in range(0, 360, 45):
            way = pygame.Vector2(1, 0).rotate(turn + 22.5)
            start, end = (pygame.Vector2(spot) + way * self.kart_px * far for far in (1.7, 2.3))
            pygame.draw.line(on, self.brush.colour("ground"), start, end, self.brush.px(5))
            pygame.draw.line(on, self.brush.colour("number"), start, end, self.brush.px(2))

    def _figure(self, who: str, doing: str, step: int) -> pygame.Surface:
        """Draw somebody: a marshal with a filled waistcoat, a driver with a helmet, a visitor plain."""
        high = self.person_px * FINER
        surface = pygame.Surface((high, high), pygame.SRCALPHA)
        for colour, wider in (("ground", high * 0.07), ("number", 0.0)):
            self._limbs(surface, who, doing, step, self.brush.colour(colour), wider)
        return pygame.transform.smoothscale(surface, (self.person_px, self.person_px))

    def _limbs(
        self, on: pygame.Surface, who: str, doing: str, step: int, colour: tuple[int, int, int], wider: float
    ) -> None:
        high = on.get_height()

        def spot(x: float, y: float) -> Spot:
            return high * (0.5 + x), high * y

        def limb(start: Spot, end: Spot, thick: float) -> None:
            pygame.draw.line(on, colour, start, end, round(high * thick + wider))
            pygame.draw.circle(on, colour, end, (high * thick + wider) / 2)

        swing = (0.16, 0.05, -0.16, 0.05)[step]
        head = 0.13 if who == "driver" else 0.1
        pygame.draw.circle(on, colour, spot(0, 0.16), high * head + wider / 2)
        limb(spot(0, 0.3), spot(0, 0.58), 0.24 if who == "marshal" else 0.13)
        limb(spot(0, 0.58), spot(swing, 0.92), 0.09)
        limb(spot(0, 0.58), spot(-swing, 0.92), 0.09)
        hands = {"pushes": ((0.34, 0.42), (0.34, 0.5)), "sweeps": ((0.3, 0.7), (0.25, 0.62))}
        for x, y in hands.get(doing, ((0.2 + swing / 2, 0.56), (-0.2 + swing / 2, 0.56))):
            limb(spot(0, 0.34), spot(x, y), 0.08)


def explain_person(person: WorldPerson) -> str:
    """Say who somebody on foot is and what is being done."""
    kart = f" kart {person.kart}" if person.kart is not None and person.doing == "pushes" else ""
    where = "on the road" if person.on_road else "beside the road"
    return f"A {person.who} {person.doing}{kart}, {where}."
