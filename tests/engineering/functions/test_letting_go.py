"""Rules that let a latching button go by a condition on the button itself: they act, and comparing and planning know it."""

from dataclasses import replace
from itertools import product
from random import Random

import pytest

from builds.engineering.functions.checks import check_schedule
from builds.engineering.functions.comparing import compare_schedules
from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.evaluate import evaluate, let_go
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.mutants import MutantKind, mutants_of
from builds.engineering.functions.mutation import measure_plan
from builds.engineering.functions.plan import plan_test
from builds.engineering.functions.reachable import Trace
from builds.engineering.functions.running import Run
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.settings import setting_of_numbers
from builds.engineering.functions.vocabulary import ON, EffectKind, InputKind
from tests.engineering.functions.random_schedules import random_schedule

SCENE = """
input scene: latching
input park: signal meaning park; wire C1
channel w: lamp; load L1
rule lit (priority 1): w steady when scene; if lost, does not apply
"""
EXCLUSIVE = """
input wail: latching
input yelp: latching
channel w: siren; load L1
channel y: siren; load L2
rule one (priority 1): w steady when wail; if lost, does not apply
rule other (priority 1): y steady when yelp; if lost, does not apply
"""


def scene(let_go_when: str) -> FunctionSchedule:
    rule = f"rule gone (priority 1): scene release when {let_go_when}; if lost, does not apply\n" if let_go_when else ""
    return parse_schedule(SCENE + rule)


def exclusive(*rules: str) -> FunctionSchedule:
    lines = (f"rule gone{at} (priority 1): {rule}; if lost, does not apply\n" for at, rule in enumerate(rules))
    return parse_schedule(EXCLUSIVE + "".join(lines))


def played(schedule: FunctionSchedule, trace: Trace) -> Run:
    run = Run.wake(compile_schedule(schedule))
    for step in trace.steps:
        run.advance(step.at_ms)
        run.set(step.setting)
    run.advance(trace.look_ms)
    return run


@pytest.mark.parametrize(
    ("one", "other", "how"),
    [
        ("scene for at least 10 s", "scene for at least 20 s", "press scene until it is on and wait 10 s"),
        ("scene for at least 10 s", "", "press scene until it is on and wait 10 s"),
        ("scene and not park", "", "press scene until it is on"),
        ("scene and not park", "scene", "press scene until it is on and bring park on"),
        ("scene for at most 2 s", "", "press scene until it is on"),
    ],
)
def test_schedules_that_let_a_button_go_otherwise_differ(one: str, other: str, how: str) -> None:
    first, second = scene(one), scene(other)

    (different,) = compare_schedules(first, second).different

    assert different.what == "scene"
    assert different.how == f"from rest {how}"
    assert different.example is not None
    runs = [played(schedule, different.example.trace) for schedule in (first, second)]
    assert runs[0].outcomes()[0].is_lit != runs[1].outcomes()[0].is_lit


def test_buttons_that_let_each_other_go_are_compared() -> None:
    by_yelp, by_wail = "wail release when wail and yelp", "yelp release when wail and yelp"

    assert compare_schedules(exclusive(by_yelp), exclusive("wail release when yelp")).same_behaviour
    assert compare_schedules(exclusive(by_yelp, by_wail), exclusive(by_yelp)).same_behaviour  # the first acts first
    for other in (exclusive(), exclusive(by_wail), exclusive(by_wail, by_yelp)):
        assert not compare_schedules(exclusive(by_yelp), other).same_behaviour


def test_a_delay_after_a_delay_is_one_delay() -> None:
    text = "input a: toggle\nchannel w: lamp\nrule r (priority 1): w steady when {}; if lost, does not apply\n"
    one, nested, longer = (
        parse_schedule(text.format(condition))
        for condition in ("a for at least 2 s", "(a for at least 1 s) for at least 1 s", "a for at least 3 s")
    )

    assert compare_schedules(one, nested).same_behaviour
    assert not compare_schedules(nested, longer).same_behaviour


@pytest.mark.parametrize(
    "schedule",
    [
        *(scene(when) for when in ("scene for at least 10 s", "scene and not park", "scene for at most 2 s")),
        exclusive("wail release when wail and yelp"),
    ],
)
def test_a_rule_that_lets_go_of_the_button_it_reads_is_not_said_never_to_hold(schedule: FunctionSchedule) -> None:
    assert "rule-never-holds" not in {found.id for found in check_schedule(schedule).findings}


def test_a_rule_that_never_meets_its_button_on_is_said_so() -> None:
    found = check_schedule(scene("scene and scene is off")).findings

    assert [(one.id, one.subject) for one in found if one.id == "rule-never-holds"] == [
        ("rule-never-holds", "rule:gone")
    ]


