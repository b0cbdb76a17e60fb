"""
The vehicle from the side on its two axles: what the work adds and where, and what stands on each axle against its rating.

Front at the left. The outline is made from the wheelbase and the places of the zones; it is a plan of places, not the body's
shape. Arrows are masses: down for what is put on, up and dashed for what is taken off, longer for more.
"""

from collections import defaultdict
from math import sqrt

from builds.drawings.margin_bar import NEAR, OVER, WITHIN, Margin, margin_of, margin_words
from builds.drawings.measures import mass_words
from builds.drawings.one_line_symbols import shape
from builds.drawings.palette import SCREEN, Palette
from builds.drawings.svg import drawing, element, words
from builds.drawings.texts import backed_text, text
from builds.engineering.assessment import Assessment, WeightCase
from builds.engineering.buyer_rules import rule_number
from builds.engineering.design import Conventions, Design
from builds.engineering.units import KG_PER_LB
from builds.engineering.vocabulary import UnitSystem

__all__ = ["draw_axle_picture"]

_WIDTH = 700.0
_LEFT, _RIGHT = 40.0, 660.0
_GROUND = 204.0
_WHEEL = 24.0
_SILL, _ROOF = 176.0, 92.0
_STEP_PX = 58.0  # masses nearer to each other than this share an arrow
_BAR_W, _BAR_H = 220.0, 9.0
_POST_RATIO = 0.84
_LONGEST_PX = 40.0


def draw_axle_picture(design: Design, assessment: Assessment, *, palette: Palette = SCREEN) -> str:
    """
    Return the picture of a build's axle loads as an SVG.

    Parameters
    ----------
    design : Design
        Its platform gives the wheelbase and the zones, its parts bill the masses.
    assessment : Assessment
        Gives each axle's load and the gross mass against their ratings, and the cases with fuel and people, each printed as
        a line of figures; the one whose sides differ most gives the balance from left to right.
    palette : Palette
        ``SCREEN`` writes classes, ``PRINT`` literal colours.

    Returns
    -------
    str
        An SVG 700 px wide; its description says in words what it shows.
    """
    pen = _Pen(design, assessment, palette)
    foot, height = pen.foot()
    return drawing(
        element("desc", words(pen.description())),
        pen.vehicle(),
        pen.masses(),
        pen.axle("Front axle", pen.front_x, assessment.weight.front_axle_kg, assessment.weight.gawr_front_kg, 0),
        pen.axle("Rear axle", pen.rear_x, assessment.weight.rear_axle_kg, assessment.weight.gawr_rear_kg, 1),
        foot,
        width=_WIDTH,
        height=height,
        title=f"Axle loads of {design.number}",
        class_="axle-picture",
    )


