"""Workings of figures of the whole build: added mass, payload, axles, hours, price."""

from builds.engineering.design import PartsBillLine
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.values import Comparison, Number, Row, Rows, Step, Working
from builds.engineering.money import as_decimal, line_total
from builds.engineering.vocabulary import SuppliedBy
from builds.engineering.weight import SEAT_ALLOWANCE_KG

__all__ = ["added_working", "axle_working", "elapsed_working", "hours_working", "payload_working", "price_working"]


def _mass_rows(lines: tuple[PartsBillLine, ...]) -> tuple[Row, ...]:
    rows = []
    for line in lines:
        sign = -1 if line.removed else 1
        if line.mass_kg:
            rows.append(
                Row(line.description, (sign * line.quantity, line.mass_kg), sign * line.quantity * line.mass_kg)
            )
    return tuple(rows)


def _added(subject: Subject) -> Rows:
    rows = _mass_rows(subject.design.parts)
    return Rows(
        words="What is added, and negative what is taken off", symbol="m",
        heads=(("n", "", "how many"), ("m_1", "kg", "mass each")), formula="n × m_1",
        rows=rows, total=sum(row.value for row in rows), unit="kg",
    )  # fmt: skip


def added_working(subject: Subject) -> Working:
    """Return the working of the mass added."""
    weight = subject.assessment.weight
    return Working(
        key="added-mass",
        title="Mass added",
        steps=(
            _added(subject),
            Comparison(words="Label threshold before the first sale", value=weight.added_kg, limit=weight.label_threshold_kg, unit="kg", at_most=True),
        ),
        result=weight.added_kg, unit="kg",
        rule="lesser of 1.5 % of GVWR and 100 lb", sources=("the parts bill as entered", "49 CFR 571.110 S10"),
    )  # fmt: skip


def payload_working(subject: Subject) -> Working:
    """Return the working of the payload left."""
    platform, weight = subject.design.platform, subject.assessment.weight
    step = Step(
        words="What is left for people and load", symbol="p", formula="G − C_f − C_r − m − s × n",
        numbers=(
            Number(symbol="G", value=platform.gvwr_kg, unit="kg", words="GVWR"),
            Number(symbol="C_f", value=platform.curb_front_kg, unit="kg", words="front axle as it came"),
            Number(symbol="C_r", value=platform.curb_rear_kg, unit="kg", words="rear axle as it came"),
            Number(symbol="m", value=weight.added_kg, unit="kg", words="added"),
            Number(symbol="s", value=SEAT_ALLOWANCE_KG, unit="kg", words="150 lb for each seat"),
            Number(symbol="n", value=platform.seats, unit="", words="seats"),
        ),
        value=weight.payload_left_kg, unit="kg",
    )  # fmt: skip
    return Working(
        key="payload",
        title="Payload left",
        steps=(_added(subject), step, Comparison(words="At least nothing", value=weight.payload_left_kg, limit=0.0, unit="kg", at_most=False)),
        result=weight.payload_left_kg,
        unit="kg",
        rule="GVWR less everything that stands in it and 150 lb on each seat",
        sources=("certification label of the vehicle", "49 CFR 567.4(g)(3)", "the parts bill as entered"),
    )  # fmt: skip


def axle_working(subject: Subject, *, rear: bool) -> Working:
    """Return the working of what an axle carries."""
    platform, weight = subject.design.platform, subject.assessment.weight
    rows = []
    for line in subject.design.parts:
        if not line.mass_kg:
            continue
        zone, sign = subject.solved.index.zones.get(line.zone), -1 if line.removed else 1
        x_mm = zone.x_mm if zone else platform.wheelbase_mm / 2
        mass_kg = sign * line.quantity * line.mass_kg
        share = x_mm / platform.wheelbase_mm
        words = f"{line.description}, {zone.name}" if zone else f"{line.description}, no zone: midway"
        rows.append(Row(words, (mass_kg, x_mm), mass_kg * (share if rear else 1 - share)))
    shares = Rows(
        words="What each thing adds to this axle", symbol="m",
        heads=(("m_1", "kg", "mass"), ("x", "mm", "behind the front axle")),
        formula=f"m_1 × x / {platform.wheelbase_mm:g}" if rear else f"m_1 × (1 − x / {platform.wheelbase_mm:g})",
        rows=tuple(rows), total=sum(row.value for row in rows), unit="kg", note=f"wheelbase {platform.wheelbase_mm:g} mm",
    )  # fmt: skip
    curb_kg = platform.curb_rear_kg if rear else platform.curb_front_kg
    limit_kg = platform.gawr_rear_kg if rear else platform.gawr_front_kg
    value = weight.rear_axle_kg if rear else weight.front_axle_kg
    name = "rear" if rear else "front"
    step = Step(
        words="What the axle carries", symbol="A", formula="C + m",
        numbers=(
            Number(symbol="C", value=curb_kg, unit="kg", words="as it came"),
            Number(symbol="m", value=shares.total, unit="kg", words="added"),
        ),
        value=value, unit="kg",
    )  # fmt: skip
    return Working(
        key=f"{name}-axle",
        title=f"What the {name} axle carries with nobody aboard",
        steps=(shares, step, Comparison(words="GAWR", value=value, limit=limit_kg, unit="kg", at_most=True)),
        result=value,
        unit="kg",
        rule="moments about the other axle; shares ahead of or behind an axle are not clipped",
        sources=("certification label of the vehicle", "the parts bill as entered"),
    )


