"""Loads by setting, and the operator's chart."""

from random import Random

import pytest

from builds.engineering.functions.chart import ChartRow, operator_chart
from builds.engineering.functions.checks import check_schedule
from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.conditions import InputIs, leaves
from builds.engineering.functions.coupling import uses_of
from builds.engineering.functions.evaluate import evaluate
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.settings import AT_REST, setting_of
from builds.engineering.functions.words import outcome_words
from tests.engineering.functions.language_page import COMPILED
from tests.engineering.functions.random_schedules import random_schedule

SCHEDULE = compile_schedule(
    parse_schedule("""
input mode: selector off, respond
input half: toggle
channel red: lamp; load L1
channel blue: lamp; load L2
channel left: lamp; load L3
channel right: lamp; load L3
channel loose: lamp
pattern uneven: 200 ms on, 250 ms off, 200 ms on, 250 ms off, 200 ms on, 850 ms off
rule flash (priority 1): red, loose flash uneven when mode is respond; if lost, does not apply
rule low (priority 1): blue steady at 30 % when mode is respond; if lost, does not apply
rule left (priority 1): left steady when mode is respond; if lost, does not apply
rule dim (priority 1): red dim to 50 % when half; if lost, does not apply
""")
)


def test_nothing_is_on_at_rest() -> None:
    assert uses_of(SCHEDULE, AT_REST) == ()


def test_a_flash_counts_by_its_duty_and_a_dimmed_lamp_by_its_level() -> None:
    # The duty of the pattern in NHTSA interpretation letter GF006498: 600 of 1950 ms.
    uses = uses_of(SCHEDULE, setting_of(SCHEDULE.schedule, {"mode": "respond"}))

    assert [use.load for use in uses] == ["L1", "L2", "L3"]
    assert [use.duty_ratio for use in uses] == [
        pytest.approx(0.3077, abs=0.00005),
        0.3,
        0.5,  # one of its two channels
    ]


def test_dimming_lowers_the_mean_of_a_flash() -> None:
    full, half = (
        uses_of(SCHEDULE, setting_of(SCHEDULE.schedule, {"mode": "respond", "half": value}))[0].duty_ratio
        for value in ("off", "on")
    )

    assert half == pytest.approx(full / 2)


@pytest.mark.parametrize(("white", "red", "expected"), [("6 A", "1 A", 6 / 7), ("6 A", "0 A", 0.5)])
def test_a_channel_is_the_part_of_its_load_that_its_current_is(white: str, red: str, expected: float) -> None:
    compiled = compile_schedule(
        parse_schedule(f"""
input scene: toggle
channel white: lamp; load L1; {white}
channel red: lamp; load L1; {red}
rule go (priority 1): white steady when scene; if lost, does not apply
""")
    )

    (use,) = uses_of(compiled, setting_of(compiled.schedule, {"scene": "on"}))

    assert use.duty_ratio == pytest.approx(expected)


SHARED = """
input scene: toggle
input stop: toggle
channel white: lamp; load L1; 6 A
channel red: lamp; load L2; 2 A
head both: white, red; at most 6 A; colours shared
rule light (priority 1): white steady when scene; if lost, does not apply
rule stop (priority 1): red steady when stop; if lost, does not apply
"""


@pytest.mark.parametrize(
    ("values", "expected"),
    [({"scene": "on"}, [1.0]), ({"stop": "on"}, [1.0]), ({"scene": "on", "stop": "on"}, [0.75, 0.75])],
)
def test_a_shared_head_lowers_what_is_lit_to_its_maximum(values: dict[str, str], expected: list[float]) -> None:
    compiled = compile_schedule(parse_schedule(SHARED))

    uses = uses_of(compiled, setting_of(compiled.schedule, values))

    assert [use.duty_ratio for use in uses] == expected


def test_a_colour_of_a_shared_head_over_its_maximum_alone_is_found() -> None:
    def heads_of(text: str) -> list[str]:
        return [one.message for one in check_schedule(parse_schedule(text)).findings if one.id == "head-over-maximum"]

    assert heads_of(SHARED) == []
    assert heads_of(SHARED.replace("6 A\nch", "9 A\nch")) == [
        "Head both takes 9 A with white alone; it is made for 6 A."
    ]


def test_changing_a_rule_moves_the_loads() -> None:
    quiet = compile_schedule(COMPILED["respond and park"].schedule)

    way = uses_of(quiet, setting_of(quiet.schedule, {"mode": "respond"}))
    scene = uses_of(quiet, setting_of(quiet.schedule, {"mode": "respond", "park": "on"}))

    assert [use.load for use in way] == ["L1", "L2", "L3"]
    assert way[0].duty_ratio == pytest.approx(160 / 600)
    assert scene[0].duty_ratio == pytest.approx(0.5)


def test_the_chart_says_what_a_control_does_alone_and_what_it_takes_part_in() -> None:
    chart = {(row.control, row.value): row for row in operator_chart(COMPILED["rear cut"])}

    assert chart["mode", "respond"].alone == ("rear: flash quick",)
    assert chart["mode", "respond"].by_hand