class _Pen:
    """Where things stand, and how they are written."""

    def __init__(self, design: Design, assessment: Assessment, palette: Palette) -> None:
        self.design, self.weight, self.palette = design, assessment.weight, palette
        self.conventions: Conventions = design.conventions
        wheelbase = design.platform.wheelbase_mm
        places = [zone.x_mm for zone in design.platform.zones]
        self.start_mm = min([-900.0, *(place - 150 for place in places)])
        self.end_mm = max([wheelbase + 1100.0, *(place + 150 for place in places)])
        self.front_x, self.rear_x = self.x(0.0), self.x(wheelbase)

    def x(self, place_mm: float) -> float:
        return _LEFT + (place_mm - self.start_mm) / (self.end_mm - self.start_mm) * (_RIGHT - _LEFT)

    def vehicle(self) -> str:
        """Ground, body and wheels; the bonnet ends at the front axle."""
        nose, tail, cowl = self.x(self.start_mm), self.x(self.end_mm), self.front_x + 26
        body = (
            f"M{nose:.1f} {_SILL}V{_ROOF + 34:.1f}L{cowl:.1f} {_ROOF + 26:.1f}L{cowl + 26:.1f} {_ROOF}"
            f"H{tail:.1f}V{_SILL}z"
        )
        wheels = "".join(
            element("circle", cx=x, cy=_GROUND - _WHEEL, r=radius, stroke_width=weight, **self.palette.paint(fill=fill, stroke="text"))
            for x in (self.front_x, self.rear_x)
            for radius, weight, fill in ((_WHEEL, 2.25, "sheet"), (9.0, 1.25, "sheet"))
        )  # fmt: skip
        return (
            element("path", d=body, stroke_width=2.25, stroke_linejoin="round", **self.palette.paint(fill="sheet", stroke="text"))
            + element("path", d=f"M12 {_GROUND}H{_WIDTH - 12:g}", stroke_width=1, **self.palette.paint(fill="none", stroke="text"))
            + wheels
        )  # fmt: skip

    def _groups(self) -> list[tuple[float, float, str]]:
        """Return place, mass and zones of what is put on and of what is taken off, near things together; px and kg."""
        put_on: dict[str, float] = defaultdict(float)
        taken_off: dict[str, float] = defaultdict(float)
        for part in self.design.parts:
            (taken_off if part.removed else put_on)[part.zone] += part.mass_kg * part.quantity
        zones = sorted(self.design.platform.zones, key=lambda zone: zone.x_mm)
        found = [
            self._together(group)
            for masses, sign in ((put_on, 1), (taken_off, -1))
            for group in self._near([(self.x(zone.x_mm), sign * masses[zone.key], zone.name) for zone in zones])
        ]
        return sorted(found)

    @staticmethod
    def _near(masses: list[tuple[float, float, str]]) -> list[list[tuple[float, float, str]]]:
        """Put masses whose arrows would touch into one group."""
        groups: list[list[tuple[float, float, str]]] = []
        for item in masses:
            if not item[1]:
                continue
            if groups and item[0] - groups[-1][0][0] < _STEP_PX:
                groups[-1].append(item)
            else:
                groups.append([item])
        return groups

    @staticmethod
    def _together(group: list[tuple[float, float, str]]) -> tuple[float, float, str]:
        mass = sum(item[1] for item in group)
        place = sum(item[0] * item[1] for item in group) / mass
        return place, mass, ", ".join(item[2] for item in group)

    def masses(self) -> str:
        """
        One arrow a group with its figure: what is put on stands over the roof, what is taken off leaves through it.

        Figures of neighbours stand at two heights.
        """
        groups = self._groups()
        most = max((abs(mass) for _, mass, _ in groups), default=1.0)
        parts = []
        for sign in (1, -1):
            for index, (x, mass, zones) in enumerate(group for group in groups if group[1] * sign > 0):
                length = 10 + (_LONGEST_PX - 10) * sqrt(abs(mass) / most)
                parts.append(self._arrow(x, length, taken_off=sign < 0, title=zones))
                y = _ROOF - length - 10 - 14 * (index % 2) if sign > 0 else _ROOF + length + 18 + 14 * (index % 2)
                said = f"{'+' if sign > 0 else '−'}{mass_words(abs(mass), self.conventions)}"
                parts.append(backed_text(said, x, y, palette=self.palette, size=13, weight=600, anchor="middle"))
        return "".join(parts)

    def _arrow(self, x: float, length: float, *, taken_off: bool, title: str) -> str:
        if taken_off:
            top, end, tip = _ROOF + 4, _ROOF + 4 + length, _ROOF + 4
            head = f"M{x - 4:.1f} {tip + 7:.1f}L{x:.1f} {tip:.1f}L{x + 4:.1f} {tip + 7:.1f}"
        else:
            top, end, tip = _ROOF - length - 4, _ROOF - 4, _ROOF - 4
            head = f"M{x - 4:.1f} {tip - 7:.1f}L{x:.1f} {tip:.1f}L{x + 4:.1f} {tip - 7:.1f}"
        paint = self.palette.paint(fill="none", stroke="text")
        shaft = element(
            "path",
            d=f"M{x:.1f} {top:.1f}V{end:.1f}",
            stroke_width=2,
            stroke_dasharray="4 3" if taken_off else None,
            **paint,
        )
        return element("g", element("title", words(title)), shaft, element("path", d=head, stroke_width=2, **paint))

    def axle(self, name: str, x: float, load_kg: float, rating_kg: float, index: int) -> str:
        """The load of an axle under its wheel, against its rating; the two never overlap."""
        left = min(max(x - _BAR_W / 2, 12 + index * (_BAR_W + 30)), _WIDTH - 12 - _BAR_W - (1 - index) * (_BAR_W + 30))
        lead = element(
            "path", d=f"M{x:.1f} {_GROUND}V{_GROUND + 16:g}", stroke_width=1.25, stroke_dasharray="8 3 2 3",
            **self.palette.paint(fill="none", stroke="text"),
        )  # fmt: skip
        return lead + self._against(f"{name}, GAWR", load_kg, rating_kg, left, _GROUND + 34)

    def foot(self) -> tuple[str, float]:
        """The whole against GVWR, the balance of the sides, and a line for each case; and where it ends."""
        gross = self.weight.gvwr_kg - self.weight.payload_left_kg
        seats = self.design.platform.seats
        top = _GROUND + 104
        parts = [
            self._against(f"Whole vehicle, 150 lb on each of {seats} seats, GVWR", gross, self.weight.gvwr_kg, 12, top)
        ]
        sided = [(_side_ratio(case), case.name) for case in self.weight.cases if case.left_kg is not None]
        if sided:
            parts.append(self._balance(*max(sided, key=lambda item: abs(item[0])), 380, top))
        y = top + 74
        for case in self.weight.cases:
            parts.append(text(self._case_words(case), 12, y, palette=self.palette, size=13, tone="text-2"))
            y += 18
        return "".join(parts), y if self.weight.cases else top + 52

    def _case_words(self, case: WeightCase) -> str:
        def words_of(mass_kg: float) -> str:
            return mass_words(mass_kg, self.conventions)

        said = f"{case.name}: front {words_of(case.front_axle_kg)}, rear {words_of(case.rear_axle_kg)}"
        if case.left_kg is None or case.right_kg is None:
            return said
        return f"{said}, left {words_of(case.left_kg)}, right {words_of(case.right_kg)}"

    def _balance(self, ratio: float, name: str, left: float, y: float) -> str:
        """A beam with the heavier side named; short posts stand where the buyer's limit is."""
        limit = rule_number(self.design.buyer, "side-balance")
        reach = max(2 * limit, abs(ratio))
        middle = left + _BAR_W / 2
        at, post = (value / reach * _BAR_W / 2 for value in (ratio, limit))
        heavier = (
            "even"
            if abs(ratio) < 0.0005
            else f"{abs(ratio) * 100:.1f} % heavier on the {'right' if ratio > 0 else 'left'}"
        )
        posts = "".join(f"M{middle + side * post:.1f} {y + 7:.1f}v14" for side in (-1, 1))
        over = abs(ratio) > limit
        return (
            text("Left", left, y, palette=self.palette, size=13, tone="text-2")
            + text(f"at most {limit * 100:g} % apart", middle, y, palette=self.palette, size=13, anchor="middle", tone="text-2")
            + text("Right", left + _BAR_W, y, palette=self.palette, size=13, anchor="end", tone="text-2")
            + element("path", d=f"M{left:g} {y + 14:.1f}h{_BAR_W:g}", stroke_width=1.25, **self.palette.paint(fill="none", stroke="edge"))
            + element("path", d=posts, stroke_width=1.8, **self.palette.paint(fill="none", stroke="text"))
            + element("circle", cx=middle + at, cy=y + 14, r=5, **self.palette.paint(fill="stop" if over else "text"))
            + shape(OVER if over else WITHIN, left, y + 24, self.palette, size=14)
            + text(heavier, left + 20, y + 36, palette=self.palette, size=13, weight=600)
            + text(name, left + 20, y + 52, palette=self.palette, size=13, tone="text-2")
        )  # fmt: skip

    def _against(self, name: str, load_kg: float, rating_kg: float, left: float, y: float) -> str:
        """Name, bar and words: hollow is used, solid is left, a post at the rating, hatched beyond it."""
        margin = margin_of(self._shown(load_kg), self._shown(rating_kg))
        said = f"{mass_words(load_kg, self.conventions)}: {margin_words(margin, unit=self._unit, places=0)}"
        return (
            text(name, left, y, palette=self.palette, size=13, tone="text-2")
            + self._bar(margin, left, y + 8)
            + shape(margin.state, left, y + 24, self.palette, size=14)
            + text(said, left + 20, y + 36, palette=self.palette, size=13, weight=600)
        )

    @property
    def _unit(self) -> str:
        return "lb" if self.conventions.units is UnitSystem.US else "kg"

    def _shown(self, mass_kg: float) -> float:
        return mass_kg / KG_PER_LB if self.conventions.units is UnitSystem.US else mass_kg

    def _bar(self, margin: Margin, left: float, top: float) -> str:
        assert margin.used is not None
        post = _BAR_W * _POST_RATIO
        used = max(0.0, min(margin.used / margin.limit * post, _BAR_W)) if margin.limit > 0 else 0.0
        parts = [self._box(left, top, min(used, post), "quiet", "edge")]
        if margin.state == OVER:
            parts.append(self._box(left + post, top, max(used - post, 5), "stop-w", "stop"))
        else:
            tone = ("care-f", "care") if margin.state == NEAR else ("good", "good")
            parts.append(self._box(left + used, top, max(post - used, 3), *tone))
        line = f"M{left + post:.1f} {top - 4:.1f}V{top + _BAR_H + 4:.1f}h-6"
        parts.append(element("path", d=line, stroke_width=1.8, **self.palette.paint(fill="none", stroke="text")))
        return "".join(parts)

    def _box(self, x: float, y: float, width: float, fill: str, stroke: str) -> str:
        return element(
            "rect", x=x, y=y, width=width, height=_BAR_H, stroke_width=1, **self.palette.paint(fill=fill, stroke=stroke)
        )

    def description(self) -> str:
        """Everything the picture shows, in words."""
        added = [
            f"{zones}: {'−' if mass < 0 else '+'}{mass_words(abs(mass), self.conventions)}"
            for _, mass, zones in self._groups()
        ]
        axles = (
            f"front axle {mass_words(self.weight.front_axle_kg, self.conventions)} of "
            f"{mass_words(self.weight.gawr_front_kg, self.conventions)}, rear axle "
            f"{mass_words(self.weight.rear_axle_kg, self.conventions)} of {mass_words(self.weight.gawr_rear_kg, self.conventions)}"
        )
        return f"Added by the work: {'; '.join(added) or 'nothing'}. Standing on the axles: {axles}."


def _side_ratio(case: WeightCase) -> float:
    """Return how much heavier the right side is, as a part of both; negative where the left one is."""
    assert case.left_kg is not None and case.right_kg is not None
    total = case.left_kg + case.right_kg
    return (case.right_kg - case.left_kg) / total if total else 0.0
