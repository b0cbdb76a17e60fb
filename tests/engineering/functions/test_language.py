"""The language: faults named at their column, and text, values and form as three spellings of one thing."""

from random import Random

import pytest

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.conditions import AllOf, AnyOf, Condition, ForAtLeast, InputIs, Not, OutputIs
from builds.engineering.functions.faults import FAULTS, LanguageError
from builds.engineering.functions.form import (
    condition_form,
    condition_of_form,
    schedule_digest,
    schedule_form,
    schedule_of_form,
)
from builds.engineering.functions.language import parse_condition, parse_schedule, parse_statement
from builds.engineering.functions.printing import print_condition, print_schedule, print_statement
from builds.engineering.functions.vocabulary import OutputState, Quantifier
from tests.engineering.functions.language_page import PAGE, examples
from tests.engineering.functions.random_schedules import random_schedule

SMALL = """
input mode: selector off, respond, block
input park: signal meaning park
input "turn left": signal
input "scene left": latching
channel siren: siren
channel bar-red: lamp; colour red
channel bar-white: lamp; colour white
set front: bar-red, bar-white
pattern double: 100 ms on, 80 ms off, 100 ms on, 320 ms off
"""
SCHEDULE = parse_schedule(SMALL)

# What is planted, the fault's name, and its column: conditions of rules first, then of claims.
IN_CONDITIONS = [
    ("mode is respond and park or turn-left", "and-or-mixed", 26),
    ("park for 3 s", "timer-words-missing", 10),
    ("park for at least 3", "unit-missing", 20),
    ("(park and mode is off", "parenthesis-open", 1),
    ("park and mode is off)", "parenthesis-close", 21),
    ("park and", "ends-too-soon", 9),
    ("park & turn-left", "character-unknown", 6),
    ('park and "turn left is on', "quote-open", 10),
    ("park turn-left", "word-unexpected", 6),
    ("park and prak", "name-unknown", 10),
    ("not mode is chase", "value-unknown", 13),
    ("park and siren is lit", "output-in-condition", 10),
    ("park for at least 0 s", "out-of-range", 19),
    ("park for atleast 3 s", "timer-words-missing", 10),
    ("park for at least3 s", "word-unexpected", 13),
    ("park for at least 3 sec", "unit-missing", 21),
    ("park for at least 3sand mode is off", "unit-missing", 20),
]
IN_CLAIMS = [
    ("park and front is lit", "set-needs-any-or-all", 10),
    ("any of siren is lit", "one-needs-no-any", 8),
    ("siren is blinking", "state-unknown", 10),
    ("siren is flashing trebel", "pattern-unknown", 19),
    ("siren is lit double", "word-unexpected", 14),
]
IN_STATEMENTS = [
    ("rule r (priority 4): siren steady when park", "fail-state-missing", 44),
    ("rool r (priority 4): siren steady when park", "statement-unknown", 1),
    ("rule r (priority 4): siren off when " + "not " * 40 + "park; if lost, applies", "nested-too-deep", 1),
    ("channel c: lamp; colour pink", "word-unknown", 25),
    ("rule r (priority 4): siren steady at 130 % when park; if lost, applies", "out-of-range", 38),
    ("claim c: whenever park", "ends-too-soon", 23),
    ("input a: signal; wire C1-1; wire C1-2", "clause-twice", 29),
    ("input a: signal; wire C1-1; gateway m, 10 per second, asleep off", "clause-twice", 29),
    ("input a: signal meaning park; meaning brake", "clause-twice", 31),
    ("channel c: lamp; 1 A; 2 A", "clause-twice", 23),
    ("head h: a, b; at most 4 A; at most 5 A", "clause-twice", 28),
    ("head h: a, b; at most 0 A", "out-of-range", 23),
    ("input a: signal; gateway m, 10 per second, asleep banana", "out-of-range", 51),
    ("input a: signal; gateway m, 0 per second, asleep off", "out-of-range", 29),
    ("input a: signal; held 0 ms", "out-of-range", 23),
    ("input a: selector off, on; held 2 s", "out-of-range", 33),
    ("input a: selector off, on; rest up", "out-of-range", 33),
    ("input a: selector off, on, off", "name-twice", 28),
    ("input lost: signal meaning brake; wire C1-1", "name-is-a-word", 7),
    ("input on: push", "name-is-a-word", 7),
    ("channel lit: lamp; 1 A", "name-is-a-word", 9),
    ("set steady: a, b", "name-is-a-word", 5),
    ("rule r (priority 1.5): siren off when park; if lost, applies", "out-of-range", 18),
    ("rule r (priority 1): siren flash f phase 99999 ms when park; if lost, applies", "out-of-range", 42),
    ("rule r (priority 4): siren off when park; if lost, doesnotapply", "word-unexpected", 52),
    ("rule r (priority4): siren off when park; if lost, applies", "word-unexpected", 9),
]


