"""The eight figures above a build's sheet: each with its limit, what is left, and where the last authorised revision stood."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal

from builds.drawings.margin_bar import AT_LEAST, AT_MOST, margin_of
from builds.engineering.assessment import Assessment, CircuitResult, ConditionResult
from builds.engineering.buyer_rules import rule_number
from builds.engineering.design import Design
from builds.selectors.build_sheet import Sheet
from builds.selectors.figure_words import ampere, money, percent

__all__ = ["StripFigure", "strip_figures", "worst_circuit", "worst_condition"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StripFigure:
    """
    One figure as the strip shows it.

    With a ``limit`` there is a bar, and its words say what is left; without one ``state`` and ``words`` say what is
    known. ``rank`` is 1 for the figure with the least margin.
    """

    key: str
    label: str
    value: str
    unit: str = ""
    places: int = 1
    used: float | None = None
    limit: float | None = None
    kind: str = AT_MOST
    revised: float | None = None
    state: str = ""
    words: str = ""
    near_ratio: float = 0.05
    rank: int = 0
    working: str = ""  # key of how it came about

    @property
    def working_kind(self) -> str:
        """What its working is of."""
        return self.working.partition(":")[0]

    @property
    def working_name(self) -> str:
        """Whose its working is; empty for the whole build."""
        return self.working.partition(":")[2]


def strip_figures(sheet: Sheet) -> tuple[StripFigure, ...]:
    """Return the eight figures in their fixed order, each ranked by how little is left."""
    near = rule_number(sheet.design.buyer, "near-margin")
    figures = [_explained(replace(make(sheet), near_ratio=near)) for make in _FIGURES]
    order = sorted(range(len(figures)), key=lambda at: (_left_ratio(figures[at]), at))
    return tuple(replace(figure, rank=order.index(at) + 1) for at, figure in enumerate(figures))


def _explained(figure: StripFigure) -> StripFigure:
    """Hours and price are worked under their own names."""
    return replace(figure, working=figure.key) if figure.key in ("hours", "price") else figure


def _left_ratio(figure: StripFigure) -> float:
    """Return what is left as a part of the limit; a figure without one comes after all that have one."""
    if figure.limit is None or figure.used is None:
        return 1e6
    left = margin_of(figure.used, figure.limit, kind=figure.kind).left
    return (left if left is not None else 0.0) / abs(figure.limit or 1.0)


def worst_condition(assessment: Assessment) -> ConditionResult | None:
    """Return the condition with the least source left, or with the most load where no source runs in any."""
    with_source = [item for item in assessment.conditions if item.source is not None]
    if with_source:
        return min(with_source, key=lambda item: item.source.margin_a if item.source else 0.0)
    return max(assessment.conditions, key=lambda item: item.mean_a, default=None)


def worst_circuit(assessment: Assessment) -> CircuitResult | None:
    """Return the circuit that stands worst against its own drop limit."""
    return max(assessment.circuits, key=lambda item: item.drop_ratio / item.drop_limit_ratio, default=None)


def _load(sheet: Sheet) -> StripFigure:
    worst = worst_condition(sheet.assessment)
    if worst is None:
        return StripFigure(key="load", label="Load", value="–", words="no condition yet", state="not_measured")
    before = _of_revision(sheet, lambda design, was: _condition_load(was, worst.key))
    return StripFigure(
        key="load", label=f"Load, {_short(worst.name).lower()}", value=ampere(worst.mean_a), unit="A", used=worst.mean_a,
        limit=worst.source.available_a if worst.source else None, revised=before,
        words="" if worst.source else "from the batteries", working=f"condition-mean:{worst.key}",
    )  # fmt: skip


def _short(name: str) -> str:
    """Return a condition's name up to its first comma: a label has one line."""
    return name.partition(",")[0]


def _condition_load(assessment: Assessment, key: str) -> float | None:
    return next((item.mean_a for item in assessment.conditions if item.key == key), None)


def _drop(sheet: Sheet) -> StripFigure:
    worst = worst_circuit(sheet.assessment)
    if worst is None:
        return StripFigure(key="drop", label="Worst drop", value="–", words="no circuit yet", state="not_measured")
    before = _of_revision(sheet, lambda design, was: _circuit_drop(was, worst.number))
    return StripFigure(
        key="drop", label=f"Worst drop, circuit {worst.number}", value=percent(worst.drop_ratio), unit="%",
        used=worst.drop_ratio * 100, limit=worst.drop_limit_ratio * 100, revised=before,
        working=f"circuit-drop:{worst.number}",
    )  # fmt: skip


def _circuit_drop(assessment: Assessment, number: str) -> float | None:
    return next((item.drop_ratio * 100 for item in assessment.circuits if item.number == number), None)


def _key_off(sheet: Sheet) -> StripFigure:
    energy = sheet.assessment.energy
    if not sheet.design.loads:
        return StripFigure(key="key-off", label="Key-off draw", value="–", words="no load yet", state="not_measured")
    return StripFigure(
        key="key-off", label="Key-off draw", value=f"{energy.key_off_ma:,.0f}", unit="mA", places=0,
        used=energy.key_off_ma, limit=energy.key_off_limit_ma,
        revised=_of_revision(sheet, lambda design, was: was.energy.key_off_ma), working="key-off",
    )  # fmt: skip


