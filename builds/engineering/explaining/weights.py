"""Workings of the weight with people and fuel in it, of its sides, and of what each zone gains."""

from builds.engineering.assessing.weights import aboard
from builds.engineering.assessment import WeightCase
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.values import Comparison, Number, Row, Rows, Step, Working

__all__ = ["case_working", "crew_payload_working", "zone_working"]

_SOURCES = ("certification label and figures of the platform as entered", "the parts bill as entered")


def crew_payload_working(subject: Subject) -> Working:
    """Return the working of the payload left with the buyer's own crew aboard."""
    platform, weight = subject.design.platform, subject.assessment.weight
    if weight.crew_payload_left_kg is None:
        raise UnknownTableEntry("The crews of this build", "payload-crew")
    crew_kg = subject.solved.index.numbers["crew-mass"]
    step = Step(
        words="What is left for load", symbol="p", formula="G − C_f − C_r − m − c × n",
        numbers=(
            Number(symbol="G", value=platform.gvwr_kg, unit="kg", words="GVWR"),
            Number(symbol="C_f", value=platform.curb_front_kg, unit="kg", words="front axle as it came"),
            Number(symbol="C_r", value=platform.curb_rear_kg, unit="kg", words="rear axle as it came"),
            Number(symbol="m", value=weight.added_kg, unit="kg", words="added"),
            Number(symbol="c", value=crew_kg, unit="kg", words="a crew member with their gear, the buyer's crew-mass"),
            Number(symbol="n", value=platform.seats, unit="", words="seats"),
        ),
        value=weight.crew_payload_left_kg, unit="kg",
    )  # fmt: skip
    return Working(
        key="payload-crew",
        title="Payload left with the crew aboard",
        steps=(step, Comparison(words="At least nothing", value=weight.crew_payload_left_kg, limit=0.0, unit="kg", at_most=False)),
        result=weight.crew_payload_left_kg, unit="kg",
        rule="GVWR less everything that stands in it and the buyer's own crew on every seat; the regulation's 150 lb is another figure",
        sources=_SOURCES,
    )  # fmt: skip


def case_working(subject: Subject, part: str, place: str) -> Working:
    """
    Return the working of what an axle, a side or the whole carries in one case.

    Parameters
    ----------
    subject : Subject
        A build.
    part : str
        "front", "rear", "left", "right" or "together".
    place : str
        The case, counted from 1 in the order of the sheet.

    Returns
    -------
    Working
        Its result is the figure of the case.

    Raises
    ------
    UnknownTableEntry
        If there is no such case, or its platform says nothing of sides.
    """
    cases = subject.assessment.weight.cases
    if not place.isascii() or not place.isdigit() or not 1 <= int(place) <= len(cases):
        raise UnknownTableEntry("The cases of this build's weight", place)
    case = cases[int(place) - 1]
    value = _figure_of(case, part)
    if value is None:
        raise UnknownTableEntry("What the platform says of its track", part)
    came_kg, came = _as_it_came(subject, part)
    rows = _rows(subject, case.name, part)
    added = Rows(
        words="What each thing adds here", symbol="m",
        heads=(("m_1", "kg", "mass"), *_HEADS[part]), formula=_formula(subject, part),
        rows=rows, total=sum(row.value for row in rows), unit="kg", note=_note(subject, part),
    )  # fmt: skip
    whole = Step(
        words="Carried in this case", symbol="A", formula="C + m",
        numbers=(
            Number(symbol="C", value=came_kg, unit="kg", words=came),
            Number(symbol="m", value=added.total, unit="kg", words="added"),
        ),
        value=value, unit="kg",
    )  # fmt: skip
    return Working(
        key=f"case-{part}:{place}",
        title=f"{_TITLES[part]}, {case.name}",
        steps=(added, whole, *_limits(subject, case, part, value)),
        result=value, unit="kg",
        rule="moments about the other axle and the other wheels; shares ahead of, behind or beside them are not clipped",
        sources=_SOURCES,
    )  # fmt: skip


_TITLES = {
    "front": "What the front axle carries",
    "rear": "What the rear axle carries",
    "left": "What the left wheels carry",
    "right": "What the right wheels carry",
    "together": "What all wheels carry",
}
_BEHIND, _ASIDE = (("x", "mm", "behind the front axle"),), (("y", "mm", "to the right of the centre line"),)
_HEADS = {"front": _BEHIND, "rear": _BEHIND, "left": _ASIDE, "right": _ASIDE, "together": ()}


def _figure_of(case: WeightCase, part: str) -> float | None:
    return {
        "front": case.front_axle_kg,
        "rear": case.rear_axle_kg,
        "left": case.left_kg,
        "right": case.right_kg,
        "together": case.total_kg,
    }[part]


def _as_it_came(subject: Subject, part: str) -> tuple[float, str]:
    platform = subject.design.platform
    both_kg = platform.curb_front_kg + platform.curb_rear_kg
    if part in ("front", "rear"):
        return platform.curb_front_kg if part == "front" else platform.curb_rear_kg, f"{part} axle as it came"
    if part == "together":
        return both_kg, "both axles as they came"
    if platform.curb_left_kg is None:
        return both_kg / 2, "half of both axles as they came: the platform names no sides"
    left_kg = platform.curb_left_kg
    return left_kg if part == "left" else both_kg - left_kg, f"{part} wheels as they came"