@pytest.mark.parametrize(("text", "name", "column"), IN_CONDITIONS)
def test_a_fault_in_a_condition_is_named_at_its_column(text: str, name: str, column: int) -> None:
    with pytest.raises(LanguageError) as raised:
        parse_condition(text, SCHEDULE)

    fault = raised.value.faults[0]
    assert (fault.name, fault.place.line, fault.place.column) == (name, 1, column)
    assert "expected" in fault.message or name == "and-or-mixed"


@pytest.mark.parametrize(("text", "name", "column"), IN_CLAIMS)
def test_a_fault_in_a_claim_is_named_at_its_column(text: str, name: str, column: int) -> None:
    with pytest.raises(LanguageError) as raised:
        parse_condition(text, SCHEDULE, reads_outputs=True)

    assert (raised.value.faults[0].name, raised.value.faults[0].place.column) == (name, column)


@pytest.mark.parametrize(("text", "name", "column"), IN_STATEMENTS)
def test_a_fault_in_a_statement_is_named_at_its_column(text: str, name: str, column: int) -> None:
    with pytest.raises(LanguageError) as raised:
        parse_statement(text)

    assert (raised.value.faults[0].name, raised.value.faults[0].place.column) == (name, column)


def test_a_word_in_quotation_marks_is_a_name_and_is_printed_in_them() -> None:
    statement = 'input "lost": push'

    assert print_statement(parse_statement(statement)) == statement


def test_messages_say_what_was_expected() -> None:
    with pytest.raises(LanguageError, match="“mode” is never “chase”; expected “off”, “respond”, “block” or “lost”"):
        parse_condition("mode is chase", SCHEDULE)
    with pytest.raises(LanguageError, match="expected “park” perhaps"):
        parse_condition("prak", SCHEDULE)
    with pytest.raises(LanguageError, match="“&” is not part of the language; write “and”"):
        parse_condition("park & mode is off", SCHEDULE)
    with pytest.raises(LanguageError, match="expected “ms”, “s” or “min”"):
        parse_condition("park for at most 3", SCHEDULE)


@pytest.mark.parametrize(("text", "word"), [("mode is one and park", "one"), ("all is on", "all"), ("at is on", "at")])
def test_a_name_that_is_a_word_of_the_language_is_said_to_need_quotation_marks(text: str, word: str) -> None:
    with pytest.raises(LanguageError, match=f", or “{word}” in quotation marks where it is a name"):
        parse_condition(text, SCHEDULE)


def test_every_fault_of_a_schedule_is_reported_at_its_line() -> None:
    wrong = """
input park: signal
channel siren: siren
rule one (priority 3): sirn, park steady when park; if lost, applies
rule two (priority 3): siren flash foo when
  pork; if lost, applies
head a: siren; at most 3 A
head b: siren; at most 3 A
set siren: siren
rule one (priority 3): siren off when park; if lost, applies
pattern p: 100 ms on, 100 ms off; limit iso-1
rule three (priority 1): park release when park; if lost, applies
"""
    with pytest.raises(LanguageError) as raised:
        parse_schedule(wrong)

    assert [(fault.name, fault.place.line, fault.place.column) for fault in raised.value.faults] == [
        ("name-unknown", 4, 24),
        ("target-unfit", 4, 30),
        ("pattern-unknown", 5, 36),
        ("name-unknown", 6, 3),
        ("channel-in-two-heads", 8, 9),
        ("name-twice", 9, 5),
        ("name-twice", 10, 6),
        ("word-unknown", 11, 41),
        ("target-unfit", 12, 26),
    ]


def test_every_kind_of_fault_is_on_the_page() -> None:
    page = PAGE.read_text(encoding="utf-8")

    assert [name for name in FAULTS if f"`{name}`" not in page] == []


def test_names_with_spaces_may_be_hyphenated() -> None:
    assert parse_condition("turn-left", SCHEDULE) == parse_condition('"turn left"', SCHEDULE)
    assert print_condition(parse_condition("turn-left", SCHEDULE)) == '"turn left"'


