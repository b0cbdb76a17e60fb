"""The library of claims: what each asks, of which schedules, and that a schedule that breaks one is refuted."""

import pytest

from builds.engineering.functions.compiled import compile_schedule
from builds.engineering.functions.language import parse_condition, parse_schedule
from builds.engineering.functions.proof import Verdict, prove_claims
from builds.engineering.functions.ready_claims import COLOURS, MODES, SIDES, allowed_colours, ready_claims
from builds.engineering.functions.schedule import FunctionSchedule
from builds.engineering.functions.vocabulary import Colour, Facing, Level
from builds.engineering.tables.loader import load_table

LEVELS = (Level.UPPER, Level.LOWER)


def test_52_of_64_colour_combinations_are_allowed() -> None:
    # NFPA 1901 as restated in builders' public specifications: calling 4×2×4 - 2 (yellow front) - 2 (white rear) = 28,
    # blocking 4×2×3 = 24 (no white), each over upper and lower level. The rules restated there make no difference between
    # the levels, nor do the claims: half of the 64 are the other half on the other level.
    allowed = allowed_colours()
    combinations = {
        (mode, colour, side, level): allowed[mode, colour, side]
        for mode in MODES
        for colour in COLOURS
        for side in SIDES
        for level in LEVELS
    }

    assert len(combinations) == 64
    assert sum(combinations.values()) == 52
    assert sum(ok for (mode, *_), ok in combinations.items() if mode == "calling") == 28
    assert sum(ok for (mode, *_), ok in combinations.items() if mode == "blocking") == 24


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("colour", COLOURS)
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("level", LEVELS)
def test_a_warning_colour_is_proved_where_it_is_allowed_and_refuted_where_not(
    mode: str, colour: Colour, side: Facing, level: Level
) -> None:
    schedule = parse_schedule(f"""
input mode: selector off, calling, blocking
channel lamp: lamp; facing {side}; level {level}; colour {colour}
pattern beat: 300 ms on, 300 ms off
rule go (priority 1): lamp flash beat when mode is {mode}; if lost, does not apply
""")
    when = {name: parse_condition(f"mode is {name}", schedule) for name in MODES}

    verdicts = verdicts_of(schedule, **when)

    refuted = [key for key, verdict in verdicts.items() if verdict is Verdict.REFUTED]
    assert refuted == ([] if allowed_colours()[mode, colour, side] else [f"colours-{mode}"])


def verdicts_of(schedule: FunctionSchedule, **modes: object) -> dict[str, Verdict]:
    compiled = compile_schedule(schedule)
    return {
        result.claim.key: result.verdict
        for ready in ready_claims(compiled.schedule, **modes)
        for result in prove_claims(compiled, ready.claims)
    }


PARTS = """
input brake: signal meaning brake
input left: signal meaning turn-left
input park: signal meaning park
input reverse: signal meaning reverse
input fast: signal meaning speed-above
input key: signal meaning key-present; rest on
input running: signal meaning engine-running
input button: latching
channel stop: lamp; facing rear; colour red; job stop-lamp
channel turn: lamp; facing rear; colour yellow; job turn-left-lamp
channel arrow-left: relay; job director-left
channel arrow-right: relay; job director-right
channel work: lamp; facing rear; colour white
channel lock: inhibit; job drive-inhibit
pattern beat: 300 ms on, 300 ms off
"""

