"""The test plan as steps of the checklist: what to do, how every lamp stands, keys that last, holds that cover them."""

from dataclasses import replace

from builds.engineering.assess import assess
from builds.engineering.checklist import derive_steps
from builds.engineering.function_steps import function_steps
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
    said = {tuple(line for line in lines if not line.startswith("Begin")) for lines in steps}

    assert ("Turn mode to respond.", "On, flash beat: both (left and right).", "Off: work.") in said
    assert steps[0][0].startswith("Begin") and all(line.endswith(".") for lines in said for line in lines)


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


def test_a_design_without_a_schedule_has_no_such_steps() -> None:
    assert list(function_steps(small_design())) == []
    assert list(function_steps(replace(small_design(), function_schedule="rool x"))) == []
