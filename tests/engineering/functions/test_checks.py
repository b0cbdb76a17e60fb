"""What a good electrician says of a schedule: every finding planted once, and nothing said of a sound one."""

import re
from dataclasses import replace

import pytest

from builds.engineering.errors import OutOfRange
from builds.engineering.findings import Finding
from builds.engineering.functions.catalogue import FUNCTION_CATALOGUE
from builds.engineering.functions.checks import check_schedule
from builds.engineering.functions.form import schedule_digest
from builds.engineering.functions.language import parse_schedule
from builds.engineering.functions.loaded_files import LoadedFile
from builds.engineering.functions.proof import Verdict
from builds.engineering.functions.schedule import FunctionSchedule

SOUND = """
input mode: selector off, respond, block
input park: signal meaning park; wire C2-1
input brake: signal meaning brake; wire C3-1
channel front-red: lamp; facing front; colour red; load L1; 1.8 A
channel front-white: lamp; facing front; colour white; load L2; 2.5 A
channel rear-red: lamp; facing rear; colour red; load L3; 1.8 A
head front: front-red, front-white; at most 3 A; colours first
set warning: front-red, rear-red
pattern beat: 300 ms on, 300 ms off; limit sae-j845
rule responding (priority 40): warning flash beat sync all when mode is respond; if lost, does not apply
rule blocking (priority 30): rear-red, front-white steady when mode is block; if lost, does not apply
rule cut (priority 90): rear-red inhibit when brake and not park; if lost, applies
claim cut: whenever brake and park is off then rear-red is off
"""


def found(text: str = "", *, without: str = "", **more: object) -> list[Finding]:
    """Findings of the sound schedule with some statements more and those beginning so left out."""
    kept = [line for line in SOUND.split("\n") if not without or not line.startswith(without)]
    return list(check_schedule(parse_schedule("\n".join(kept) + "\n" + text), **more).findings)


def test_nothing_is_said_of_a_sound_schedule() -> None:
    assert found() == []


LIT = "; if lost, does not apply"
PLANTS = [
    ("rule-never-holds", "", f"rule x (priority 1): warning off when brake and brake is off{LIT}", "rule:x"),
    ("rule-never-wins", "", f"rule x (priority 1): front-red off when mode is respond and brake{LIT}", "rule:x"),
    ("rule-never-wins-on", "", f"rule x (priority 35): front-red, front-white off when mode is respond{LIT}", "rule:x"),
    ("rule-tie", "", f"rule x (priority 40): front-red steady when brake{LIT}", "rule:responding"),
    ("output-undriven", "", "channel idle: relay; load L4", "channel:idle"),
    (
        "output-only-held-dark",
        "",
        f"channel tail: lamp; facing rear; colour red; load L4; job tail-lamp\nrule x (priority 1): tail off when brake{LIT}",
        "channel:tail",
    ),
    ("input-unread", "", "input idle: push", "input:idle"),
    ("input-without-source", "input brake", "input brake: signal meaning brake", "input:brake"),
    (
        "channel-low-side",
        "channel rear-red",
        "channel rear-red: lamp; low side; facing rear; colour red; load L3",
        "channel:rear-red",
    ),
    (
        "blinking-without-hold",
        "input brake",
        "input brake: signal meaning brake; wire C3-1 blinking; held 400 ms",
        "input:brake",
    ),
    (
        "input-wavers",
        "input brake",
        'input brake: signal meaning low-voltage; gateway "volts", 1 per second, asleep off',
        "input:brake",
    ),
    (
        "timer-chatters",
        "input brake",
        "input brake: signal meaning brake; wire C3-1 blinking\n"
        f"rule x (priority 95): rear-red off when brake for at least 2 s{LIT}",
        "rule:x",
    ),
    ("flash-rate", "pattern", "pattern beat: 100 ms on, 140 ms off; limit sae-j845", "pattern:beat"),
    (
        "flash-uneven",
        "pattern",
        "pattern beat: 200 ms on, 250 ms off, 200 ms on, 850 ms off; limit fmvss-108-variable",
        "pattern:beat",
    ),
    (
        "sync-periods-differ",
        "",
        f"pattern slow: 400 ms on, 400 ms off\nrule x (priority 41): rear-red flash slow sync all when brake and mode is block{LIT}",
        "sync:all",
    ),
    (
        "head-over-maximum",
        "head",
        "head front: front-red, front-white; at most 3 A; colours together\n"
        f"rule x (priority 50): front-white steady when brake{LIT}",
        "head:front",
    ),
    ("head-shares-nothing", "head", "head front: front-red, front-white; colours shared", "head:front"),
    ("claim-refuted", "", "claim x: never rear-red is lit and brake", "claim:x"),
    ("claim-undecided-when-lost", "", "claim x: never park and rear-red is cut", "claim:x"),
    ("given-breaks-rest", "", "given g: brake", "given:rest"),
]


@pytest.mark.parametrize(("id_", "without", "text", "subject"), PLANTS, ids=[plant[0] for plant in PLANTS])
def test_a_planted_fault_is_found_by_its_id(id_: str, without: str, text: str, subject: str) -> None:
    findings = [finding for finding in found(text, without=without) if finding.id == id_]

    assert len(findings) == 1
    assert findings[0].subject == subject
    assert not re.search(r"[{}]", findings[0].message + findings[0].hint)
    assert findings[0].source


