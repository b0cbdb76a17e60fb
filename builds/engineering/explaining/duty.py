"""Workings of use over time: the lowest charge of a profile, starting the engine in it, and the engine-off test of the reserve."""

from dataclasses import dataclass

from builds.engineering.assessing.duty_plan import bank_of
from builds.engineering.assessing.duty_results import ProfileRun, profile_runs
from builds.engineering.assessing.reserve import TEST_C, after_test
from builds.engineering.assessment import ProfileBattery, ProfileResult, ReserveResult
from builds.engineering.design import PowerNode
from builds.engineering.electrical.battery import RESERVE_CURRENT_A
from builds.engineering.electrical.energy.banks import Bank, bank_in_the_cold
from builds.engineering.electrical.energy.stages import Crank
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
    ohm = bank.cranked_ohm((1.0 - start.charge_ratio) * bank.capacity_ah)
    load_a = (start.emf_v - start.post_v) / ohm - crank.current_a
    cranked = _Cranked(crank, start.charge_ratio, start.emf_v, ohm, load_a, start.post_v, start.starter_v)
    inside = _inside(done.plan.plan.banks[crank.bank], subject.node(bank.key), cranked, done.profile.battery_c)
    post, starter = _starting(cranked)
    return Working(
        key=f"duty-start:{key}",
        title=f"Starting the engine in “{done.profile.name or key}”, after {start.at_s / 3600:.1f} h",
        steps=(inside, post, starter, Comparison(words="The starting system asks for", value=start.starter_v, limit=start.least_v, unit="V", at_most=False)),
        result=start.starter_v, unit="V", rule="the lowest of all its starts", sources=(_SIMULATED, *_STARTER_SOURCES),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Cranked:
    """Figures of one start: what the starter takes, the battery, and the voltages that come of it."""

    crank: Crank
    charge_ratio: float
    emf_v: float
    internal_ohm: float
    load_a: float
    post_v: float
    starter_v: float


_STARTER_SOURCES = (
    "starter, cable and least voltage as entered for the profile or the platform, else from the table of source figures",
    "resistance of a battery in the cold and not full: from memory, the tables cold_batteries and battery_resistances",
)


def _inside(bank: Bank, node: PowerNode, start: _Cranked, battery_c: float) -> Step:
    """The battery's resistance from its label to this start."""
    assert node.battery is not None
    _, times_cold = bank_in_the_cold(temperature_c=battery_c)
    return Step(
        words="Inside the battery", symbol="R", formula="R_25 × f_T × f_q",
        numbers=(
            Number(symbol="R_25", value=node.battery.internal_mohm, unit="mΩ", words="of its label, warm and full"),
            Number(symbol="f_T", value=times_cold, unit="", words=f"at {battery_c:g} °C"),
            Number(symbol="f_q", value=start.internal_ohm / bank.internal_ohm, unit="", words=f"at {100 * start.charge_ratio:.1f} % of its charge"),
        ),
        value=1000 * start.internal_ohm, unit="mΩ",
    )  # fmt: skip


def _starting(start: _Cranked) -> tuple[Step, Step]:
    """The voltages at the post and at the starter while it turns."""
    crank = start.crank
    post = Step(
        words="At the battery's post while the starter turns", symbol="V_post", formula="E − (I_c + I_l) × R / 1000",
        numbers=(
            Number(symbol="E", value=start.emf_v, unit="V", words=f"behind its resistance, at {100 * start.charge_ratio:.1f} % of its charge"),
            Number(symbol="I_c", value=crank.current_a, unit="A", words="starter"),
            Number(symbol="I_l", value=start.load_a, unit="A", words="loads on this battery, at that voltage"),
            Number(symbol="R", value=1000 * start.internal_ohm, unit="mΩ", words="inside the battery"),
        ),
        value=start.post_v, unit="V",
    )  # fmt: skip
    starter = Step(
        words="At the starter", symbol="V_s", formula="V_post − I_c × R_c / 1000",
        numbers=(
            Number(symbol="V_post", value=start.post_v, unit="V", words="at the post"),
            Number(symbol="I_c", value=crank.current_a, unit="A", words="starter"),
            Number(symbol="R_c", value=1000 * crank.cable_ohm, unit="mΩ", words=_cable_words(crank)),
        ),
        value=start.starter_v, unit="V",
    )  # fmt: skip
    return post, starter


def _cable_words(crank: Crank) -> str:
    words = "way to the starter and back"
    return words if crank.cable_ohm else f"{words}: none counted, the least voltage is read at the battery's posts"


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
    within = Comparison(
        words="Within its part of the reserve", value=result.used_ah, limit=result.allowed_ah, unit="Ah", at_most=True
    )
    return Working(
        key=f"condition-reserve:{result.key}",
        title=f"Engine-off test of {node.name or node.key} in “{subject.solved.index.conditions[result.key].name}”",
        steps=(allowed, used, within, *_restart(subject, result, node)),
        result=result.used_ah, unit="Ah",
        rule="engine off for the test's minutes on a part of the reserve capacity, then restart",
        sources=("fire-apparatus production specifications", "the battery's reserve minutes as entered", *_STARTER_SOURCES),
    )  # fmt: skip


def _restart(subject: Subject, result: ReserveResult, node: PowerNode) -> tuple[Step | Comparison, ...]:
    """Starting the engine afterwards, where this battery starts it."""
    index, network = subject.solved.index, subject.solved.network
    after = after_test(index, network, index.conditions[result.key], node, result.load_a)
    if after is None:
        return ()
    start = _Cranked(
        after.crank, after.charge_ratio, after.emf_v, after.internal_ohm, result.load_a, after.post_v, after.starter_v
    )
    compared = Comparison(
        words="The engine starts afterwards", value=after.starter_v, limit=after.crank.least_v, unit="V", at_most=False
    )
    if after.post_v <= 0.0:
        return (compared,)
    return (_inside(bank_of(node, TEST_C), node, start, TEST_C), *_starting(start), compared)
