"""A schedule in time: timers at their boundary, run-ons, latching buttons, holds."""

import pytest

from builds.engineering.errors import OutOfRange
from builds.engineering.functions.compiled import compile_schedule
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.proof import Verdict, prove_claims
from builds.engineering.functions.running import Run, held_ms
from builds.engineering.functions.settings import Setting, setting_of

TEXT = """
input a: toggle
input b: toggle
input button: latching
input other: latching
channel one: lamp
channel two: lamp
"""


def run_of(*rules: str) -> Run:
    said = "\n".join(f"rule r{number} (priority {number}): {rule}" for number, rule in enumerate(rules))
    return Run.wake(compile_schedule(parse_schedule(TEXT + said)))


def to(run: Run, **values: str) -> Setting:
    return setting_of(run.compiled.schedule, values)


def lit(run: Run) -> list[str]:
    return [outcome.channel for outcome in run.outcomes() if outcome.is_lit]


def lit_at(run: Run, *moments_ms: int) -> list[bool]:
    found = []
    for moment_ms in moments_ms:
        run.advance(moment_ms)
        found.append("one" in lit(run))
    return found


def test_for_at_least_holds_from_its_moment_on() -> None:
    run = run_of("one steady when a for at least 3 s; if lost, does not apply")
    run.advance(500)
    run.set(to(run, a="on"))

    assert run.next_event_ms() == 3500
    assert lit_at(run, 3499, 3500, 99_000) == [False, True, True]


def test_a_break_starts_for_at_least_anew() -> None:
    run = run_of("one steady when a for at least 3 s; if lost, does not apply")
    run.set(to(run, a="on"))
    run.advance(2999)
    run.set(to(run))
    run.set(to(run, a="on"))

    assert lit_at(run, 3000, 5998, 5999) == [False, False, True]


def test_for_at_most_holds_until_its_moment() -> None:
    run = run_of("one steady when a for at most 3 s; if lost, does not apply")
    run.set(to(run, a="on"))

    assert lit_at(run, 0, 2999, 3000) == [True, True, False]


def test_after_runs_on_from_the_end_and_not_from_waking() -> None:
    run = run_of("one steady when at most 10 s after a; if lost, does not apply")
    assert lit_at(run, 0) == [False]

    run.set(to(run, a="on"))
    assert lit_at(run, 5000) == [False]
    run.set(to(run))

    assert lit_at(run, 5000, 14_999, 15_000) == [True, True, False]


def test_a_timer_within_a_timer_counts_from_when_the_inner_one_is_done() -> None:
    run = run_of("one steady when (a for at least 2 s) for at least 3 s; if lost, does not apply")
    run.set(to(run, a="on"))

    assert lit_at(run, 4999, 5000) == [False, True]


def test_a_lost_signal_runs_the_timer_of_a_rule_that_applies() -> None:
    run = run_of(
        "one steady when a for at least 2 s; if lost, applies",
        "two steady when a for at least 2 s; if lost, does not apply",
    )
    run.set(to(run, a="lost"))
    run.advance(2000)

    assert lit(run) == ["one"]


def test_a_latching_button_is_let_go_at_once_and_stays_off() -> None:
    run = run_of(
        "one steady when button; if lost, does not apply",
        "button release when a; if lost, does not apply",
    )
    run.set(to(run, button="on"))
    assert lit(run) == ["one"]

    run.set(to(run, button="on", a="on"))
    assert run.setting == to(run, a="on")

    run.set(to(run))
    assert lit(run) == []


def test_a_button_lets_itself_go_after_a_time() -> None:
    run = run_of(
        "one steady when button; if lost, does not apply",
        "button release when button for at least 60 s; if lost, does not apply",
    )
    run.set(to(run, button="on"))

    assert lit_at(run, 59_999, 60_000, 60_001) == [True, False, False]


def test_buttons_that_let_each_other_go_settle_in_the_order_of_the_rules() -> None:
    run = run_of(
        "button release when other; if lost, does not apply",
        "other release when button; if lost, does not apply",
    )
    run.set(to(run, button="on", other="on"))

    assert run.setting == to(run, other="on")