# Rules that keep a claim, and the one change that breaks it.
KEPT_AND_BROKEN = [
    (
        "stop-lamps-steady",
        "rule a (priority 1): stop flash beat when button; if lost, does not apply\n"
        "rule b (priority 2): stop inhibit when brake; if lost, applies",
        "rule b (priority 2): stop inhibit when brake and not reverse; if lost, applies",
    ),
    (
        "required-lamps-free",
        "rule a (priority 1): turn flash beat when button and left is off; if lost, does not apply",
        "rule a (priority 1): turn flash beat when button; if lost, does not apply",
    ),
    (
        "one-arrow",
        "rule a (priority 1): arrow-left steady when button; if lost, does not apply\n"
        "rule b (priority 1): arrow-right steady when button is off; if lost, does not apply",
        "rule b (priority 1): arrow-right steady when not button or brake; if lost, does not apply",
    ),
    (
        "no-white-behind 1",
        "rule a (priority 1): work steady when button; if lost, does not apply\n"
        "rule b (priority 2): work inhibit when fast and not reverse; if lost, applies\n"
        "rule c (priority 2): work inhibit when fast is lost and park is off and reverse is off; if lost, does not apply",
        "rule b (priority 2): work inhibit when fast and not reverse and not park; if lost, applies",
    ),
    (
        "never-drivable-keyless",
        "rule a (priority 1): lock steady when running and not key; if lost, applies",
        "rule a (priority 1): lock steady when running and not key; if lost, does not apply",
    ),
]


@pytest.mark.parametrize(("key", "rules", "broken"), KEPT_AND_BROKEN, ids=[case[0] for case in KEPT_AND_BROKEN])
def test_a_ready_claim_is_proved_of_sound_rules_and_refuted_of_broken_ones(key: str, rules: str, broken: str) -> None:
    name = broken.split("(", maxsplit=1)[0]
    changed = "\n".join(broken if line.startswith(name) else line for line in rules.split("\n"))

    assert verdicts_of(parse_schedule(PARTS + rules))[key] is Verdict.PROVED
    assert verdicts_of(parse_schedule(PARTS + changed))[key] is Verdict.REFUTED


TWO_LOCKS = PARTS + "channel bolt: inhibit; job drive-inhibit\n"
HELD = "rule a (priority 1): lock, bolt steady when running and not key; if lost, applies\n"


@pytest.mark.parametrize(
    ("rules", "verdict"),
    [
        (HELD, Verdict.PROVED),
        (HELD.replace("steady", "flash beat"), Verdict.REFUTED),
        (HELD.replace("steady", "steady at 1 %"), Verdict.REFUTED),
        (HELD.replace("lock, bolt", "lock"), Verdict.REFUTED),
        (HELD + "rule b (priority 1): bolt dim to 50 % when button; if lost, does not apply", Verdict.REFUTED),
    ],
)
def test_every_drive_inhibit_holds_steadily_and_fully(rules: str, verdict: Verdict) -> None:
    assert verdicts_of(parse_schedule(TWO_LOCKS + rules))["never-drivable-keyless"] is verdict


def test_a_stop_lamp_driven_below_its_full_level_is_refuted() -> None:
    rules = "rule a (priority 1): stop steady at 40 % when brake; if lost, does not apply"

    assert verdicts_of(parse_schedule(PARTS + rules))["stop-lamps-steady"] is Verdict.REFUTED


def test_white_behind_falls_back_to_the_gear_while_the_speed_is_lost() -> None:
    rules = KEPT_AND_BROKEN[3][1].rsplit("\n", 1)[0]

    verdicts = verdicts_of(parse_schedule(PARTS + rules))

    assert verdicts["no-white-behind 2"] is Verdict.PROVED  # an inhibit that applies when undecided covers it
    rules = rules.replace("not reverse; if lost, applies", "not reverse; if lost, does not apply")
    assert verdicts_of(parse_schedule(PARTS + rules))["no-white-behind 2"] is Verdict.REFUTED


def test_a_schedule_is_told_what_it_lacks() -> None:
    ready = ready_claims(parse_schedule("input a: toggle\nchannel b: relay"))

    assert all(not one.claims and one.missing for one in ready)


def test_every_entry_has_basis_and_whom_it_defers_to_and_trade_facts_say_so() -> None:
    for row in load_table("ready_claims").rows:
        assert row["basis"] and row["defers_to"]
        assert (row["status"] == "practice") == row["basis"].startswith("common practice")
