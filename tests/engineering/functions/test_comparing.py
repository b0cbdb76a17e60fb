"""Two schedules compared by what they do, whatever they are written like."""

from dataclasses import replace
from random import Random

import pytest

from builds.engineering.functions.comparing import compare_schedules
from builds.engineering.functions.compiled import compile_schedule
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.settings import setting_of_numbers
from tests.engineering.functions.brute_force import EverySetting
from tests.engineering.functions.language_page import COMPILED
from tests.engineering.functions.random_schedules import random_schedule
from tests.peers.test_plan import all_numbers, is_allowed


@pytest.mark.parametrize("name", COMPILED)
def test_a_schedule_behaves_like_itself(name: str) -> None:
    schedule = COMPILED[name].schedule

    assert compare_schedules(schedule, schedule).same_behaviour


def test_names_order_and_wording_of_rules_do_not_matter() -> None:
    one = parse_schedule("""
input a: toggle
input b: toggle
channel lamp: lamp
rule first (priority 5): lamp steady when not (a and b); if lost, does not apply
rule second (priority 9): lamp off when a for at least 3 s; if lost, does not apply
""")
    other = parse_schedule("""
input a: toggle
input b: toggle
channel lamp: lamp
rule long (priority 50): lamp off when a for at least 3 s; if lost, does not apply
rule either (priority 10): lamp steady when not a or not b; if lost, does not apply
""")

    assert compare_schedules(one, other).same_behaviour


def test_a_difference_comes_with_its_smallest_setting_and_what_is_shown() -> None:
    before = COMPILED["rear cut"].schedule
    text_rules = tuple(rule for rule in before.rules if rule.key != "left-cut")

    comparison = compare_schedules(before, replace(before, rules=text_rules))

    assert not comparison.same_behaviour
    (difference,) = comparison.different
    assert difference.what == "rear-left"
    assert dict(difference.example.setting.away) == {"mode": "respond"}  # within the hold of the turn signal
    assert (difference.one_shows, difference.other_shows) == ("dark", "flash quick")
    assert difference.how == 'from rest turn mode to respond, bring "turn left" on, at once and bring "turn left" off'
    assert comparison.equal == ("rear-right",)


def test_an_input_that_is_held_in_one_schedule_alone_is_a_difference() -> None:
    before = COMPILED["rear cut"].schedule
    inputs = tuple(replace(part, hold_ms=None) for part in before.inputs)

    comparison = compare_schedules(before, replace(before, inputs=inputs))

    assert [difference.what for difference in comparison.different] == ["rear-left", "rear-right"]
    assert all(difference.example for difference in comparison.different)


def test_what_is_declared_differently_is_listed_beside_the_behaviour() -> None:
    text = """
input button: {kind}
input brake: signal meaning brake; wire {wire}
channel red: lamp; facing rear; colour {colour}; load L1; 2 A
channel blue: lamp
head both: red, blue; at most {most}
{given}rule go (priority 1): red steady when button; if lost, does not apply
rule stop (priority 2): {stop} when brake; if lost, does not apply
"""
    said = {"kind": "latching", "wire": "C1-1", "colour": "red", "most": "4 A", "given": "", "stop": "button release"}
    one = parse_schedule(text.format(**said))
    changes = {
        "input button": {"kind": "toggle", "stop": "red off"},
        "input brake": {"wire": "C1-1 active low"},
        "channel red": {"colour": "yellow"},
        "head both": {"most": "5 A"},
        "given apart": {"given": "given apart: not (button and brake)\n"},
    }

    found = {what: compare_schedules(one, parse_schedule(text.format(**(said | new)))) for what, new in changes.items()}

    assert {what: [one.what for one in result.declared] for what, result in found.items()} == {
        what: [what] for what in changes
    }
    assert [what for what, result in found.items() if not result.same_behaviour] == ["input button"]
    assert compare_schedules(one, one).declared == ()


APART = """
input left: toggle
input right: toggle
channel lamp: lamp
{given}rule go (priority 1): lamp {effect} when left and right; if lost, does not apply
rule one (priority 1): lamp steady when left and not right; if lost, does not apply
"""
NEVER_BOTH = "given apart: not (left and right)\n"


