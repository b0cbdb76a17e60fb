"""Workings of use over time: the lowest charge of a profile, starting the engine in it, and the engine-off test of the reserve."""

from builds.engineering.assessing.duty_results import ProfileRun, profile_runs
from builds.engineering.assessment import ProfileBattery, ProfileResult, ReserveResult
from builds.engineering.electrical.battery import RESERVE_CURRENT_A
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining.subject import Subject
from builds.engineering.explaining.values import Comparison, Number, Row, Rows, Step, Working

__all__ = ["duty_lowest_working", "duty_start_working", "reserve_working"]

_SIMULATED = "the profile simulated from event to event: rated capacity, Peukert's extra, internal resistance, sources at their lowest voltage"


def _profile(subject: Subject, key: str) -> tuple[ProfileRun, ProfileResult]:
    result = next((item for item in subject.assessment.profiles if item.key == key), None)
    profile = next((item for item in subject.design.duty_profiles if item.key == key), None)
    if result is None or profile is None:
        raise UnknownTableEntry("The simulated profiles of this build", key)
    (done,) = profile_runs(subject.solved.index, subject.solved.network, [profile])
    return done, result


def duty_lowest_working(subject: Subject, key: str) -> Working:
    """Return the working of the lowest charge of the battery that comes nearest to what is kept back, segment by segment."""
    done, result = _profile(subject, key)
    kept = {bank.key: 1 - bank.usable_ratio for bank in done.plan.plan.banks}
    battery = min(result.batteries, key=lambda item: item.lowest_ratio - kept[item.key])
    place = [bank.key for bank in done.plan.plan.banks].index(battery.key)
    rows = tuple(_changes(done, place, battery))
    name = subject.node(battery.key).name or battery.key
    return Working(
        key=f"duty-lowest:{key}",
        title=f"Lowest charge of {name} in “{done.profile.name or key}”",
        steps=(
            _account(battery),
            Rows(
                words="What each segment does to its charge, up to its lowest", symbol="c", heads=(), formula="",
                rows=rows, total=100 * battery.lowest_ratio, unit="%",
            ),
            Comparison(words="What is kept back", value=100 * battery.lowest_ratio, limit=100 * kept[battery.key], unit="%", at_most=False),
        ),
        result=100 * battery.lowest_ratio,
        unit="%",
        rule=_SIMULATED,
        sources=("the battery's figures as entered; what its label does not say from the table of source figures",),
    )  # fmt: skip


def _account(battery: ProfileBattery) -> Rows:
    """Its ampere-hours over the whole profile, which close to 1e-9 of all that went through it."""
    rows = (
        Row("Given to loads and starter", (), -battery.given_ah),
        Row("Peukert's extra, for giving faster than rated", (), -battery.peukert_extra_ah),
        Row("Taken from sources", (), battery.taken_ah),
        Row("Lost in charging", (), -battery.charge_lost_ah),
    )
    return Rows(
        words="Its ampere-hours over the whole profile", symbol="q", heads=(), formula="", rows=rows,
        total=sum(row.value for row in rows), unit="Ah", note="given and taken close; Peukert's extra is an account of its own",
    )  # fmt: skip


def _changes(done: ProfileRun, bank: int, battery: ProfileBattery) -> list[Row]:
    trace, segments = done.run.trace, done.plan.segments
    ratio = trace.charge_ratio[:, bank]
    lowest = int(ratio.argmin())
    rows, before = [Row("As the profile begins", (), 100 * float(ratio[0]))], float(ratio[0])
    names = {place: done.plan.plan.stages[stage].segment for stage, place in reversed(list(enumerate(segments)))}
    last_of = {segments[stage]: at for at, stage in enumerate(trace.stage.tolist())}
    until = segments[int(trace.stage[lowest])]
    for place in range(until + 1):
        after = battery.lowest_ratio if place == until else float(ratio[last_of[place]])
        words = f"Segment {names[place]}" + (", until its lowest" if place == until else "")
        rows.append(Row(words, (), 100 * (after - before)))
        before = after
    return rows


