"""The schedules of the three demo builds: sound, proved, tested, and what their conditions take comes from them."""

from functools import cache
from pathlib import Path

import pytest

from builds.engineering.design import Design
from builds.engineering.document import read_document
from builds.engineering.functions.chart import operator_chart
from builds.engineering.functions.compiled import CompiledSchedule
from builds.engineering.functions.coupling import coupled
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.mutation import measure_plan
from builds.engineering.functions.printing import print_schedule
from builds.engineering.functions.proof import Verdict
from builds.engineering.functions.reports import hand_steps_of, plan_of, report_of

DEMO = Path(__file__).parents[2] / "demo"
NUMBERS = ("2609", "2612", "2614")


@cache
def design_of(number: str) -> Design:
    [path] = DEMO.glob(f"{number}-*.json")
    return read_document(path.read_bytes())


def compiled_of(number: str) -> CompiledSchedule:
    compiled = report_of(design_of(number).function_schedule).compiled
    assert compiled is not None
    return compiled


@pytest.mark.parametrize("number", NUMBERS)
def test_nothing_is_found_in_it_and_every_claim_is_proved(number: str) -> None:
    report = report_of(design_of(number).function_schedule)

    assert report.findings == ()
    assert {result.verdict for result in report.claims} == {Verdict.PROVED}
    assert len(report.claims) >= 6


@pytest.mark.parametrize("number", NUMBERS)
def test_its_text_says_that_it_is_invented_and_reads_back(number: str) -> None:
    text = design_of(number).function_schedule
    schedule = compiled_of(number).schedule

    assert "invented" in text.splitlines()[0]
    assert parse_schedule(print_schedule(schedule)) == schedule


@pytest.mark.parametrize("number", NUMBERS)
def test_every_condition_in_which_the_vehicle_is_awake_is_a_setting(number: str) -> None:
    bare = {condition.key for condition in design_of(number).conditions if not condition.input_settings}

    assert bare <= {"parked", "watch"}


@pytest.mark.parametrize("number", NUMBERS)
def test_the_rules_light_the_loads_that_the_conditions_name(number: str) -> None:
    design = design_of(number)
    own = {load.key: load.duty_ratio for load in design.loads}

    for typed, joined in zip(design.conditions, coupled(design).conditions, strict=True):
        expected = {use.load: own[use.load] if use.duty_ratio is None else use.duty_ratio for use in typed.uses}
        lit = {use.load: own[use.load] if use.duty_ratio is None else use.duty_ratio for use in joined.uses}
        assert lit == pytest.approx(expected, abs=1e-4), typed.key


@pytest.mark.parametrize("number", NUMBERS)
def test_the_plan_that_becomes_the_checklist_notices_99_of_100_faults(number: str) -> None:
    plan = plan_of(design_of(number).function_schedule)
    assert plan is not None

    report = measure_plan(compiled_of(number), plan)

    assert sum(report.killed.values()) > 200
    assert report.score_ratio >= 0.99  # 98 are asked for
    assert plan.at_least <= plan.settings < 60


@pytest.mark.parametrize("number", NUMBERS)
def test_what_a_hand_can_look_at_still_notices_95_of_100_faults(number: str) -> None:
    text = design_of(number).function_schedule
    plan, steps = plan_of(text), hand_steps_of(text)
    assert plan is not None
    looked = frozenset(place for place, step in enumerate(steps) if not step.needs_instrument)

    report = measure_plan(compiled_of(number), plan, looked=looked)

    assert report.score_ratio >= 0.95


@pytest.mark.parametrize("number", NUMBERS)
def test_every_rule_stands_in_the_chart(number: str) -> None:
    rows = operator_chart(compiled_of(number))

    told = {rule for row in rows for rule in (*row.alone_rules, *(line.rule for line in row.also))}
    assert told == {rule.key for rule in compiled_of(number).schedule.rules}


def test_plans_are_made_once_for_a_text() -> None:
    text = design_of("2612").function_schedule

    assert plan_of(text) is plan_of(text)
