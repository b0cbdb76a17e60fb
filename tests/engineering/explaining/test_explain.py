"""Every working on the demo documents and on the sound build: its print can be worked again, and ends at the figure shown."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from builds.engineering.assess import assess
from builds.engineering.assessment import Assessment
from builds.engineering.design import Design, LoadUse
from builds.engineering.document import read_document
from builds.engineering.errors import UnknownTableEntry
from builds.engineering.explaining import Comparison, Rows, Step, Working, explain, keys_of, number_text, workings_of
from builds.engineering.explaining.printed import printed_working
from builds.engineering.explaining.shown_units import working_shown
from builds.engineering.vocabulary import UnitSystem
from tests.engineering.assess.designs import SOUND, changed
from tests.engineering.assess.plants_feeding import WITH_24_V, WITH_STUD
from tests.engineering.assess.test_rings import RINGED
from tests.engineering.assess.test_true_peak import heads, set_to
from tests.engineering.explaining.by_hand import last_digit, number, worked

DEMO = Path(__file__).parents[3] / "demo"
CASES = Path(__file__).parents[2] / "cases"  # sources that stand away from their batteries
DESIGNS: dict[str, Design] = {"sound": SOUND, "24 V bus": WITH_24_V, "maker's stud": WITH_STUD} | {
    path.stem: read_document(path.read_bytes())
    for path in [*sorted(DEMO.glob("*.json")), *sorted(CASES.glob("3[34]-*-bus.json"))]
}


@cache
def assessed(name: str) -> Assessment:
    return assess(DESIGNS[name])


@cache
def workings(name: str) -> tuple[Working, ...]:
    """All workings of a design but the proposed pairs, made once for the tests of this file."""
    return tuple(workings_of(DESIGNS[name], assessed(name), proposals=False))


def faults_of_step(step: Step) -> Iterator[str]:
    value, off = worked(step.put_in)
    if abs(value - number(step.text)) > (off + last_digit(step.text)) * (1 + 1e-6) + 1e-12:
        yield f"{step.symbol} = {step.put_in} gives {value}, printed {step.text}"


def faults_of_rows(rows: Rows) -> Iterator[str]:
    total, off = 0.0, last_digit(rows.text)
    for row in rows.rows:
        printed = rows.row_text(row.value)
        if rows.formula:
            value, row_off = worked(rows.put_in(row))
            if abs(value - number(printed)) > (row_off + last_digit(printed)) * (1 + 1e-6) + 1e-12:
                yield f"{row.words}: {rows.put_in(row)} gives {value}, printed {printed}"
        total, off = total + number(printed), off + last_digit(printed)
    if abs(total - number(rows.text)) > off * (1 + 1e-6) + 1e-12:
        yield f"{rows.symbol}: the lines make {total}, printed {rows.text}"


def faults_of(working: Working) -> Iterator[str]:
    for step in working.steps:
        if isinstance(step, Step):
            yield from faults_of_step(step)
        elif isinstance(step, Rows):
            yield from faults_of_rows(step)
    given = {number.symbol: number.text for step in working.steps if isinstance(step, Step) for number in step.numbers}
    for step in working.steps:  # a result that goes on into a later formula is the same figure there
        on = None if isinstance(step, Comparison) else given.get(step.symbol)
        if on is not None and abs(number(step.text) - number(on)) > last_digit(step.text) * 1.001:
            yield f"{step.symbol} is {step.text} and goes on as {on}"


def shown_beside(assessment: Assessment, kind: str, name: str) -> float | None:
    """The figure of a case of the weight, of a profile or of an engine-off test; the charge told is the lowest of any battery's."""
    if kind.startswith("case-"):
        case, part = assessment.weight.cases[int(name) - 1], kind.removeprefix("case-")
        axle = f"{part}_axle_kg" if part in ("front", "rear") else f"{part}_kg"
        return case.total_kg if part == "together" else getattr(case, axle)
    if kind == "condition-reserve":
        return max((item for item in assessment.reserves if item.key == name), key=lambda item: item.used_ratio).used_ah
    profile = next(item for item in assessment.profiles if item.key == name)
    if kind == "duty-start":
        return min(profile.starts, key=lambda start: start.starter_v - start.least_v).starter_v
    return 100 * min(battery.lowest_ratio for battery in profile.batteries)