def duty_start_working(subject: Subject, key: str) -> Working:
    """Return the working of the start of a profile that comes nearest to failing."""
    done, _ = _profile(subject, key)
    crank, starts = done.plan.plan.crank, done.run.starts
    if crank is None or not starts:
        raise UnknownTableEntry("The starts of this profile", key)
    start = min(starts, key=lambda item: item.starter_v - item.least_v)
    bank = done.plan.plan.banks[crank.bank]
    if start.post_v <= 0.0:
        raise UnknownTableEntry("The starts of this profile that leave a voltage", key)
    load_a = (start.emf_v - start.post_v) / bank.internal_ohm - crank.current_a if bank.internal_ohm else 0.0
    post = Step(
        words="At the battery's post while the starter turns", symbol="V_post", formula="E − (I_c + I_l) × R / 1000",
        numbers=(
            Number(symbol="E", value=start.emf_v, unit="V", words=f"behind its resistance, at {100 * start.charge_ratio:.1f} % of its charge"),
            Number(symbol="I_c", value=crank.current_a, unit="A", words="starter"),
            Number(symbol="I_l", value=load_a, unit="A", words="loads on this battery, at that voltage"),
            Number(symbol="R", value=1000 * bank.internal_ohm, unit="mΩ", words=f"inside it at {done.profile.battery_c:g} °C"),
        ),
        value=start.post_v, unit="V",
    )  # fmt: skip
    starter = Step(
        words="At the starter", symbol="V_s", formula="V_post − I_c × R_c / 1000",
        numbers=(
            Number(symbol="V_post", value=start.post_v, unit="V", words="at the post"),
            Number(symbol="I_c", value=crank.current_a, unit="A", words="starter"),
            Number(symbol="R_c", value=1000 * crank.cable_ohm, unit="mΩ", words="way to the starter and back"),
        ),
        value=start.starter_v, unit="V",
    )  # fmt: skip
    return Working(
        key=f"duty-start:{key}",
        title=f"Starting the engine in “{done.profile.name or key}”, after {start.at_s / 3600:.1f} h",
        steps=(post, starter, Comparison(words="The starting system asks for", value=start.starter_v, limit=start.least_v, unit="V", at_most=False)),
        result=start.starter_v, unit="V", rule="the lowest of all its starts", sources=(_SIMULATED, "least voltage as entered, else 9.6 V from service manuals"),
    )  # fmt: skip


def reserve_working(subject: Subject, key: str) -> Working:
    """Return the working of the engine-off test of a condition, of the battery that it asks most of."""
    found = [item for item in subject.assessment.reserves if item.key == key]
    if not found:
        raise UnknownTableEntry("The conditions with an engine-off test", key)
    return _reserve(subject, max(found, key=lambda item: item.used_ah / item.allowed_ah if item.allowed_ah else 0.0))


def _reserve(subject: Subject, result: ReserveResult) -> Working:
    node, usable = subject.node(result.battery), subject.solved.index.numbers["reserve-usable"]
    reserve_min = node.battery.reserve_min if node.battery is not None else None
    assert reserve_min is not None  # results are of batteries that state one
    allowed = Step(
        words="What the test may take", symbol="Q", formula="u × t_r × I_r / 60",
        numbers=(
            Number(symbol="u", value=usable, unit="", words="part of the reserve, the buyer's reserve-usable"),
            Number(symbol="t_r", value=reserve_min, unit="min", words="reserve of its label"),
            Number(symbol="I_r", value=RESERVE_CURRENT_A, unit="A", words="current that reserve minutes are stated at"),
        ),
        value=result.allowed_ah, unit="Ah",
    )  # fmt: skip
    used = Step(
        words="What it takes", symbol="q", formula="I × t / 60",
        numbers=(
            Number(symbol="I", value=result.load_a, unit="A", words="mean of the loads on this battery"),
            Number(symbol="t", value=result.minutes, unit="min", words="length of the test"),
        ),
        value=result.used_ah, unit="Ah",
    )  # fmt: skip
    limits = [
        Comparison(
            words="Within its part of the reserve",
            value=result.used_ah,
            limit=result.allowed_ah,
            unit="Ah",
            at_most=True,
        )
    ]
    if result.starter_v is not None and result.least_v is not None:
        limits.append(
            Comparison(
                words="The engine starts afterwards",
                value=result.starter_v,
                limit=result.least_v,
                unit="V",
                at_most=False,
            )
        )
    return Working(
        key=f"condition-reserve:{result.key}",
        title=f"Engine-off test of {node.name or node.key} in “{subject.solved.index.conditions[result.key].name}”",
        steps=(allowed, used, *limits),
        result=result.used_ah, unit="Ah",
        rule="engine off for the test's minutes on a part of the reserve capacity, then restart",
        sources=("fire-apparatus production specifications", "the battery's reserve minutes as entered"),
    )  # fmt: skip