def _battery(sheet: Sheet) -> StripFigure:
    asked = [item for item in sheet.assessment.conditions if item.battery_h is not None and item.min_hours]
    if asked:
        worst = min(asked, key=lambda item: (item.battery_h or 0.0) / (item.min_hours or 1.0))
        before = _of_revision(sheet, lambda design, was: _battery_h(was, worst.key))
        return StripFigure(
            key="battery", label=_short(worst.name), value=f"{worst.battery_h or 0.0:.1f}", unit="h", used=worst.battery_h,
            limit=worst.min_hours, kind=AT_LEAST, revised=before, working=f"condition-battery:{worst.key}",
        )  # fmt: skip
    standing = {item.key for item in sheet.design.conditions if item.stands}  # told in days beside the key-off draw
    lasting = [item for item in sheet.assessment.conditions if item.battery_h is not None and item.key not in standing]
    if lasting:
        worst = min(lasting, key=lambda item: item.battery_h or 0.0)
        return StripFigure(
            key="battery", label=f"Battery, {_short(worst.name).lower()}", value=f"{worst.battery_h or 0.0:.1f}", unit="h",
            words="no time is asked for", working=f"condition-battery:{worst.key}",
        )  # fmt: skip
    return StripFigure(key="battery", label="Battery time", value="–", words="no condition on batteries")


def _battery_h(assessment: Assessment, key: str) -> float | None:
    return next((item.battery_h for item in assessment.conditions if item.key == key), None)


def _payload(sheet: Sheet) -> StripFigure:
    weight, measures = sheet.assessment.weight, sheet.measures
    platform = sheet.design.platform
    # what the vehicle may carry at all: people, gear and load beside its own mass
    capacity_kg = weight.gvwr_kg - platform.curb_front_kg - platform.curb_rear_kg
    capacity, left = measures.mass(capacity_kg), measures.mass(weight.payload_left_kg)
    before = _of_revision(sheet, lambda design, was: measures.mass(capacity_kg - was.weight.payload_left_kg))
    label = f"Payload left, {platform.seats} seats"
    if not sheet.design.parts:
        return StripFigure(
            key="payload",
            label=label,
            value=f"{left:,.0f}",
            unit=measures.mass_unit,
            words="nothing added yet",
            working="payload",
        )
    return StripFigure(
        key="payload", label=label, value=f"{left:,.0f}", unit=measures.mass_unit, places=0,
        used=capacity - left, limit=capacity, revised=before,
        working="payload",
    )  # fmt: skip


def _rear_axle(sheet: Sheet) -> StripFigure:
    weight, measures = sheet.assessment.weight, sheet.measures
    front_left = weight.gawr_front_kg - weight.front_axle_kg
    rear_left = weight.gawr_rear_kg - weight.rear_axle_kg
    # the rear one unless the front one is over its rating
    front = front_left < 0 and front_left < rear_left
    mass, rating = (weight.front_axle_kg, weight.gawr_front_kg) if front else (weight.rear_axle_kg, weight.gawr_rear_kg)
    before = _of_revision(
        sheet, lambda design, was: measures.mass(was.weight.front_axle_kg if front else was.weight.rear_axle_kg)
    )
    label, working = ("Front axle", "front-axle") if front else ("Rear axle", "rear-axle")
    if not sheet.design.parts and mass <= rating:
        return StripFigure(
            key="axle", label=label, value=f"{measures.mass(mass):,.0f}", unit=measures.mass_unit, words="nothing added yet",
            working=working,
        )  # fmt: skip
    return StripFigure(
        key="axle", label=label, value=f"{measures.mass(mass):,.0f}",
        unit=measures.mass_unit, places=0, used=measures.mass(mass), limit=measures.mass(rating), revised=before,
        working=working,
    )  # fmt: skip


def _hours(sheet: Sheet) -> StripFigure:
    crew_h = round(sheet.assessment.labour.crew_h, 3)  # as a revision keeps them
    shown = f"{crew_h:,.1f}"
    if sheet.authorised is None:
        if not sheet.design.operations:
            return StripFigure(key="hours", label="Hours", value="–", words="no operation yet", state="not_measured")
        return StripFigure(key="hours", label="Hours", value=shown, unit="h", words="nothing authorised yet")
    quoted = float(sheet.authorised.revision.crew_h)
    if crew_h == quoted:
        return StripFigure(
            key="hours", label="Hours", value=shown, unit="h", state="within",
            words=f"as authorised, {sheet.authorised.revision.letter}",
        )  # fmt: skip
    return StripFigure(key="hours", label="Hours", value=shown, unit="h", used=crew_h, limit=quoted or None)


def _price(sheet: Sheet) -> StripFigure:
    total = sheet.assessment.price.total
    if sheet.authorised is None:
        if not (sheet.design.parts or sheet.design.operations):
            return StripFigure(
                key="price", label="Price", value="–", words="no part, no operation yet", state="not_measured"
            )
        return StripFigure(
            key="price", label="Price", value=_whole(total), unit=sheet.currency, words="nothing authorised yet"
        )
    more = total - sheet.authorised.revision.price_total
    if more == 0:
        state, words = "within", f"as authorised, {sheet.authorised.revision.letter}"
    else:
        state, words = "note", f"{money(abs(more))} {'not authorised' if more > 0 else 'under what is authorised'}"
    return StripFigure(key="price", label="Price", value=_whole(total), unit=sheet.currency, state=state, words=words)


def _whole(amount: Decimal) -> str:
    return f"{amount:,.0f}"


def _of_revision(sheet: Sheet, figure_of: Callable[[Design, Assessment], float | None]) -> float | None:
    """Return a figure of the last authorised revision, for the small arrow on the bar."""
    if sheet.authorised is None:
        return None
    return figure_of(sheet.authorised.design, sheet.authorised.assessment)


_FIGURES: tuple[Callable[[Sheet], StripFigure], ...] = (
    _load, _drop, _key_off, _battery, _payload, _rear_axle, _hours, _price,
)  # fmt: skip