@pytest.mark.parametrize(
    ("given_here", "given_there", "excluded_by"), [(NEVER_BOTH, "", "one"), ("", NEVER_BOTH, "other")]
)
def test_a_state_that_a_given_of_one_excludes_is_compared_and_says_so(
    given_here: str, given_there: str, excluded_by: str
) -> None:
    one = parse_schedule(APART.format(given=given_here, effect="off"))
    other = parse_schedule(APART.format(given=given_there, effect="steady"))

    comparison = compare_schedules(one, other)

    assert comparison.has_givens_apart and not comparison.same_behaviour
    (difference,) = comparison.different
    assert (difference.what, difference.excluded_by) == ("lamp", excluded_by)
    assert dict(difference.example.setting.away) == {"left": "on", "right": "on"}
    assert (difference.one_shows, difference.other_shows) == ("dark", "steady")


def test_a_state_that_both_exclude_is_not_compared() -> None:
    one, other = (parse_schedule(APART.format(given=NEVER_BOTH, effect=effect)) for effect in ("off", "steady"))

    comparison = compare_schedules(one, other)

    assert comparison.same_behaviour and not comparison.has_givens_apart


def test_a_difference_where_both_allow_it_comes_before_one_that_a_given_excludes() -> None:
    one = parse_schedule(APART.format(given=NEVER_BOTH, effect="off"))
    text = APART.format(given="", effect="steady").replace(
        "lamp steady when left and not", "lamp off when left and not"
    )

    (difference,) = compare_schedules(one, parse_schedule(text)).different

    assert difference.excluded_by is None
    assert dict(difference.example.setting.away) == {"left": "on"}


def test_a_timer_of_another_length_is_told_apart_by_a_sequence() -> None:
    before = COMPILED["secure idle"].schedule
    rules = tuple(
        replace(
            rule,
            condition=replace(
                rule.condition, terms=(*rule.condition.terms[:2], replace(rule.condition.terms[2], duration_ms=4000))
            ),
        )
        if rule.key == "tried"
        else rule
        for rule in before.rules
    )

    (difference,) = compare_schedules(before, replace(before, rules=rules)).different

    assert difference.what == "alarm"
    assert "wait 2 s" in difference.how


def test_a_button_let_go_in_one_of_them_is_a_difference_where_an_output_tells() -> None:
    before = COMPILED["white to the rear"].schedule
    rules = tuple(rule for rule in before.rules if rule.key != "forget")

    different = compare_schedules(before, replace(before, rules=rules)).different

    assert [one.what for one in different] == ["rear scene"]


def test_outputs_and_positions_of_one_alone() -> None:
    one = parse_schedule("""
input mode: selector off, respond
channel lamp: lamp
channel old: relay
rule on (priority 1): lamp steady when mode is respond; if lost, does not apply
""")
    other = parse_schedule("""
input mode: selector off, respond, train
input extra: push
channel lamp: lamp
channel new: relay
rule on (priority 1): lamp steady when mode is one of respond, train; if lost, does not apply
rule more (priority 1): new steady when extra; if lost, does not apply
""")

    comparison = compare_schedules(one, other)

    assert (comparison.only_in_one, comparison.only_in_other) == (("old",), ("new",))
    assert dict(comparison.different[0].example.setting.away) == {"mode": "train"}


def changed(schedule: FunctionSchedule, random: Random) -> FunctionSchedule:
    """One rule's priority or fail state changed."""
    number = random.randrange(len(schedule.rules))
    rule = schedule.rules[number]
    rules = list(schedule.rules)
    rules[number] = replace(rule, priority=(rule.priority + 2) % 5)
    return replace(schedule, rules=tuple(rules))


@pytest.mark.parametrize("seed", range(25))
def test_differences_are_those_that_looking_at_every_setting_finds(seed: int) -> None:
    random = Random(seed)
    one = random_schedule(random, inputs=4, claims=0)
    other = changed(one, random)
    every = EverySetting(one)
    both = compile_schedule(one), compile_schedule(other)
    differing: set[str] = set()
    for numbers in all_numbers(one):
        setting = setting_of_numbers(one.inputs, numbers)
        if is_allowed(every, setting):
            pairs = zip(*(evaluate(compiled, setting) for compiled in both), strict=True)
            differing |= {left.channel for left, right in pairs if left.shows != right.shows}

    comparison = compare_schedules(one, other)

    assert {difference.what for difference in comparison.different} == differing