def test_a_plan_shows_such_a_rule_letting_go_and_notices_what_is_stuck() -> None:
    compiled = compile_schedule(scene("scene and not park"))

    plan = plan_test(compiled)

    assert "bring park off" in [act for step in plan.steps for act in step.acts]
    report = measure_plan(compiled, plan)
    assert report.survived == ()
    assert report.equivalent[MutantKind.INPUT_STUCK] == 0


def test_a_latching_button_that_is_stuck_on_is_noticed() -> None:
    compiled = compile_schedule(scene("park"))

    report = measure_plan(compiled, plan_test(compiled))

    assert "scene at on" in [mutant.words for mutant in mutants_of(compiled.schedule)]
    assert report.survived == ()
    assert report.equivalent[MutantKind.INPUT_STUCK] == 0


def with_button(seed: int) -> FunctionSchedule | None:
    """A made schedule without timers in which some rule lets a button go by a condition that may read it."""
    schedule = random_schedule(Random(seed), inputs=4, rules=7, channels=3, claims=0)
    lets_go = any(rule.effect.kind is EffectKind.RELEASE for rule in schedule.rules)
    return replace(schedule, givens=()) if lets_go else None


def after(compiled: CompiledSchedule, numbers: tuple[int, ...]) -> tuple[object, ...]:
    setting = setting_of_numbers(compiled.schedule.inputs, let_go(compiled, numbers))
    return tuple((outcome.channel, outcome.shows) for outcome in evaluate(compiled, setting))


def differ_somewhere(one: CompiledSchedule, other: CompiledSchedule) -> bool:
    """Every setting pressed at once, then every other one with the buttons left as each has them."""
    inputs = one.schedule.inputs
    settings = list(product(*(range(len(part.values)) for part in inputs)))
    latches = [number for number, part in enumerate(inputs) if part.kind is InputKind.LATCHING]
    left = {(let_go(one, numbers), let_go(other, numbers)) for numbers in settings}
    left = {tuple(tuple(side[number] for number in latches) for side in pair) for pair in left}
    for numbers in settings:
        if after(one, numbers) != after(other, numbers):
            return True
        kept = [pair for pair in left if pair[0] == tuple(numbers[number] for number in latches) != pair[1]]
        for pair in kept:
            there = list(numbers)
            for number, value in zip(latches, pair[1], strict=True):
                there[number] = value
            if after(one, numbers) != after(other, tuple(there)):
                return True
    return False


def test_comparing_made_schedules_agrees_with_looking_at_every_setting() -> None:
    compared = differing = 0
    for seed in range(400):
        schedule = with_button(seed)
        if schedule is None:
            continue
        place = next(at for at, rule in enumerate(schedule.rules) if rule.effect.kind is EffectKind.RELEASE)
        rules = list(schedule.rules)
        if seed % 2:
            del rules[place]
        else:
            other = random_schedule(Random(seed + 1000), inputs=4, rules=1, channels=3, claims=0).rules[0]
            rules[place] = replace(rules[place], fail=other.fail, condition=rules[-1].condition)
        changed = replace(schedule, rules=tuple(rules))
        one, two = compile_schedule(schedule), compile_schedule(changed)

        expected = differ_somewhere(one, two)

        assert compare_schedules(schedule, changed).same_behaviour is not expected, seed
        compared, differing = compared + 1, differing + expected
    assert compared >= 60
    assert 15 <= differing <= compared - 5


def test_which_rules_ever_let_go_agrees_with_looking_at_every_setting() -> None:
    looked = 0
    for seed in range(200):
        schedule = with_button(seed)
        if schedule is None:
            continue
        compiled = compile_schedule(schedule)
        inputs = schedule.inputs
        acts = set()
        for numbers in product(*(range(len(part.values)) for part in inputs)):
            alone = replace(compiled, releases=(), cache={})
            run = Run.wake(alone, setting_of_numbers(inputs, numbers))
            acts |= {
                schedule.rules[rule].key
                for rule, latch in compiled.releases
                if inputs[latch].values[numbers[latch]] == ON and run.values[compiled.holds[rule]]
            }
        never = {
            one.subject.removeprefix("rule:")
            for one in check_schedule(schedule).findings
            if one.id == "rule-never-holds"
        }

        for rule in schedule.rules:
            if rule.effect.kind is EffectKind.RELEASE:
                assert (rule.key in never) is (rule.key not in acts), (seed, rule.key)
                looked += 1
    assert looked >= 40