def hours_working(subject: Subject) -> Working:
    """Return the working of the crew hours."""
    rows = tuple(
        Row(item.name, (item.standard_h, item.quantity, item.crew), item.standard_h * item.quantity * item.crew)
        for item in subject.design.operations
    )
    return Working(
        key="hours",
        title="Crew hours",
        steps=(
            Rows(
                words="Every operation", symbol="h",
                heads=(("h_1", "h", "standard, each"), ("n", "", "how many"), ("c", "", "people at once")), formula="h_1 × n × c",
                rows=rows, total=sum(row.value for row in rows), unit="h",
            ),
        ),
        result=subject.assessment.labour.crew_h, unit="h",
        rule="standard hours × quantity × crew", sources=("the operations as entered",),
    )  # fmt: skip


def elapsed_working(subject: Subject) -> Working:
    """Return the working of the hours that the work takes, one operation after the other."""
    rows = tuple(
        Row(item.name, (item.standard_h, item.quantity), item.standard_h * item.quantity)
        for item in subject.design.operations
    )
    return Working(
        key="hours-elapsed",
        title="Hours of the work, one operation after the other",
        steps=(
            Rows(
                words="Every operation, however many people are at it", symbol="t",
                heads=(("h_1", "h", "standard, each"), ("n", "", "how many")), formula="h_1 × n",
                rows=rows, total=sum(row.value for row in rows), unit="h",
            ),
        ),
        result=subject.assessment.labour.elapsed_h, unit="h",
        rule="standard hours × quantity; what can be done side by side is the bay plan's business", sources=("the operations as entered",),
    )  # fmt: skip


def price_working(subject: Subject) -> Working:
    """Return the working of the price."""
    price, numbers = subject.assessment.price, subject.solved.index.numbers
    sold = [line for line in subject.design.parts if line.supplied_by is SuppliedBy.SHOP and not line.removed]
    rows = tuple(_priced(line) for line in sold)
    taxed = sum(row.value for row, line in zip(rows, sold, strict=True) if line.taxed)
    crew_h = round(subject.assessment.labour.crew_h, 3)
    steps: tuple[Step | Rows, ...] = (
        Rows(
            words="Parts that the shop supplies", symbol="P", heads=(("n", "", "how many"), ("p", "", "price each")), formula="n × p",
            rows=rows, total=float(price.parts), unit="", note="each line rounded half up to two places", places=2,
        ),
        Step(
            words="Labour", symbol="W", formula="h × w",
            numbers=(
                Number(symbol="h", value=crew_h, unit="h", words="crew hours"),
                Number(symbol="w", value=numbers["labour-rate"], unit="per h", words="the buyer's rate"),
            ),
            value=float(price.labour), unit="", places=2,
        ),
        Step(
            words="Tax on the taxed parts", symbol="T", formula="P_t × t",
            numbers=(
                Number(symbol="P_t", value=taxed, unit="", words="taxed lines", places=2),
                Number(symbol="t", value=numbers["tax-ratio"], unit="", words="the buyer's tax"),
            ),
            value=float(price.tax), unit="", places=2,
        ),
        Step(
            words="Price", symbol="S", formula="P + W + T",
            numbers=(
                Number(symbol="P", value=float(price.parts), unit="", words="parts", places=2),
                Number(symbol="W", value=float(price.labour), unit="", words="labour", places=2),
                Number(symbol="T", value=float(price.tax), unit="", words="tax", places=2),
            ),
            value=float(price.total), unit="", places=2,
        ),
    )  # fmt: skip
    return Working(
        key="price", title="Price", steps=steps, result=float(price.total), unit="",
        rule="what the customer brings, what is transferred and what is taken off has no price; labour is not taxed",
        sources=("the parts bill and the buyer's rules as entered",),
    )  # fmt: skip


def _priced(line: PartsBillLine) -> Row:
    total = line_total(quantity=as_decimal(line.quantity), unit_price=as_decimal(line.unit_price))
    return Row(line.description, (line.quantity, line.unit_price), float(total))