def shown(assessment: Assessment, key: str) -> float | None:
    """The figure of the assessment that a key stands for; None for the few that only a working has."""
    kind, _, name = key.partition(":")
    circuits = {item.number: item for item in assessment.circuits}
    runs = {item.key: item for item in assessment.runs}
    conditions = {item.key: item for item in assessment.conditions}
    fields = {
        "circuit-mean": "mean_a", "circuit-continuous": "continuous_a", "circuit-peak": "peak_a", "circuit-ampacity": "ampacity_a",
        "circuit-short": "prospective_a", "circuit-far-end": "far_end_fault_a", "run-continuous": "continuous_a",
        "run-peak": "peak_a", "run-drop": "drop_v", "run-ampacity": "ampacity_a", "run-short": "prospective_a",
        "condition-lowest": "lowest_load_v", "condition-mean": "mean_a", "condition-rms": "rms_a", "condition-peak": "peak_a", "condition-battery": "battery_h",
    }  # fmt: skip
    if kind in fields:
        found = (circuits if kind.startswith("circuit") else runs if kind.startswith("run") else conditions)[name]
        return float(getattr(found, fields[kind]))
    if kind.startswith("panel-"):
        panel = next(item for item in assessment.panels if item.key == name)
        return panel.continuous_a if kind == "panel-continuous" else 100 * panel.feed_drop_ratio
    if kind == "circuit-drop":
        return 100 * circuits[name].drop_ratio
    if kind == "condition-source":
        source = conditions[name].source
        return source.margin_a if source else None
    if kind.startswith(("case-", "duty-")) or kind == "condition-reserve":
        return shown_beside(assessment, kind, name)
    weight, energy = assessment.weight, assessment.energy
    return {
        "key-off": energy.key_off_ma, "key-off-days": energy.key_off_days, "added-mass": weight.added_kg,
        "payload": weight.payload_left_kg, "payload-crew": weight.crew_payload_left_kg, "front-axle": weight.front_axle_kg, "rear-axle": weight.rear_axle_kg,
        "hours": assessment.labour.crew_h, "hours-elapsed": assessment.labour.elapsed_h, "price": float(assessment.price.total),
    }.get(kind)  # fmt: skip


@pytest.mark.parametrize("name", DESIGNS)
def test_every_printed_formula_gives_its_printed_result(name: str) -> None:
    faults = [f"{working.key}: {fault}" for working in workings(name) for fault in faults_of(working)]

    assert faults == []


@pytest.mark.parametrize("name", ["sound", "2614-crew-cab-truck"])
def test_every_formula_printed_in_feet_and_pounds_gives_its_printed_result(name: str) -> None:
    shown = [working_shown(working, UnitSystem.US) for working in workings(name)]

    assert [f"{working.key}: {fault}" for working in shown for fault in faults_of(working)] == []


def test_a_build_in_us_units_explains_itself_in_feet_and_pounds() -> None:
    us = replace(SOUND, conventions=replace(SOUND.conventions, units=UnitSystem.US))
    number = us.circuits[0].number

    payload = printed_working(explain(us, "payload"), UnitSystem.US)
    drop = printed_working(explain(us, f"circuit-drop:{number}"), UnitSystem.US)
    figures = [item.text for step in (*payload.steps, *drop.steps) for item in step.numbers]
    units = {text.split()[-1] for text in figures if " " in text}

    seat = next(item for step in payload.steps for item in step.numbers if item.words == "150 lb for each seat")
    assert seat.text == "150 lb"  # 49 CFR 567.4(g)(3) says the figure in pounds
    assert {"lb", "ft", "mΩ/ft"} <= units
    assert units.isdisjoint({"kg", "m", "mΩ/m"})
    left_lb = assess(us).weight.payload_left_kg / 0.45359237  # international yard and pound agreement of 1959
    assert payload.steps[-1].result == f"{number_text(left_lb, 5)} lb"
    assert explain(us, f"circuit-ampacity:{number}").title.endswith(" ft carries")