def test_every_id_of_the_catalogue_is_planted_somewhere() -> None:
    elsewhere = {
        "claim-open",
        "schedule-fault",
        "channel-load-missing",
        "channel-zone-missing",
        "condition-load-dark",
        "condition-setting-unknown",
        "load-held-steady",
        "load-under-channels",
        "file-not-loaded",
        "file-older-than-schedule",
        "file-not-read-back",
    }

    assert {plant[0] for plant in PLANTS} | elsewhere == set(FUNCTION_CATALOGUE)


def test_a_name_that_stands_for_nothing_is_all_that_is_said() -> None:
    schedule = parse_schedule(SOUND)
    broken = replace(schedule, channels=schedule.channels[1:])

    report = check_schedule(broken)

    assert {finding.id for finding in report.findings} == {"schedule-fault"}
    assert "rule:responding" not in {finding.subject for finding in report.findings}
    assert {finding.subject for finding in report.findings} == {"set:warning", "head:front"}
    assert report.compiled is None and report.claims == ()


def test_a_channel_of_a_load_that_the_design_lacks() -> None:
    findings = found(load_keys=("L1", "L2"))

    assert [(finding.id, finding.subject) for finding in findings] == [("channel-load-missing", "channel:rear-red")]


def loaded(schedule: FunctionSchedule, **changes: str) -> LoadedFile:
    said = {
        "serial": "SN-7",
        "device": "switching module",
        "file_name": "unit-214.cfg",
        "file_sha256": "0" * 64,
        "file_version": "3",
        "firmware": "2.1",
        "loaded_by": "R. Osei",
        "loaded_at": "2026-11-20T10:00:00Z",
        "schedule_sha256": schedule_digest(schedule),
        "read_back_by": "R. Osei",
    }
    return LoadedFile(**{**said, **changes})


def test_a_file_of_an_older_schedule_is_found_and_a_fresh_one_is_not() -> None:
    schedule = parse_schedule(SOUND)
    changed = parse_schedule(SOUND.replace("priority 40", "priority 41"))

    fresh = check_schedule(schedule, files=[loaded(schedule)]).findings
    stale = check_schedule(changed, files=[loaded(schedule, read_back_by="")]).findings

    assert fresh == ()
    assert [finding.id for finding in stale] == ["file-older-than-schedule", "file-not-read-back"]
    assert "switching module SN-7 was loaded with unit-214.cfg 3" in stale[0].message


def test_a_hash_is_a_hash() -> None:
    with pytest.raises(OutOfRange, match="SHA-256"):
        loaded(parse_schedule(SOUND), file_sha256="abc")


def test_a_refuted_claim_says_how_and_what_is_seen() -> None:
    finding = next(one for one in found("claim x: never rear-red is lit and brake") if one.id == "claim-refuted")

    assert finding.message == (
        "Claim x does not hold: from rest turn mode to respond, bring park on and bring brake on: "
        "rear-red flashes beat by rule responding."
    )


def test_a_refutation_that_needs_a_timer_prints_the_waits() -> None:
    finding = next(
        one
        for one in found(
            "rule long (priority 95): front-white steady when brake for at least 3 s; if lost, does not apply\n"
            "claim x: never front-white is lit and mode is off"
        )
        if one.id == "claim-refuted"
    )

    assert "from rest bring brake on and wait 3 s" in finding.message


def test_the_shadowing_rules_are_named() -> None:
    text = f"rule x (priority 1): front-red off when mode is respond and brake{LIT}"

    finding = next(one for one in found(text) if one.id == "rule-never-wins")

    assert "whenever it holds, responding decides on all its targets" in finding.message


def test_opposite_phases_of_one_clock_keep_a_head_within_its_maximum() -> None:
    apart = SOUND.replace("colours first", "colours together") + (
        f"rule x (priority 50): front-white flash beat sync all phase 300 ms when mode is respond{LIT}\n"
    )
    together = apart.replace(" phase 300 ms", "")

    assert "head-over-maximum" not in {one.id for one in check_schedule(parse_schedule(apart)).findings}
    assert "head-over-maximum" in {one.id for one in check_schedule(parse_schedule(together)).findings}


def test_findings_are_sorted_worst_first_and_two_runs_agree() -> None:
    planted = [
        text for id_, without, text, _ in PLANTS if not without and id_ not in {"given-breaks-rest", "output-undriven"}
    ]
    text = "\n".join(
        line.replace(" x ", f" x{number} ").replace(" x:", f" x{number}:")
        for number, line in enumerate("\n".join(planted).split("\n"))
    )

    one, other = found(text), found(text)

    assert one == other
    assert one == sorted(one, key=lambda finding: finding.sort_key)
    assert len(one) > 5


def test_a_verdict_is_open_only_where_a_search_was_cut_short() -> None:
    report = check_schedule(parse_schedule(SOUND))

    assert [result.verdict for result in report.claims] == [Verdict.PROVED]
