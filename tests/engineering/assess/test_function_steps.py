"""The test plan as steps of the checklist: what to do, how every lamp stands, keys that last, holds that cover them."""

from dataclasses import replace

from builds.engineering.assess import assess
from builds.engineering.checklist import derive_steps
from builds.engineering.function_steps import function_steps
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.vocabulary import LOST
from builds.engineering.functions.words import act_words
from builds.engineering.vocabulary import Phase
from tests.engineering.document.samples import small_design

TEXT = """
input mode: selector off, respond
input brake: signal meaning brake; wire C3-11
channel left: lamp; facing rear; colour red
channel right: lamp; facing rear; colour red
channel work: lamp; facing rear; colour white
set both: left, right
pattern beat: 300 ms on, 300 ms off
rule go (priority 10): both flash beat when mode is respond; if lost, does not apply
rule cut (priority 90): right inhibit when brake; if lost, applies
rule load (priority 10): work steady when brake; if lost, does not apply
"""
DESIGN = replace(small_design(), function_schedule=TEXT)


def test_steps_say_what_to_do_and_how_every_lamp_then_stands() -> None:
    steps = [step.instructions for step in function_steps(DESIGN)]
    said = {tuple(line for line in lines if not line.startswith("Be")) for lines in steps}

    assert ("Turn mode to respond.", "On, flash beat: both (left and right).", "Off: work.") in said
    assert steps[0][0].startswith("Before the first step: chock") and steps[0][1].startswith("Begin")
    assert all(line.endswith(".") for lines in said for line in lines)


def test_the_steps_stand_in_the_test_phase_and_the_final_hold_covers_them() -> None:
    steps = derive_steps(DESIGN, assess(DESIGN))
    own = [step for step in steps if step.key.startswith("function/")]
    [hold] = [step for step in steps if step.key == "hold/final"]

    assert {step.phase for step in own} == {Phase.TEST}
    assert {step.key for step in own} <= set(hold.covers)
    assert len({step.key for step in steps}) == len(steps)


def test_a_reworded_schedule_keeps_the_keys_and_a_changed_pattern_changes_what_is_expected() -> None:
    before = {step.key: step.instructions for step in function_steps(DESIGN)}
    reworded = replace(DESIGN, function_schedule=TEXT.replace("rule go (", "rule respond ("))
    slower = replace(DESIGN, function_schedule=TEXT.replace("beat", "slow"))

    assert {step.key: step.instructions for step in function_steps(reworded)} == before
    after = {step.key: step.instructions for step in function_steps(slower)}
    assert set(after) == set(before) and after != before


TIMED = """
input ignition: signal meaning ignition; wire C1-1
input gear: selector out, park; meaning gear; gateway "gear lever", 10 per second, asleep out
input flick: push
channel fridge: relay
channel lamp: lamp
channel dot: lamp
channel tail: lamp
set row: lamp, tail
rule run-on (priority 1): fridge steady when at most 30 min after ignition; if lost, does not apply
rule late (priority 1): lamp steady when ignition for at least 375 ms; if lost, does not apply
rule blip (priority 1): dot steady when flick and not flick for at least 1 s; if lost, does not apply
rule wink (priority 1): tail steady when flick for at most 1 s and gear is park; if lost, does not apply
"""


def test_waits_are_what_a_watch_can_time_and_fleeting_looks_say_so() -> None:
    steps = list(function_steps(replace(DESIGN, function_schedule=TIMED)))
    fleeting = [step for step in steps if any("shorter than a hand can time" in line for line in step.instructions)]
    waits = [line for step in steps if step not in fleeting for line in step.instructions if line.startswith("Wait")]

    assert fleeting and len(fleeting) < len(steps)
    assert all("with an instrument" in step.title for step in fleeting)
    assert waits and not any(" ms" in line for line in waits)
    assert any("min" in line for line in waits)


def test_a_lost_message_is_stopped_and_a_lost_wire_unplugged() -> None:
    parts = {part.key: part for part in parse_schedule(TIMED).inputs}

    assert act_words(parts["gear"], LOST).startswith('stop or simulate the loss of message "gear lever"')
    assert act_words(parts["ignition"], LOST) == "unplug ignition at C1-1"
    assert act_words(parts["flick"], LOST) == "take flick off its input"


def test_of_many_outputs_that_are_off_those_that_went_off_are_named() -> None:
    many = "".join(f"channel spare{number}: lamp\n" for number in range(8))
    lines = [
        line for step in function_steps(replace(DESIGN, function_schedule=TEXT + many)) for line in step.instructions
    ]

    assert any(line.startswith("Off: ") and "right, and all" in line for line in lines)


def test_flashes_that_keep_step_by_different_clocks_are_told_apart_in_words() -> None:
    clocks = TEXT.replace("both flash beat", "left flash beat sync left-clock").replace(
        "rule cut",
        "rule too (priority 10): right flash beat sync right-clock when mode is respond; if lost, does not apply\nrule cut",
    )
    lines = [line for step in function_steps(replace(DESIGN, function_schedule=clocks)) for line in step.instructions]

    assert "On, flash beat, in step with clock left-clock: left." in lines
    assert "On, flash beat, in step with clock right-clock: right." in lines


def test_a_design_without_a_schedule_has_no_such_steps() -> None:
    assert list(function_steps(small_design())) == []
    assert list(function_steps(replace(small_design(), function_schedule="rool x"))) == []


def test_a_title_with_many_acts_names_whole_ones_and_counts_the_rest() -> None:
    names = [f"the switch of the long name {number}" for number in range(5)]
    asked = " and ".join(f'"{name}"' for name in names)
    text = "\n".join(
        [
            *(f'input "{name}": toggle' for name in names),
            "channel lamp: lamp",
            f"rule r (priority 1): lamp steady when {asked}; if lost, does not apply",
        ]
    )

    steps = list(function_steps(replace(DESIGN, function_schedule=text)))

    first = next(step for step in steps if "more, listed below" in step.title)
    said = first.title.removeprefix("Function test: ").removesuffix(" more, listed below").split("; ")
    acts = [line.removesuffix(".").casefold() for line in first.instructions if "the switch of the long name" in line]
    assert len(acts) > len(said[:-1]) > 0
    assert acts[: len(said[:-1])] == [act.casefold() for act in said[:-1]]
    assert said[-1] == f"and {len(acts) - len(said[:-1])}"
    assert all(len(step.title) <= 110 and "…" not in step.title for step in steps)