def test_a_metric_build_explains_itself_in_si() -> None:
    metric = replace(SOUND, conventions=replace(SOUND.conventions, units=UnitSystem.METRIC))

    payload = printed_working(explain(metric, "payload"), UnitSystem.METRIC)

    assert payload == printed_working(explain(metric, "payload"))
    assert payload.steps[-1].result.endswith(" kg")


@pytest.mark.parametrize("name", DESIGNS)
def test_every_working_ends_at_the_figure_of_the_assessment(name: str) -> None:
    wrong = []
    for working in workings(name):
        figure = shown(assessed(name), working.key)
        last = next((s for s in reversed(working.steps) if not isinstance(s, Comparison)), None)
        ended = working.result if last is None else last.total if isinstance(last, Rows) else last.value
        if figure is not None and working.result != pytest.approx(figure, rel=1e-9, abs=1e-9):
            wrong.append(f"{working.key} says {working.result}, the sheet {figure}")
        if ended != pytest.approx(working.result, rel=1e-6, abs=1e-9):
            wrong.append(f"{working.key} says {working.result}, its last step {ended}")
    assert wrong == []


def test_nearly_everything_on_the_sheet_has_a_working() -> None:
    assessment = assessed("2614-crew-cab-truck")

    explained = {working.key for working in workings("2614-crew-cab-truck")}

    for kind in ("drop", "ampacity", "loading", "margin", "short", "far-end", "peak", "mean", "continuous"):
        missing = {f"circuit-{kind}:{item.number}" for item in assessment.circuits} - explained
        assert missing == set() or kind in ("mean", "peak", "continuous")
    for condition in assessment.conditions:
        kinds = ["mean", "rms", "peak"]
        kinds += ["source"] if condition.source else []
        kinds += ["battery"] if condition.battery_h is not None else []
        assert {f"condition-{kind}:{condition.key}" for kind in kinds} <= explained
    assert {f"condition-lowest:{item.key}" for item in assessment.conditions if item.lowest_load_key} <= explained
    assert {f"duty-lowest:{item.key}" for item in assessment.profiles} <= explained
    assert {f"duty-start:{item.key}" for item in assessment.profiles if item.starts} <= explained
    assert {
        f"case-{part}:{at}"
        for at in range(1, len(assessment.weight.cases) + 1)
        for part in ("front", "rear", "together")
    } <= explained
    assert {
        "payload-crew",
        "payload",
        "front-axle",
        "rear-axle",
        "added-mass",
        "hours",
        "price",
        "key-off",
        "key-off-days",
    } <= explained


@pytest.mark.parametrize("case", ["30-reserve-check-held", "31-reserve-check-failed"])
def test_an_engine_off_test_shows_what_it_takes_and_what_it_may(case: str) -> None:
    design = read_document((DEMO.parent / f"tests/cases/{case}.json").read_bytes())
    (result,) = assess(design).reserves

    working = explain(design, f"condition-reserve:{result.key}")

    allowed, used = [step for step in working.steps if isinstance(step, Step)][:2]
    assert (allowed.value, used.value, working.result) == pytest.approx(
        (result.allowed_ah, result.used_ah, result.used_ah)
    )
    compared = next(step for step in working.steps if isinstance(step, Comparison))
    assert compared.kept == case.endswith("held")
    assert list(faults_of(working)) == []


def test_the_sides_of_a_case_show_how_far_they_are_apart() -> None:
    platform = replace(SOUND.platform, track_mm=1700.0, curb_left_kg=1400.0)
    design = replace(SOUND, platform=platform)
    assessment = assess(design)

    for part in ("left", "right"):
        working = explain(design, f"case-{part}:1", assessment)
        assert working.result == pytest.approx(shown(assessment, working.key))
        (compared,) = (step for step in working.steps if isinstance(step, Comparison))
        case = assessment.weight.cases[0]
        assert case.left_kg is not None and case.right_kg is not None
        assert compared.value == pytest.approx(100 * abs(case.left_kg - case.right_kg) / case.total_kg)
        assert list(faults_of(working)) == []