def test_time_does_not_go_back() -> None:
    run = run_of("one steady when a; if lost, does not apply")
    run.advance(10)

    with pytest.raises(OutOfRange, match="at least 10"):
        run.advance(9)


def test_nothing_is_computed_between_events() -> None:
    run = run_of("one steady when a for at least 10 min; if lost, does not apply")
    run.set(to(run, a="on"))
    counted: list[int] = []
    settle = run._settle

    class Counting(Run):
        def _settle(self, numbers: tuple[int, ...]) -> None:
            counted.append(self.now_ms)
            settle(numbers)

    slow = Counting(run.compiled, 0, run.numbers, run.values, dict(run.held_since), run.gates)
    slow.advance(3_600_000)

    assert counted == [600_000]


# 120 flashes a minute, lit half the time.
EDGES = ((0, True), (250, False), (500, True), (750, False))


@pytest.mark.parametrize(
    ("hold_ms", "expected"),
    [
        (800, ((0, True), (1550, False))),
        (250, ((0, True), (1000, False))),  # on again at the very moment the hold ends: no break
        (249, ((0, True), (499, False), (500, True), (999, False))),
    ],
)
def test_a_blinking_wire_is_held_over_its_dark_half(hold_ms: int, expected: tuple) -> None:
    assert held_ms(EDGES, hold_ms=hold_ms) == expected


@pytest.mark.parametrize("hold_ms", [800, 250, 249])
def test_rules_and_claims_see_a_held_wire_as_it_is_held(hold_ms: int) -> None:
    schedule = parse_schedule(f"""
input turn: signal meaning turn-left; wire C3-4 blinking; held {hold_ms} ms
channel one: lamp
rule r (priority 1): one steady when turn; if lost, applies
claim with-turn: whenever turn then one is lit
claim without-turn: whenever turn is off then one is off
""")
    run = Run.wake(compile_schedule(schedule))
    edges, seen = dict(EDGES), []
    for moment_ms in range(2000):
        run.advance(moment_ms)
        if moment_ms in edges:
            run.set(to(run, turn="on" if edges[moment_ms] else "off"))
        if ("one" in lit(run)) != bool(seen and seen[-1][1]):
            seen.append((moment_ms, "one" in lit(run)))

    assert tuple(seen) == held_ms(EDGES, hold_ms=hold_ms)
    assert {one.verdict for one in prove_claims(run.compiled)} == {Verdict.PROVED}


def test_a_held_wire_that_is_lost_is_lost_and_wakes_off() -> None:
    run = Run.wake(
        compile_schedule(
            parse_schedule("""
input turn: signal; wire C3-4; held 800 ms
channel one: lamp
rule r (priority 1): one steady when turn; if lost, does not apply
""")
        )
    )
    seen = [lit(run)]
    for value in ("on", "lost", "off"):
        run.set(to(run, turn=value))
        seen.append(lit(run))

    assert seen == [[], ["one"], [], ["one"]]
    run.advance(800)
    assert lit(run) == []


def test_a_given_speaks_of_the_source_and_not_of_its_hold() -> None:
    compiled = compile_schedule(
        parse_schedule("""
input park: signal meaning park; wire C2-14; held 2 s
input reverse: signal meaning reverse; wire C2-15
channel one: lamp
rule r (priority 1): one steady when park and reverse; if lost, does not apply
given one-gear: not (park and reverse)
claim apart: never one is lit
""")
    )

    (apart,) = prove_claims(compiled)

    assert apart.verdict is Verdict.REFUTED  # reverse within two seconds after park


def test_a_claim_may_time_an_output() -> None:
    schedule = parse_schedule(
        TEXT
        + "rule r (priority 1): one steady when a; if lost, does not apply\n"
        + "rule s (priority 2): one off when a for at least 10 min; if lost, does not apply\n"
        + "claim short: never one is lit for at least 10 min\n"
        + "claim shorter: never one is lit for at least 5 min\n"
    )

    short, shorter = prove_claims(compile_schedule(schedule))

    assert short.verdict is Verdict.PROVED
    assert shorter.verdict is Verdict.REFUTED
    assert shorter.counterexample.trace.look_ms == 300_000