def test_a_position_may_have_a_word_of_the_language_as_its_name() -> None:
    schedule = parse_schedule('input s: selector off, "not", "one", steady, lit')

    for position in ("not", "one", "steady", "lit", "off"):
        condition = InputIs(input="s", values=(position,))
        assert parse_condition(print_condition(condition), schedule) == condition


def test_not_binds_before_a_timer_and_timers_before_and() -> None:
    read = parse_condition("not park for at least 1.5 s and turn-left", SCHEDULE)

    assert read == AllOf(
        terms=(
            ForAtLeast(term=Not(term=InputIs(input="park")), duration_ms=1500),
            InputIs(input="turn left"),
        )
    )


def test_an_output_read_like_an_input_is_read_as_an_output() -> None:
    read = parse_condition("siren is off or none of front is flashing double", SCHEDULE, reads_outputs=True)

    assert read == AnyOf(
        terms=(
            OutputIs(target="siren", state=OutputState.OFF),
            OutputIs(target="front", state=OutputState.FLASHING, quantifier=Quantifier.NONE, pattern="double"),
        )
    )


@pytest.mark.parametrize("seed", range(40))
def test_text_values_and_form_are_one_thing(seed: int) -> None:
    schedule = random_schedule(Random(seed), inputs=5, timers=True)

    text, form = print_schedule(schedule), schedule_form(schedule)

    assert parse_schedule(text) == schedule
    assert print_schedule(parse_schedule(text)) == text
    assert schedule_of_form(form) == schedule
    assert schedule_form(schedule_of_form(form)) == form


@pytest.mark.parametrize("example", examples(), ids=lambda example: example.name)
def test_a_schedule_of_the_page_prints_as_it_is_read(example) -> None:
    schedule = example.schedule

    assert parse_schedule(print_schedule(schedule)) == schedule
    assert schedule_of_form(schedule_form(schedule)) == schedule


def conditions_of(seed: int) -> list[Condition]:
    schedule = random_schedule(Random(seed), inputs=4, timers=True)
    return [rule.condition for rule in schedule.rules] + [claim.condition for claim in schedule.claims]


@pytest.mark.parametrize("seed", range(100, 120))
def test_a_condition_and_its_form_are_one_thing(seed: int) -> None:
    for condition in conditions_of(seed):
        assert condition_of_form(condition_form(condition)) == condition


@pytest.mark.parametrize(
    "form",
    [{}, {"and": [{"input": "park", "is": ["on"]}]}, {"input": "park"}, {"output": "siren", "is": "loud"}, {"not": 3}],
)
def test_a_form_that_is_no_condition_is_refused(form: dict) -> None:
    with pytest.raises(LanguageError, match="is no condition"):
        condition_of_form(form)


def test_a_form_of_a_schedule_reports_every_part_that_cannot_be() -> None:
    form = schedule_form(SCHEDULE)
    form["inputs"][0]["positions"] = ["off"]
    form["channels"][0]["volume"] = 11
    form["channels"][1]["colour"] = "pink"

    with pytest.raises(LanguageError) as raised:
        schedule_of_form(form)

    assert [fault.subject for fault in raised.value.faults][:3] == ["inputs/0", "channels/0", "channels/1"]


def test_the_digest_follows_what_a_device_does_and_not_what_is_claimed() -> None:
    schedule = examples()[0].schedule
    text = print_schedule(schedule)
    claims_gone = parse_schedule("\n".join(line for line in text.split("\n") if not line.startswith("claim")))
    slower = parse_schedule(text.replace("400 ms off", "500 ms off"))

    assert schedule_digest(claims_gone) == schedule_digest(schedule)
    assert schedule_digest(slower) != schedule_digest(schedule)


def test_a_statement_goes_on_over_lines_that_are_set_in_and_remarks_are_left_out() -> None:
    schedule = parse_schedule("# a remark\ninput a: toggle;\n  rest on\n\n  # another\ninput b: push\n")

    assert [(part.key, part.rest) for part in schedule.inputs] == [("a", "on"), ("b", "off")]


def test_one_statement_is_read_alone_and_printed_again() -> None:
    text = "rule r (priority 4): siren steady at 30 % when park and not siren-off; if lost, applies"

    assert print_statement(parse_statement(text)) == text


def test_a_time_of_more_than_a_day_is_out_of_range() -> None:
    with pytest.raises(OutOfRange, match="24 h"):
        ForAtLeast(term=InputIs(input="park"), duration_ms=24 * 3600 * 1000 + 1)