def test_controls_come_before_signals_and_a_part_together_with_others_is_said() -> None:
    rows = operator_chart(COMPILED["secure idle"])

    assert rows[0].control == "secure idle"
    assert not rows[-1].by_hand
    lines = {line.rule: line for line in rows[0].also}
    assert lines["keep-running"].does == "run-on steady"
    assert lines["keep-running"].when == '"secure idle" and running'


ALONE = compile_schedule(
    parse_schedule("""
input park: signal meaning park
input night: toggle
input quiet: latching
input stop: push
input door: signal
channel horn: siren
channel lamp: lamp
rule horn (priority 1): horn steady when quiet; if lost, does not apply
rule hush (priority 9): horn inhibit when stop; if lost, applies
rule dim (priority 1): lamp dim to 30 % when night; if lost, does not apply
rule go (priority 2): lamp steady when night and not park; if lost, does not apply
rule let (priority 1): quiet release when park; if lost, does not apply
rule linger (priority 3): lamp steady when at most 10 s after door; if lost, does not apply
rule idle (priority 0): lamp steady at 5 % when not park; if lost, does not apply
rule blind (priority 4): lamp steady when door is lost; if lost, applies
""")
)


def test_a_control_that_only_stops_dims_lets_go_or_lingers_has_its_row() -> None:
    rows = {(row.control, row.value): row for row in operator_chart(ALONE)}
    chart = {place: {line.rule for line in row.also} for place, row in rows.items()}

    assert chart["stop", "on"] == {"hush"}
    assert rows["night", "on"].alone == ("lamp: steady at 30 %",)
    assert chart["park", "on"] == {"let"}
    assert chart["door", "on"] == {"linger"}
    assert chart["door", "lost"] == {"blind"}


def test_a_rule_does_not_stand_under_the_value_that_stops_it() -> None:
    chart = {(row.control, row.value): {line.rule for line in row.also} for row in operator_chart(ALONE)}

    assert "go" in chart["night", "on"] and "go" not in chart["park", "on"]
    assert chart["park", "off"] == {"idle"}


@pytest.mark.parametrize("compiled", [ALONE, SCHEDULE, *COMPILED.values()])
def test_every_rule_stands_in_some_row(compiled: CompiledSchedule) -> None:
    rows = operator_chart(compiled)

    told = {rule for row in rows for rule in (*row.alone_rules, *(line.rule for line in row.also))}
    assert told == {rule.key for rule in compiled.schedule.rules}


def chart_of(text: str) -> dict[tuple[str, str], ChartRow]:
    return {(row.control, row.value): row for row in operator_chart(compile_schedule(parse_schedule(text)))}


def test_a_control_that_keeps_a_rule_back_has_its_row() -> None:
    chart = chart_of("""
input horn: hold
input mute: hold
channel s: siren
rule r (priority 1): s steady when horn and not mute; if lost, does not apply
""")

    assert chart["mute", "on"].alone == ()
    assert [(line.rule, line.does, line.when) for line in chart["mute", "on"].stops] == [
        ("r", "s steady", "horn and not mute")
    ]
    assert chart["horn", "on"].stops == ()


def test_what_goes_on_after_a_control_is_let_go_is_said_with_its_time() -> None:
    chart = chart_of("""
input horn: hold
input pa: hold
channel s: siren
channel t: lamp
rule r (priority 1): s steady when (at most 8 s after horn) or pa; if lost, does not apply
rule q (priority 1): t steady when (at most 5 s after horn) for at least 2 s; if lost, does not apply
""")

    assert chart["horn", "on"].alone == ()
    assert chart["horn", "on"].afterwards == ("t: steady for 3 s after 2 s", "s: steady for 8 s")
    assert chart["pa", "on"].afterwards == ()


@pytest.mark.parametrize("seed", range(40))
def test_every_control_that_a_rule_reads_has_a_row(seed: int) -> None:
    schedule = random_schedule(Random(seed), inputs=6, rules=5, claims=0, timers=bool(seed % 2))

    told = {row.control for row in operator_chart(compile_schedule(schedule))}

    for rule in schedule.rules:
        read = [leaf for leaf in leaves(rule.condition) if isinstance(leaf, InputIs)]
        for leaf in read:
            (part,) = (part for part in schedule.inputs if part.key == leaf.input)
            tells = 0 < len([place for place in part.stands if place in leaf.values]) < len(part.stands)
            if tells and [other.input for other in read].count(part.key) == 1:
                assert part.key in told, (part.key, rule.key)


STILL = compile_schedule(
    parse_schedule("""
input mute: toggle
channel lamp: lamp
channel horn: siren
channel pump: relay
set noise: horn, pump
rule hush (priority 1): horn off when mute for at least 1 s; if lost, does not apply
rule rest (priority 2): noise off when mute for at least 2 s; if lost, does not apply
rule out (priority 3): lamp off when mute for at least 3 s; if lost, does not apply
""")
)


def test_an_output_at_rest_is_told_by_what_hangs_on_it() -> None:
    said = [outcome_words(STILL, outcome) for outcome in evaluate(STILL, AT_REST)]
    rows = [line.does for row in operator_chart(STILL) for line in row.also]

    assert [words.partition(",")[0] for words in said] == ["lamp is dark", "horn is silent", "pump is off"]
    assert sorted(rows) == ["horn silent", "lamp dark", "noise off"]