def _formula(subject: Subject, part: str) -> str:
    platform = subject.design.platform
    if part == "together":
        return "m_1"
    if part in ("front", "rear"):
        share = f"x / {platform.wheelbase_mm:.10g}"
        return f"m_1 × {share}" if part == "rear" else f"m_1 × (1 − {share})"
    return f"m_1 × (0.5 {'+' if part == 'right' else '−'} y / {platform.track_mm or 0.0:.10g})"


def _note(subject: Subject, part: str) -> str:
    platform = subject.design.platform
    if part == "together":
        return ""
    lengths = {True: f"wheelbase {platform.wheelbase_mm:g} mm", False: f"track {platform.track_mm or 0.0:g} mm"}
    return lengths[part in ("front", "rear")] + "; what is in no zone of the platform stands midway on the centre line"


def _rows(subject: Subject, name: str, part: str) -> tuple[Row, ...]:
    """Gear, then the fuel that is gone or the people that are aboard, each at its place."""
    platform = subject.design.platform
    return tuple(
        _row(subject, part, words, mass_kg, x_mm, y_mm)
        for words, mass_kg, x_mm, y_mm in (*_gear(subject), *_aboard(subject, name))
        if mass_kg and platform.wheelbase_mm
    )


def _gear(subject: Subject) -> list[tuple[str, float, float, float]]:
    zones, middle_mm = subject.solved.index.zones, subject.design.platform.wheelbase_mm / 2
    found = []
    for line in subject.design.parts:
        zone, mass_kg = zones.get(line.zone), line.quantity * line.mass_kg * (-1 if line.removed else 1)
        words = f"{line.description}, {zone.name}" if zone else line.description
        found.append((words, mass_kg, zone.x_mm if zone else middle_mm, zone.y_mm if zone else 0.0))
    return found


def _aboard(subject: Subject, name: str) -> list[tuple[str, float, float, float]]:
    return [(one.words, one.kg, one.x_mm, one.y_mm) for one in aboard(subject.solved.index, name)]


def _row(subject: Subject, part: str, words: str, mass_kg: float, x_mm: float, y_mm: float) -> Row:
    platform = subject.design.platform
    if part == "together":
        return Row(words, (mass_kg,), mass_kg)
    if part in ("front", "rear"):
        share = x_mm / platform.wheelbase_mm
        return Row(words, (mass_kg, x_mm), mass_kg * (share if part == "rear" else 1 - share))
    aside = y_mm / (platform.track_mm or 1.0)
    return Row(words, (mass_kg, y_mm), mass_kg * (0.5 + aside if part == "right" else 0.5 - aside))


def _limits(subject: Subject, case: WeightCase, part: str, value: float) -> tuple[Comparison, ...]:
    weight = subject.assessment.weight
    if part in ("left", "right"):
        if case.left_kg is None or case.right_kg is None or case.total_kg <= 0:
            return ()
        apart = 100 * abs(case.left_kg - case.right_kg) / case.total_kg
        limit = 100 * subject.solved.index.numbers["side-balance"]
        return (
            Comparison(words="Difference of the sides over the whole weight, side-balance", value=apart, limit=limit, unit="%", at_most=True),
        )  # fmt: skip
    limit_kg = {"front": weight.gawr_front_kg, "rear": weight.gawr_rear_kg, "together": weight.gvwr_kg}[part]
    name = "GVWR" if part == "together" else "GAWR"
    return (Comparison(words=name, value=value, limit=limit_kg, unit="kg", at_most=True),)


def zone_working(subject: Subject, key: str) -> Working:
    """Return the working of what a zone of the vehicle gains."""
    zone = subject.solved.index.zones.get(key)
    if zone is None:
        raise UnknownTableEntry("The zones of this platform", key)
    lines = [line for line in subject.design.parts if line.zone == key and line.mass_kg]
    rows = tuple(
        Row(line.description, (line.quantity, line.mass_kg), line.quantity * line.mass_kg)
        for line in lines
        if not line.removed
    )
    off_kg = sum(line.quantity * line.mass_kg for line in lines if line.removed)
    added = Rows(
        words="What is put here", symbol="m",
        heads=(("n", "", "how many"), ("m_1", "kg", "mass each")), formula="n × m_1",
        rows=rows, total=sum(row.value for row in rows), unit="kg",
        note=f"{off_kg:.1f} kg of factory parts taken off here earn nothing against a limit" if off_kg else "",
    )  # fmt: skip
    limit = () if zone.max_load_kg is None else (
        Comparison(words="The maker's limit of this place", value=added.total, limit=zone.max_load_kg, unit="kg", at_most=True),
    )  # fmt: skip
    return Working(
        key=f"zone-added:{key}", title=f"Mass put in {zone.name}", steps=(added, *limit), result=added.total, unit="kg",
        rule="parts by their zone; the vehicle maker says what a place bears beyond the vehicle as it came, so what is taken off is no credit (common practice)", sources=_SOURCES,
    )  # fmt: skip
