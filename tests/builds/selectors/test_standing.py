"""How a build stands in words: a promise is no plan, a plan later than the promise is told, a signature moves the next act."""

from dataclasses import replace
from datetime import date

import pytest

from builds.models import Stage
from builds.selectors.standing import StandingInput, standing_of

TODAY = date(2026, 11, 25)  # a Wednesday
IN_WORK = StandingInput(
    stage=Stage.IN_WORK, today=TODAY, promised_on=date(2026, 12, 12), plan_ends_on=None, hold_reason="", hold_who_acts="",
    hold_note="", blocking_count=0, step_count=10, step_done_count=4, responsible="", vehicle_here=True, parts_here=True,
    gear_here=True, released=True, signed=False,
)  # fmt: skip


@pytest.mark.parametrize(
    ("promised_on", "plan_ends_on", "state", "words"),
    [
        (date(2026, 12, 12), None, "planned", "Promised Sat 12 Dec"),
        (date(2026, 12, 12), date(2026, 12, 11), "on_time", "On time by the plan"),
        (date(2026, 12, 12), date(2026, 12, 12), "on_time", "On time by the plan"),
        (date(2026, 12, 12), date(2026, 11, 24), "planned", "Promised Sat 12 Dec"),  # the plan is over, the work is not
        (date(2026, 12, 12), date(2026, 12, 14), "at_risk", "At risk: plan ends Mon 14 Dec"),
        (date(2026, 11, 24), None, "late", "Late 1 day"),
        (date(2026, 11, 24), date(2026, 11, 25), "late", "Late 1 day"),
        (date(2026, 11, 24), date(2026, 11, 30), "late", "Late 1 day, 6 by the plan"),
        (None, date(2026, 11, 30), "planned", "Not promised"),
    ],
)
def test_words_claim_no_more_than_promise_and_plan_say(
    promised_on: date | None, plan_ends_on: date | None, state: str, words: str
) -> None:
    standing = standing_of(replace(IN_WORK, promised_on=promised_on, plan_ends_on=plan_ends_on))

    assert (standing.state, standing.words) == (state, words)


@pytest.mark.parametrize(
    ("signed", "words", "who_acts"),
    [
        (False, "Waiting: signature", "Buyer: sign for the packet"),
        (True, "Waiting: handover", "Desk: hand it over"),
    ],
)
def test_ready_build_waits_for_the_signature_and_then_for_the_desk(signed: bool, words: str, who_acts: str) -> None:
    standing = standing_of(replace(IN_WORK, stage=Stage.READY, signed=signed))

    assert (standing.words, standing.who_acts) == (words, who_acts)
