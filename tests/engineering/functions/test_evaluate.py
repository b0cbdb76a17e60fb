"""What every channel does at a setting, and why."""

from random import Random

import pytest

from builds.engineering.errors import UnknownTableEntry
from builds.engineering.functions.appearances import channel_logics
from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.evaluate import Outcome, evaluate, leaf_rows, let_go, numbers_of
from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.schedule import FunctionSchedule, Rule
from builds.engineering.functions.settings import AT_REST, Setting, setting_of, setting_of_numbers
from tests.engineering.functions.random_schedules import random_schedule

SCHEDULE = compile_schedule(
    parse_schedule("""
input a: toggle
input b: toggle
input c: toggle
input level: dimmer full, half
channel lamp: lamp
channel other: lamp
channel stop: lamp; job stop-lamp
pattern beat: 300 ms on, 500 ms off
rule low (priority 10): lamp steady at 40 % when a; if lost, does not apply
rule high (priority 20): lamp flash beat when b; if lost, applies
rule dark (priority 30): lamp off when a and b and c; if lost, does not apply
rule cut (priority 0): lamp, stop inhibit when c and not a; if lost, does not apply
rule half (priority 5): lamp dim to 50 % when level is half; if lost, does not apply
rule factory (priority 5): stop flash beat when b; if lost, does not apply
rule blackout (priority 6): stop off when a; if lost, does not apply
""")
)


def outcome(channel: str, **values: str) -> Outcome:
    setting = setting_of(SCHEDULE.schedule, values)
    return next(one for one in evaluate(SCHEDULE, setting) if one.channel == channel)


@pytest.mark.parametrize(
    ("values", "rule", "level", "flashes"),
    [
        ({}, "", 0, False),
        ({"a": "on"}, "low", 40, False),
        ({"a": "on", "b": "on"}, "high", 100, True),
        ({"a": "on", "b": "on", "c": "on"}, "dark", 0, False),
        ({"b": "lost"}, "high", 100, True),  # it applies when undecided
        ({"a": "lost"}, "", 0, False),  # it does not
        ({"a": "on", "b": "lost", "c": "on"}, "high", 100, True),  # "a and b and c" stays undecided
    ],
)
def test_the_highest_rule_that_holds_decides(values: dict, rule: str, level: int, flashes: bool) -> None:
    lamp = outcome("lamp", **values)

    assert (lamp.rule, lamp.shows.level_percent, bool(lamp.shows.steps)) == (rule, level, flashes)


def test_an_inhibit_wins_whatever_its_priority() -> None:
    lamp = outcome("lamp", b="on", c="on")

    assert (lamp.shows.level_percent, lamp.rule, lamp.cut_by) == (0, "high", "cut")


def test_dimming_lowers_what_is_lit_and_lights_nothing() -> None:
    assert outcome("lamp", level="half").shows.level_percent == 0
    assert outcome("lamp", level="half", b="on").shows.level_percent == 50
    assert outcome("lamp", level="half", b="on").dimmed_by == "half"
    assert outcome("lamp", level="half", a="on").shows.level_percent == 40
    assert outcome("lamp", level="half", a="on").dimmed_by == ""


def test_a_required_lamp_does_what_the_vehicle_asks_unless_a_rule_drives_it() -> None:
    assert outcome("stop").shows.follows_vehicle
    assert not outcome("stop", b="on").shows.follows_vehicle
    assert outcome("stop", b="on", c="on").shows.follows_vehicle
    assert outcome("stop", a="on").shows.level_percent == 0 and not outcome("stop", a="on").shows.follows_vehicle


def test_the_first_of_equals_decides() -> None:
    tied = compile_schedule(
        parse_schedule("""
input a: toggle
channel lamp: lamp
rule one (priority 1): lamp steady when a; if lost, does not apply
rule two (priority 1): lamp off when a; if lost, does not apply
""")
    )

    assert evaluate(tied, setting_of(tied.schedule, {"a": "on"}))[0].rule == "one"


def shown_by_gates(compiled: CompiledSchedule, setting: Setting) -> list:
    logics = channel_logics(compiled)
    values = compiled.gates.compute(leaf_rows(compiled, numbers_of(compiled, setting)), 1)
    return [next(look for look, shown in logic.shows.items() if values[shown]) for logic in logics]


def random_settings(random: Random, schedule: FunctionSchedule, count: int) -> list[Setting]:
    return [
        setting_of_numbers(schedule.inputs, [random.randrange(len(part.values)) for part in schedule.inputs])
        for _ in range(count)
    ]


@pytest.mark.parametrize("seed", range(30))
def test_outcomes_are_what_the_gates_show(seed: int) -> None:
    random = Random(seed)
    schedule = random_schedule(random, inputs=5)
    compiled = compile_schedule(schedule)

    for setting in random_settings(random, schedule, 20):
        settled = setting_of_numbers(schedule.inputs, let_go_numbers(compiled, setting))
        assert [one.shows for one in evaluate(compiled, setting)] == shown_by_gates(compiled, settled)


def let_go_numbers(compiled: CompiledSchedule, setting: Setting) -> tuple[int, ...]:
    return let_go(compiled, numbers_of(compiled, setting))


@pytest.mark.parametrize("seed", range(20))
def test_taking_out_a_rule_that_does_not_hold_changes_nothing(seed: int) -> None:
    random = Random(seed)
    schedule = random_schedule(random, inputs=4, claims=0)
    compiled = compile_schedule(schedule)

    for setting in random_settings(random, schedule, 5):
        holding = {one.rule for one in evaluate(compiled, setting)} | {
            one.cut_by for one in evaluate(compiled, setting)
        }
        idle = next((rule for rule in schedule.rules if not holds(compiled, rule, setting)), None)
        if idle is not None:
            assert idle.key not in holding
            without = compile_schedule(
                FunctionSchedule(
                    inputs=schedule.inputs,
                    channels=schedule.channels,
                    heads=schedule.heads,
                    patterns=schedule.patterns,
                    sets=schedule.sets,
                    givens=schedule.givens,
                    rules=tuple(rule for rule in schedule.rules if rule != idle),
                )
            )
            assert evaluate(without, setting) == evaluate(compiled, setting)


def holds(compiled: CompiledSchedule, rule: Rule, setting: Setting) -> bool:
    """Whether a rule holds in a setting, or in one that a release makes of it."""
    for numbers in {numbers_of(compiled, setting), let_go_numbers(compiled, setting)}:
        values = compiled.gates.compute(leaf_rows(compiled, numbers), 1)
        if values[compiled.holds[compiled.schedule.rules.index(rule)]]:
            return True
    return False


def test_settings_name_inputs_and_values_that_exist() -> None:
    assert setting_of(SCHEDULE.schedule, {"a": "off"}) == AT_REST
    assert str(setting_of(SCHEDULE.schedule, {"level": "half", "a": "on"})) == "a on, level half"
    with pytest.raises(UnknownTableEntry, match="zz"):
        setting_of(SCHEDULE.schedule, {"zz": "on"})
    with pytest.raises(UnknownTableEntry, match="loud"):
        setting_of(SCHEDULE.schedule, {"a": "loud"})


def test_a_schedule_with_names_that_stand_for_nothing_is_not_compiled() -> None:
    rule = SCHEDULE.schedule.rules[0]

    with pytest.raises(LanguageError, match="lamp"):
        compile_schedule(FunctionSchedule(inputs=SCHEDULE.schedule.inputs, rules=(rule,)))
