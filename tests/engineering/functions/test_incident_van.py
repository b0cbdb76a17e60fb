"""A whole van: its schedule is sound, its claims and the ready ones hold, its loads follow the mode and the gear."""

from functools import cache
from pathlib import Path

from builds.engineering.findings import Severity
from builds.engineering.functions.checks import check_schedule
from builds.engineering.functions.compiled import CompiledSchedule, compile_schedule
from builds.engineering.functions.coupling import uses_of
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.printing import print_schedule
from builds.engineering.functions.proof import Verdict, prove_claims
from builds.engineering.functions.ready_claims import ready_claims
from builds.engineering.functions.settings import setting_of

PATH = Path(__file__).parent / "schedules" / "incident_van.txt"


@cache
def van() -> CompiledSchedule:
    return compile_schedule(parse_schedule(PATH.read_text(encoding="utf-8")))


def test_nothing_but_notes_is_said_of_it_and_its_claims_hold() -> None:
    report = check_schedule(van().schedule)

    assert [finding.message for finding in report.findings if finding.severity is not Severity.NOTE] == []
    assert {result.verdict for result in report.claims} == {Verdict.PROVED}


def test_the_ready_claims_that_apply_hold() -> None:
    ready = ready_claims(van().schedule)
    applying = [claim for one in ready for claim in one.claims]

    results = prove_claims(van(), applying)

    assert {one.key for one in ready if one.claims} == {
        "no-white-behind",
        "colours-calling",
        "colours-blocking",
        "never-drivable-keyless",
    }
    refuted = {result.claim.key for result in results if result.verdict is not Verdict.PROVED}
    assert refuted == {"colours-calling"}  # yellow to the front while moving: amber only, so the buyer decides


def test_its_text_reads_back() -> None:
    assert parse_schedule(print_schedule(van().schedule)) == van().schedule


def test_its_loads_follow_the_mode_and_the_gear() -> None:
    duties = {
        gear: {
            use.load: use.duty_ratio
            for use in uses_of(van(), setting_of(van().schedule, {"mode": "travel", "gear": gear}))
        }
        for gear in ("park", "other")
    }

    assert duties["park"]["bar-fl"] == 400 / 600
    assert duties["other"]["bar-fl"] == 180 / 600