def test_a_proposed_pair_shows_every_rule_and_what_the_next_smaller_fails() -> None:
    working = explain(SOUND, "circuit-gauge:101")

    compared = [step for step in working.steps if isinstance(step, Comparison)]
    refused = [step for step in compared if step.words.startswith("Next smaller")]
    assert all(step.kept for step in compared if step not in refused)
    assert refused and not any(step.kept for step in refused)
    assert "conductor decided by" in working.rule
    assert list(faults_of(working)) == []


NETS = RINGED | {
    "heads in step": set_to(heads(), "turns"),
    "in step on one circuit": set_to(heads(circuits=("101", "101")), "turns"),
}


@pytest.mark.parametrize("name", NETS)
def test_rings_joined_batteries_and_what_keeps_step_are_worked_too(name: str) -> None:
    design = NETS[name]
    assessment = assess(design)

    for working in workings_of(design, assessment, proposals=False):
        assert list(faults_of(working)) == [], working.key
        figure = shown(assessment, working.key)
        assert figure is None or working.result == pytest.approx(figure, rel=1e-9, abs=1e-9), working.key


def test_a_load_that_no_condition_uses_is_counted_where_its_figure_counts_it() -> None:
    uses = tuple(LoadUse(load=key) for key in ("BAR", "SCENE", "RADIO"))
    design = changed(SOUND, "condition", "scene", uses=uses)  # the winch is on in no condition now

    for kind in ("circuit-continuous", "circuit-drop", "circuit-loading"):
        key = f"{kind}:104"
        working = explain(design, key)
        figure = shown(assess(design), key)
        assert figure is None or working.result == pytest.approx(figure)
        assert list(faults_of(working)) == []


def test_metric_conductors_name_their_own_table() -> None:
    design = read_document((DEMO.parent / "tests/cases/24-metric-sizes.json").read_bytes())
    number_ = assess(design).circuits[0].number

    working = explain(design, f"circuit-drop:{number_}")

    assert any("60228" in source for source in working.sources)
    assert [fault for one in workings_of(design) for fault in faults_of(one)] == []


@pytest.mark.parametrize(
    "key", ["taste", "circuit-drop:nowhere", "run-short:S1", "condition-source:parked", "circuit-drop", "payload:x"]
)
def test_what_has_no_working_is_named(key: str) -> None:
    with pytest.raises(UnknownTableEntry):
        explain(SOUND, key)


def test_keys_are_those_of_the_sheet_in_its_order() -> None:
    keys = list(keys_of(SOUND))

    assert keys[0].endswith(":101") and keys[-1] == "price"
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (1e-7, "0.0000001"),
        (12.0, "12"),
        (1234.5678, "1,234.57"),
        (-0.5, "-0.5"),
        (12345678.0, "12,345,678"),
    ],
)
def test_figures_are_printed_without_exponents(value: float, text: str) -> None:
    assert number_text(value) == text


def test_a_drop_over_parallel_feeds_prints_what_each_cable_really_carries() -> None:
    design = read_document((CASES / "35-two-equal-cables.json").read_bytes())
    every = workings_of(design, assess(design), proposals=False)
    working = next(item for item in every if item.key == "circuit-drop:101")

    rows = [row for step in working.steps if isinstance(step, Rows) for row in step.rows]
    cables = [row for row in rows if row.words.startswith(("Run A1", "Run A2"))]

    # 2.3038 mΩ, half of 45 A, half of this circuit's way: either cable loses 51.8 mV, and the two halves add up to that
    assert [row.values for row in cables] == [pytest.approx((2.3038, 22.5, 0.5), rel=1e-4)] * 2
    assert sum(row.value for row in cables) == pytest.approx(0.0518, abs=1e-4)
    contacts = next(row for row in rows if row.words.startswith("MD"))
    assert contacts.values == pytest.approx((0.5, 45.0, 1.0))
