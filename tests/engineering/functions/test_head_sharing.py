"""One truth of what a shared head shows: evaluator, claims, test plan, comparison, picture and loads see the same level."""

from itertools import product

import pytest

from builds.engineering.functions.appearances import channel_logics
from builds.engineering.functions.checks import check_schedule
from builds.engineering.functions.comparing import compare_schedules
from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.coupling import uses_of
from builds.engineering.functions.evaluate import evaluate, leaf_rows, numbers_of
from builds.engineering.functions.faults import LanguageError
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.mutation import measure_plan
from builds.engineering.functions.plan import plan_test
from builds.engineering.functions.playing import levels_at
from builds.engineering.functions.printing import print_schedule
from builds.engineering.functions.settings import setting_of
from builds.engineering.functions.words import outcome_words

LENS = """
input scene: toggle
input stop: toggle
input night: toggle
channel white: lamp; load L1; 6 A
channel red: lamp; load L2; 2 A
head both: white, red; at most 6 A; colours shared
rule light (priority 1): white steady when scene; if lost, does not apply
rule stop (priority 1): red steady when stop; if lost, does not apply
rule quiet (priority 1): white dim to 50 % when night; if lost, does not apply
"""
BEATING = """
input mode: selector off, apart, together, loose
channel red: lamp; 3 A
channel blue: lamp; 3 A
head lens: red, blue; at most 4 A; colours shared
pattern beat: 300 ms on, 300 ms off
rule red (priority 1): red flash beat sync all when mode is one of apart, together; if lost, does not apply
rule apart (priority 1): blue flash beat sync all phase 300 ms when mode is apart; if lost, does not apply
rule together (priority 1): blue flash beat sync all when mode is together; if lost, does not apply
rule loose (priority 1): red, blue flash beat when mode is loose; if lost, does not apply
"""


def compiled_of(text: str) -> CompiledSchedule:
    return compile_schedule(parse_schedule(text))


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"scene": "on"}, [100, 0]),
        ({"stop": "on"}, [0, 100]),
        ({"scene": "on", "stop": "on"}, [75, 75]),  # 6 A of 6 + 2
        ({"scene": "on", "stop": "on", "night": "on"}, [50, 100]),  # 3 + 2 A keep the 6
    ],
)
def test_every_reader_sees_one_level(values: dict[str, str], expected: list[float]) -> None:
    compiled = compiled_of(LENS)
    setting = setting_of(compiled.schedule, values)

    outcomes = evaluate(compiled, setting)
    loads = {use.load: use.duty_ratio for use in uses_of(compiled, setting)}

    assert [one.shows.level_percent for one in outcomes] == pytest.approx(expected)
    assert list(levels_at(outcomes, at_ms=0)) == expected
    assert [100 * loads.get(load, 0) for load in ("L1", "L2")] == pytest.approx(expected)


@pytest.mark.parametrize("text", [LENS, BEATING])
def test_the_gates_of_a_head_show_what_the_evaluator_shows_at_every_setting(text: str) -> None:
    compiled = compiled_of(text)
    logics = channel_logics(compiled)

    for chosen in product(*(part.values for part in compiled.schedule.inputs)):
        keys = (part.key for part in compiled.schedule.inputs)
        setting = setting_of(compiled.schedule, dict(zip(keys, chosen, strict=True)))
        values = compiled.gates.compute(leaf_rows(compiled, numbers_of(compiled, setting)), 1)

        shown = [[look for look, literal in logic.shows.items() if values[literal]] for logic in logics]

        assert shown == [[outcome.shows] for outcome in evaluate(compiled, setting)]


def test_colours_that_never_meet_are_not_lowered() -> None:
    compiled = compiled_of(BEATING)

    levels = {
        mode: [one.shows.level_percent for one in evaluate(compiled, setting_of(compiled.schedule, {"mode": mode}))]
        for mode in ("apart", "together", "loose")
    }

    assert levels["apart"] == [100, 100]
    assert levels["together"] == levels["loose"] == pytest.approx([200 / 3, 200 / 3])  # 4 A of 3 + 3


def test_a_claim_is_refuted_by_what_the_head_takes_away() -> None:
    report = check_schedule(parse_schedule(LENS + "claim full: never white is dimmed and night is off\n"))

    assert [one.message for one in report.findings] == [
        "Claim full does not hold: from rest switch scene on and switch stop on: white is steady at 75 % by rule light, "
        "lowered to keep its head's maximum."
    ]


def test_a_plan_expects_the_lowered_level_and_notices_every_fault() -> None:
    compiled = compiled_of(BEATING)

    plan = plan_test(compiled)

    assert any(outcome.shared_ratio < 1 for step in plan.steps for outcome in step.outcomes)
    assert measure_plan(compiled, plan).score_ratio == 1


def test_another_maximum_is_another_behaviour() -> None:
    stronger = parse_schedule(LENS.replace("at most 6 A", "at most 7 A"))

    different = compare_schedules(parse_schedule(LENS), stronger).different

    assert [(one.what, one.one_shows, one.other_shows) for one in different] == [
        ("white", "steady at 75 %", "steady at 88 %"),
        ("red", "steady at 75 %", "steady at 88 %"),
    ]


@pytest.mark.parametrize("colours", ["together", "first", "shared"])
def test_a_head_that_states_no_maximum_has_none(colours: str) -> None:
    schedule = parse_schedule(LENS.replace("at most 6 A; colours shared", f"colours {colours}"))
    both = setting_of(schedule, {"scene": "on", "stop": "on"})

    assert parse_schedule(print_schedule(schedule)) == schedule
    assert [one.id for one in check_schedule(schedule).findings if one.id == "head-over-maximum"] == []
    assert evaluate(compile_schedule(schedule), both)[0].shows.level_percent == 100


def test_words_say_why_a_colour_is_lowered() -> None:
    compiled = compiled_of(LENS)

    white, _ = evaluate(compiled, setting_of(compiled.schedule, {"scene": "on", "stop": "on"}))

    assert outcome_words(compiled, white) == (
        "white is steady at 75 % by rule light, lowered to keep its head's maximum"
    )


def test_a_head_whose_colours_meet_in_too_many_ways_is_refused_at_its_name() -> None:
    inputs = "".join(f"input in{n}: toggle\n" for n in range(7))
    lamps = "".join(f"channel c{n}: lamp; 2 A\n" for n in range(4))
    head = "head rich: c0, c1, c2, c3; at most 3 A; colours shared\n"
    rules = "".join(
        f"rule r{n}{level} (priority {level}): c{n} steady at {10 * level} % when in{level}; if lost, does not apply\n"
        for n in range(4)
        for level in range(1, 7)
    )

    with pytest.raises(LanguageError) as raised:
        parse_schedule(inputs + lamps + head + rules)

    (fault,) = raised.value.faults
    assert (fault.name, fault.place.line, fault.place.column) == ("head-too-rich", 12, 6)
    assert "2,401 ways" in fault.message
